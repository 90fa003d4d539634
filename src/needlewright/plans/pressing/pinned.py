"""Rows of a movement's own run that lay on a pin, and will not once the needle is pressed on.

The run's needle sits at any angle, so it may lie on the pin where the right one will hang free.
What it would have shown there nobody saw: it is taken from the programme and from how the run's
needle sat, so that the final check is not expected to pass by what was never looked at.
"""

from collections.abc import Sequence
from dataclasses import replace

from needlewright.errors import ScaleError
from needlewright.families.model import Dial
from needlewright.plans.seat import SeatRow
from needlewright.readings.runs import RunRow
from needlewright.readings.stops import NEAR_DEG, ON_STOP


def off_the_pin(
    dial: Dial, rows: Sequence[RunRow], errors: Sequence[SeatRow], seat_deg: float
) -> tuple[tuple[RunRow, ...], tuple[SeatRow, ...], int]:
    """Put rows that lay on a pin where the movement would have put them without it.

    Parameters
    ----------
    dial
        The dial.
    rows
        Its completed rows.
    errors
        Of the commanded ones.
    seat_deg
        How far clockwise of its programme the run's needle sat.

    Returns
    -------
    rows
        As given, those that will hang free at the angle expected of them.
    errors
        The same.
    count
        How many were moved; none on a dial without a pin.
    """
    if not dial.rest_pin:
        return tuple(rows), tuple(errors), 0
    moved = {
        id(one.row): freed for one in errors if (freed := _freed(dial, one, seat_deg)) is not None
    }
    return (
        tuple(moved[id(row)].row if id(row) in moved else row for row in rows),
        tuple(moved.get(id(one.row), one) for one in errors),
        len(moved),
    )


def _freed(dial: Dial, one: SeatRow, seat_deg: float) -> SeatRow | None:
    if not one.on_stop:
        return None
    try:
        sound_deg = dial.programme_angle_deg(one.told)
    except ScaleError:
        return None
    if dial.scale.sense * (sound_deg - dial.rest_angle_deg) <= NEAR_DEG:
        return None
    angle_deg = sound_deg + seat_deg
    flags = tuple(flag for flag in one.row.flags if flag != ON_STOP)
    row = replace(one.row, angle_deg=angle_deg, flags=flags)
    return replace(one, row=row, angle_deg=angle_deg, error_deg=seat_deg, on_stop=False)
