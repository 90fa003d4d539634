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
    """

    failed: tuple[float, ...]
    running: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        for age in (*self.failed, *self.running):
            if not (isfinite(age) and age > 0):
                raise PlanError(
                    f"an age of {age:g} cannot be used; give ages above 0, or leave the row out"
                )


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
    With r failures at t_i and every age x_j, the likelihood is largest where sum(x^b log x) /
    sum(x^b) - 1/b = mean(log t_i), which rises in b and has one root, and eta^b = sum(x^b) / r.
    **Source**: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3 (its example is a test).
    """
    if len(lives.failed) < 2:
        raise PlanError(
            f"a wear-out shape needs at least two failures, found {len(lives.failed)}; keep the "
            "stated law until more came back"
        )
    ages = np.array([*lives.failed, *lives.running])
    if np.ptp(ages) == 0:
        raise PlanError(
            f"all {len(ages)} lives are {ages[0]:g} long, which tells no wear-out shape; keep the "
            "stated law"
        )
    logs = np.log(ages / ages.max())  # of the longest, so that powers stay within range
    mean_log = float(np.mean(logs[: len(lives.failed)]))

    def slope(shape: float) -> float:
        powers = np.exp(shape * logs)
        return float(powers @ logs / powers.sum()) - 1 / shape - mean_log

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
    **Source**: eta^b = sum(x^b) / r, as in `fit_weibull`; called Weibayes (from memory).
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
    ages = np.array([*lives.failed, *lives.running])
    logs = np.log(ages)
    top = float(logs.max())
    count = len(lives.failed)
    log_scale = top + log(float(np.exp(shape * (logs - top)).sum()) / count) / shape
    failed = np.log(np.array(lives.failed)) - log_scale
    likelihood = count * (log(shape) - log_scale) + (shape - 1) * float(failed.sum())
    likelihood -= float(np.exp(shape * (logs - log_scale)).sum())
    return WeibullFit(Weibull(shape, exp(log_scale)), likelihood, is_shape_fitted)
