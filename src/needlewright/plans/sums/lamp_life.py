"""A filament lamp at another voltage than the one it is rated for."""

from dataclasses import dataclass
from typing import Final

from needlewright.errors import SumError

LIGHT_EXPONENT: Final = (3.4, 3.5)
LIFE_EXPONENT: Final = (12.0, 16.0)
CURRENT_EXPONENT: Final = 0.55
POWER_EXPONENT: Final = 1.6
RATIO_LIMITS: Final = (0.8, 1.2)
"""Of voltage over rated voltage; outside the powers bend away (from memory)."""

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class LampAtVoltage:
    """What becomes of a lamp; shares are of the value at the rated voltage."""

    volts: float
    rated_v: float
    light: Range
    life: Range
    current: float
    power: float
    life_h: Range | None
    """Where the rated life is known."""
    watts: float | None
    """Where the rated power is known."""

    @property
    def ratio(self) -> float:
        """Voltage over rated voltage."""
        return self.volts / self.rated_v


def lamp_at(
    volts: float,
    rated_v: float,
    rated_life_h: float | None = None,
    rated_w: float | None = None,
) -> LampAtVoltage:
    """Light, life, current and power of a filament lamp at a voltage.

    Parameters
    ----------
    volts
        At the lamp, V.
    rated_v
        What it is rated for, V.
    rated_life_h
        At the rated voltage, h.
    rated_w
        At the rated voltage, W.

    Returns
    -------
    LampAtVoltage
        Light and life as ranges, because their exponents are.

    Raises
    ------
    SumError
        If the voltage is further from the rated one than the powers hold.

    Notes
    -----
    **Source**: Standard Handbook for Electrical Engineers, 11th ed. (Fink and Beaty, 1978), 22-8,
    as an encyclopedia's article on lamp rerating quotes it: light goes with the power 3.4 to 3.5 of
    the voltage, life with -12 to -16, current with 0.55 and power with 1.6. The limits of the ratio
    are from memory.
    """
    ratio = volts / rated_v
    low, high = RATIO_LIMITS
    if not low <= ratio <= high:
        raise SumError(
            f"Voltage at the lamp: {volts:g} V on a lamp of {rated_v:g} V is {ratio:.0%} of "
            f"its rating, and the powers hold from {low:.0%} to {high:.0%}; give a voltage from "
            f"{low * rated_v:g} to {high * rated_v:g} V"
        )
    life = _between(ratio, (-LIFE_EXPONENT[0], -LIFE_EXPONENT[1]))
    return LampAtVoltage(
        volts,
        rated_v,
        light=_between(ratio, LIGHT_EXPONENT),
        life=life,
        current=ratio**CURRENT_EXPONENT,
        power=ratio**POWER_EXPONENT,
        life_h=None if rated_life_h is None else (rated_life_h * life[0], rated_life_h * life[1]),
        watts=None if rated_w is None else rated_w * ratio**POWER_EXPONENT,
    )


def _between(ratio: float, exponents: Range) -> Range:
    first, second = (ratio**exponent for exponent in exponents)
    return min(first, second), max(first, second)
