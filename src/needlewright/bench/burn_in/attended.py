"""The bench with an eye on it: hours are counted, currents held to a limit, events kept."""

from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from math import inf
from time import monotonic
from typing import Final

from needlewright.bench.burn_in.journal import Beat, Counts, Happened, Journal, now
from needlewright.bench.burn_in.noticed import Noticed
from needlewright.bench.burn_in.pictures import AFTER, APART_S, Ring, WatchedCamera, write_strip
from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.bench.devices import Devices
from needlewright.errors import OverCurrentError, UnusableInput

LONGEST_GAP_S: Final = 120.0
"""Time between two frames that is counted; the computer slept through a longer one."""
BEAT_S: Final = 60.0
"""So often hours are written down while nothing happens."""
STRIPS: Final = 3
"""So often the same event is kept with pictures; later ones are counted and timed."""
MOST_FRAMES: Final = 60
GLANCE_S: Final = 0.5
"""So often there is a picture while nothing is looked at."""
SHOWN_S: Final = 0.5
"""So often a frame that must be drawn for it is shown, by the clock on the wall: a rehearsal's
time runs faster than anybody looks."""

LOOK_EVERY_S: Final = 1.0
"""How often needles that stand are looked at."""
ENOUGH_LOOKS: Final = 40
"""So many in a dwell are enough of a rehearsed cluster, each of whose frames is drawn."""
LONGEST_LOOK_S: Final = 10.0


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a burn-in stands."""

    counts: Counts
    of_hours: float
    events: int
    words: str
    """What is being done."""
    amperes: float | None = None
    """What was drawn when it was last asked."""


@dataclass(frozen=True, slots=True)
class Listeners:
    """Who is told what happens."""

    progress: Callable[[Progress], None] = lambda progress: None
    event: Callable[[Happened], None] = lambda event: None
    picture: Callable[[bytes], None] | None = None
    """A JPEG of each frame that comes; where they are drawn, as many as a person would look at."""


def look_every_s(journal: Journal) -> float:
    """How often needles that stand are looked at.

    Parameters
    ----------
    journal
        Of the burn-in.

    Returns
    -------
    float
        Seconds: every second; of a rehearsed cluster less often in a long dwell.
    """
    return rehearsed_look_s(journal.begun.plan) if journal.is_rehearsed else LOOK_EVERY_S


def rehearsed_look_s(plan: BurnInPlan) -> float:
    """How often needles that stand are looked at in a rehearsal, seconds.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    float
        Seconds, more than one only in a long dwell.
    """
    return min(max(LOOK_EVERY_S, plan.dwell_s / ENOUGH_LOOKS), LONGEST_LOOK_S)


class Attended:
    """The devices of a bench, watched.

    Parameters
    ----------
    journal
        Of the burn-in.
    devices
        Of the bench.
    limit_a
        More than this must not be drawn.
    listeners
        Who is told.
    """

    def __init__(
        self, journal: Journal, devices: Devices, limit_a: float, listeners: Listeners
    ) -> None:
        self.journal, self.listeners = journal, listeners
        self._bare, self._limit_a = devices, limit_a
        self._ring = Ring()
        self.look_every_s = look_every_s(journal)
        self._glance_s = GLANCE_S if self.look_every_s <= LOOK_EVERY_S else self.look_every_s
        counts = journal.counts
        self._powered_s, self._sweeps, self._key_ons = (
            counts.powered_s,
            counts.sweeps,
            counts.key_ons,
        )
        self._on, self._seen_s, self._beat_s = False, -1.0, counts.powered_s
        self._doing, self._shown_s = "", -inf
        self._drawn: float | None = None
        self.camera = WatchedCamera(devices.camera, self._ring, self._saw)
        self.film = (
            self.camera
            if devices.film is None
            else WatchedCamera(devices.film, self._ring, self._saw)
        )
        self.devices = replace(
            devices,
            camera=self.camera,
            film=None if devices.film is None else self.film,
            key=self._key,
            wait=self._wait,
            supply_a=self._amperes,
        )
        self._times = Counter(
            (one.what, one.where) for one in journal.lines if isinstance(one, Happened)
        )

    @property
    def counts(self) -> Counts:
        """What the unit has lived through until now."""
        return Counts(powered_s=self._powered_s, sweeps=self._sweeps, key_ons=self._key_ons)

    @property
    def temperature_c(self) -> float | None:
        """Of the chamber now."""
        return self.journal.begun.plan.temperature_degc(self._powered_s / 3600.0)

    def count_sweep(self) -> None:
        """One sweep more."""
        self._sweeps += 1
        self.beat()

    def count_key_on(self, key_ons: int) -> None:
        """The key was turned on.

        Parameters
        ----------
        key_ons
            So often by now.
        """
        self._key_ons = key_ons

    def doing(self, words: str) -> None:
        """Say what is being done.

        Parameters
        ----------
        words
            For people.
        """
        self._doing = words
        self._tell()

    def beat(self, amperes: float | None = None) -> None:
        """Write down what is counted.

        Parameters
        ----------
        amperes
            What is drawn now; None: not asked.
        """
        self._beat_s = self._powered_s
        self.journal.write(Beat(at=now(), counts=self.counts, amperes=amperes, doing=self._doing))
        self._tell()

    def beat_if_due(self, amperes: float | None) -> None:
        """Write down what is counted, now and then.

        Parameters
        ----------
        amperes
            What is drawn now.
        """
        if self._powered_s - self._beat_s >= BEAT_S:
            self.beat(amperes)

    def notice(self, one: Noticed, at_s: float | None = None, *, follows: bool = True) -> None:
        """Keep an event, with the pictures around it.

        Parameters
        ----------
        one
            What happened.
        at_s
            When, on the camera's clock; None: with the last frame.
        follows
            Whether pictures are still to come.
        """
        at_s = self.camera.last_s if at_s is None else at_s
        self._times[one.what, one.where] += 1
        names: tuple[str, ...] = ()
        picture_s: tuple[float, ...] = ()
        if self._times[one.what, one.where] <= STRIPS:
            if follows:
                self._look_on()
            strip = self._ring.strip(at_s)
            folder = f"{sum(self._times.values()):04d}-{one.what}-{one.where}"
            names = write_strip(self.journal.folder, folder, strip)
            picture_s = tuple(round(each.t_s - at_s, 3) for each in strip)
        event = Happened(
            at=now(),
            counts=self.counts,
            what=one.what,
            where=one.where,
            words=one.words,
            size=one.size,
            pictures=names,
            picture_s=picture_s,
            temperature_c=self.temperature_c,
        )
        self.journal.write(event)
        self.listeners.event(event)
        self._tell()

    def _look_on(self) -> None:
        """Take the pictures after an event; a camera that has gone has none."""
        with suppress(UnusableInput):
            until_s = self.camera.pass_by() + AFTER * APART_S
            for _ in range(MOST_FRAMES):
                if self.camera.pass_by() >= until_s:
                    return

    def _tell(self) -> None:
        self.listeners.progress(
            Progress(
                self.counts,
                self.journal.begun.plan.hours,
                sum(self._times.values()),
                self._doing,
                self._drawn,
            )
        )

    def _saw(self, t_s: float) -> None:
        gap_s = t_s - self._seen_s
        if self._on and self._seen_s >= 0.0 and 0.0 < gap_s <= LONGEST_GAP_S:
            self._powered_s += gap_s
        self._seen_s = t_s
        self._show()

    def _show(self) -> None:
        """Hand the newest frame to whoever looks on."""
        newest = self._ring.newest
        if newest is None or self.listeners.picture is None:
            return
        if newest.costs_nothing or monotonic() - self._shown_s >= SHOWN_S:
            self._shown_s = monotonic()
            self.listeners.picture(newest.file)

    def _key(self, on: bool) -> None:
        self._bare.key(on)
        self._on, self._seen_s = on, -1.0
        if on:
            self.camera.pass_by()  # hours begin with it

    def _wait(self, seconds: float) -> None:
        """Let time pass with an eye open, so that there are pictures of it."""
        t_s = self.camera.pass_by()
        until_s = t_s + seconds
        while until_s - t_s > GLANCE_S / 5:
            self._bare.wait(min(self._glance_s, until_s - t_s))
            t_s = self.camera.pass_by()

    def _amperes(self) -> float | None:
        amperes = self._drawn = self._bare.supply_a()
        if amperes is not None and amperes > self._limit_a:
            raise OverCurrentError(
                f"the cluster draws {amperes:.3g} A, above the limit of {self._limit_a:g} A; it is "
                "switched off; look for a short before it is on again"
            )
        return amperes
