"""What was there from the first look on, and what no trend shows: reversal, and standing off.

A needle that friction or play holds back stands lower at the same command when it comes from below
than when it comes from above. The difference of the two, read minutes apart by a camera that
stands, is free of everything both readings share: where the camera is, how the needle was
pressed on, what the cluster makes of its command. Standing off its command is not: all of that
stays in it, and in its uncertainty.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import erfc, hypot, isfinite, sqrt
from typing import Final, Literal

from needlewright.errors import PlanError

ALPHA: Final = 0.05
"""Probability that any sound check point of a unit is said to differ, or to stand off."""
FEWEST: Final = 2
"""Visits from which a difference has a scatter."""
LEAST_SCATTER_DEG: Final = 0.007
"""No difference of two readings is taken to scatter less: 0.005 for each of them, as of a line
(common practice, no source)."""
LEAST_SHARE: Final = 1e-12
ReversalCode = Literal["differs", "alike", "open", "not_judged"]


@dataclass(frozen=True, slots=True)
class Reversal:
    """How a needle stands at one command, come to from above against from below.

    Parameters
    ----------
    visits
        In which both were read.
    reversal_deg
        From above less from below, positive where the needle lags behind its way, either sign
        where it lost steps on it; None: no visit has both.
    u_deg
        Standard uncertainty (k = 1), of the scatter from visit to visit; None: one visit.
    freedom
        Its degrees of freedom.
    expanded_deg
        Half of the interval that has the true one 95 times of a hundred; None: one visit.
    guard_deg
        What the decision keeps from the limit, by this check point's share of the risk; None: one
        visit.
    allowed_deg
        What a sound movement may have, either way; None: not known of this kind.
    told_from_deg
        A true one that is found to differ nine times of ten; None: nothing is judged.
    code
        `differs`: beyond what is allowed by more than the guard; `alike`: within it by as much;
        `open`: neither is shown; `not_judged`: too few visits, or nothing is allowed.
    """

    visits: int
    reversal_deg: float | None
    u_deg: float | None
    freedom: int
    expanded_deg: float | None
    guard_deg: float | None
    allowed_deg: float | None
    told_from_deg: float | None
    code: ReversalCode


def reversals(
    differences: Mapping[float, Sequence[float]], allowed_deg: float | None, shared: int = 1
) -> dict[float, Reversal]:
    """Judge the reversal at the check points of one dial.

    Parameters
    ----------
    differences
        From above less from below in the sense of the scale, degrees, one for each visit, by check
        point. Their scatter is taken as one for the dial, about each point's own mean.
    allowed_deg
        What a sound movement may have, 0 or more; None: not known.
    shared
        How many check points of the unit are judged; their risks are shared out.

    Returns
    -------
    dict
        By check point.

    Raises
    ------
    PlanError
        If a number cannot be.

    Notes
    -----
    Mean and pooled scatter with Student's t (JCGM 100, G.3 and G.4), a limit guarded on either
    side (JCGM 106, 8.3). **Source**: what is measured is the hysteresis of DKD-R 6-1, calibration
    of pressure gauges, and the reversal value of ISO 230-2 with its sign turned; the shared risk is
    Bonferroni's (all from memory).
    """
    if allowed_deg is not None and not (isfinite(allowed_deg) and allowed_deg >= 0):
        raise PlanError(
            f"allowed reversal: must be 0 deg or more, found {allowed_deg:g}; correct it"
        )
    rows = {point: list(map(float, values)) for point, values in differences.items()}
    if not all(isfinite(one) for values in rows.values() for one in values):
        raise PlanError("reversal: every difference must be a finite number of deg; leave it out")
    freedom = sum(max(len(values) - 1, 0) for values in rows.values())
    squares = sum((one - _mean(values)) ** 2 for values in rows.values() for one in values)
    scatter = max(sqrt(squares / freedom), LEAST_SCATTER_DEG) if freedom else None
    return {
        point: _judged(values, scatter, freedom, allowed_deg, shared)
        for point, values in rows.items()
    }


def _judged(
    values: Sequence[float],
    scatter: float | None,
    freedom: int,
    allowed_deg: float | None,
    shared: int,
) -> Reversal:
    visits = len(values)
    mean = _mean(values) if values else None
    if mean is None or scatter is None or visits < FEWEST:
        return Reversal(visits, mean, None, freedom, None, None, allowed_deg, None, "not_judged")
    u = scatter / sqrt(visits)
    expanded = u * _student(0.025, freedom)
    guard = u * _student(ALPHA / 2 / max(shared, 1), freedom)
    if allowed_deg is None:
        return Reversal(visits, mean, u, freedom, expanded, guard, None, None, "not_judged")
    code: ReversalCode = "open"
    if abs(mean) > allowed_deg + guard:
        code = "differs"
    elif abs(mean) <= allowed_deg - guard:
        code = "alike"
    told_from = allowed_deg + guard + u * _student(0.1, freedom)
    return Reversal(visits, mean, u, freedom, expanded, guard, allowed_deg, told_from, code)


@dataclass(frozen=True, slots=True)
class StandsOff:
    """How far a needle stood from a reference when it was first looked at.

    Parameters
    ----------
    off_deg
        Clockwise, degrees.
    u_deg
        Standard uncertainty (k = 1), with all that reading and reference do not share.
    p
        Probability that a needle which stands right reads as far off, two-sided.
    is_off
        Whether that is less than its share of the risk.
    """

    off_deg: float
    u_deg: float
    p: float
    is_off: bool


def stands_off(
    seen_deg: float, reference_deg: float, u_parts_deg: Sequence[float], shared: int = 1
) -> StandsOff:
    """Hold a first look against where the needle was told to be, or where a run had it.

    Parameters
    ----------
    seen_deg
        The first look, degrees clockwise from 12 o'clock.
    reference_deg
        Where it should stand, on the same branch.
    u_parts_deg
        Standard uncertainties of both, and of how well the movement repeats; independent.
    shared
        How many check points of the unit are judged; their risks are shared out.

    Returns
    -------
    StandsOff
        Judged.

    Raises
    ------
    PlanError
        If there is no uncertainty, or a number cannot be.

    Notes
    -----
    **Source**: JCGM 100 clause 5.1.2 (independent parts in quadrature) and the normal
    distribution's two-sided test; shared risk: Bonferroni (from memory).
    """
    u = hypot(*u_parts_deg)
    if not (isfinite(seen_deg) and isfinite(reference_deg) and isfinite(u) and u > 0):
        raise PlanError(
            "first look: angle, reference and uncertainty must be finite, the last above 0 deg; "
            "leave the look out"
        )
    off = seen_deg - reference_deg
    p = erfc(abs(off) / u / sqrt(2.0))
    return StandsOff(off, u, p, p <= ALPHA / max(shared, 1))


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


def _student(share: float, freedom: int) -> float:
    """One-sided quantile of Student's t."""
    from scipy.special import stdtrit  # noqa: PLC0415 (half a second that few plans wait for)

    return float(stdtrit(freedom, 1.0 - max(share, LEAST_SHARE)))
