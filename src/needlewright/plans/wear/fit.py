"""Weibull's law from lives, of which some are not over yet."""

from dataclasses import dataclass
from math import exp, isfinite, log
from typing import Final

import numpy as np

from needlewright.errors import PlanError
from needlewright.plans.wear.weibull import Weibull

LEAST_FAILURES: Final = 5
"""Failures from which the shape is taken from them too (common practice, no source)."""
STEEPEST: Final = 50.0
FLATTEST: Final = 0.02


@dataclass(frozen=True, slots=True)
class Lives:
    """Ages reached.

    Parameters
    ----------
    failed
        Ages at failure.
    running
        Ages of those that had not failed when last heard of (censored on the right).
    failed_from, running_from
        From which age each was watched: what fails younger is never heard of (truncated on the
        left). Empty: all from new.
    """

    failed: tuple[float, ...]
    running: tuple[float, ...] = ()
    failed_from: tuple[float, ...] = ()
    running_from: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        for age in (*self.failed, *self.running):
            if not (isfinite(age) and age > 0):
                raise PlanError(
                    f"an age of {age:g} cannot be used; give ages above 0, or leave the row out"
                )
        for ages, entered in ((self.failed, self.failed_from), (self.running, self.running_from)):
            if entered and len(entered) != len(ages):
                raise PlanError(
                    f"{len(ages)} ages and {len(entered)} of them with an age they were watched "
                    "from; give it of each, or of none"
                )
            for first, age in zip(entered, ages, strict=False):
                if not 0 <= first < age:
                    raise PlanError(
                        f"watched from an age of {first:g} to one of {age:g}: it must come before; "
                        "leave that life out"
                    )

    @property
    def entered(self) -> tuple[float, ...]:
        """Ages above 0 from which lives were watched."""
        return tuple(age for age in (*self.failed_from, *self.running_from) if age > 0)


@dataclass(frozen=True, slots=True)
class WeibullFit:
    """The law that makes what was seen most likely."""

    law: Weibull
    log_likelihood: float
    is_shape_fitted: bool
    """False: too few failures; the shape is the stated one and only the scale was fitted."""


def fit_weibull(lives: Lives) -> WeibullFit:
    """Fit shape and scale.

    Parameters
    ----------
    lives
        With at least two failures, not all ages alike.

    Returns
    -------
    WeibullFit
        Of the largest likelihood.

    Raises
    ------
    PlanError
        If the lives do not tell a shape.

    Notes
    -----
    With r failures at t_i, every age x_j and, where a life was watched from an age a_j, with
    U(b) = sum(x^b - a^b), the likelihood is largest where U'(b) / U(b) - 1/b = mean(log t_i), and
    eta^b = U(b) / r. The left side is the mean of log t over all that was watched, weighted by
    t^(b - 1), so it rises in b and has at most one root; watched from new it has one. **Source**:
    NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3 (its example is a test); for lives
    watched from an age derived from the likelihood of a truncated life, f(t) / S(a).
    """
    if len(lives.failed) < 2:
        raise PlanError(
            f"a wear-out shape needs at least two failures, found {len(lives.failed)}; keep the "
            "stated law until more came back"
        )
    ages = np.array([*lives.failed, *lives.running])
    if np.ptp(ages) == 0 and not lives.entered:
        raise PlanError(
            f"all {len(ages)} lives are {ages[0]:g} long, which tells no wear-out shape; keep the "
            "stated law"
        )
    logs = np.log(ages / ages.max())  # of the longest, so that powers stay within range
    entered = np.log(np.array(lives.entered) / ages.max())
    mean_log = float(np.mean(logs[: len(lives.failed)]))

    def slope(shape: float) -> float:
        powers, before = np.exp(shape * logs), np.exp(shape * entered)
        rising = float(powers @ logs - before @ entered)
        return rising / float(powers.sum() - before.sum()) - 1 / shape - mean_log

    if slope(FLATTEST) >= 0:
        raise PlanError(
            "the failures lie at lower ages than what was watched, which tells no wear-out shape; "
            "keep the stated law"
        )

    if slope(STEEPEST) <= 0:
        raise PlanError(
            "the failures lie too close together to tell a wear-out shape (steeper than "
            f"{STEEPEST:g}); check the ages, or keep the stated law"
        )
    from scipy.optimize import brentq  # noqa: PLC0415 (half a second that few plans wait for)

    shape = float(brentq(slope, FLATTEST, STEEPEST, xtol=1e-13, rtol=1e-13))
    return _with_shape(lives, shape, is_shape_fitted=True)


def fit_scale(lives: Lives, shape: float) -> WeibullFit:
    """Fit the scale alone.

    Parameters
    ----------
    lives
        With at least one failure.
    shape
        Taken as known.

    Returns
    -------
    WeibullFit
        Of the largest likelihood with that shape.

    Raises
    ------
    PlanError
        If nothing has failed.

    Notes
    -----
    **Source**: eta^b = sum(x^b - a^b) / r, as in `fit_weibull`; called Weibayes (from memory).
    """
    if not lives.failed:
        raise PlanError("a wear-out scale needs at least one failure; keep the stated law")
    return _with_shape(lives, shape, is_shape_fitted=False)


def learned_law(stated: Weibull, lives: Lives) -> WeibullFit | None:
    """What a shop's lives say beside a stated law.

    Parameters
    ----------
    stated
        The law without them.
    lives
        Of one weak point.

    Returns
    -------
    WeibullFit or None
        From `LEAST_FAILURES` failures on shape and scale, from one on the scale; None without any,
        and the stated law stays.
    """
    if not lives.failed:
        return None
    if len(lives.failed) < LEAST_FAILURES:
        return fit_scale(lives, stated.shape)
    return fit_weibull(lives)


def _with_shape(lives: Lives, shape: float, *, is_shape_fitted: bool) -> WeibullFit:
    count = len(lives.failed)
    log_scale = (log_watched(lives, shape) - log(count)) / shape
    likelihood = _log_likelihood(lives, shape, log_scale)
    return WeibullFit(Weibull(shape, exp(log_scale)), likelihood, is_shape_fitted)


def log_watched(lives: Lives, shape: float) -> float:
    """Logarithm of sum(x^shape - a^shape) over all lives."""
    logs = np.log(np.array([*lives.failed, *lives.running]))
    top = float(logs.max())  # of the longest, so that powers stay within range
    watched = float(np.exp(shape * (logs - top)).sum())
    if lives.entered:
        watched -= float(np.exp(shape * (np.log(np.array(lives.entered)) - top)).sum())
    return shape * top + log(watched)


def _log_likelihood(lives: Lives, shape: float, log_scale: float) -> float:
    """Of lives under Weibull's law, each watched from its age on."""
    failed = np.log(np.array(lives.failed)) - log_scale
    count = len(lives.failed)
    said = count * (log(shape) - log_scale) + (shape - 1) * float(failed.sum())
    return said - exp(log_watched(lives, shape) - shape * log_scale)
