"""The sums there are, in the order they are listed."""

from typing import Any, Final

from needlewright.errors import SumError
from needlewright.plans.sums.described.arrhenius import ARRHENIUS
from needlewright.plans.sums.described.coil_resistance import COIL_RESISTANCE
from needlewright.plans.sums.described.filament_drop import FILAMENT_DROP
from needlewright.plans.sums.described.lamp_life import LAMP_LIFE
from needlewright.plans.sums.described.led_instead import LED_INSTEAD
from needlewright.plans.sums.described.pulse_constant import PULSE_CONSTANT
from needlewright.plans.sums.described.reflow import REFLOW
from needlewright.plans.sums.described.resistor_power import RESISTOR_POWER
from needlewright.plans.sums.described.sender_on_gauge import SENDER_ON_GAUGE
from needlewright.plans.sums.described.sender_substitute import SENDER_SUBSTITUTE
from needlewright.plans.sums.described.solder import SOLDER
from needlewright.plans.sums.described.solder_life import SOLDER_LIFE
from needlewright.plans.sums.described.supply_fuse import SUPPLY_FUSE
from needlewright.plans.sums.described.thermistor import THERMISTOR
from needlewright.plans.sums.described.trace import TRACE
from needlewright.plans.sums.model import Sum

SUMS: Final[tuple[Sum[Any], ...]] = (
    LAMP_LIFE,
    LED_INSTEAD,
    RESISTOR_POWER,
    FILAMENT_DROP,
    COIL_RESISTANCE,
    TRACE,
    SUPPLY_FUSE,
    SOLDER,
    REFLOW,
    SOLDER_LIFE,
    ARRHENIUS,
    SENDER_SUBSTITUTE,
    SENDER_ON_GAUGE,
    THERMISTOR,
    PULSE_CONSTANT,
)


def sum_named(name: str) -> Sum[Any]:
    """A sum by its name.

    Parameters
    ----------
    name
        Such as `lamp-life`.

    Returns
    -------
    Sum
        Of that name.

    Raises
    ------
    SumError
        If there is none.
    """
    found = next((one for one in SUMS if one.name == name), None)
    if found is None:
        raise SumError(f"there is no sum '{name[:60]}'; use one of: {', '.join(names())}")
    return found


def names() -> tuple[str, ...]:
    """Of all sums."""
    return tuple(one.name for one in SUMS)
