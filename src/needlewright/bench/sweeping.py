"""The sweep of a run: all dials to full scale and back, filmed, with what was told and drawn."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from threading import Thread
from typing import Final

import numpy as np

from needlewright.bench.bus_watch import bus_losses, wait_for_bus
from needlewright.bench.devices import Camera, Devices, Wish, Wishes
from needlewright.bench.fallen import Fallen
from needlewright.bench.settling import LOOK_S, REACTION_S, THERMAL_S
from needlewright.bench.sweep_course import (
    Course,
    FloatArray,
    courses,
    eased,
    told_on_video,
    way_s,
)
from needlewright.errors import TransportError, UnusableInput
from needlewright.families.model import Family
from needlewright.film import Film
from needlewright.readings.frame import Pixels
from needlewright.readings.live import LiveReader
from needlewright.signals.instruments import Instruments

BEGIN_S: Final = 0.4
"""Filmed with the needles at their first marks, before they are told to move."""
TOP_S: Final = 0.5
"""Filmed with the needles at full scale."""
END_S: Final = 0.4
"""Filmed with the needles back at their first marks."""
REST_S: Final = 1.0
"""Filmed with the key off, while needles fall to rest."""
GATHER_S: Final = 1.2
"""So long needles are given to come to their first marks."""
LOOK_SHARE: Final = 0.4
"""Of the time of the way back; then it is seen whether the needles follow at all."""
CURRENT_S: Final = 0.25
"""How often the supply is asked what is drawn."""
MOST_TIMES: Final = 3
"""So often a sweep is begun anew because the bus was away in it."""


@dataclass(frozen=True, slots=True, eq=False)
class SweepFilm:
    """A sweep as it was filmed."""

    video: Path
    seconds: float
    frames: int
    commands: Mapping[str, tuple[FloatArray, FloatArray]]
    """What each dial was told: seconds on the video's clock, degrees clockwise from 12 o'clock."""
    at_once: frozenset[str]
    """Dials told their ends only."""
    step_deg: Mapping[str, float]
    """The furthest one step of what each signal can state turns the needle."""
    volts: float | None
    mean_a: float | None
    peak_a: float | None


@dataclass(slots=True)
class _Drawn:
    """What the supply said."""

    volts: list[float] = field(default_factory=list)
    amperes: list[float] = field(default_factory=list)
    asked_s: float = -np.inf

    def ask(self, devices: Devices, now_s: float) -> None:
        if now_s - self.asked_s < CURRENT_S:
            return
        self.asked_s = now_s
        volts, amperes = devices.supply_v(), devices.supply_a()
        if volts is not None and amperes is not None:
            self.volts.append(volts)
            self.amperes.append(amperes)


class _Away(Exception):
    """The bus was away: what is filmed shows needles nobody told anything."""


class _Wished(Exception):
    """The person wants something else."""

    def __init__(self, wish: Wish) -> None:
        super().__init__(wish)
        self.wish = wish


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
        self._wishes, self._reader, self._fallen = wishes, reader, fallen
        self._camera: Camera = devices.film or devices.camera
        self._checked_s = -np.inf

    def take(
        self, dials: tuple[str, ...], video: Path, key_off: Callable[[], None]
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
        for _ in range(MOST_TIMES):
            self._gather(found)
            try:
                return _Take(self, found, video, key_off).go()
            except _Wished as wished:
                return wished.wish
            except _Away:
                continue
        raise TransportError(
            f"the bus was lost in each of {MOST_TIMES} sweeps; check its plug, then go on from the "
            "sweep"
        )

    def _gather(self, found: tuple[Course, ...]) -> None:
        """Bring all needles to their first marks."""
        wait_for_bus(self._devices)
        self._devices.transport.apply(*(one.command(0.0, self._instruments) for one in found))
        slow = any(course.dial.movement.kind == "thermal" for course in found)
        periods = [course.signal.period_s or 0.0 for course in found]
        left = max(periods) + REACTION_S + (THERMAL_S if slow else GATHER_S)
        while left > 1e-9 and not self._wishes.stopping:
            self._devices.wait(min(left, LOOK_S))
            self._devices.transport.check()
            left -= LOOK_S


class _Take:
    """One attempt."""

    def __init__(
        self,
        sweeping: Sweeping,
        found: tuple[Course, ...],
        video: Path,
        key_off: Callable[[], None],
    ) -> None:
        self._all, self._found = sweeping, found
        self._devices, self._camera = sweeping._devices, sweeping._camera
        self._video, self._key_off = video, key_off
        self._told: dict[str, list[tuple[float, float]]] = {one.dial.id: [] for one in found}
        self._drawn = _Drawn()
        self._losses = bus_losses(self._devices)
        self._checked_s = -np.inf
        self._now_s = 0.0
        self._powered = True

    def go(self) -> SweepFilm:
        even = tuple(one for one in self._found if one.is_even)
        steps = tuple(one for one in self._found if not one.is_even)
        slow = any(one.dial.movement.kind == "thermal" for one in steps)
        stay_s = THERMAL_S / 2 if slow else TOP_S
        with Film(self._video) as film:
            self._film = film
            self._frame()
            self._note(self._found, 0.0)
            began, first_s = film.frames, self._now_s
            self._hold(BEGIN_S)
            hz = (film.frames - began) / max(self._now_s - first_s, 1e-6)
            seconds = way_s(self._found, hz)
            self._at_once(steps, 1.0)
            self._move(even, seconds, rising=True)
            self._hold(stay_s)
            self._at_once(steps, 0.0)
            self._move(even, seconds, rising=False)
            self._hold(stay_s if slow else END_S)
            self._powered = False
            self._key_off()
            self._hold(REST_S)
        amperes, volts = self._drawn.amperes, self._drawn.volts
        return SweepFilm(
            self._video,
            film.last_s - film.first_s,
            film.frames,
            told_on_video(self._told, film.first_s),
            frozenset(one.dial.id for one in steps),
            {one.dial.id: one.step_deg for one in self._found},
            float(np.mean(volts)) if volts else None,
            float(np.mean(amperes)) if amperes else None,
            max(amperes) if amperes else None,
        )

    def _move(self, even: tuple[Course, ...], seconds: float, *, rising: bool) -> None:
        """Tell the even ones a little more with each frame."""
        began_s, looked = self._now_s, rising
        share = 0.0
        while share < 1.0:
            share = min((self._now_s - began_s) / seconds, 1.0)
            self._tell(even, eased(share) if rising else 1.0 - eased(share))
            pixels = self._frame()
            self._drawn.ask(self._devices, self._now_s)
            if not looked and share > LOOK_SHARE:
                looked = True
                self._see_that_they_follow(pixels)

    def _at_once(self, steps: tuple[Course, ...], share: float) -> None:
        """Tell the others their end; whoever does it by hand is filmed meanwhile."""
        if not steps:
            return
        wrong: list[UnusableInput] = []

        def tell() -> None:
            try:
                self._devices.transport.apply(
                    *(one.command(share, self._all._instruments) for one in steps)
                )
            except UnusableInput as error:
                wrong.append(error)

        self._note(steps, 1.0 - share)
        telling = Thread(target=tell, name="telling", daemon=True)
        telling.start()
        while telling.is_alive():
            self._frame()
        if wrong:
            raise wrong[0]
        self._note(steps, share)

    def _tell(self, even: tuple[Course, ...], share: float) -> None:
        commands = [one.command(share, self._all._instruments) for one in even]
        if commands:
            self._devices.transport.apply(*commands)
        for one, command in zip(even, commands, strict=True):
            self._told[one.dial.id].append((self._now_s, one.angle_deg(command)))

    def _note(self, found: tuple[Course, ...], share: float) -> None:
        """Write down what is told already."""
        for one in found:
            angle = one.angle_deg(one.command(share, self._all._instruments))
            self._told[one.dial.id].append((self._now_s, angle))

    def _hold(self, seconds: float) -> None:
        until_s = self._now_s + seconds
        while self._now_s < until_s:
            self._frame()
        for told in self._told.values():
            if self._powered and told:
                told.append((self._now_s, told[-1][1]))

    def _frame(self) -> Pixels:
        """The next frame, filmed; the devices are asked now and then whether all is well."""
        wish = self._all._wishes.look()
        if wish != "go_on":
            raise _Wished(wish)
        if self._powered and self._now_s - self._checked_s >= LOOK_S:
            self._checked_s = self._now_s
            self._devices.transport.check()
        if bus_losses(self._devices) != self._losses:
            raise _Away
        pixels, self._now_s = self._camera.frame()
        self._film.add(pixels, self._now_s)
        return pixels

    def _see_that_they_follow(self, pixels: Pixels) -> None:
        """Needles that hear nothing are at rest by now, and all are told to be far from it."""
        look = self._all._reader.look(pixels, self._now_s)
        self._all._fallen.judge_look(look, tuple(self._told), "in the sweep, on the way back")
