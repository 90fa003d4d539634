"""The uncertainty budget: what the uncertainty of a row's error is made of, by component."""

from math import degrees, hypot, isclose, sqrt
from typing import Final

from needlewright.families.model import Dial
from needlewright.proofs.proof_model import Budget, BudgetLine
from needlewright.proofs.verdict_model import DialVerdict, RowVerdict
from needlewright.readings.complete import BY_EYE
from needlewright.readings.evidence import Evidence
from needlewright.rules.decision import COVERAGE_K

_SAME: Final = 0.02
"""Share by which a sum may differ from what the run states, from rounding in its file."""

MOVEMENT: Final = "the item's own scatter, part of its error"


def budget_of(
    dial: Dial, verdict: DialVerdict, eccentricity_mm: float, evidence: Evidence
) -> Budget | None:
    """Break the uncertainty of the deciding row down by component.

    Parameters
    ----------
    dial
        The dial.
    verdict
        On one run of it.
    eccentricity_mm
        Standard deviation of shaft to printed centre.
    evidence
        Of that run; empty where there is none.

    Returns
    -------
    Budget or None
        Of the row with the least room under the rule; None where no row states an uncertainty.

    Notes
    -----
    **Source** JCGM 100:2008, 5.1.2 (combination of uncorrelated components) and 6.2.1 (expanded
    uncertainty); the components themselves: docs/papers.md.
    """
    row = _row_to_show(verdict)
    if row is None or row.u_error is None:
        return None
    return Budget(
        commanded=row.true_value,
        approach=row.row.approach,
        lines=(
            *_reading_lines(dial, row, eccentricity_mm, evidence),
            _movement_line(dial, row),
            _stimulus_line(row),
        ),
        combined=row.u_error,
        coverage_k=COVERAGE_K,
        expanded=COVERAGE_K * row.u_error,
    )


def _row_to_show(verdict: DialVerdict) -> RowVerdict | None:
    known = [row for row in verdict.rows if row.u_error is not None]
    judged = [row for row in known if row.basis == "rule" and row.margin is not None]
    if judged:
        return min(judged, key=lambda row: row.margin or 0.0)
    return max(known, key=lambda row: row.u_error or 0.0, default=None)


def _slope(dial: Dial, row: RowVerdict) -> float | None:
    angle = row.row.angle_deg
    return None if angle is None else abs(dial.scale.slope_at(dial.scale.on_branch(angle)))


def _reading_lines(
    dial: Dial, row: RowVerdict, eccentricity_mm: float, evidence: Evidence
) -> tuple[BudgetLine, ...]:
    """Lines whose squares add up to the shown value's uncertainty as the run states it."""
    u_angle, slope = row.row.u_angle_deg, _slope(dial, row)
    u_shown = _without_stimulus(row)
    eccentricity_deg = degrees(eccentricity_mm / dial.needle.length_mm)
    if BY_EYE in row.row.flags:
        return (
            BudgetLine("reading by eye", None, u_shown, True, "half a graduation, rectangular"),
        )
    if u_angle is None or slope is None:
        return (_as_stated(u_shown),)
    if not isclose(slope * hypot(u_angle, eccentricity_deg), u_shown, rel_tol=_SAME):
        return (_as_stated(u_shown),)
    return (
        *_direction_lines(row, u_angle, slope, evidence),
        BudgetLine(
            "shaft off the printed centre",
            eccentricity_deg,
            slope * eccentricity_deg,
            True,
            f"{eccentricity_mm:g} mm over {dial.needle.length_mm:g} mm of needle",
        ),
    )


def _without_stimulus(row: RowVerdict) -> float:
    """Standard uncertainty of the shown value alone."""
    if row.row.u_indicated is not None:
        return row.row.u_indicated
    return sqrt(max((row.u_error or 0.0) ** 2 - (row.row.u_commanded or 0.0) ** 2, 0.0))


def _direction_lines(
    row: RowVerdict, u_angle_deg: float, slope: float, evidence: Evidence
) -> tuple[BudgetLine, ...]:
    needle = evidence.needle(row.row.photo, row.row.dial)
    parts = dict(needle.components_deg) if needle is not None else {}
    if parts and isclose(hypot(*parts.values()), u_angle_deg, rel_tol=_SAME):
        return tuple(
            BudgetLine(f"direction: {name.replace('_', ' ')}", u, slope * u, True, "this photo")
            for name, u in parts.items()
        )
    source = "this photo" if row.row.photo is not None else "as the run states it"
    return (BudgetLine("direction of the needle", u_angle_deg, slope * u_angle_deg, True, source),)


def _as_stated(u_shown: float) -> BudgetLine:
    return BudgetLine("reading", None, u_shown, True, "as the run states it, not broken down")


def _movement_line(dial: Dial, row: RowVerdict) -> BudgetLine:
    u_deg, slope = dial.movement.repeatability_deg, _slope(dial, row)
    u = None if slope is None else slope * u_deg
    return BudgetLine("movement, repeatability", u_deg, u, False, MOVEMENT)


def _stimulus_line(row: RowVerdict) -> BudgetLine:
    u = row.row.u_commanded
    if u is None:
        return BudgetLine("stimulus", None, None, False, "not known")
    return BudgetLine("stimulus", None, u, True, "as the run states it")
