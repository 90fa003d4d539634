"""How a cluster is brought to a temperature: time constant, soak, order, cautions, in words."""

from dataclasses import dataclass
from math import ceil
from typing import Final, Literal

from needlewright.bench.condensation import dew_point_degc
from needlewright.bench.warming import Known, Warming
from needlewright.errors import RunError

Way = Literal["freezer-bag", "chamber"]
WAYS: Final = ("freezer-bag", "chamber")

MASS_KG: Final = 1.0
"""Of a cluster nobody has weighed; common practice, no source."""
DEPTH_MM: Final = 80.0
"""Of its housing; common practice, no source."""
HEAT_J_PER_KG_K: Final = 1300.0
"""Of housings: plastics with some glass and metal; from memory."""
TRANSFER_W_PER_M2_K: Final = {"freezer-bag": 8.0, "chamber": 20.0}
"""Still air with radiation; air that a fan moves. Orders of size of any textbook, from memory."""
U_WORKED_OUT: Final = 0.30
"""Standard uncertainty of a time constant that was worked out, a share; common practice, no
source."""
U_STATED: Final = 0.10
"""The same of one that somebody measured and states without more; common practice, no source."""
SOAKED_DEGC: Final = 1.0
"""A cluster this near to its surroundings has soaked; common practice, no source. IEC 60068-1 calls
a specimen stable within 3 K (from memory)."""
DRY_DEGC: Final = 2.0
"""So much warmer than the dew point a surface is to be before the bag is opened; common practice,
no source."""
COVERAGE_K: Final = 2.0

BAG_CAUTIONS: Final = (
    "seal the cluster in a clear bag BEFORE it is cooled: harness led out through the taped neck, "
    "air pressed out, a drying sachet inside, the film smooth over the lens; read it through the "
    "film",
    "the bag stays shut until the cluster is warmer than the dew point; a wet cluster is not "
    "powered: dry it first, a day in a warm room",
    "no food in that freezer; gloves, for cold metal sticks to skin; cold plastic and displays "
    "crack, so no flexing and no pressing",
)
CHAMBER_CAUTIONS: Final = (
    "let the chamber reach each temperature slowly, 1 K a minute, and warm to the room's before "
    "its door is opened: a cluster below the dew point gets wet in the room's air, and a wet one "
    "is not powered",
    "nobody goes into a walk-in chamber alone or locks its door; gloves, for cold metal sticks to "
    "skin",
)
SUPPLY_CAUTION: Final = (
    "supply: set the current limit and fit a fuse before it is on; displays and backlights can "
    "carry tens to hundreds of volts"
)


@dataclass(frozen=True, slots=True)
class TimeConstant:
    """How fast a cluster takes the temperature of its surroundings."""

    seconds: Known
    source: str
    """Where it comes from, for people."""


def time_constant_from(mass_kg: float, face_size_mm: tuple[float, float], way: Way) -> TimeConstant:
    """Work a time constant out: heat it holds over heat that leaves it for each kelvin.

    Parameters
    ----------
    mass_kg
        Of the cluster.
    face_size_mm
        Width and height of its face.
    way
        Still air in a bag, or moved air of a chamber.

    Returns
    -------
    TimeConstant
        Of a box as deep as clusters are.

    Raises
    ------
    RunError
        If the mass is none.

    **Source**: tau = m c / (h A), the lumped capacity of any textbook of heat transfer; derivation
    in docs/temperature-series.md.
    """
    if not 0.05 <= mass_kg <= 20.0:
        raise RunError(f"a cluster of {mass_kg:g} kg: expected 0.05 to 20 kg")
    wide, high, deep = face_size_mm[0] / 1e3, face_size_mm[1] / 1e3, DEPTH_MM / 1e3
    area_m2 = 2.0 * (wide * high + wide * deep + high * deep)
    seconds = lumped_s(mass_kg, HEAT_J_PER_KG_K, TRANSFER_W_PER_M2_K[way], area_m2)
    return TimeConstant(
        Known(seconds, U_WORKED_OUT * seconds),
        f"worked out from {mass_kg:g} kg and the face's size (common practice, no source)",
    )


def lumped_s(mass_kg: float, heat_j_per_kg_k: float, w_per_m2_k: float, area_m2: float) -> float:
    """Time constant of one body.

    Parameters
    ----------
    mass_kg
        Of it.
    heat_j_per_kg_k
        Specific heat.
    w_per_m2_k
        Heat transfer coefficient.
    area_m2
        Of its surface.

    Returns
    -------
    float
        Seconds.

    **Source**: lumped capacity, any textbook of heat transfer.
    """
    return mass_kg * heat_j_per_kg_k / (w_per_m2_k * area_m2)


@dataclass(frozen=True, slots=True)
class Conditions:
    """What is known beforehand of the bench, the cold and the cluster."""

    way: Way
    room: Known
    """degC."""
    cold: Known
    """Of the freezer, degC; of a chamber only `u` is used: what it shows may be off by."""
    humidity: float
    """Of the room's air, 0 to 1."""
    time_constant: TimeConstant
    place_u_degc: float
    within_degc: float
    """How far from the temperature that was asked for a row may be taken."""

    def cooling_to(self, degc: float, start: Known) -> Warming:
        """The curve of a soak.

        Parameters
        ----------
        degc
            What the chamber is set to; a freezer has its own temperature.
        start
            The cluster's, degC.

        Returns
        -------
        Warming
            From the moment it is put in, or the chamber shows its temperature.
        """
        around = Known(degc, self.cold.u) if self.way == "chamber" else self.cold
        return Warming(start, around, self.time_constant.seconds, self.place_u_degc)

    def soak_min(self, degc: float, start: Known) -> int:
        """Minutes until a cluster has soaked.

        Parameters
        ----------
        degc
            What the chamber is set to; a freezer has its own temperature.
        start
            The cluster's, degC.

        Returns
        -------
        int
            Whole minutes, by a time constant that is one standard uncertainty longer.
        """
        tau = self.time_constant.seconds
        slow = Warming(
            start,
            self.cooling_to(degc, start).surroundings,
            Known(tau.value + tau.u, tau.u),
            self.place_u_degc,
        )
        return ceil(slow.near(SOAKED_DEGC) / 60.0)

    def begins_degc(self, degc: float) -> float:
        """Where a run begins for a temperature.

        A cluster out of the freezer warms on while it is read, so it is begun a third of what is
        allowed below; what the room never quite gives is begun near the room's own.

        Parameters
        ----------
        degc
            Asked for.

        Returns
        -------
        float
            degC.
        """
        if self.way == "chamber":
            return degc
        return min(degc - self.within_degc / 3.0, self.room.value - SOAKED_DEGC)

    @property
    def dew_point_degc(self) -> float:
        """Below it a cluster gets wet in the room's air."""
        return dew_point_degc(self.room.value, self.humidity)


def refuse_out_of_reach(at: tuple[float, ...], conditions: Conditions) -> None:
    """Say before the work what cannot be reached.

    Parameters
    ----------
    at
        Temperatures asked for, degC.
    conditions
        Of the bench.

    Raises
    ------
    RunError
        If a freezer bag gets neither so cold nor so warm.
    """
    if conditions.way == "chamber":
        return
    cold, room, within = conditions.cold.value, conditions.room.value, conditions.within_degc
    for degc in at:
        if degc < cold - SOAKED_DEGC:
            raise RunError(
                f"{degc:g} degC is colder than the freezer, {cold:g} degC; state a colder one with "
                "--freezer, or take a chamber"
            )
        if conditions.begins_degc(degc) < degc - within:
            raise RunError(
                f"{degc:g} degC is warmer than the room, {room:g} degC, and a bag warms no "
                "further; take a chamber, or state the room's temperature with --room"
            )


def in_order(at: tuple[float, ...], way: Way) -> tuple[float, ...]:
    """Temperatures in the order they are taken in.

    Parameters
    ----------
    at
        degC.
    way
        A bag warms once through all of them; a chamber goes down, for a cluster that is warmer than
        the air round it stays dry.

    Returns
    -------
    tuple of float
        Rising or falling.
    """
    return tuple(sorted(at, reverse=way == "chamber"))


def cautions(way: Way) -> tuple[str, ...]:
    """What can hurt or spoil, for people.

    Parameters
    ----------
    way
        How it is cooled.

    Returns
    -------
    tuple of str
        Shown before the work and kept with the series.
    """
    return (*(BAG_CAUTIONS if way == "freezer-bag" else CHAMBER_CAUTIONS), SUPPLY_CAUTION)


def opened_after_s(warming: Warming, dew_degc: float) -> float | None:
    """When a bag may be opened: its cluster is above the dew point, whatever is not known of it.

    Parameters
    ----------
    warming
        Out of the freezer.
    dew_degc
        Of the room's air.

    Returns
    -------
    float or None
        Seconds since it was taken out; None: it never gets so warm, as in air full of water.
    """
    limit = dew_degc + DRY_DEGC
    if limit >= warming.surroundings.value:
        return None
    seconds = warming.seconds_until(limit) or 0.0
    for _ in range(1000):
        now = warming.at(seconds)
        if now.degc - COVERAGE_K * now.u_degc >= limit:
            return seconds
        seconds += warming.time_constant_s.value / 20.0
    return None
