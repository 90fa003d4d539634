"""What each row of a final check leaves a needle to be turned by, and how much it may stray.

Counted as a rise: degrees up the scale, so that a mirrored dial gives the same numbers. The rows
are those of the movement's own run: its final check asks them again.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, sqrt

from needlewright.families.model import Dial
from needlewright.families.scale import Scale
from needlewright.plans.margins import RuledRow
from needlewright.plans.pressing.shared import own_deg
from needlewright.plans.rest_room import rest_room
from needlewright.plans.seat import SeatRow
from needlewright.readings.runs import RunRow
from needlewright.rules.decision import COVERAGE_K
from needlewright.rules.model import Limits
from needlewright.rules.rest import is_zero

Kept = Mapping[int, float]
"""By `id` of a row, the share of its scatter that is the movement's own; 1 where it is not told."""


@dataclass(frozen=True, slots=True)
class Window:
    """The rises with which one row conforms."""

    name: str
    low_deg: float
    high_deg: float
    stray_deg: float
    """Standard deviation (k = 1) of this row alone, from the run that was taken to the check."""
    expanded_deg: float
    """Guard band (k = 2) with which the check will judge it."""

    def nearest(self, rise_deg: float) -> float:
        """Distance to the nearer limit, negative outside."""
        return min(rise_deg - self.low_deg, self.high_deg - rise_deg)

    def guarded(self) -> "Window":
        """The same narrowed by the guard band on both sides: conforms without doubt."""
        return replace(
            self,
            low_deg=self.low_deg + self.expanded_deg,
            high_deg=self.high_deg - self.expanded_deg,
        )


def _strays(kept: Kept | None, row: int) -> float:
    """Standard deviations of one row between run and check: the check's, and the run's as kept."""
    return sqrt(1.0 + (1.0 if kept is None else kept.get(row, 1.0)))


def angle_beyond(scale: Scale, value: float) -> float:
    """Angle of a value, the end segments continued without end: for sums, not for people."""
    low, high = scale.values[0], scale.values[-1]
    on_scale = min(max(value, low), high)
    angle = scale.angle_at(on_scale)
    return angle + (value - on_scale) / scale.slope_at(angle)


def rule_windows(
    dial: Dial, ruled: Sequence[RuledRow], kept: Kept | None = None
) -> tuple[Window, ...]:
    """One window for each row a rule speaks about.

    Parameters
    ----------
    dial
        The dial.
    ruled
        Its rows (`plans.margins.ruled_rows`).
    kept
        How much of each row's scatter is the movement's own; None: all of it.

    Returns
    -------
    tuple of Window
        A needle on a stop has a lower limit only; one on a pin is not turned through it.
    """
    return tuple(_rule_window(dial, one, kept) for one in ruled)


def _rule_window(dial: Dial, one: RuledRow, kept: Kept | None) -> Window:
    row, limits = one.row, one.limits
    low = -inf if limits.lower is None else _rise_to(dial, row.angle_deg, limits.lower)
    high = inf if limits.upper is None else _rise_to(dial, row.angle_deg, limits.upper)
    if row.on_stop:
        high = inf
        if dial.rest_pin and low <= 0:
            low = -inf
    slope = abs(dial.scale.slope_at(row.angle_deg))
    return Window(
        row.name,
        low,
        high,
        _strays(kept, id(row)) * own_deg(row.repeatability_deg, row.u_seen_deg),
        COVERAGE_K * row.u_value / slope,
    )


def low_windows(
    dial: Dial, rows: Sequence[SeatRow], kept: Kept | None = None
) -> tuple[Window, ...]:
    """For a speedometer, the rises with which no row reads low; for any other dial none.

    What a rule allows, a speedometer is still never set to read low.
    """
    if not dial.is_speedometer:
        return ()
    found = []
    for row in rows:
        zero = is_zero(row.told, dial.scale.values[0], speedometer=True)
        if not row.on_stop and not zero:
            found.append(_rule_window(dial, RuledRow(row, Limits(row.told, None)), kept))
    return tuple(found)


def rest_windows(
    dial: Dial, rows: Sequence[RunRow], turn_deg: float, kept: Kept | None = None
) -> tuple[Window, ...]:
    """One window for each row at rest and at zero that a needle's seat moves.

    Parameters
    ----------
    dial
        The dial.
    rows
        Completed rows.
    turn_deg
        The wanted turn, positive clockwise: where two places are right, the nearer one counts.
    kept
        As for `rule_windows`.

    Returns
    -------
    tuple of Window
        None for a needle that lies on a pin: it lies there however it is pressed.
    """
    found = []
    for row in rows:
        room = rest_room(dial, [row], turn_deg)
        if room.lowest_deg == -inf:
            continue
        ends = sorted(dial.scale.sense * turn for turn in (room.lowest_deg, room.highest_deg))
        u_deg = row.u_angle_deg or 0.0
        name = "at rest" if row.commanded is None else f"{row.commanded:g} {row.approach}"
        stray = _strays(kept, id(row)) * own_deg(dial.movement.repeatability_deg, u_deg)
        found.append(Window(name, ends[0], ends[1], stray, COVERAGE_K * u_deg))
    return tuple(found)


def _rise_to(dial: Dial, angle_deg: float, value: float) -> float:
    """How far up the scale a needle must be turned to show a value."""
    return dial.scale.sense * (angle_beyond(dial.scale, value) - angle_deg)


def common_room(windows: Sequence[Window]) -> tuple[float, float]:
    """The rises with which every row conforms; without any, the first is above the second."""
    return (
        max((one.low_deg for one in windows), default=-inf),
        min((one.high_deg for one in windows), default=inf),
    )
