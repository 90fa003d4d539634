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

KGF_CM2_KPA: Final = 98.0665
"""Kilopascals in a kilogram-force per square centimetre, exact (9.80665 N over 1 cm2)."""

INHG_KPA: Final = 3.386389
"""Kilopascals in a conventional inch of mercury (NIST SP 811, appendix B.8)."""

US_GALLON_L: Final = 3.785411784
"""Litres in a gallon of the United States, exact (231 cubic inches of 25.4 mm)."""

IMPERIAL_GALLON_L: Final = 4.54609
"""Litres in an imperial gallon, exact (The Units of Measurement Regulations 1995, schedule)."""


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
        Unit("A", "current", 1.0),
        Unit("kW", "power", 1000.0),
        Unit("kPa", "pressure", 1.0),
        Unit("MPa", "pressure", 1000.0),
        Unit("bar", "pressure", 100.0),
        Unit("psi", "pressure", PSI_KPA),
        Unit("kgf/cm2", "pressure", KGF_CM2_KPA),
        Unit("inHg", "pressure", INHG_KPA),
        Unit("L", "volume", 1.0),
        Unit("US gal", "volume", US_GALLON_L),
        Unit("imp gal", "volume", IMPERIAL_GALLON_L),
        Unit("fraction of full", "fraction", 1.0),
        Unit("%", "fraction", 0.01),
        Unit("ohm", "resistance", 1.0),
        Unit("Hz", "frequency", 1.0),
    )
}

SPELLED: Final = {
    "kph": "km/h",
    "kmh": "km/h",
    "mi/h": "mph",
    "1/min": "rpm",
    "r/min": "rpm",
    "C": "degC",
    "°C": "degC",
    "Cel": "degC",
    "F": "degF",
    "°F": "degF",
    "Volt": "V",
    "Ohm": "ohm",
    "\u03a9": "ohm",
    "\u2126": "ohm",
    "Amp": "A",
    "kgf/cm²": "kgf/cm2",
    "l": "L",
}
"""Other spellings of the same units: UCUM's, those of databases and of faces (common practice, no
source). A gallon is not among them: nobody can tell whose it is."""

_FOR_PEOPLE: Final = {
    "degC": "°C",
    "degF": "°F",
    "kgf/cm2": "kgf/cm²",
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


def spelling_of(typed: str) -> str | None:
    """How the closed set spells a unit that was written otherwise.

    Parameters
    ----------
    typed
        As on a face or in a database.

    Returns
    -------
    str or None
        `degC` for `°C`; None: not told from its spelling, or already a symbol of the set.
    """
    if typed in UNITS:
        return None
    known = SPELLED.get(typed)
    if known is not None:
        return known
    same = [symbol for symbol in UNITS if symbol.casefold() == typed.strip().casefold()]
    return same[0] if len(same) == 1 else None


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
