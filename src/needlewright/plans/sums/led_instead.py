"""LEDs in the place of a lamp: resistor, heat, dimming, and what a lamp monitor sees."""

from dataclasses import dataclass, replace
from typing import Final, Literal

from needlewright.errors import SumError
from needlewright.plans.sums.lamp_life import LIGHT_EXPONENT, RATIO_LIMITS
from needlewright.plans.sums.resistor_power import rating_for
from needlewright.signals.preferred import (
    HIGHEST_OHM,
    LOWEST_OHM,
    TOLERANCE,
    Series,
    at_or_above,
    values_of,
)

Dimming = Literal["none", "pulses", "voltage"]
Range = tuple[float, float]
ROUNDING: Final = 1e-9
"""Of the supply: what is left over by a rounding is nothing."""


@dataclass(frozen=True, slots=True)
class LampMonitor:
    """What a circuit that watches the lamp sees of the LEDs."""

    least_a: float
    """Current above which it takes a lamp for whole."""
    seen_a: float
    """What the LEDs draw at the lowest supply, the resistor at the upper end of its tolerance."""
    load_ohm: float | None
    """Resistor beside the LEDs that makes up what is missing; None: nothing is, or none does."""
    load_w: float | None
    """What that resistor turns into heat at the highest supply."""

    @property
    def sees_a_lamp(self) -> bool:
        """Whether the LEDs alone draw enough."""
        return self.seen_a >= self.least_a


@dataclass(frozen=True, slots=True)
class Dimmed:
    """Light of the LEDs when dimmed, and of the lamp that was there; 1: undimmed."""

    way: Dimming
    at: float
    """Share of the time that is on, or the voltage."""
    led: float
    lamp: Range | None
    """None where the lamp is so far below its rating that its powers do not hold."""


@dataclass(frozen=True, slots=True)
class LedString:
    """A string of LEDs with its resistor; currents in A, powers in W."""

    supply_v: float
    lowest_v: float
    highest_v: float
    forward_v: float
    count: int
    wanted_a: float
    series: Series
    exact_ohm: float | None = None
    """None: the string needs the whole supply and does not light."""
    ohm: float = 0.0
    """Of the series, the nearest that does not let more through; 0 where it does not light."""
    current_a: float = 0.0
    lowest_a: float = 0.0
    """At the lowest supply, the resistor at the upper end of its tolerance."""
    highest_a: float = 0.0
    """At the highest supply, the resistor at the lower end of its tolerance."""
    resistor_w: float = 0.0
    """At the highest supply, the resistor at the lower end of its tolerance."""
    rating_w: float = 0.0
    """Of the resistor to fit, at least twice that."""
    dimmed: Dimmed | None = None
    monitor: LampMonitor | None = None

    @property
    def string_v(self) -> float:
        """What the LEDs need."""
        return self.count * self.forward_v

    @property
    def lights(self) -> bool:
        """Whether anything is left for the resistor."""
        return self.exact_ohm is not None


def led_string(
    supply_v: float,
    forward_v: float,
    count: int,
    wanted_a: float,
    *,
    series: Series,
    lowest_v: float | None = None,
    highest_v: float | None = None,
    monitor_a: float | None = None,
    dimming: tuple[Dimming, float] = ("none", 1.0),
) -> LedString:
    """The resistor of a string of LEDs that stands in the place of a lamp.

    Parameters
    ----------
    supply_v
        Where the current wanted is to flow, V.
    forward_v
        Of one LED at that current, V.
    count
        LEDs in a row.
    wanted_a
        A.
    series
        Preferred values of the resistor.
    lowest_v
        Of the supply, V; None: as `supply_v`.
    highest_v
        Of the supply, V; None: as `supply_v`.
    monitor_a
        Current above which the lamp monitor takes a lamp for whole, A; None: there is none.
    dimming
        The way, and the share of time that is on or the voltage, V.

    Returns
    -------
    LedString
        A string that needs the whole supply has no resistor, and does not light.

    Raises
    ------
    SumError
        If the lowest supply is above the supply or the highest below, or the resistor is beyond
        what the series, as kept, has.

    Notes
    -----
    **Source**: Ohm's law, with the forward voltage taken as the same at every current (a
    simplification: it falls by some tenths of a volt as the current does). Preferred values IEC
    60063. A resistor loaded to at most half its rating: common practice, no source.
    """
    lowest = supply_v if lowest_v is None else lowest_v
    highest = supply_v if highest_v is None else highest_v
    if not lowest <= supply_v <= highest:
        raise SumError(
            f"Supply: {supply_v:g} V is not between the lowest, {lowest:g} V, and the highest, "
            f"{highest:g} V; correct one of the three"
        )
    dark = LedString(supply_v, lowest, highest, forward_v, count, wanted_a, series)
    left_v = supply_v - dark.string_v
    if left_v <= ROUNDING * supply_v:
        return dark
    exact = left_v / wanted_a
    if not LOWEST_OHM <= exact <= HIGHEST_OHM:
        raise SumError(
            f"Series resistor: {exact:.3g} ohm is not between {LOWEST_OHM:g} ohm and "
            f"{HIGHEST_OHM:g} ohm; change the current, or the number of LEDs in a row"
        )
    ohm = at_or_above(exact, series)
    least_ohm, most_ohm = (ohm * (1 + sign * TOLERANCE[series]) for sign in (-1, 1))
    lowest_a = max(lowest - dark.string_v, 0.0) / most_ohm
    highest_a = (highest - dark.string_v) / least_ohm
    heat = highest_a**2 * least_ohm
    return replace(
        dark,
        exact_ohm=exact,
        ohm=ohm,
        current_a=left_v / ohm,
        lowest_a=lowest_a,
        highest_a=highest_a,
        resistor_w=heat,
        rating_w=rating_for(heat),
        dimmed=_dimmed(dimming, supply_v, dark.string_v),
        monitor=None if monitor_a is None else _watched(monitor_a, lowest_a, lowest, highest),
    )


def _dimmed(dimming: tuple[Dimming, float], supply_v: float, string_v: float) -> Dimmed | None:
    """Light beside that at the supply: of LEDs as their mean current, of a lamp by its powers."""
    way, at = dimming
    if way == "none":
        return None
    if way == "pulses":
        # A filament is too slow to follow: it sees the effective voltage, root of the share.
        return Dimmed(way, at, at, _lamp(at**0.5))
    led = max(at - string_v, 0.0) / (supply_v - string_v)
    return Dimmed(way, at, led, _lamp(at / supply_v))


def _lamp(ratio: float) -> Range | None:
    if not RATIO_LIMITS[0] <= ratio <= RATIO_LIMITS[1]:
        return None
    first, second = (ratio**exponent for exponent in LIGHT_EXPONENT)
    return min(first, second), max(first, second)


def _watched(least_a: float, seen_a: float, lowest_v: float, highest_v: float) -> LampMonitor:
    missing = least_a - seen_a
    if missing <= 0:
        return LampMonitor(least_a, seen_a, None, None)
    wanted = lowest_v / missing / (1 + TOLERANCE["E24"])
    if not LOWEST_OHM <= wanted <= HIGHEST_OHM:
        return LampMonitor(least_a, seen_a, None, None)
    ohm = _at_or_below(wanted)
    return LampMonitor(least_a, seen_a, ohm, highest_v**2 / (ohm * (1 - TOLERANCE["E24"])))


def _at_or_below(ohm: float) -> float:
    """The highest E24 value that is not above."""
    return max(value for value in values_of("E24") if value <= ohm * (1 + 1e-12))
