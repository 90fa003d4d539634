"""Pulses on a kilometre from tyre and axle, and what a wrong setting does to the speed shown."""

from dataclasses import dataclass
from math import pi
from typing import Final

from needlewright.amounts import grouped
from needlewright.errors import SumError
from needlewright.rules.decision import COVERAGE_K, WORDS, Decision, decide
from needlewright.rules.un_r39 import un_r39
from needlewright.signals.tyres import ROLLING, Tyre

LOADED_SHARE: Final = ROLLING / pi
"""Radius that a loaded tyre rolls on, of the unloaded: 0.971 (from memory, as tyre tables have it).
The European Commission's open model of vehicles, CO2MPAS, takes 0.975 (seen)."""
SECONDS_AN_HOUR: Final = 3600.0
MM_A_KM: Final = 1e6
CONSTANT_LIMITS: Final = (10.0, 1e6)
WORST_FIRST: Final = ("fail", "conditional_fail", "conditional_pass", "pass")


@dataclass(frozen=True, slots=True)
class SpeedHeld:
    """The rule at one speed."""

    true_kmh: float
    shown_kmh: float
    u_kmh: float
    """k = 1, of what is shown."""
    upper_kmh: float
    """What the rule lets it show at most."""
    decision: Decision


@dataclass(frozen=True, slots=True)
class PulseConstant:
    """Pulses of a vehicle and the setting of its speedometer."""

    way_mm: float
    """Of one turn of the wheel."""
    within: float
    """How near that is known: limits, a share of it."""
    axle_ratio: float
    pulses_a_turn: float
    a_km: float
    """Pulses on a kilometre."""
    set_a_km: float
    """What the speedometer is set to."""
    held: tuple[SpeedHeld, ...]
    tyre: Tyre | None = None
    """Of whose marking the way is; None: its numbers or the way itself were given."""

    @property
    def low_a_km(self) -> float:
        """The fewest it may be."""
        return self.a_km / (1 + self.within)

    @property
    def high_a_km(self) -> float:
        """The most it may be."""
        return self.a_km / (1 - self.within)

    @property
    def shown_share(self) -> float:
        """Speed shown, of the true one."""
        return self.a_km / self.set_a_km

    @property
    def never_low_a_km(self) -> float:
        """The highest setting that does not let it read low, k = 2."""
        return self.a_km * (1 - COVERAGE_K * self.u_share)

    @property
    def u_share(self) -> float:
        """K = 1, of the pulses and so of what is shown."""
        return self.within / 3**0.5

    @property
    def worst(self) -> Decision:
        """The worst of all speeds."""
        return min((one.decision for one in self.held), key=lambda d: WORST_FIRST.index(d.code))

    @property
    def reads_low(self) -> bool:
        """Whether it shows less than is driven."""
        return self.shown_share < 1.0

    @property
    def words(self) -> str:
        """Of the worst."""
        return WORDS[self.worst.code]


def way_of_tyre(width_mm: float, aspect: float, rim_inch: float, loaded_share: float) -> float:
    """The way of one turn of a loaded tyre.

    Parameters
    ----------
    width_mm
        Of the section, as on the side wall.
    aspect
        Height of the side wall, a share of the width.
    rim_inch
        Diameter of the rim.
    loaded_share
        Radius it rolls on, of the unloaded.

    Returns
    -------
    float
        mm.

    Notes
    -----
    **Source**: derivation, 2 pi times the radius it rolls on; the usual share as `LOADED_SHARE`.
    """
    return 2 * pi * loaded_share * (rim_inch * 25.4 / 2 + width_mm * aspect)


def hz_at(pulses_a_km: float, kmh: float) -> float:
    """Frequency of the pulses at a speed, Hz."""
    return pulses_a_km * kmh / SECONDS_AN_HOUR


def pulse_constant(
    way_mm: float,
    within: float,
    axle_ratio: float,
    pulses_a_turn: float,
    *,
    set_a_km: float | None = None,
    fastest_kmh: float = 180.0,
) -> PulseConstant:
    """Pulses on a kilometre, and whether a setting keeps UN Regulation No. 39.

    Parameters
    ----------
    way_mm
        Of one turn of the wheel.
    within
        How near that is known: limits either way, a share of it.
    axle_ratio
        Turns of the shaft with the sensor for one of the wheel.
    pulses_a_turn
        Of that shaft.
    set_a_km
        What the speedometer is set to; None: just what the vehicle gives.
    fastest_kmh
        Maximum design speed of the vehicle: it decides the test speeds.

    Returns
    -------
    PulseConstant
        With a decision at each test speed, of a speedometer that is without error of its own.

    Raises
    ------
    SumError
        If the constant is none of a speedometer.

    Notes
    -----
    **Source**: derivation; UN Regulation No. 39 by the rules; limits as rectangular (JCGM 100,
    4.3.7).
    """
    a_km = MM_A_KM / way_mm * axle_ratio * pulses_a_turn
    least, most = CONSTANT_LIMITS
    if not least <= a_km <= most:
        raise SumError(
            f"Pulses: {grouped(a_km)} on a kilometre are out of {grouped(least)} to "
            f"{grouped(most)}; check the axle ratio, the pulses of a turn and the tyre"
        )
    setting = a_km if set_a_km is None else set_a_km
    rule = un_r39("km/h", fastest_kmh)
    held = []
    for true in rule.check_points():
        limits = rule.limits(true)
        assert limits is not None, "the rule limits every speed"
        assert limits.upper is not None, "above and below"
        shown = true * (a_km / setting)  # just as much where it is set to what the vehicle gives
        u = shown * within / 3**0.5
        held.append(SpeedHeld(true, shown, u, limits.upper, decide(limits, shown, u)))
    return PulseConstant(way_mm, within, axle_ratio, pulses_a_turn, a_km, setting, tuple(held))
