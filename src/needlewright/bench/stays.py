"""Stays of a cluster in the same surroundings: what is asked of the person, what comes of it."""

from dataclasses import dataclass

from needlewright.bench.series_state import Stated, Stay
from needlewright.bench.soak import COVERAGE_K, Conditions, opened_after_s
from needlewright.bench.warming import Known, Warming, without_place


@dataclass(frozen=True, slots=True)
class Cooling:
    """Bringing the cluster to a temperature."""

    degc: float
    conditions: Conditions
    start: Known
    """How warm it is now, degC."""

    @property
    def soak_min(self) -> int:
        """Minutes it takes."""
        return self.conditions.soak_min(self.degc, self.start)

    @property
    def stay(self) -> Warming:
        """What begins when it has soaked and is taken out, or its chamber shows the temperature."""
        return stay_after(self, 60.0 * self.soak_min, 0.0).warming

    @property
    def begins_s(self) -> float:
        """When reading begins, seconds since then."""
        if self.conditions.way == "chamber":
            return 60.0 * self.soak_min
        return self.stay.seconds_until(self.conditions.begins_degc(self.degc)) or 0.0

    def words(self) -> list[str]:
        """What is to be done, for the person at the bench."""
        at, cold = f"{self.degc:g} degC", self.conditions.cold.value
        if self.conditions.way == "chamber":
            return [
                f"for {at}: set the chamber to {at}, door shut, camera at its window",
                f"done when it shows {at}; the cluster then soaks {self.soak_min} min",
            ]
        return [
            f"for {at}: into the freezer ({cold:g} degC), sealed in its bag, for {self.soak_min} "
            "min",
            "done when it lies before the camera again, plugged in, still in its bag",
            self.warming_words(),
            opening_words(self.stay, self.conditions.dew_point_degc),
        ]

    def warming_words(self) -> str:
        """How fast a cluster out of the freezer warms when it is read, for people."""
        there = self.stay.at(self.begins_s)
        return (
            f"{self.begins_s / 60:.1f} min after that it is at {there.degc:.1f} ± "
            f"{COVERAGE_K * there.u_degc:.1f} degC (k = 2), warms by {self.warms_degc_min:.1f} "
            "degC a minute, and is read"
        )

    @property
    def warms_degc_min(self) -> float:
        """How fast it warms when reading begins, degC a minute."""
        stay = self.stay
        apart = stay.surroundings.value - stay.degc_at(self.begins_s)
        return 60.0 * apart / stay.time_constant_s.value


def opening_words(warming: Warming, dew_degc: float) -> str:
    """When the bag may be opened, for people.

    Parameters
    ----------
    warming
        Out of the freezer.
    dew_degc
        Dew point of the room's air.

    Returns
    -------
    str
        One sentence.
    """
    opened_s = opened_after_s(warming, dew_degc)
    if opened_s is None:
        return (
            f"the room's dew point is {dew_degc:.1f} degC: the cluster is not sure to get above it "
            "here; open the bag in a drier or warmer room"
        )
    return (
        f"the room's dew point is {dew_degc:.1f} degC: the bag stays shut until "
        f"{opened_s / 60:.0f} min after it was taken out, or a thermometer in it says so"
    )


def stay_after(asked: Cooling, soaked_s: float, now_s: float) -> Stay:
    """What begins when the cluster is taken out, or the chamber shows its temperature.

    Parameters
    ----------
    asked
        What was asked of the person.
    soaked_s
        How long it really was in the freezer.
    now_s
        By the series' clock.

    Returns
    -------
    Stay
        Before any thermometer reading.
    """
    conditions = asked.conditions
    cooling = conditions.cooling_to(asked.degc, asked.start)
    if conditions.way == "chamber":
        return _stay(cooling, now_s)
    start = without_place(cooling.at(soaked_s), conditions.place_u_degc)
    out = Warming(start, conditions.room, conditions.time_constant.seconds, conditions.place_u_degc)
    return _stay(out, now_s)


def stay_in_room(conditions: Conditions, now_s: float) -> Stay:
    """A cluster that has lain in the room for long.

    Parameters
    ----------
    conditions
        Of the bench.
    now_s
        By the series' clock.

    Returns
    -------
    Stay
        In which it keeps the room's temperature.
    """
    room = conditions.room
    tau = conditions.time_constant.seconds
    return _stay(Warming(room, room, tau, conditions.place_u_degc), now_s)


def known_at(stay: Stay, seconds: float) -> Known:
    """How warm a cluster is at the end of a stay.

    Parameters
    ----------
    stay
        With its readings.
    seconds
        Since it began.

    Returns
    -------
    Known
        degC, without what is the thermometer's.
    """
    return without_place(stay.warming.at(seconds), stay.place_u_c)


def _stay(warming: Warming, now_s: float) -> Stay:
    return Stay(
        started_s=now_s,
        start_c=_stated(warming.start),
        surroundings_c=_stated(warming.surroundings),
        time_constant_s=_stated(warming.time_constant_s),
        place_u_c=warming.place_u_degc,
    )


def _stated(known: Known) -> Stated:
    return Stated(value=known.value, u=known.u)
