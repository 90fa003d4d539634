"""A needle at its aim: the same direction whichever way round it is counted, and near enough."""

from typing import Final

from needlewright.plans.needle_set import HAND_TIP_WIDTHS

WHOLE_TURN_DEG: Final = 360.0
INSIDE_TIPS: Final = HAND_TIP_WIDTHS / 2
"""A hand that aims for the nearest half tip width would turn no further (common practice, no
source)."""


def nearest_turn(turn_deg: float) -> float:
    """The same turn within half a turn either way, degrees."""
    return turn_deg - WHOLE_TURN_DEG * round(turn_deg / WHOLE_TURN_DEG)


def beside(angle_deg: float, aim_deg: float) -> float:
    """The same direction within half a turn of an aim, whichever branch it was read on; degrees."""
    return aim_deg + nearest_turn(angle_deg - aim_deg)


def is_inside(off_deg: float, tip_deg: float) -> bool:
    """Whether a needle is as near its aim as a hand would turn it; both in degrees."""
    return abs(off_deg) <= INSIDE_TIPS * tip_deg
