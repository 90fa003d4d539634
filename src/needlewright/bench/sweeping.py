"""The sweep of a run: needles gathered, and attempts until one is whole."""

from collections.abc import Callable
from pathlib import Path
from typing import Final

from needlewright.bench.bus_watch import wait_for_bus
from needlewright.bench.devices import CutShort, Devices, Wish, Wishes
from needlewright.bench.fallen import Fallen
from needlewright.bench.settling import LOOK_S, REACTION_S, THERMAL_S
from needlewright.bench.sweep_course import Course, courses
from needlewright.bench.sweep_take import Away, SweepBench, SweepFilm, SweepTake, TooFast, Wished
from needlewright.errors import TransportError
from needlewright.families.model import Family
from needlewright.readings.live import LiveReader
from needlewright.signals.instruments import Instruments

GATHER_S: Final = 1.2
"""So long needles are given to come to their first marks."""
SLOWER: Final = 1.8
"""So many times longer is a way on which a needle was not turned fast enough."""
MOST_TIMES: Final = 3
"""So often a sweep is begun anew because the bus was away in it."""


class Sweeping:
    """Takes one sweep.

    Parameters
    ----------
    family
        The cluster design.
    devices
        Of the bench.
    instruments
        That make the stimuli.
    wishes
        Of the person.
    reader
        Looks now and then whether needles follow at all.
    fallen
        Knows which followed before.
    """

    def __init__(
        self,
        family: Family,
        devices: Devices,
        instruments: Instruments,
        wishes: Wishes,
        *,
        reader: LiveReader,
        fallen: Fallen,
    ) -> None:
        self._family, self._devices, self._instruments = family, devices, instruments
        self._wishes = wishes
        self._at = SweepBench(devices, instruments, wishes, reader, fallen)

    def take(
        self,
        dials: tuple[str, ...],
        video: Path,
        key_off: Callable[[], None],
        home: Callable[[], Wish | None],
    ) -> SweepFilm | Wish:
        """Film a sweep.

        Parameters
        ----------
        dials
            Ids of those that sweep; the key is on.
        video
            Where to; it appears whole or not at all.
        key_off
            Turns the key off.
        home
            Turns it off and on again, for steps that were lost in an attempt are lost in the next;
            what the person wants instead, if anything.

        Returns
        -------
        SweepFilm or str
            With needles at rest and the key off; or what the person wants instead, the video
            left out.

        Raises
        ------
        TransportError
            If a device says that the run must end, the needles hear nothing any more, or the bus
            is lost again and again.
        CameraError
            If the camera is gone.
        PictureError
            If the video cannot be written.
        """
        found = courses(self._family, dials, self._devices.transport, self._instruments)
        losses, slower = 0, 1.0
        while losses < MOST_TIMES:
            try:
                self._gather(found)
                if self._wishes.stopping:
                    return "stop"
                return SweepTake(self._at, found, video, key_off, slower=slower).go()
            except Wished as wished:
                return wished.wish
            except CutShort:
                if (wish := self._wishes.instead()) is not None:
                    return wish
            except TooFast:
                slower *= SLOWER
                if (wish := home()) is not None:
                    return wish
            except Away:
                losses += 1
        raise TransportError(
            f"the bus was lost in each of {MOST_TIMES} sweeps; check its plug, then go on from the "
            "sweep"
        )

    def _gather(self, found: tuple[Course, ...]) -> None:
        """Bring all needles to their first marks."""
        wait_for_bus(self._devices, self._wishes)
        if self._wishes.stopping:  # nothing new goes on the wires
            return
        self._devices.transport.apply(*(one.command(0.0, self._instruments) for one in found))
        slow = any(course.dial.movement.kind == "thermal" for course in found)
        periods = [course.signal.period_s or 0.0 for course in found]
        left = max(periods) + REACTION_S + (THERMAL_S if slow else GATHER_S)
        while left > 1e-9 and not self._wishes.stopping:
            self._devices.wait(min(left, LOOK_S))
            self._devices.transport.check()
            left -= LOOK_S
