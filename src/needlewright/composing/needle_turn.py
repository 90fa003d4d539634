"""What to do about a dial's needle, and its turn in the three measures a hand understands."""

from dataclasses import dataclass

from needlewright.families.model import Dial, Family
from needlewright.papers.figures import decimals_for
from needlewright.plans.needle_set import NeedleSet, needle_set
from needlewright.proofs.verdicts import rule_of
from needlewright.readings.runs import Run
from needlewright.rules.decision import COVERAGE_K
from needlewright.units import unit_for_people


@dataclass(frozen=True, slots=True)
class TurnWords:
    """A turn as people are told it; every number is without sign, `side` says the way."""

    degrees: str
    """`3.46 ± 0.18`, with the expanded uncertainty."""
    side: str
    """`clockwise` or `anticlockwise`."""
    tip_widths: str
    graduations: str
    """As they are on average over the scale."""
    graduation: str
    """One graduation of the dial, with its unit."""


def needle_set_of(
    family: Family, run: Run, dial: Dial, *, max_speed: float | None = None
) -> NeedleSet | None:
    """Decide about one needle by its dial's own rule.

    Parameters
    ----------
    family
        The cluster design.
    run
        Completed with it.
    dial
        One of its dials.
    max_speed
        The vehicle's maximum design speed, in the speedometer's unit.

    Returns
    -------
    NeedleSet or None
        None where the run has no row of the dial.
    """
    rows = run.of_dial(dial.id)
    if not rows:
        return None
    return needle_set(dial, rows, rule_of(dial, max_speed=max_speed), family.eccentricity_mm)


def turn_words(dial: Dial, one: NeedleSet) -> TurnWords | None:
    """Put a turn into words.

    Parameters
    ----------
    dial
        The dial.
    one
        What was decided about its needle.

    Returns
    -------
    TurnWords or None
        None where there is no turn to make.
    """
    if one.verdict != "turn" or one.turn_deg is None or one.u_turn_deg is None:
        return None
    expanded = COVERAGE_K * one.u_turn_deg
    places = decimals_for(expanded) if expanded > 0 else 2
    return TurnWords(
        degrees=f"{abs(one.turn_deg):.{places}f} ± {expanded:.{places}f}",
        side="clockwise" if one.turn_deg > 0 else "anticlockwise",
        tip_widths=f"{abs(dial.tip_widths(one.turn_deg)):.1f}",
        graduations=f"{graduations(dial, one.turn_deg):.2f}",
        graduation=f"{dial.graduation_or_step:g} {unit_for_people(dial.unit)}",
    )


def graduations(dial: Dial, turn_deg: float) -> float:
    """A turn counted in graduations of the dial, as they are on average over its scale."""
    sweep_deg = abs(dial.scale.angles_deg[-1] - dial.scale.angles_deg[0])
    return abs(turn_deg) * dial.scale.span / sweep_deg / dial.graduation_or_step
