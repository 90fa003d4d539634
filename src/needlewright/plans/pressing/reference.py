"""Which value a movement is driven to while its needle is pressed on.

One whose printed mark the hand can aim at, and whose row speaks for the others.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import floor, hypot, sqrt
from typing import Final

from needlewright.errors import RunError
from needlewright.families.model import Dial
from needlewright.plans.pressing.expected import ExpectedCheck, own_of
from needlewright.plans.pressing.hand import HandSpread, tip_deg
from needlewright.plans.pressing.shared import common_deg
from needlewright.plans.seat import SeatFit, SeatRow
from needlewright.readings.runs import Approach
from needlewright.rules.decision import COVERAGE_K
from needlewright.rules.rest import is_zero

AIM_SHARE: Final = 0.1
"""Of its distance from the nearest mark, a hand misjudges so much (common practice, no source)."""
ALIKE: Final = 1.1
"""Spreads within this ratio of the least are as good as it; then the better mark decides."""
_ON_MARK: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Reference:
    """Where a movement is driven to, and how the needle is aimed there."""

    value: float
    """Commanded, in the dial's unit: one of the run, or a numeral between two of its values."""
    approach: Approach
    """From which side the movement comes to it, as in its own run."""
    shaft_deg: float
    """Where the run's needle is expected to stand there, by all its rows."""
    press_deg: float
    """The angle on the face to press the needle at."""
    press_value: float
    """What the needle shows there."""
    mark: float
    """The printed mark nearest to it."""
    above_mark_deg: float
    """How far up the scale from that mark, negative below."""
    hand_deg: float
    """Standard deviation of where the hand lands about the aim."""
    seen_deg: float
    """Standard deviation of the movement's place at this value, and of what a reading shares."""
    is_representative: bool
    """Whether its row lies where the others say."""

    @property
    def spread_deg(self) -> float:
        """Standard deviation of what all rows share: hand, movement and reading at this value."""
        return hypot(self.hand_deg, self.seen_deg)


def marks_of(dial: Dial) -> tuple[float, ...]:
    """Values that are printed: the scale's marks and the graduations between them."""
    low, high = dial.scale.values[0], dial.scale.values[-1]
    count = floor((high - low) / dial.graduation_or_step + _ON_MARK)
    steps = (low + i * dial.graduation_or_step for i in range(count + 1))
    return tuple(sorted({round(value, 9) for value in (*dial.scale.values, *steps)}))


def choose_reference(
    dial: Dial,
    check: ExpectedCheck,
    turn_deg: float,
    hand: HandSpread,
    at: float | None = None,
) -> Reference:
    """Choose the value to press at.

    Parameters
    ----------
    dial
        The dial.
    check
        The movement's own run and where its rows are expected again: a single row is not trusted
        for more than it keeps.
    turn_deg
        The wanted turn of the run's needle, positive clockwise.
    hand
        How truly a hand presses.
    at
        A value somebody wants; None: the best is chosen.

    Returns
    -------
    Reference
        With the least spread; among those alike a mark with a numeral, then the nearest to the
        middle of the scale.

    Raises
    ------
    RunError
        If the run has no free row there.
    """
    found = _candidates(dial, check, turn_deg, hand)
    if at is not None:
        found = [one for one in found if abs(one.value - at) <= _ON_MARK * dial.scale.span]
    if not found:
        where = "above zero" if at is None else f"at {at:g} {dial.unit}"
        raise RunError(
            f"dial '{dial.id}': no row of the run {where} stands free of a stop and on the scale, "
            "so there is no value to press the needle at; add one to the run, or choose another"
        )
    representative = [one for one in found if one.is_representative] or found
    least = min(one.spread_deg for one in representative)
    alike = [one for one in representative if one.spread_deg <= ALIKE * least]
    return min(alike, key=lambda one: _preference(dial, one))


def _preference(dial: Dial, one: Reference) -> tuple[bool, bool, float]:
    is_numeral = any(abs(one.mark - value) < _ON_MARK for value in dial.scale.values)
    is_up = one.approach == "up"
    return (not is_up, not is_numeral, abs(one.press_deg - dial.scale.middle_deg))


def _candidates(
    dial: Dial, check: ExpectedCheck, turn_deg: float, hand: HandSpread
) -> list[Reference]:
    """Every commanded value of the run, and every numeral between two of them."""
    found = []
    for approach in ("up", "down"):
        by_value: dict[float, list[SeatRow]] = {}
        for row in check.fit.used:
            if row.row.approach == approach and not row.on_stop and not _is_zero(dial, row.told):
                by_value.setdefault(row.told, []).append(row)
        stood = [_stood(by_value[told], check) for told in sorted(by_value)]
        between = [_between(stood, value) for value in dial.scale.values if value not in by_value]
        for one in (*stood, *(one for one in between if one is not None)):
            if dial.scale.contains_angle(one.shaft_deg(dial) + turn_deg):
                found.append(_candidate(dial, check.fit, one, turn_deg, hand))
    return found


@dataclass(frozen=True, slots=True)
class _Stood:
    """What the run says of one commanded value on one approach."""

    value: float
    approach: Approach
    error_deg: float
    """As it was seen."""
    expected_deg: float
    """As it is expected to come again."""
    seen_deg: float
    u_deg: float

    def shaft_deg(self, dial: Dial) -> float:
        """Where the run's needle is expected to stand there."""
        return dial.programme_angle_deg(self.value) + self.expected_deg


def _stood(rows: Sequence[SeatRow], check: ExpectedCheck) -> _Stood:
    seat_deg = check.fit.seat_deg
    error_deg = sum(row.error_deg for row in rows) / len(rows)
    share = check.kept_of(rows[0])
    own = max(own_of(row) for row in rows)
    common = max(common_deg(row.u_seen_deg) for row in rows)
    return _Stood(
        rows[0].told,
        rows[0].row.approach,
        error_deg,
        seat_deg + share * (error_deg - seat_deg),
        hypot(rows[0].repeatability_deg, common, sqrt(share) * own),
        max(row.u_deg for row in rows),
    )


def _between(stood: Sequence[_Stood], value: float) -> _Stood | None:
    """A value the run passed without a row: on the line between its neighbours."""
    for low, high in pairwise(stood):
        if low.value < value < high.value:
            share = (value - low.value) / (high.value - low.value)
            return _Stood(
                value,
                low.approach,
                low.error_deg + share * (high.error_deg - low.error_deg),
                low.expected_deg + share * (high.expected_deg - low.expected_deg),
                max(low.seen_deg, high.seen_deg),
                max(low.u_deg, high.u_deg),
            )
    return None


def _is_zero(dial: Dial, told: float) -> bool:
    return is_zero(told, dial.scale.values[0], speedometer=dial.is_speedometer)


def _candidate(
    dial: Dial,
    fit: SeatFit,
    one: _Stood,
    turn_deg: float,
    hand: HandSpread,
) -> Reference:
    shaft_deg = one.shaft_deg(dial)
    press_deg = shaft_deg + turn_deg
    mark = min(marks_of(dial), key=lambda value: abs(dial.scale.angle_at(value) - press_deg))
    above_deg = dial.scale.sense * (press_deg - dial.scale.angle_at(mark))
    return Reference(
        value=one.value,
        approach=one.approach,
        shaft_deg=shaft_deg,
        press_deg=press_deg,
        press_value=dial.scale.value_at(press_deg),
        mark=mark,
        above_mark_deg=above_deg,
        hand_deg=hypot(hand.planned_tips * tip_deg(dial), AIM_SHARE * above_deg),
        seen_deg=one.seen_deg,
        is_representative=abs(one.error_deg - fit.seat_deg) <= COVERAGE_K * one.u_deg,
    )
