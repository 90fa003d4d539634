"""Between which numbers a learned law of wear lies: few lives tell little, and that is said."""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log
from typing import Final

import numpy as np

from needlewright.errors import PlanError
from needlewright.plans.wear.fit import FLATTEST, STEEPEST, Lives, WeibullFit, log_watched

CONFIDENCE: Final = 0.95
WIDEST: Final = 1e6
"""Times the fitted scale: an end that lies further off is none."""

Range = tuple[float | None, float | None]


@dataclass(frozen=True, slots=True)
class WeibullInterval:
    """Confidence intervals of shape and scale, each by itself; None: an end that is not found.

    Parameters
    ----------
    confidence
        Of each.
    shape
        None where the shape was taken as known.
    scale
        In the unit of the ages.
    """

    confidence: float
    shape: Range | None
    scale: Range

    @property
    def may_not_wear(self) -> bool:
        """Whether a shape of 1 or less cannot be ruled out."""
        return self.shape is not None and (self.shape[0] is None or self.shape[0] <= 1)


def interval_of(lives: Lives, fit: WeibullFit, confidence: float = CONFIDENCE) -> WeibullInterval:
    """Work out the intervals.

    Parameters
    ----------
    lives
        That were fitted.
    fit
        Of them.
    confidence
        Two-sided, above 0 and below 1.

    Returns
    -------
    WeibullInterval
        Of a fitted shape by the ratio of likelihoods; of a scale alone by the chi-square
        distribution.

    Raises
    ------
    PlanError
        If the confidence is none.

    Notes
    -----
    **Source**: ratio of likelihoods, 2 (l max - l) up to the quantile of chi-square with one degree
    of freedom (Meeker and Escobar, Statistical Methods for Reliability Data, 8.3; from memory); for
    few failures it covers somewhat less than it says. With the shape known, sum(x^b) takes the
    place of the hours of NIST/SEMATECH e-Handbook 8.4.5.1: 2 sum / chi-square with 2 (r + 1) and
    2 r degrees of freedom.
    """
    if not 0 < confidence < 1:
        raise PlanError(f"a confidence of {confidence:g} cannot be; give one between 0 and 1")
    if not fit.is_shape_fitted:
        return WeibullInterval(confidence, None, _scale_alone(lives, fit, confidence))
    from scipy.special import chdtri  # noqa: PLC0415 (half a second that few plans wait for)

    drop = float(chdtri(1, 1 - confidence)) / 2
    profile = _Profile(lives)

    def by_shape(shape: float) -> float:
        return profile.of_shape(shape) - fit.log_likelihood + drop

    def by_scale(log_scale: float) -> float:
        return profile.of_scale(log_scale) - fit.log_likelihood + drop

    at = log(fit.law.scale)
    low, high = (
        _end(by_scale, at, at + sign * log(WIDEST) / max(fit.law.shape, 1.0)) for sign in (-1, 1)
    )
    return WeibullInterval(
        confidence,
        (
            _end(by_shape, fit.law.shape, FLATTEST),
            _end(by_shape, fit.law.shape, 2 * STEEPEST),
        ),
        (None if low is None else exp(low), None if high is None else exp(high)),
    )


def interval_words(interval: WeibullInterval, unit: str) -> str:
    """An interval for people: `with 95 % the shape is 0.93 to 2.8, the scale 9.1 to 14 years`."""
    if interval.shape is None:
        said = f"the scale is {_words(interval.scale)} {unit}"
    else:
        said = f"the shape is {_words(interval.shape)}, the scale {_words(interval.scale)} {unit}"
    words = f"with {interval.confidence:.0%} {said}".replace("%", " %")
    if interval.may_not_wear:
        words += "; that it does not wear out at all is not ruled out"
    return words


def _words(ends: Range) -> str:
    low, high = ends
    first = "" if low is None else f"{low:.3g} "
    return f"{first}to {high:.3g}" if high is not None else f"{first}or more"


def _scale_alone(lives: Lives, fit: WeibullFit, confidence: float) -> Range:
    from scipy.special import chdtri  # noqa: PLC0415 (half a second that few plans wait for)

    shape, count = fit.law.shape, len(lives.failed)
    tail = (1 - confidence) / 2
    most, least = chdtri(2 * (count + 1), tail), chdtri(2 * count, 1 - tail)
    # the fitted scale is (sum / count)^(1 / shape): only its ratio to the ends is needed
    low, high = (fit.law.scale * (2 * count / float(one)) ** (1 / shape) for one in (most, least))
    return low, high


class _Profile:
    """The largest likelihood with one of the two numbers held."""

    def __init__(self, lives: Lives) -> None:
        self.lives = lives
        self.entered = np.log(np.array(lives.entered))
        self.logs = np.log(np.array([*lives.failed, *lives.running]))
        self.failed = self.logs[: len(lives.failed)]

    def of_shape(self, shape: float) -> float:
        watched = log_watched(self.lives, shape)
        return self.at(shape, (watched - log(len(self.failed))) / shape)

    def of_scale(self, log_scale: float) -> float:
        from scipy.optimize import brentq  # noqa: PLC0415 (as above)

        away, failed = self.logs - log_scale, self.failed - log_scale
        before = self.entered - log_scale

        def slope(shape: float) -> float:
            powers = np.exp(np.minimum(shape * away, 600.0))
            unseen = np.exp(np.minimum(shape * before, 600.0))
            rising = float(powers @ away - unseen @ before)
            return float(len(failed) / shape + failed.sum()) - rising

        if slope(2 * STEEPEST) > 0:
            return self.at(2 * STEEPEST, log_scale)
        return self.at(float(brentq(slope, 1e-6, 2 * STEEPEST)), log_scale)

    def at(self, shape: float, log_scale: float) -> float:
        failed, count = self.failed - log_scale, len(self.failed)
        hazards = np.exp(np.minimum(shape * (self.logs - log_scale), 600.0)).sum()
        hazards -= np.exp(np.minimum(shape * (self.entered - log_scale), 600.0)).sum()
        density = count * (log(shape) - log_scale) + (shape - 1) * float(failed.sum())
        return density - float(hazards)


def _end(above: Callable[[float], float], start: float, furthest: float) -> float | None:
    """Where something that is above 0 at a start falls to it on the way; None: nowhere."""
    if above(furthest) > 0:
        return None
    from scipy.optimize import brentq  # noqa: PLC0415 (as above)

    return float(brentq(above, start, furthest, xtol=1e-12, rtol=1e-12))
