"""At which age to replace something that wears out, before it fails."""

from dataclasses import dataclass
from math import exp, log
from typing import Final

from needlewright.errors import PlanError
from needlewright.plans.wear.weibull import Weibull

FURTHEST: Final = 1e-12
"""Survival beyond which an optimum is not looked for: nobody gets there."""


@dataclass(frozen=True, slots=True)
class AgeReplacement:
    """Replacing at an age or at failure, whichever comes first, for ever.

    Parameters
    ----------
    age
        At which it costs least; None: there is no such age.
    rate
        Cost for every unit of time then; None without an age.
    run_to_failure
        Cost for every unit of time where it is replaced at failure only.
    words
        One sentence; where there is no best age, why.
    """

    age: float | None
    rate: float | None
    run_to_failure: float
    words: str


def cost_rate(law: Weibull, age: float, planned: float, unplanned: float) -> float:
    """Cost for every unit of time when replaced at an age or at failure.

    Parameters
    ----------
    law
        Of its life.
    age
        At which it is replaced.
    planned
        What a replacement costs then.
    unplanned
        What a failure costs.

    Returns
    -------
    float
        (planned S(age) + unplanned F(age)) / integral of S from 0 to the age.

    Notes
    -----
    **Source**: renewal reward over one cycle (Barlow and Proschan, Mathematical Theory of
    Reliability, chapter 4; from memory).
    """
    alive = law.survival(age)
    return (planned * alive + unplanned * (1 - alive)) / _lived(law, age)


def _lived(law: Weibull, age: float) -> float:
    """Mean life up to an age: integral of the survival, by the incomplete gamma function."""
    from scipy.special import gammainc  # noqa: PLC0415 (half a second that few plans wait for)

    return law.mean * float(gammainc(1 / law.shape, law.hazard_sum(age)))


def age_replacement(law: Weibull, planned: float, unplanned: float) -> AgeReplacement:
    """Find the age at which replacing costs least.

    Parameters
    ----------
    law
        Of its life.
    planned
        What a replacement costs at that age; above 0.
    unplanned
        What a failure costs; above 0.

    Returns
    -------
    AgeReplacement
        Without an age where the shape is 1 or less, or a failure costs no more.

    Raises
    ------
    PlanError
        If a cost is not above 0.

    Notes
    -----
    The rate is least where h(t) x integral of S - F(t) = planned / (unplanned - planned); with a
    shape above 1 the left side rises from 0 without end, so there is one root. **Source**: as
    `cost_rate`; the published example is a test.
    """
    if planned <= 0 or unplanned <= 0:
        raise PlanError(
            f"replacing at an age needs costs above 0, found {planned:g} planned and {unplanned:g} "
            "unplanned"
        )
    to_failure = unplanned / law.mean
    if law.shape <= 1:
        words = (
            f"no best age to replace it: the wear-out shape {law.shape:.3g} is not above 1, so it "
            "does not fail more often with age; replace it when it fails"
        )
        return AgeReplacement(None, None, to_failure, words)
    if unplanned <= planned:
        words = (
            f"no best age to replace it: a failure costs {unplanned:.4g} and a planned replacement "
            f"{planned:.4g}; replace it when it fails"
        )
        return AgeReplacement(None, None, to_failure, words)
    target = planned / (unplanned - planned)

    def excess(log_age: float) -> float:
        age = exp(log_age)
        hazard = law.shape * law.hazard_sum(age) / age
        return hazard * _lived(law, age) - (1 - law.survival(age)) - target

    nobody = law.scale * (-log(FURTHEST)) ** (1 / law.shape)
    if excess(log(nobody)) <= 0:
        words = (
            "no best age to replace it: it would lie where nothing lives to; replace it when it "
            "fails"
        )
        return AgeReplacement(None, None, to_failure, words)
    from scipy.optimize import brentq  # noqa: PLC0415 (half a second that few plans wait for)

    low = log(law.scale) - 60 / law.shape
    age = exp(float(brentq(excess, low, log(nobody), xtol=1e-13, rtol=1e-13)))
    rate = cost_rate(law, age, planned, unplanned)
    words = (
        f"best replaced at an age of {age:.4g}, where it costs {rate / to_failure:.0%} of waiting"
    )
    return AgeReplacement(age, rate, to_failure, words)
