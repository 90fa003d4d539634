"""Distance to a rule's limits as a needle is turned, and the turn that makes the smallest largest.

Turned up the scale, every distance to a lower limit grows and every distance to an upper one
shrinks. So the smallest of each kind are two monotone curves, and the best turn is where they
cross. **Source** derivation: docs/needle-set.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from needlewright.families.model import Dial
from needlewright.families.scale import Scale
from needlewright.plans.seat import SeatRow
from needlewright.rules.model import Limits, Rule
from needlewright.rules.rest import is_zero

FURTHEST_DEG: Final = 360.0


def value_beyond(scale: Scale, angle_deg: float) -> float:
    """Value at an angle, the end segments continued without end: for sums, not for people."""
    low, high = sorted((scale.angles_deg[0], scale.angles_deg[-1]))
    on_scale = min(max(angle_deg, low), high)
    return scale.value_at(on_scale) + (angle_deg - on_scale) * scale.slope_at(angle_deg)


@dataclass(frozen=True, slots=True)
class RuledRow:
    """A row a rule speaks about."""

    row: SeatRow
    limits: Limits


@dataclass(frozen=True, slots=True)
class Margin:
    """The smallest distance to a limit, and where."""

    size: float
    """In the dial's unit, negative outside."""
    at: RuledRow
    side: Literal["lower", "upper"]


def ruled_rows(dial: Dial, rows: Sequence[SeatRow], rule: Rule | None) -> tuple[RuledRow, ...]:
    """The rows a rule speaks about: not those at zero, where only the rest limit counts."""
    if rule is None:
        return ()
    found = []
    for row in rows:
        if is_zero(row.told, dial.scale.values[0], speedometer=dial.is_speedometer):
            continue
        limits = rule.limits(row.told)
        if limits is not None:
            found.append(RuledRow(row, limits))
    return tuple(found)


def smallest_margin(dial: Dial, rows: Sequence[RuledRow], turn_deg: float = 0.0) -> Margin | None:
    """The smallest distance to a limit after a turn.

    Parameters
    ----------
    dial
        The dial.
    rows
        Rows a rule speaks about.
    turn_deg
        Of the needle, positive clockwise.

    Returns
    -------
    Margin or None
        None where nothing limits.
    """
    sides = [side_margin(dial, rows, turn_deg, "lower"), side_margin(dial, rows, turn_deg, "upper")]
    return min((side for side in sides if side is not None), key=lambda m: m.size, default=None)


def side_margin(
    dial: Dial, rows: Sequence[RuledRow], turn_deg: float, side: Literal["lower", "upper"]
) -> Margin | None:
    """The smallest distance to the lower, or to the upper limits after a turn; None without any.

    A needle on a stop would stand there or lower, so it has a distance to the lower limit at most
    and none to the upper one.
    """
    found = []
    for ruled in rows:
        limit = ruled.limits.lower if side == "lower" else ruled.limits.upper
        if limit is None or (ruled.row.on_stop and side == "upper"):
            continue
        shown = value_beyond(dial.scale, ruled.row.angle_deg + _carried(dial, ruled.row, turn_deg))
        size = shown - limit if side == "lower" else limit - shown
        found.append(Margin(size, ruled, side))
    return min(found, key=lambda margin: margin.size, default=None)


def _carried(dial: Dial, row: SeatRow, turn_deg: float) -> float:
    """How far a turn takes a needle: one on a pin is not taken through it."""
    if row.on_stop and dial.rest_pin and dial.scale.sense * turn_deg < 0:
        return 0.0
    return turn_deg


def best_turn(dial: Dial, rows: Sequence[RuledRow]) -> float | None:
    """The turn that makes the smallest margin largest.

    Parameters
    ----------
    dial
        The dial.
    rows
        Rows a rule speaks about.

    Returns
    -------
    float or None
        Degrees, positive clockwise; None where limits of one side only would let it run away.
    """

    def lower_less_upper(rise_deg: float) -> float:
        turn_deg = dial.scale.sense * rise_deg
        lower = side_margin(dial, rows, turn_deg, "lower")
        upper = side_margin(dial, rows, turn_deg, "upper")
        assert lower is not None
        assert upper is not None
        return lower.size - upper.size

    if None in (side_margin(dial, rows, 0.0, "lower"), side_margin(dial, rows, 0.0, "upper")):
        return None
    if lower_less_upper(-FURTHEST_DEG) >= 0 or lower_less_upper(FURTHEST_DEG) <= 0:
        return None
    from scipy.optimize import brentq  # noqa: PLC0415 (half a second that no photo waits for)

    rise_deg = float(brentq(lower_less_upper, -FURTHEST_DEG, FURTHEST_DEG, xtol=1e-10))
    return dial.scale.sense * rise_deg
