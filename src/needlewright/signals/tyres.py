"""From a tyre and an axle to the constant of a pulse input, when it must be found."""

import re
from dataclasses import dataclass
from math import pi
from typing import Final

from needlewright.errors import SignalError
from needlewright.units import MILE_KM

INCH_MM: Final = 25.4
ROLLING: Final = 3.05
"""Rolling circumference by diameter, less than pi because a loaded tyre is flat (from memory, as
tyre-makers' tables have it)."""
FORM: Final = re.compile(
    r"\s*(?:P|LT)?\s*(\d{3})\s*/\s*(\d{2})\s*Z?R\s*(\d{2}(?:\.5)?)C?"
    r"(?:\s+\(?\d{2,3}(?:/\d{2,3})?\s*[A-Z]\)?)?(?:\s+(?:XL|RF|M\+S))*\s*",
    re.IGNORECASE,
)
"""Width, height of the side wall, rim; before it the kind of vehicle, behind it load index and
symbol of speed, which say nothing of the size (UN Regulation No. 30, 2.17 and 3.1, from memory)."""


@dataclass(frozen=True, slots=True)
class Tyre:
    """The size on the side wall, `195/65 R15`."""

    width_mm: float
    aspect: float
    """Height of the side wall by width."""
    rim_inch: float

    @staticmethod
    def parse(text: str) -> "Tyre":
        """Understand a size.

        Parameters
        ----------
        text
            Like `195/65 R15`, or all of the marking, `195/65 R15 91H`.

        Returns
        -------
        Tyre
            The size.

        Raises
        ------
        SignalError
            If it is not of that form.
        """
        found = FORM.fullmatch(text)
        if found is None:
            raise SignalError(f"'{text}' is no tyre size; expected one like 195/65 R15")
        return Tyre(float(found[1]), float(found[2]) / 100, float(found[3]))

    @property
    def diameter_mm(self) -> float:
        """Unloaded: the rim and twice the side wall."""
        return self.rim_inch * INCH_MM + 2 * self.width_mm * self.aspect

    @property
    def standing_mm(self) -> float:
        """Circumference of the unloaded tyre."""
        return pi * self.diameter_mm

    @property
    def rolling_mm(self) -> float:
        """The way of one turn on the road, nominal; wear and load take some percent off."""
        return ROLLING * self.diameter_mm

    @property
    def turns_a_km(self) -> float:
        """Turns of the wheel in a kilometre, nominal."""
        return 1e6 / self.rolling_mm


def pulses_a_km(tyre: Tyre, pulses_a_turn: float, axle_ratio: float = 1.0) -> float:
    """Pulses in a kilometre from a sensor on the shaft before the axle.

    Parameters
    ----------
    tyre
        Of the driven wheels.
    pulses_a_turn
        Of the shaft that carries the sensor; with `axle_ratio` 1 the wheel's.
    axle_ratio
        Turns of that shaft for one of the wheel.

    Returns
    -------
    float
        Pulses per kilometre.

    Raises
    ------
    SignalError
        If a number is not above 0.
    """
    for name, number in (("pulses a turn", pulses_a_turn), ("axle ratio", axle_ratio)):
        if not 0 < number < float("inf"):
            raise SignalError(f"{name} is {number:g}; give a number above 0")
    return pulses_a_turn * axle_ratio * tyre.turns_a_km


def pulses_a_mile(a_km: float) -> float:
    """Pulses per mile for a constant in pulses per kilometre."""
    return a_km * MILE_KM


def constant_from_road(old_constant: float, shown: float, true: float) -> float:
    """The constant that makes a unit show what is true, from one comparison on the road.

    Parameters
    ----------
    old_constant
        Pulses per kilometre or mile the unit is set to.
    shown
        Speed or distance it showed.
    true
        Speed or distance that was.

    Returns
    -------
    float
        Pulses per kilometre or mile the vehicle gives, to which the unit belongs set.

    Raises
    ------
    SignalError
        If a number is not above 0.

    **Source**: derivation. The unit shows pulses by its constant, so the vehicle's pulses are
    `old_constant` x `shown` over the way `true`.
    """
    if not (0 < old_constant < float("inf") and 0 < shown < float("inf")) or not true > 0:
        raise SignalError("the constant, what was shown and what was true must all be above 0")
    return old_constant * shown / true
