"""The units that numbers of a sum may be typed in: those of the edges, and those of a workbench."""

from typing import Final

from needlewright.errors import SumError
from needlewright.units import UNITS, Unit

MILE_M: Final = 1609.344
COPPER_OUNCE_UM: Final = 35.0
"""Thickness of an ounce of copper on a square foot, as boards are sold (common practice; an ounce
of pure copper would be 34.1)."""

BENCH_UNITS: Final[dict[str, Unit]] = UNITS | {
    one.symbol: one
    for one in (
        Unit("mV", "voltage", 1e-3),
        Unit("mA", "current", 1e-3),
        Unit("kohm", "resistance", 1e3),
        Unit("mohm", "resistance", 1e-3),
        Unit("W", "power", 1.0),
        Unit("mW", "power", 1e-3),
        Unit("s", "time", 1.0),
        Unit("ms", "time", 1e-3),
        Unit("min", "time", 60.0),
        Unit("h", "time", 3600.0),
        Unit("m", "length", 1.0),
        Unit("cm", "length", 1e-2),
        Unit("mm", "length", 1e-3),
        Unit("um", "length", 1e-6),
        Unit("in", "length", 25.4e-3),
        Unit("mil", "length", 25.4e-6),
        Unit("oz", "length", COPPER_OUNCE_UM * 1e-6),
        Unit("mm2", "section", 1.0),
        Unit("K", "temperature difference", 1.0),
        Unit("kHz", "frequency", 1e3),
        Unit("1/km", "pulses on a way", 1.0),
        Unit("1/mile", "pulses on a way", 1000.0 / MILE_M),
        Unit("eV", "energy", 1.0),
        Unit("A2s", "melting energy", 1.0),
        Unit("K/s", "climb of a temperature", 1.0),
        Unit("K/min", "climb of a temperature", 1.0 / 60.0),
    )
}

OF_ONE_USE: Final = ("oz", "fraction of full", "1000 r/min", "kW")
"""Understood where they are typed, and not offered."""

OTHER_SPELLINGS: Final = {
    "\u03a9": "ohm",
    "\u2126": "ohm",
    "Ohm": "ohm",
    "m\u03a9": "mohm",
    "k\u03a9": "kohm",
    "k": "kohm",
    "°C": "degC",
    "C": "degC",
    "°F": "degF",
    "µm": "um",
    "μm": "um",
    '"': "in",
    "hours": "h",
    "mm²": "mm2",
    "°C/s": "K/s",
    "C/s": "K/s",
    "°C/min": "K/min",
    "C/min": "K/min",
    "A²s": "A2s",
    "A² s": "A2s",
}

_FOR_PEOPLE: Final = {
    "ohm": "Ω",
    "kohm": "kΩ",
    "mohm": "m\u03a9",
    "degC": "°C",
    "degF": "°F",
    "um": "µm",
    "mm2": "mm²",
    "A2s": "A²s",
    "oz": "oz/ft²",
}


def for_people(symbol: str) -> str:
    """A unit as it stands behind a number of a sum: `Ω` for `ohm`."""
    return _FOR_PEOPLE.get(symbol, symbol)


def same_quantity(symbol: str) -> tuple[str, ...]:
    """The symbols a number of this unit may be typed in, its own first."""
    quantity = BENCH_UNITS[symbol].quantity
    others = (
        one.symbol
        for one in BENCH_UNITS.values()
        if one.quantity == quantity and one.symbol not in OF_ONE_USE
    )
    return tuple(dict.fromkeys((symbol, *others)))


def converted(value: float, typed: str, wanted: str) -> float:
    """A number typed in one unit, in another.

    Parameters
    ----------
    value
        In the unit typed.
    typed
        As people write it.
    wanted
        A symbol of `BENCH_UNITS`.

    Returns
    -------
    float
        In the unit wanted.

    Raises
    ------
    SumError
        If the unit is unknown or of another quantity.
    """
    source = BENCH_UNITS.get(OTHER_SPELLINGS.get(typed, typed))
    target = BENCH_UNITS[wanted]
    if source is None or source.quantity != target.quantity:
        known = ", ".join(map(for_people, same_quantity(wanted)))
        raise SumError(f"'{typed}' is not a unit of {target.quantity}; use one of: {known}")
    if source is target:
        return value
    return (source.factor * value + source.shift - target.shift) / target.factor
