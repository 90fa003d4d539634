"""US 49 CFR 393.82: the speedometer of a commercial vehicle at 50 mph."""

from dataclasses import dataclass

from needlewright.rules.check_points import near, require_speed_unit
from needlewright.rules.model import Limits


@dataclass(frozen=True, slots=True)
class Us39382:
    """Within 5 mph at 50 mph; on a km/h dial within 8 km/h at 80 km/h, as the text rounds it.

    Parameters
    ----------
    unit
        The dial's unit, `km/h` or `mph`.
    point, tolerance
        The speed the text names and what it allows there, in that unit.

    Notes
    -----
    **Source** 49 CFR 393.82 (70 FR 48054, 15 August 2005).
    """

    unit: str
    point: float
    tolerance: float
    code: str = "us-393.82"
    title: str = "US 49 CFR 393.82, speedometer of a commercial vehicle"
    source: str = "49 CFR 393.82 (70 FR 48054, 15 August 2005)"
    formula: str = "|V1 - V2| <= 8 km/h at 80 km/h (5 mph at 50 mph)"
    applies: str = "applied only within 1 km/h of true 80 km/h (50 mph); it is silent elsewhere"
    allows_reading_low: bool = True

    def limits(self, true_value: float) -> Limits | None:
        """Limits of the shown value at the named speed; None elsewhere."""
        if not near(self.point, true_value, self.unit):
            return None
        return Limits(true_value - self.tolerance, true_value + self.tolerance)

    def check_points(self) -> tuple[float, ...]:
        """The one speed the text names, in the dial's unit."""
        return (self.point,)

    def covers(self, point: float, true_value: float, shown: float) -> bool:
        """Whether the commanded speed stands for the named one; what is shown does not matter."""
        return near(point, true_value, self.unit)


def us_393_82(unit_symbol: str) -> Us39382:
    """Bind the rule to a dial's unit."""
    require_speed_unit(unit_symbol, "us-393.82")
    return Us39382("mph", 50.0, 5.0) if unit_symbol == "mph" else Us39382(unit_symbol, 80.0, 8.0)
