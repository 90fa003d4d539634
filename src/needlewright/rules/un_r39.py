"""UN Regulation No. 39: a speedometer never reads low, and high by a tenth and 4 km/h at most."""

from dataclasses import dataclass
from typing import Final

from needlewright.rules.check_points import near, require_speed_unit
from needlewright.rules.model import Limits
from needlewright.units import convert

SHARE_HIGH: Final = 0.1
ALLOWANCE_KMH: Final = 4.0


@dataclass(frozen=True, slots=True)
class UnR39:
    """0 <= V1 - V2 <= 0.1 V2 + 4 km/h, V1 shown and V2 true.

    Parameters
    ----------
    unit
        The dial's unit, `km/h` or `mph`.
    max_speed
        Maximum design speed in that unit; it decides the check points.

    Notes
    -----
    **Source** UN Regulation No. 39, paragraph 5.3 (5.4 in revision 2): the relation; paragraph
    5.2.5: the test speeds, their figures from memory.
    """

    unit: str
    max_speed: float
    code: str = "un-r39"
    title: str = "UN Regulation No. 39, speedometer"
    source: str = (
        "UN Regulation No. 39, paragraph 5.3 (5.4 in revision 2); test speeds: paragraph 5.2.5, "
        "figures from memory"
    )
    formula: str = "0 <= V1 - V2 <= 0.1 V2 + 4 km/h"
    applies: str = "applied at every commanded speed above zero"
    allows_reading_low: bool = False

    def limits(self, true_value: float) -> Limits | None:
        """Limits of the shown value, in the dial's unit; None at standstill."""
        if true_value <= 0.0:
            return None
        room = SHARE_HIGH * true_value + convert(ALLOWANCE_KMH, "km/h", self.unit)
        return Limits(true_value, true_value + room, 1.0, 1.0 + SHARE_HIGH)

    def check_points(self) -> tuple[float, ...]:
        """Test speeds for the maximum design speed, in the dial's unit."""
        points_kmh = required_speeds_kmh(convert(self.max_speed, self.unit, "km/h"))
        return tuple(convert(point, "km/h", self.unit) for point in points_kmh)

    def covers(self, point: float, true_value: float, shown: float) -> bool:
        """Whether the commanded speed stands for a test speed; what is shown does not matter."""
        return near(point, true_value, self.unit)


def required_speeds_kmh(max_speed_kmh: float) -> tuple[float, ...]:
    """Test speeds by maximum design speed.

    Parameters
    ----------
    max_speed_kmh
        Maximum design speed, km/h, above zero.

    Returns
    -------
    tuple of float
        km/h, rising.

    Notes
    -----
    **Source** UN Regulation No. 39, paragraph 5.2.5, from memory.
    """
    share = 0.8 * max_speed_kmh
    if max_speed_kmh <= 45.0:
        return (share,)
    if max_speed_kmh <= 100.0:
        return (40.0, share) if share >= 55.0 else (40.0,)
    if max_speed_kmh <= 150.0:
        return (40.0, 80.0, share) if share >= 100.0 else (40.0, 80.0)
    return (40.0, 80.0, 120.0)


def un_r39(unit_symbol: str, max_speed: float) -> UnR39:
    """Bind the rule to a dial's unit and maximum design speed (in that unit)."""
    require_speed_unit(unit_symbol, "un-r39")
    return UnR39(unit_symbol, max_speed)
