"""The dropping resistors of a display's filament, and a cracked joint in one of them."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import exp
from typing import Final, Literal

from scipy.constants import Boltzmann, elementary_charge
from scipy.optimize import brentq

from needlewright.errors import SumError
from needlewright.signals.preferred import HIGHEST_OHM, LOWEST_OHM, nearest

Crack = Literal["one", "all"]
Range = tuple[float, float]

FILAMENT_EXPONENT: Final = (0.55, 1.0)
"""Current of a filament goes with this power of its voltage: a lamp's, whose wire cools and draws
more, to a plain resistance. A display's filament glows less and lies between (derivation)."""
FILAMENT_K: Final = 900.0
"""Of a display's filament at its rated voltage, K (from memory: 600 to 650 degC)."""
WORK_FUNCTION_EV: Final = 1.3
"""Of an oxide-coated cathode, from memory: 1.0 to 1.5 eV; worked out for barium oxide on tungsten,
1.36 eV (Mishra, Garner and Schmidt, Journal of Applied Physics 95, 2004, 3069, abstract seen)."""
GOOD: Final = (0.9, 1.1)
"""Share of the rated voltage a filament is run at (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class FilamentDrop:
    """A filament behind its resistors; shares are of the rated value, ranges by the exponent."""

    supply_v: float
    rated_v: float
    rated_a: float
    count: int
    each_ohm: float
    """Of the resistors side by side, each."""
    wanted_ohm: float
    """What each had to have for exactly the rated voltage."""
    crack_ohm: float
    crack_in: Crack
    drop_ohm: float
    """Of all between supply and filament, with the crack."""
    sound: Range
    """Share of the rated voltage without the crack."""
    volts: Range
    """Across the filament."""
    amps: Range
    power: Range
    emission: float
    """What the cathode can give at the lower power, as a share: the display is no brighter than
    that where it needs all of it, and as bright as before where it does not."""
    resistor_w: Range
    """Heat of the hottest resistor."""
    crack_w: Range
    """Heat in the crack."""

    @property
    def share(self) -> Range:
        """Of the rated voltage."""
        return self.volts[0] / self.rated_v, self.volts[1] / self.rated_v


def filament_drop(
    supply_v: float,
    rated_v: float,
    rated_a: float,
    count: int,
    *,
    each_ohm: float | None = None,
    crack_ohm: float = 0.0,
    crack_in: Crack = "one",
) -> FilamentDrop:
    """A display's filament behind its dropping resistors, one of them with a cracked joint.

    Parameters
    ----------
    supply_v
        Of the filament, V.
    rated_v
        Of the filament, V.
    rated_a
        At that voltage, A.
    count
        Resistors side by side.
    each_ohm
        Of each; None: the nearest E24 value to what it had to have.
    crack_ohm
        What the crack adds in series.
    crack_in
        At one of the resistors, or where all the current goes through.

    Returns
    -------
    FilamentDrop
        Voltage, current and power as ranges, because the filament's law is only known between two.

    Raises
    ------
    SumError
        If the supply is not above the filament's voltage, or the resistors are beyond those kept.

    Notes
    -----
    **Source**: Ohm's law with a current I = I0 (U / U0)^m, m from 0.55 (the current exponent of
    lamps, Standard Handbook for Electrical Engineers, 11th ed., 22-8) to 1. Brightness by emission:
    Richardson's law, T^2 exp(-W / kT), with T^4 as the power (radiation); the temperature is from
    memory, the work function as at its constant.
    """
    if supply_v <= rated_v:
        raise SumError(
            f"Supply of the filament: {supply_v:g} V is not above the filament's {rated_v:g} V, so "
            "nothing is left to drop; give the supply before the resistors"
        )
    wanted = count * (supply_v - rated_v) / rated_a
    if not LOWEST_OHM / 2 <= wanted <= HIGHEST_OHM:
        raise SumError(
            f"Dropping resistors: {wanted:.3g} ohm each are out of {LOWEST_OHM / 2:g} to "
            f"{HIGHEST_OHM:g} ohm; check the voltages, the current and how many there are"
        )
    each = nearest(wanted, "E24") if each_ohm is None else each_ohm
    drop = _together(each, count, crack_ohm, crack_in)
    sound = each / count
    volts = _both(_filament_volts(supply_v, rated_v, rated_a, drop, m) for m in FILAMENT_EXPONENT)
    amps = _ordered((supply_v - volts[1]) / drop, (supply_v - volts[0]) / drop)
    power = _both(v * (supply_v - v) / drop / (rated_v * rated_a) for v in volts)
    heats = [_heats(supply_v - v, each, count, crack_ohm, crack_in) for v in volts]
    return FilamentDrop(
        supply_v, rated_v, rated_a, count, each, wanted, crack_ohm, crack_in, drop,
        sound=_both(
            _filament_volts(supply_v, rated_v, rated_a, sound, m) / rated_v
            for m in FILAMENT_EXPONENT
        ),
        volts=volts,
        amps=amps,
        power=power,
        emission=min(emission_share(power[0]), 1.0),
        resistor_w=_both(resistor for resistor, _ in heats),
        crack_w=_both(crack for _, crack in heats),
    )  # fmt: skip


def emission_share(power: float) -> float:
    """What a cathode can emit when heated with a share of its rated power, as a share.

    Parameters
    ----------
    power
        Of the rated heating power, above 0.

    Returns
    -------
    float
        Of what it emits at its rated power.

    Notes
    -----
    **Source**: Richardson's law with a temperature as the fourth root of the power.
    """
    warm = power**0.25
    barrier = WORK_FUNCTION_EV * elementary_charge / (Boltzmann * FILAMENT_K)
    return float(warm**2 * exp(barrier * (1.0 - 1.0 / warm)))


def _filament_volts(
    supply_v: float, rated_v: float, rated_a: float, drop_ohm: float, exponent: float
) -> float:
    """Where the resistors leave as much as the filament takes."""

    def missing(volts: float) -> float:
        return volts + drop_ohm * rated_a * float((volts / rated_v) ** exponent) - supply_v

    return float(brentq(missing, 0.0, supply_v, xtol=1e-12 * supply_v))


def _together(each: float, count: int, crack: float, crack_in: Crack) -> float:
    if crack_in == "all":
        return each / count + crack
    return 1.0 / ((count - 1) / each + 1.0 / (each + crack))


def _heats(
    across_v: float, each: float, count: int, crack: float, crack_in: Crack
) -> tuple[float, float]:
    """Heat of the hottest resistor, and in the crack."""
    if crack_in == "all":
        amps = across_v / (each / count + crack)
        return (amps / count) ** 2 * each, amps**2 * crack
    through_crack = across_v / (each + crack)
    whole = across_v**2 / each if count > 1 else through_crack**2 * each
    return whole, through_crack**2 * crack


def _both(values: Iterable[float]) -> Range:
    first, second = values
    return _ordered(first, second)


def _ordered(first: float, second: float) -> Range:
    return min(first, second), max(first, second)
