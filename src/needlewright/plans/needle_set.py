"""The needle-set instruction: leave it, turn it by so much, or the seat is not the cause."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from needlewright.families.model import Dial
from needlewright.plans.margins import Margin, RuledRow, ruled_rows, smallest_margin
from needlewright.plans.needle_aim import Aim, Gain, Target, aim_at, gain_of
from needlewright.plans.needle_words import reason_to_leave, reason_to_turn
from needlewright.plans.rigidity import check_rigidity, describe
from needlewright.plans.seat import SeatFit, SeatRow, fit_seat, seat_rows
from needlewright.readings.runs import Approach, RunRow
from needlewright.rules.model import Rule
from needlewright.rules.rest import half_tip_deg

Verdict = Literal["leave", "turn", "not_the_seat"]

HAND_TIP_WIDTHS: Final = 0.5
"""The smallest turn a hand can aim for, in widths of the needle's tip (common practice)."""


@dataclass(frozen=True, slots=True)
class WorstPoint:
    """Where a needle is worst off."""

    commanded: float
    """In the dial's unit."""
    approach: Approach


@dataclass(frozen=True, slots=True)
class NeedleSet:
    """What to do about one needle's seat."""

    dial: str
    verdict: Verdict | None
    """None where too little was read to say."""
    turn_deg: float | None
    """The turn that brings the needle to its target, positive clockwise; None: no turn does."""
    u_turn_deg: float | None
    """Standard uncertainty (k = 1) of `turn_deg`."""
    margin_before: float | None
    """Smallest distance to the rule's limits as the needle stands, in `margin_unit`."""
    margin_after: float | None
    """The same after the turn."""
    margin_unit: str
    worst_point: WorstPoint | None
    """The row of `margin_before`; without a rule the row furthest from the programme."""
    reason: str
    target: Target = "programme"
    components_deg: tuple[tuple[str, float], ...] = ()
    """Named standard uncertainties that make up `u_turn_deg`."""


def needle_set(
    dial: Dial, rows: Sequence[RunRow], rule: Rule | None, eccentricity_mm: float
) -> NeedleSet:
    """Decide what to do about a needle's seat.

    Parameters
    ----------
    dial
        The dial.
    rows
        Its rows in time order, completed (`readings.complete.complete_run`).
    rule
        The rule it answers to, bound to the dial; None: none, and there are no margins.
    eccentricity_mm
        Standard deviation of shaft to printed centre.

    Returns
    -------
    NeedleSet
        Verdict, turn and margins.

    Raises
    ------
    RunError
        If a commanded value lies off the scale.

    Notes
    -----
    The target is the dial's programme; where the rule leaves no room for it, the turn that makes
    the smallest margin under the rule largest; either within the rest limit. **Source**
    derivation: docs/needle-set.md.
    """
    errors = seat_rows(dial, rows, eccentricity_mm)
    fit = fit_seat(dial, errors)
    if fit is None:
        return _nothing_to_say(dial, errors)
    ruled = ruled_rows(dial, errors, rule)
    found = check_rigidity(dial, fit)
    if not found.rigid:
        return _not_the_seat(dial, fit, ruled, describe(fit, found))
    aim = aim_at(dial, rows, fit, ruled, eccentricity_mm)
    gain = gain_of(dial, rows, ruled, aim)
    turn = _worth_a_turn(dial, aim, gain)
    count = len(fit.used)
    return NeedleSet(
        dial=dial.id,
        verdict="turn" if turn else "leave",
        turn_deg=aim.turn_deg,
        u_turn_deg=aim.u_deg,
        margin_before=None if gain.before is None else gain.before.size,
        margin_after=None if gain.after is None else gain.after.size,
        margin_unit=dial.unit,
        worst_point=_worst_point(fit, gain.before),
        reason=reason_to_turn(dial, aim, gain, count)
        if turn
        else reason_to_leave(aim, gain, count),
        target=aim.target,
        components_deg=aim.components_deg,
    )


def _nothing_to_say(dial: Dial, errors: Sequence[SeatRow]) -> NeedleSet:
    why = "every commanded row stands on a stop" if errors else "no commanded row was read"
    return NeedleSet(
        dial=dial.id,
        verdict=None,
        turn_deg=None,
        u_turn_deg=None,
        margin_before=None,
        margin_after=None,
        margin_unit=dial.unit,
        worst_point=None,
        reason=f"{why}; nothing can be said of the seat",
    )


def _not_the_seat(dial: Dial, fit: SeatFit, ruled: Sequence[RuledRow], how: str) -> NeedleSet:
    before = smallest_margin(dial, ruled)
    return NeedleSet(
        dial=dial.id,
        verdict="not_the_seat",
        turn_deg=None,
        u_turn_deg=None,
        margin_before=None if before is None else before.size,
        margin_after=None,
        margin_unit=dial.unit,
        worst_point=_worst_point(fit, before),
        reason=f"no one turn puts it right: {how}; find the cause before the needle is touched",
    )


def _worth_a_turn(dial: Dial, aim: Aim, gain: Gain) -> bool:
    """Whether to turn.

    A needle that conforms must gain what can be told and what a hand can do; one that does not
    must be brought in, or at least nearer by what can be told.
    """
    told = gain.deg >= aim.u_deg
    if gain.conforms:
        return told and not _below_hand(dial, aim.turn_deg)
    return gain.would_conform or told


def _below_hand(dial: Dial, turn_deg: float) -> bool:
    """Whether a hand that aims for the nearest half tip width would not turn at all."""
    tip_deg = 2 * half_tip_deg(dial.needle.tip_width_mm, dial.needle.length_mm)
    return abs(turn_deg) < HAND_TIP_WIDTHS * tip_deg / 2


def _worst_point(fit: SeatFit, before: Margin | None) -> WorstPoint:
    row = max(fit.used, key=lambda r: abs(r.error_deg)) if before is None else before.at.row
    return WorstPoint(row.told, row.row.approach)
