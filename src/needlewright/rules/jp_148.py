"""Japan, safety standard notice Article 148: the speedometer at a displayed 40 km/h.

The text limits the true speed V2 while the dial displays V1 = 40 km/h:
10 (V1 - 6) / 11 <= V2 <= 100 V1 / 94 (built 2007 on; 100 V1 / 90 before). A bench commands V2
and reads V1, so the same two inequalities are solved for V1.
"""

from dataclasses import dataclass
from typing import Final, Literal

from needlewright.rules.check_points import near, require_speed_unit
from needlewright.rules.model import Limits
from needlewright.units import convert

Era = Literal["2007 on", "before 2007"]

DISPLAYED_KMH: Final = 40.0
SHARE_LOW: Final[dict[Era, float]] = {"2007 on": 0.94, "before 2007": 0.90}
SHARE_HIGH: Final = 1.1
ALLOWANCE_KMH: Final = 6.0
ABOUT_KMH: Final = (30.0, 50.0)
"""True speeds between which (ends left out) the two inequalities are applied.

It holds every true speed that may go with a displayed 40 km/h (30.9 to 44.4) and the low-reading
side beyond, and leaves the neighbours of a 10 km/h grid alone. Common practice, no source.
"""


@dataclass(frozen=True, slots=True)
class Jp148:
    """share x V2 <= V1 <= 1.1 V2 + 6 km/h about a displayed 40 km/h; V1 shown, V2 true.

    Parameters
    ----------
    unit
        The dial's unit, `km/h` or `mph`.
    share_low
        Smallest permitted V1 / V2.
    code, title, formula
        As its era of building makes them.

    Notes
    -----
    **Source** Japan, notice on details of safety standards for road vehicles, Article 148.
    """

    unit: str
    share_low: float
    code: str
    title: str
    formula: str
    source: str = "Japan, notice on details of safety standards for road vehicles, Article 148"
    applies: str = (
        "applied only about a displayed 40 km/h, to true speeds between 30 and 50 km/h; "
        "it is silent elsewhere"
    )
    allows_reading_low: bool = True

    def limits(self, true_value: float) -> Limits | None:
        """Limits of the shown value about the point; None elsewhere."""
        low_kmh, high_kmh = ABOUT_KMH
        if not low_kmh < convert(true_value, self.unit, "km/h") < high_kmh:
            return None
        room = convert(ALLOWANCE_KMH, "km/h", self.unit)
        return Limits(
            self.share_low * true_value,
            SHARE_HIGH * true_value + room,
            self.share_low,
            SHARE_HIGH,
        )

    def check_points(self) -> tuple[float, ...]:
        """The displayed speed the text names, in the dial's unit."""
        return (convert(DISPLAYED_KMH, "km/h", self.unit),)

    def covers(self, point: float, true_value: float, shown: float) -> bool:
        """Whether the dial was told the point, or told whatever made it display the point."""
        if self.limits(true_value) is None:
            return False
        return near(point, true_value, self.unit) or near(point, shown, self.unit)


def jp_148(unit_symbol: str, era: Era = "2007 on") -> Jp148:
    """Bind the rule to a dial's unit and the vehicle's era of building."""
    code = "jp-148" if era == "2007 on" else "jp-148-before-2007"
    require_speed_unit(unit_symbol, code)
    share = SHARE_LOW[era]
    return Jp148(
        unit=unit_symbol,
        share_low=share,
        code=code,
        title=f"Japan, safety standard notice Art. 148, speedometer, vehicle built {era}",
        formula=f"{share:.2f} V2 <= V1 <= 1.1 V2 + 6 km/h at a displayed 40 km/h",
    )
