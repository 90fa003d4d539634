"""From a tyre and an axle to the constant of a pulse input, when it must be found."""

import re
from dataclasses import dataclass
from math import pi
from typing import Final, Literal

from needlewright.errors import SignalError
from needlewright.units import MILE_KM

INCH_MM: Final = 25.4
ROLLING: Final = 3.05
"""Rolling circumference by diameter, less than pi because a loaded tyre is flat (from memory, as
tyre-makers' tables have it)."""
SERVICE: Final = (
    r"(?:\s+\(?\d{2,3}(?:/\d{2,3})?\s*[A-Z]\)?)?(?:\s+(?:XL|RF|M\+S|\d{1,2}\s*PR|TT|TL))*\s*"
)
"""Load index and symbol of speed, plies: they say nothing of the size (UN Regulation No. 30, 2.17
and 3.1, from memory)."""
RIM: Final = r"(\d{2}(?:\.5)?)\s*(?:LT|C)?"
METRIC: Final = re.compile(
    rf"\s*(?:P|LT)?\s*(\d{{3}})\s*/\s*(\d{{2}})\s*(?:Z?R|[BD]|-)\s*{RIM}{SERVICE}", re.I
)
"""Width in mm, height of the side wall in percent of it, rim: `195/65 R15`, `P225/75D15`."""
FULL: Final = re.compile(rf"\s*([12]\d{{2}})\s*[QSTHV]?R\s*{RIM}{SERVICE}", re.I)
"""A radial tyre without a number for the height: `165 R13`, `165SR15`."""
NUMERIC: Final = re.compile(
    rf"\s*(\d{{1,2}}\.\d{{2}}|[4-9]\d{{2}}(?=\s*-))\s*(?:[QSHV]?R|[QSHV]|-|x|(?<=\s))\s*{RIM}{SERVICE}",
    re.I,
)
"""Width in inches and rim, no height: `6.00-16`, `7.00R16`, `760-15`."""
FLOTATION: Final = re.compile(
    rf"\s*(\d{{2}}(?:\.\d{{1,2}})?)\s*[x×]\s*(\d{{1,2}}(?:\.\d{{1,2}})?)\s*(?:R|[BD]|-)\s*{RIM}{SERVICE}",
    re.I,
)
"""Diameter and width in inches, rim: `31x10.50R15`."""
FULL_ASPECT: Final = (0.81, 0.02)
"""Height by width, and how far off: 80 % (a supplier of older tyres and a trader, seen), 82 % (from
memory)."""
NUMERIC_ASPECT: Final = (1.0, 0.12)
"""About as high as wide: 760-15 has 0.90 (a supplier's table of 28.66 in, seen), 6.00-16 1.06 (from
memory)."""
LOW_ASPECT: Final = (0.83, 0.06)
"""Of the lower ones of the nineteen-sixties, whose width ends in 5, on rims up to 15 (from
memory)."""
LOW_RIM_INCH: Final = 15.0
FLOTATION_LESS_INCH: Final = 0.5
"""By which makers' tables have the diameter smaller than it is marked: 30.5 of 31 (seen, as users
report them)."""
WIDTHS_MM: Final = (75.0, 500.0)
ASPECTS: Final = (0.2, 1.15)
RIMS_INCH: Final = (8.0, 30.0)
Marked = Literal["height", "full", "width", "diameter"]


@dataclass(frozen=True, slots=True)
class Tyre:
    """The size on the side wall, `195/65 R15`."""

    width_mm: float
    aspect: float
    """Height of the side wall by width."""
    rim_inch: float
    marked: Marked = "height"
    """What the marking says of the diameter: the height in percent, none as it is full, the width
    alone, or the diameter itself."""
    diameter_within_mm: float = 0.0
    """How far the diameter may be off for what the marking leaves open, either way."""

    @staticmethod
    def parse(text: str) -> "Tyre":
        """Understand a size.

        Parameters
        ----------
        text
            Like `195/65 R15`, `6.00-16` or `31x10.50R15`, or all of the marking, `195/65 R15 91H`.

        Returns
        -------
        Tyre
            The size.

        Raises
        ------
        SignalError
            If it is not of those forms.

        Notes
        -----
        **Source**: forms as tyre makers print them; heights that are not marked as `FULL_ASPECT`,
        `NUMERIC_ASPECT` and `LOW_ASPECT`.
        """
        tyre = _read(text.replace(",", "."))
        if tyre is None or not tyre.is_likely:
            raise SignalError(
                f"'{text}' is no tyre size known here; give one like 195/65 R15, 165 R13, 6.00-16 "
                "or 31x10.50R15, or measure the way on the ground"
            )
        return tyre

    @property
    def is_likely(self) -> bool:
        """Whether there are tyres of about this size."""
        return all(
            low <= value <= high
            for value, (low, high) in (
                (self.width_mm, WIDTHS_MM),
                (self.aspect, ASPECTS),
                (self.rim_inch, RIMS_INCH),
            )
        )

    @property
    def within(self) -> float:
        """How far diameter and way may be off for what the marking leaves open, a share of them."""
        return self.diameter_within_mm / self.diameter_mm

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


def _read(text: str) -> Tyre | None:
    if found := METRIC.fullmatch(text):
        return Tyre(float(found[1]), float(found[2]) / 100, float(found[3]))
    if found := FULL.fullmatch(text):
        return _of_width(float(found[1]), float(found[2]), "full", FULL_ASPECT)
    if found := FLOTATION.fullmatch(text):
        diameter, width, rim = map(float, found.groups())
        return None if width == 0 else _of_diameter(diameter, width, rim)
    if found := NUMERIC.fullmatch(text):
        return _of_inches(found[1], float(found[2]))
    return None


def _of_width(
    width_mm: float, rim_inch: float, marked: Marked, aspect: tuple[float, float]
) -> Tyre:
    """A tyre whose height is not marked."""
    height, within = aspect
    return Tyre(width_mm, height, rim_inch, marked, 2 * width_mm * within)


def _of_inches(width: str, rim_inch: float) -> Tyre:
    """A numeric size: `6.00`, or `600`."""
    inches = float(width) if "." in width else float(width) / 100
    is_low = width.endswith("5") and rim_inch <= LOW_RIM_INCH
    return _of_width(inches * INCH_MM, rim_inch, "width", LOW_ASPECT if is_low else NUMERIC_ASPECT)


def _of_diameter(diameter_inch: float, width_inch: float, rim_inch: float) -> Tyre:
    """A size whose first number is the diameter."""
    aspect = (diameter_inch - rim_inch) / 2 / width_inch
    return Tyre(width_inch * INCH_MM, aspect, rim_inch, "diameter", FLOTATION_LESS_INCH * INCH_MM)


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
