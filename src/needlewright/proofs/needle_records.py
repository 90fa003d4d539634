"""What each needle needs, as a report says it."""

from needlewright.families.model import Dial, Family
from needlewright.plans.needle_set import NeedleSet, needle_set
from needlewright.proofs.proof_model import NeedleRecord
from needlewright.proofs.verdicts import rule_of
from needlewright.readings.runs import Run
from needlewright.rules.decision import COVERAGE_K


def needle_records(
    family: Family, run: Run, *, max_speed: float | None = None
) -> tuple[NeedleRecord, ...]:
    """Say for every needle of a run whether to leave it, to turn it, or to look elsewhere.

    Parameters
    ----------
    family
        The cluster design.
    run
        Completed with it.
    max_speed
        The vehicle's maximum design speed, in the speedometer's unit.

    Returns
    -------
    tuple of NeedleRecord
        In the family's order, without dials that have no row.

    Raises
    ------
    RunError, RuleError
        As `needle_set` and `rule_of`.
    """
    return tuple(
        _record(
            dial,
            needle_set(
                dial,
                run.of_dial(dial.id),
                rule_of(dial, max_speed=max_speed),
                family.eccentricity_mm,
            ),
        )
        for dial in family.dials
        if run.of_dial(dial.id)
    )


def _record(dial: Dial, one: NeedleSet) -> NeedleRecord:
    return NeedleRecord(one.dial, one.verdict, one.turn_deg, one.u_turn_deg, _sentence(dial, one))


def _sentence(dial: Dial, one: NeedleSet) -> str:
    match one.verdict:
        case "turn" if one.turn_deg is not None and one.u_turn_deg is not None:
            side = "clockwise" if one.turn_deg > 0 else "anticlockwise"
            widths = abs(dial.tip_widths(one.turn_deg))
            what = (
                f"turn the needle {abs(one.turn_deg):.1f} ± {COVERAGE_K * one.u_turn_deg:.1f}° "
                f"{side}, {widths:.1f} tip widths"
            )
        case "leave":
            what = "leave the needle as it sits"
        case "not_the_seat":
            what = "not the needle's seat, look at movement, gears and face"
        case _:
            what = "nothing can be said of the needle's seat"
    return f"{dial.id}: {what}; {one.reason}."
