"""One attempt at a sweep: the way told with each frame, filmed, with what was drawn."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from threading import Thread
from typing import Final

import numpy as np

from needlewright.bench.bus_watch import bus_losses
from needlewright.bench.devices import Camera, CutShort, Devices, Wish, Wishes
from needlewright.bench.fallen import Fallen
from needlewright.bench.settling import LOOK_S, THERMAL_S
from needlewright.bench.sweep_course import (
    MOST_WAY_S,
    Course,
    FloatArray,
    eased,
    told_on_video,
    way_s,
)
from needlewright.errors import UnusableInput
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
LET_GO_S: Final = 0.1
"""How often a person who is asked to put something on is told that it is not needed any more."""
LOOK_SHARE: Final = 0.4
"""Of the time of the way back; then it is seen whether the needles follow at all."""
CURRENT_S: Final = 0.25
"""How often the supply is asked what is drawn."""
APART_S: Final = 0.08
SHORT_DEG: Final = 6.0
TURNED_DEG: Final = 0.6
"""A needle that is further from full scale than the first, and turns by more than the second in the
time above, is on its way still."""


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


class Away(Exception):
    """The bus was away: what is filmed shows needles nobody told anything."""


class TooFast(Exception):
    """A needle is turned slower than it is told to: its way must take longer."""


class Wished(Exception):
    """The person wants something else."""

    def __init__(self, wish: Wish) -> None:
        super().__init__(wish)
        self.wish = wish


@dataclass(frozen=True, slots=True, eq=False)
class SweepBench:
    """What a sweep is taken with."""

    devices: Devices
    instruments: Instruments
    wishes: Wishes
    reader: LiveReader
    """Looks now and then whether needles follow at all."""
    fallen: Fallen
    """Knows which followed before."""

    @property
    def camera(self) -> Camera:
        """The one that is fast enough."""
        return self.devices.film or self.devices.camera


class SweepTake:
    """One attempt at a sweep.

    Parameters
    ----------
    at
        What it is taken with.
    found
        The ways of the dials.
    video
        Where to; it appears whole or not at all.
    key_off
        Turns the key off.
    slower
        How many times longer a way takes than the camera asks for.
    """

    def __init__(
        self,
        at: SweepBench,
        found: tuple[Course, ...],
        video: Path,
        key_off: Callable[[], None],
        *,
        slower: float,
    ) -> None:
        self._at, self._found, self._slower = at, found, slower
        self._devices, self._camera = at.devices, at.camera
        self._video, self._key_off = video, key_off
        self._told: dict[str, list[tuple[float, float]]] = {one.dial.id: [] for one in found}
        self._drawn = _Drawn()
        self._losses = bus_losses(self._devices)
        self._checked_s = -np.inf
        self._now_s = 0.0
        self._powered = True

    def go(self) -> SweepFilm:
        """Film it.

        Returns
        -------
        SweepFilm
            With needles at rest and the key off.

        Raises
        ------
        Wished
            If the person wants something else.
        Away
            If the bus was lost meanwhile.
        TooFast
            If a needle is turned slower than it is told to.
        UnusableInput
            If a device says that the run must end, or the video cannot be written.
        """
        even = tuple(one for one in self._found if one.is_even)
        steps = tuple(one for one in self._found if not one.is_even)
        slow = any(one.dial.movement.kind == "thermal" for one in steps)
        stay_s = THERMAL_S / 2 if slow else TOP_S
        with Film(self._video, in_time=True) as film:
            self._film = film
            self._frame()
            self._note(self._found, 0.0)
            began, first_s = film.frames, self._now_s
            self._hold(BEGIN_S)
            hz = (film.frames - began) / max(self._now_s - first_s, 1e-6)
            seconds = way_s(self._found, hz, self._slower)
            self._at_once(steps, 1.0)
            self._move(even, seconds, rising=True)
            if seconds < MOST_WAY_S:
                self._refuse_too_fast(even)
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
        wrong: list[UnusableInput | CutShort] = []

        def tell() -> None:
            try:
                self._devices.transport.apply(
                    *(one.command(share, self._at.instruments) for one in steps)
                )
            except (UnusableInput, CutShort) as error:
                wrong.append(error)

        self._note(steps, 1.0 - share)
        telling = Thread(target=tell, name="telling", daemon=True)
        telling.start()
        try:
            while telling.is_alive():
                self._frame()
        finally:  # nobody puts anything on any more once the attempt is over
            while telling.is_alive():
                self._devices.let_go()
                telling.join(LET_GO_S)
        if wrong:
            raise wrong[0]
        self._note(steps, share)

    def _tell(self, even: tuple[Course, ...], share: float) -> None:
        commands = [one.command(share, self._at.instruments) for one in even]
        if commands:
            self._devices.transport.apply(*commands)
        for one, command in zip(even, commands, strict=True):
            self._told[one.dial.id].append((self._now_s, one.angle_deg(command)))

    def _note(self, found: tuple[Course, ...], share: float) -> None:
        """Write down what is told already."""
        for one in found:
            angle = one.angle_deg(one.command(share, self._at.instruments))
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
        wish = self._at.wishes.look()
        if wish != "go_on":
            raise Wished(wish)
        if self._powered and self._now_s - self._checked_s >= LOOK_S:
            self._checked_s = self._now_s
            self._devices.transport.check()
        if bus_losses(self._devices) != self._losses:
            raise Away
        pixels, self._now_s = self._camera.frame()
        self._film.add(pixels, self._now_s)
        return pixels

    def _refuse_too_fast(self, even: tuple[Course, ...]) -> None:
        """A needle on its way to full scale still is turned slower than it is told to."""
        seen = []
        for _ in range(2):
            look = self._at.reader.look(self._frame(), self._now_s)
            seen.append({one.dial: one.angle_deg for one in look.dials})
            self._hold(APART_S)
        for course in even:
            before, now = (each.get(course.dial.id) for each in seen)
            if before is None or now is None:
                continue
            short_deg = course.dial.scale.sense * (course.angles_deg[-1] - now)
            turned_deg = course.dial.scale.sense * (now - before)
            if short_deg > SHORT_DEG and turned_deg > TURNED_DEG:
                raise TooFast

    def _see_that_they_follow(self, pixels: Pixels) -> None:
        """Needles that hear nothing are at rest by now, and all are told to be far from it."""
        look = self._at.reader.look(pixels, self._now_s)
        self._at.fallen.judge_look(look, tuple(self._told), "in the sweep, on the way back")
