"""Which needles stand on a stop, told from the readings and the commands of one run.

A needle on a stop says only that it would stand there or beyond. So the flag needs two things: the
needle stands where the stop is, and the command would have put it there or beyond, given how far
this needle was off at the neighbouring commands. A dead needle that lies on its pin at every
command is not excused by the pin: nothing put it there.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, inf
from typing import Final

from needlewright.errors import ScaleError
from needlewright.families.model import Dial
from needlewright.readings.runs import RunRow

ON_STOP: Final = "on_stop"
"""Flag of a row whose needle stands on a stop."""

NEAR_DEG: Final = 0.3
"""How far a stop may lie from where the family says, on top of 3 u (common practice, no source)."""
BEYOND_PIN_DEG: Final = 5.0
"""A needle further beyond a pin than this has passed it; it does not stand on it."""
_COVERAGE: Final = 3.0


@dataclass(frozen=True, slots=True)
class _Standing:
    """A row in degrees of rise: how far up the scale its needle stands, or would stand."""

    at_deg: float
    u_deg: float
    told_deg: float | None
    """Where the command would put a sound needle; None at rest."""
    touches: bool


def mark_stops(rows: Sequence[RunRow], dial: Dial) -> tuple[RunRow, ...]:
    """Give the flag `on_stop` to the rows of one dial that stand on their stop.

    Parameters
    ----------
    rows
        Rows of one dial in time order, with angles and uncertainties where read.
    dial
        The dial.

    Returns
    -------
    tuple of RunRow
        The same rows; flags already there stay.

    Notes
    -----
    A pin stands on the face, so a needle at rest that touches it stands on it. A stop inside the
    movement turns with the needle's seat: it lies `stop_below_deg` below where this needle came to
    rest, whatever the family's rest angle; a needle at rest does not touch it. **Source**
    derivation: docs/runs.md.
    """
    standing = [_standing(i, rows, dial) for i in range(len(rows))]
    return tuple(
        _flagged(row) if _stands_on_stop(i, rows, standing, dial) else row
        for i, row in enumerate(rows)
    )


def _standing(i: int, rows: Sequence[RunRow], dial: Dial) -> _Standing | None:
    row = rows[i]
    if row.angle_deg is None:
        return None
    sense = dial.scale.sense
    at_deg, u_deg = sense * row.angle_deg, row.u_angle_deg or 0.0
    if dial.rest_pin:
        stop_deg, u_stop_deg, lowest_deg = sense * dial.rest_angle_deg, 0.0, -BEYOND_PIN_DEG
    else:
        seat_deg, u_seat_deg = _seat(i, rows, dial)
        stop_deg = sense * dial.stop_angle_deg + seat_deg
        u_stop_deg, lowest_deg = hypot(u_seat_deg, dial.movement.repeatability_deg), -inf
    near_deg = _COVERAGE * hypot(u_deg, u_stop_deg) + NEAR_DEG
    touches = lowest_deg <= at_deg - stop_deg <= near_deg
    return _Standing(at_deg, hypot(u_deg, u_stop_deg), _told_deg(row, dial), touches)


def _seat(place: int, rows: Sequence[RunRow], dial: Dial) -> tuple[float, float]:
    """How far up this needle sits from where the family says, and its u, in degrees of rise.

    From the last rest before the row, else the first after it; without any, from the first
    command, when the movement has just homed.
    """
    at_rest = [
        (i, r) for i, r in enumerate(rows) if r.approach == "rest" and r.angle_deg is not None
    ]
    before = [r for i, r in at_rest if i < place]
    after = [r for i, r in at_rest if i > place]
    sense = dial.scale.sense
    if before or after:
        rest = before[-1] if before else after[0]
        assert rest.angle_deg is not None
        return sense * (rest.angle_deg - dial.rest_angle_deg), rest.u_angle_deg or 0.0
    first = next(r for r in rows if r.angle_deg is not None)
    told_deg = _told_deg(first, dial)
    if first.angle_deg is None or told_deg is None or abs(told_deg) == inf:
        return 0.0, 0.0
    return sense * first.angle_deg - told_deg, first.u_angle_deg or 0.0


def _told_deg(row: RunRow, dial: Dial) -> float | None:
    if row.commanded is None:
        return None
    try:
        return dial.scale.sense * dial.programme_angle_deg(row.commanded)
    except ScaleError:
        return -inf if row.commanded < dial.scale.values[0] else inf


def _stands_on_stop(
    i: int, rows: Sequence[RunRow], standing: Sequence[_Standing | None], dial: Dial
) -> bool:
    here = standing[i]
    if here is None or not here.touches:
        return False
    if rows[i].approach == "rest":
        return dial.rest_pin
    if here.told_deg is None:
        return False
    off_deg, u_off_deg = _off_nearby(i, standing)
    spread_deg = hypot(here.u_deg, u_off_deg, dial.movement.repeatability_deg)
    return here.told_deg + off_deg <= here.at_deg + _COVERAGE * spread_deg + NEAR_DEG


def _off_nearby(i: int, standing: Sequence[_Standing | None]) -> tuple[float, float]:
    """Error of the last free commanded row before, else of the first after, else none known."""
    for other in (*reversed(standing[:i]), *standing[i + 1 :]):
        if other is None or other.touches or other.told_deg is None:
            continue
        if abs(other.told_deg) != inf:
            return other.at_deg - other.told_deg, other.u_deg
    return 0.0, 0.0


def _flagged(row: RunRow) -> RunRow:
    return row if row.on_stop else replace(row, flags=(*row.flags, ON_STOP))
