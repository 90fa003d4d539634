"""The closed set of units at the edges, and conversion between those of one quantity."""

from dataclasses import dataclass
from typing import Final

from needlewright.errors import UnitError

MILE_KM: Final = 1.609344
"""Kilometres in an international mile, exact (international yard and pound agreement, 1959)."""

KM_OF: Final = {"km": 1.0, "mi": MILE_KM}
"""Kilometres in the unit of an odometer."""

PSI_KPA: Final = 6.894757293168361
"""Kilopascals in a pound-force per square inch (0.45359237 kg x 9.80665 m/s2 / (25.4 mm)^2)."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: base value = factor x value + shift, in the quantity's base unit."""

    symbol: str
    quantity: str
    factor: float
    shift: float = 0.0


UNITS: Final[dict[str, Unit]] = {
    unit.symbol: unit
    for unit in (
        Unit("km/h", "speed", 1.0),
        Unit("mph", "speed", MILE_KM),
        Unit("rpm", "turning speed", 1.0),
        Unit("1000 r/min", "turning speed", 1000.0),
        Unit("degC", "temperature", 1.0),
        Unit("degF", "temperature", 5.0 / 9.0, -160.0 / 9.0),
        Unit("V", "voltage", 1.0),
        Unit("kPa", "pressure", 1.0),
        Unit("bar", "pressure", 100.0),
        Unit("psi", "pressure", PSI_KPA),
        Unit("fraction of full", "fraction", 1.0),
        Unit("%", "fraction", 0.01),
        Unit("ohm", "resistance", 1.0),
        Unit("Hz", "frequency", 1.0),
    )
}

_FOR_PEOPLE: Final = {
    "degC": "°C",
    "degF": "°F",
    "fraction of full": "of full",
    "1000 r/min": "×1000 r/min",
}


def unit_for_people(symbol: str) -> str:
    """A unit as it stands behind a number: `°C` for `degC`, `×1000 r/min` for `1000 r/min`."""
    return _FOR_PEOPLE.get(symbol, symbol)


def unit(symbol: str) -> Unit:
    """Look a unit up by its symbol.

    Parameters
    ----------
    symbol
        One of the keys of `UNITS`, spelled exactly.

    Returns
    -------
    Unit
        The unit.

    Raises
    ------
    UnitError
        If the symbol is not in the closed set.
    """
    try:
        return UNITS[symbol]
    except KeyError:
        known = ", ".join(UNITS)
        raise UnitError(f"unit '{symbol}' is not known; use one of: {known}") from None


def convert(value: float, from_symbol: str, to_symbol: str) -> float:
    """Convert a value between two units of one quantity.

    Parameters
    ----------
    value
        In the unit `from_symbol`.
    from_symbol
        A symbol of the closed set.
    to_symbol
        Another of the same quantity.

    Returns
    -------
    float
        The value in the unit `to_symbol`.

    Raises
    ------
    UnitError
        If a symbol is unknown or the two units measure different quantities.
    """
    source, target = unit(from_symbol), unit(to_symbol)
    if source.quantity != target.quantity:
        raise UnitError(
            f"'{from_symbol}' is a unit of {source.quantity} and '{to_symbol}' one of "
            f"{target.quantity}; they cannot be converted into each other"
        )
    if source is target:
        return value
    return (source.factor * value + source.shift - target.shift) / target.factor
