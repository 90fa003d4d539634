"""Decisions with uncertainty: four words by a guard band, and the probability of conformity.

The shown value V1 (u_shown) is held against limits at the true value V2 (u_true). Each margin is
a difference of the two, so its uncertainty holds both, the stimulus through the limit's slope:
u_lower^2 = u_shown^2 + (slope_lower x u_true)^2, likewise above. Derivation: docs/decisions/0007.
"""

from dataclasses import dataclass
from math import erfc, hypot, isfinite, sqrt
from typing import Final, Literal

from needlewright.errors import RuleError
from needlewright.rules.model import Limits

COVERAGE_K: Final = 2.0
"""U = k u; about 95 % of a normal distribution."""

DecisionCode = Literal["pass", "conditional_pass", "conditional_fail", "fail", "not_read"]
VerdictCode = DecisionCode | Literal["not_judged", "not complete"]

WORDS: Final[dict[VerdictCode, str]] = {
    "pass": "conforms",
    "conditional_pass": "conforms, in doubt",
    "conditional_fail": "does not conform, in doubt",
    "fail": "does not conform",
    "not_read": "not read",
    "not_judged": "not judged",
    "not complete": "not complete",
}
"""What people read for each code."""


def people_words(code: VerdictCode, why: str = "") -> str:
    """The words for a code, with the reason behind a colon where there is one."""
    return f"{WORDS[code]}: {why}" if why else WORDS[code]


@dataclass(frozen=True, slots=True)
class Decision:
    """One value held against its limits; margins and uncertainties in the limits' unit."""

    code: DecisionCode
    accepted: bool | None
    """Simple acceptance, guard band zero; None when nothing was read."""
    lower_margin: float | None = None
    """Shown minus lower limit; None: not limited below, or not read."""
    upper_margin: float | None = None
    """Upper limit minus shown; None: not limited above, or not read."""
    u_lower: float | None = None
    """Standard uncertainty (k = 1) of the lower margin; None: not known."""
    u_upper: float | None = None
    """Standard uncertainty (k = 1) of the upper margin; None: not known."""
    probability: float | None = None
    """Probability of conformity; None: the uncertainty is not known, or nothing was read."""

    @property
    def margin(self) -> float | None:
        """Distance to the nearer limit, negative outside; None where nothing limits."""
        sides = [m for m in (self.lower_margin, self.upper_margin) if m is not None]
        return min(sides, default=None)

    @property
    def expanded(self) -> float | None:
        """Guard band of the nearer limit, U = `COVERAGE_K` x u; None: not known."""
        nearer_low = self.lower_margin is not None and self.lower_margin == self.margin
        u = self.u_lower if nearer_low else self.u_upper
        return None if u is None else COVERAGE_K * u


NOT_READ: Final = Decision(code="not_read", accepted=None)
"""The decision on a needle that was not read."""


def decide(
    limits: Limits, shown: float, u_shown: float | None, u_true: float | None = None
) -> Decision:
    """Decide on a shown value with a guard band w = U on either side.

    `pass`: every margin is U or more. `conditional_pass`: inside the limits. `conditional_fail`:
    outside by no more than U. `fail`: further outside. With an unknown `u_shown` the guard band
    is unknown too, and only the two codes in doubt can be given.

    Parameters
    ----------
    limits
        At the true value that was commanded.
    shown
        In the limits' unit.
    u_shown
        Standard uncertainty (k = 1) of `shown`; zero is "by definition", None not known.
    u_true
        Standard uncertainty (k = 1) of the stimulus; None (not known) adds nothing, and whoever
        reports the decision says so.

    Returns
    -------
    Decision
        Code, margins with their uncertainties, probability.

    Raises
    ------
    RuleError
        If a number is not finite or an uncertainty is negative.

    Notes
    -----
    **Source** ILAC-G8:09/2019, 4.2.3 (guard band w = U, non-binary) and 4.2.1 (simple
    acceptance); JCGM 106:2012, 7.4 (probability of conformity, normal).
    """
    _require_numbers(shown, u_shown, u_true)
    lower = None if limits.lower is None else shown - limits.lower
    upper = None if limits.upper is None else limits.upper - shown
    inside = all(margin >= 0 for margin in (lower, upper) if margin is not None)
    if u_shown is None:
        doubtful: DecisionCode = "conditional_pass" if inside else "conditional_fail"
        return Decision(doubtful, inside, lower, upper)
    u_lower = hypot(u_shown, limits.lower_slope * (u_true or 0.0))
    u_upper = hypot(u_shown, limits.upper_slope * (u_true or 0.0))
    sides = [(m, u) for m, u in ((lower, u_lower), (upper, u_upper)) if m is not None]
    return Decision(
        code=_code(sides),
        accepted=inside,
        lower_margin=lower,
        upper_margin=upper,
        u_lower=u_lower,
        u_upper=u_upper,
        probability=probability_of_conformity(sides),
    )


def probability_of_conformity(sides: list[tuple[float, float]]) -> float:
    """Probability that every margin is above zero, normal distributions.

    Parameters
    ----------
    sides
        Margin and its standard uncertainty, for each limit there is. The two limits do not
        cross, so that being below one and above the other exclude each other and the
        probabilities of the two misses add up.

    Returns
    -------
    float
        0..1.

    Notes
    -----
    **Source** JCGM 106:2012, 7.4.
    """
    missed = sum(_below_zero(margin, u) for margin, u in sides)
    return min(max(1.0 - missed, 0.0), 1.0)


def _code(sides: list[tuple[float, float]]) -> DecisionCode:
    if all(margin >= COVERAGE_K * u for margin, u in sides):
        return "pass"
    if all(margin >= 0 for margin, _ in sides):
        return "conditional_pass"
    if all(margin >= -COVERAGE_K * u for margin, u in sides):
        return "conditional_fail"
    return "fail"


def _below_zero(mean: float, u: float) -> float:
    if u == 0.0:
        return 0.0 if mean >= 0.0 else 1.0
    return 0.5 * erfc(mean / (u * sqrt(2.0)))


def _require_numbers(shown: float, u_shown: float | None, u_true: float | None) -> None:
    if not isfinite(shown):
        raise RuleError(f"the value to decide on must be a finite number; given: {shown}")
    for name, u in (("shown value", u_shown), ("commanded value", u_true)):
        if u is not None and not (isfinite(u) and u >= 0):
            raise RuleError(
                f"the standard uncertainty of the {name} must be zero or above; given: {u}; "
                "leave it empty where it is not known"
            )
