"""How to set the switches of a decade box."""

from dataclasses import dataclass
from math import log10
from typing import Final

FINEST_OHM: Final = 0.1
"""The lowest decade of a usual box (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Switch:
    """One switch: how many of which resistance."""

    of_ohm: float
    position: int


def switches_for(ohm: float, finest_ohm: float = FINEST_OHM) -> tuple[Switch, ...]:
    """The switches that are not at zero, largest first.

    Parameters
    ----------
    ohm
        What is wanted, 0 or more.
    finest_ohm
        Of the lowest decade, a power of ten.

    Returns
    -------
    tuple of Switch
        They add up to the nearest step of the lowest decade.
    """
    steps = round(ohm / finest_ohm)
    lowest = round(log10(finest_ohm))
    digits = reversed(list(enumerate(reversed(str(steps)))))
    return tuple(
        Switch(10.0 ** (place + lowest), int(digit)) for place, digit in digits if digit != "0"
    )
