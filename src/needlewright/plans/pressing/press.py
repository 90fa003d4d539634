"""Where to drive a new movement and at which angle to press its needle, from its own run."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import Final, Literal

from needlewright.errors import RunError
from needlewright.families.model import Dial
from needlewright.plans.margins import Margin, ruled_rows, smallest_margin
from needlewright.plans.pressing.chance import (
    Trialled,
    balanced_rise,
    chance_by_integration,
    chance_by_trials,
    smallest_in_spreads,
)
from needlewright.plans.pressing.doubts import SeenMovement, doubts_of, hardly_passes, too_coarse
from needlewright.plans.pressing.expected import ExpectedCheck, expected_check
from needlewright.plans.pressing.hand import HandSpread, tip_deg
from needlewright.plans.pressing.pinned import off_the_pin
from needlewright.plans.pressing.reference import Reference, choose_reference
from needlewright.plans.pressing.windows import (
    Window,
    common_room,
    low_windows,
    rest_windows,
    rule_windows,
)
from needlewright.plans.seat import fit_seat, seat_rows
from needlewright.readings.runs import RunRow
from needlewright.rules.decision import COVERAGE_K
from needlewright.rules.model import Rule

Aimed = Literal["programme", "margins"]
Verdict = Literal["press", "no_place"]
LEAST_CHANCE: Final = 0.1
"""A press that passes less often is not offered: each pressing wears hub and shaft (common
practice, no source)."""
_PASSES: Final = 2
"""The turn decides the mark, the mark the spread, the spread the turn: settled in two."""


@dataclass(frozen=True, slots=True)
class Press:
    """How to press one needle onto a new movement."""

    dial: str
    unit: str
    verdict: Verdict
    """`no_place`: no angle brings every row within its limits, or the best would hardly ever pass;
    nothing is pressed."""
    aimed: Aimed
    """The programme, where it leaves room for the hand; else the turn of the largest margin."""
    reference: Reference
    turn_deg: float
    """Of the run's own needle, positive clockwise."""
    room_deg: tuple[float, float]
    """How far the needle may land below and above the aim, up the scale, with every row within."""
    margin: Margin | None
    """Smallest distance to the rule's limits at the aim; None: no rule limits anything."""
    programme_off_deg: float
    """Largest distance of a row from the programme at the aim."""
    rest_deg: float | None
    """Where the needle will rest; None: on its pin, or the run has no row at rest."""
    pass_probability: float
    """That every row of the final check conforms."""
    trialled: Trialled
    """The same, counted by Monte Carlo."""
    no_doubt_probability: float
    """That every row conforms by more than its expanded uncertainty."""
    low_probability: float | None
    """That a speedometer reads low at some row; None: the dial is none, or has no free row."""
    hand: HandSpread
    rows: int
    doubts: tuple[str, ...]
    """What speaks against pressing yet."""
    rise_deg: float
    """`turn_deg` up the scale."""
    programme_rise_deg: float
    """What the programme alone would ask for."""
    judged: tuple[Window, ...]
    """Of the final check, row by row."""
    low: tuple[Window, ...]
    """Of a speedometer, where it does not read low; empty for any other dial."""


@dataclass(frozen=True, slots=True)
class _Limits:
    """Windows of the final check, and those to aim by: a speedometer never aims low."""

    judged: tuple[Window, ...]
    to_aim: tuple[Window, ...]
    low: tuple[Window, ...]


@dataclass(frozen=True, slots=True)
class _Aim:
    limits: _Limits
    turn_deg: float
    aimed: Aimed


def plan_press(
    dial: Dial,
    rows: Sequence[RunRow],
    rule: Rule | None,
    eccentricity_mm: float,
    hand: HandSpread,
    *,
    at: float | None = None,
) -> Press:
    """Plan how to press a needle onto a new movement.

    Parameters
    ----------
    dial
        The dial.
    rows
        The new movement's own run with any needle pushed on, in time order and completed
        (`readings.complete.complete_run`), with the needle at rest after homing.
    rule
        The rule it answers to, bound to the dial; None: none, and only programme and rest count.
    eccentricity_mm
        Standard deviation of shaft to printed centre.
    hand
        How truly a hand presses.
    at
        Value to press at; None: the best is chosen.

    Returns
    -------
    Press
        Where to drive to, where to press, and what may be expected.

    Raises
    ------
    RunError
        If the movement was not seen at rest after homing, stood on a stop in every row, or no
        row can be pressed at.

    Notes
    -----
    **Source** derivation: docs/needle-set.md, "A needle onto a new movement".
    """
    _require_homed(dial, rows)
    errors = seat_rows(dial, rows, eccentricity_mm)
    fit = fit_seat(dial, errors)
    if fit is None:
        raise RunError(_nothing_free(dial, rows))
    shown, free, pinned = off_the_pin(dial, rows, errors, fit.seat_deg)
    seen = SeenMovement(dial, shown, fit, ruled_rows(dial, free, rule), rule, pinned)
    check = expected_check(dial, shown, free, fit)
    spread_deg = hand.planned_tips * tip_deg(dial)
    for _ in range(_PASSES):
        aim = _aim(seen, check, spread_deg)
        reference = choose_reference(dial, check, aim.turn_deg, hand, at)
        spread_deg = reference.spread_deg
    return _pressed(seen, aim, reference, hand)


def _require_homed(dial: Dial, rows: Sequence[RunRow]) -> None:
    if dial.movement.kind != "stepper":  # nothing to home: its field alone says where it points
        return
    if not any(row.approach == "rest" and row.angle_deg is not None for row in rows):
        raise RunError(
            f"dial '{dial.id}': no row at rest after homing (approach 'rest', with an angle); home "
            "the movement, read its needle where it comes to rest, and put that row first"
        )


def _nothing_free(dial: Dial, rows: Sequence[RunRow]) -> str:
    if all(row.commanded is None for row in rows):
        return f"dial '{dial.id}': not in this run; take it into the next one to press its needle"
    stood = any(row.commanded is not None and row.angle_deg is not None for row in rows)
    if stood:
        return (
            f"dial '{dial.id}': every commanded row stands on a stop, which says nothing of the "
            "movement; drive it to values well above its rest and take the run again"
        )
    return f"dial '{dial.id}': no commanded row was read; take the run again with the needle seen"


def _aim(seen: SeenMovement, check: ExpectedCheck, spread_deg: float) -> _Aim:
    """The turn of the run's needle; the programme's where that leaves the hand its room."""
    sense = seen.dial.scale.sense
    wanted_deg = -seen.fit.seat_deg
    limits = _limits(seen, check, wanted_deg)
    programme = sense * wanted_deg
    if smallest_in_spreads(limits.to_aim, programme, spread_deg) >= COVERAGE_K:
        return _Aim(limits, wanted_deg, "programme")
    rise = balanced_rise(limits.to_aim, spread_deg)
    if rise is None:
        lowest, highest = common_room(limits.to_aim)
        keep = COVERAGE_K * spread_deg
        rise = max(programme, lowest + keep) if lowest > -inf else min(programme, highest - keep)
    return _Aim(limits, sense * rise, "margins")


def _limits(seen: SeenMovement, check: ExpectedCheck, turn_deg: float) -> _Limits:
    dial = seen.dial
    ruled = ruled_rows(dial, check.errors, seen.rule)
    limited = {id(one.row) for one in ruled}
    low = low_windows(dial, check.errors, check.kept)
    # where no rule limits a row of a speedometer, that it never reads low still does
    unruled = [row for row in check.errors if id(row) not in limited]
    judged = (
        *rule_windows(dial, ruled, check.kept),
        *low_windows(dial, unruled, check.kept),
        *rest_windows(dial, check.rows, turn_deg, check.kept),
    )
    return _Limits(judged, (*judged, *low), low)


def _pressed(seen: SeenMovement, aim: _Aim, reference: Reference, hand: HandSpread) -> Press:
    dial, limits, turn_deg = seen.dial, aim.limits, aim.turn_deg
    rise, spread = dial.scale.sense * turn_deg, reference.spread_deg
    lowest, highest = common_room(limits.to_aim)
    room = (rise - lowest, highest - rise)
    low = chance_by_integration(limits.low, rise, spread) if limits.low else None
    guarded = [one.guarded() for one in limits.judged]
    chance = chance_by_integration(limits.judged, rise, spread)
    fits = min(room) >= 0
    unsure = too_coarse(limits.judged, seen.rows)
    if fits and chance < LEAST_CHANCE and not unsure:
        unsure = (hardly_passes(limits.judged, spread),)
    return Press(
        dial=dial.id,
        unit=dial.unit,
        verdict="press" if fits and chance >= LEAST_CHANCE else "no_place",
        aimed=aim.aimed,
        reference=reference,
        turn_deg=turn_deg,
        room_deg=room,
        margin=smallest_margin(dial, seen.ruled, turn_deg),
        programme_off_deg=max(
            abs(row.error_deg + turn_deg) for row in seen.fit.used if not row.on_stop
        ),
        rest_deg=_rest_deg(dial, seen.rows, turn_deg),
        pass_probability=chance,
        trialled=chance_by_trials(limits.judged, rise, spread),
        no_doubt_probability=chance_by_integration(guarded, rise, spread),
        low_probability=None if low is None else 1.0 - low,
        hand=hand,
        rows=len(seen.fit.used),
        doubts=(*unsure, *doubts_of(seen, turn_deg, reference)),
        rise_deg=rise,
        programme_rise_deg=-dial.scale.sense * seen.fit.seat_deg,
        judged=limits.judged,
        low=limits.low,
    )


def _rest_deg(dial: Dial, rows: Sequence[RunRow], turn_deg: float) -> float | None:
    """Where a needle rests whose stop is inside the movement, by the last row at rest."""
    if dial.rest_pin:
        return None
    stood = [row.angle_deg for row in rows if row.approach == "rest" and row.angle_deg is not None]
    return stood[-1] + turn_deg if stood else None
