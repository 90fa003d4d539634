"""When a commanded speed stands for a check point that a rule names."""

from typing import Final

from needlewright.errors import RuleError
from needlewright.units import convert, unit

MATCH_KMH: Final = 1.0
"""How far a commanded speed may lie from the check point it stands for.

The round values of an mph dial beside 40, 80 and 120 km/h (25, 50 and 75 mph) lie 0.23, 0.47
and 0.70 km/h off. The limits are always taken at the commanded value itself, so the tolerance
decides only whether the point was visited. Common practice, no source.
"""

_ROUNDING_KMH: Final = 1e-9


def near(point: float, value: float, unit_symbol: str) -> bool:
    """Whether two speeds of one unit lie within `MATCH_KMH` of each other."""
    apart_kmh = abs(convert(value, unit_symbol, "km/h") - convert(point, unit_symbol, "km/h"))
    return apart_kmh <= MATCH_KMH + _ROUNDING_KMH


def require_speed_unit(unit_symbol: str, code: str) -> None:
    """Refuse a speedometer rule on a dial that shows something else.

    Parameters
    ----------
    unit_symbol
        The dial's unit.
    code
        The rule's code, for the message.

    Raises
    ------
    RuleError
        If the unit is not one of speed.
    """
    if unit(unit_symbol).quantity != "speed":
        raise RuleError(
            f"rule '{code}' is for speedometers (km/h or mph) and the dial shows {unit_symbol}; "
            'give this dial a house rule, for example {"house": {"of_span": 0.01}}'
        )
