"""Runs made of a dial's programme: seated, worn, slipped or noisy as a test asks."""

from collections.abc import Callable, Sequence

import numpy as np

from needlewright.families.model import Dial
from needlewright.readings.complete import complete_row
from needlewright.readings.runs import RunRow
from needlewright.readings.stops import mark_stops

Error = Callable[[int, float, str], float]
"""Error in degrees of the row of that number, commanded value and approach."""

SHARES = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)


def points(dial: Dial, shares: Sequence[float] = SHARES) -> list[tuple[float, str]]:
    """Up through shares of the scale and down again; a speedometer stops at nine tenths."""
    top = 0.9 if dial.is_speedometer else 1.0
    up = [dial.scale.values[0] + top * share * dial.scale.span for share in shares]
    return [(v, "up") for v in up] + [(v, "down") for v in up[-2::-1]]


def made_rows(
    dial: Dial,
    error: Error = lambda i, told, approach: 0.0,
    *,
    seat_deg: float = 0.0,
    u_deg: float = 0.06,
    rest: bool = True,
    ecc_mm: float = 0.15,
) -> tuple[RunRow, ...]:
    """A run with a needle seated `seat_deg` clockwise, and an error of each row on top."""
    rest_deg = dial.rest_angle_deg + (0.0 if dial.rest_pin else seat_deg)
    rows = [RunRow("made", dial.id, dial.unit, "rest", None, None, rest_deg, u_deg)] if rest else []
    for i, (told, approach) in enumerate(points(dial)):
        angle = dial.programme_angle_deg(told) + seat_deg + error(i, told, approach)
        if dial.rest_pin:  # a pin on the face stops the needle, however it sits
            sense = dial.scale.sense
            angle = sense * max(sense * angle, sense * dial.rest_angle_deg)
        rows.append(RunRow("made", dial.id, dial.unit, approach, told, None, angle, u_deg))
    return mark_stops([complete_row(row, dial, ecc_mm) for row in rows], dial)


def noise(rng: np.random.Generator, u_deg: float, repeatability_deg: float) -> Error:
    """Independent reading noise and repeatability of every row."""
    return lambda i, told, approach: float(rng.normal(0.0, np.hypot(u_deg, repeatability_deg)))
