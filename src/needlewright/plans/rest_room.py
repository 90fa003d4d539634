"""How far a needle may be turned before it lies wrong at rest or at zero."""

from collections.abc import Sequence
from dataclasses import dataclass

from needlewright.families.model import Dial
from needlewright.readings.runs import RunRow
from needlewright.rules.rest import is_zero, rest_limits, zero_targets_deg


@dataclass(frozen=True, slots=True)
class RestRoom:
    """The turns that keep every row at rest and at zero within its rest limit."""

    lowest_deg: float
    highest_deg: float

    def allows(self, turn_deg: float) -> bool:
        """Whether every such row lies within its limit after a turn."""
        return self.lowest_deg <= turn_deg <= self.highest_deg

    def hold(self, turn_deg: float) -> float:
        """The allowed turn nearest to a wanted one; half way where rows allow none in common."""
        if self.lowest_deg > self.highest_deg:
            return (self.lowest_deg + self.highest_deg) / 2
        return min(max(turn_deg, self.lowest_deg), self.highest_deg)


def rest_room(dial: Dial, rows: Sequence[RunRow], turn_deg: float) -> RestRoom:
    """Find the turns the rest limit allows, about a wanted one.

    Parameters
    ----------
    dial
        The dial.
    rows
        Its completed rows.
    turn_deg
        The wanted turn; a needle told zero may belong in two places, and the one it would be
        nearer to after this turn counts.

    Returns
    -------
    RestRoom
        Without bounds where nothing holds the needle.

    Notes
    -----
    A needle that lies on a pin stays there however it is turned on its shaft, so it says nothing;
    one whose stop is inside the movement turns with its seat.
    """
    lowest, highest = float("-inf"), float("inf")
    for row in rows:
        if row.angle_deg is None:
            continue
        targets = _targets_deg(dial, row)
        if not targets:
            continue
        after_deg = row.angle_deg + turn_deg
        target_deg = min(targets, key=lambda target: abs(after_deg - target))
        limits = rest_limits(target_deg, dial.needle.tip_width_mm, dial.needle.length_mm)
        assert limits.lower is not None
        assert limits.upper is not None
        lowest = max(lowest, limits.lower - row.angle_deg)
        highest = min(highest, limits.upper - row.angle_deg)
    return RestRoom(lowest, highest)


def _targets_deg(dial: Dial, row: RunRow) -> tuple[float, ...]:
    if row.approach == "rest" or row.commanded is None:
        return () if dial.rest_pin else (dial.rest_target_deg,)
    zero = is_zero(row.commanded, dial.scale.values[0], speedometer=dial.is_speedometer)
    if not zero or row.on_stop:
        return ()
    return zero_targets_deg(
        first_mark_deg=dial.scale.angles_deg[0],
        rest_deg=dial.rest_angle_deg,
        sense=dial.scale.sense,
        may_rest_below=dial.rest_mark == "rest",
    )
