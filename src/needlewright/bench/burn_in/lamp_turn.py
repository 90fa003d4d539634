"""The lamps' part of a dwell: a picture before the power comes on, looks, one more at the end."""

from collections.abc import Iterable
from typing import Protocol

from needlewright.bench.burn_in.attended import Attended
from needlewright.bench.burn_in.journal import LampsSeen, now
from needlewright.bench.burn_in.lamps import LampPlaces, LampWatch, lamps_out
from needlewright.families.lamps import Lamp
from needlewright.readings.frame import Pixels
from needlewright.readings.outline import ToPhoto


class TurnKey(Protocol):
    """Turns the key; whether it stands there then."""

    def __call__(self, *, on: bool) -> bool:
        """Turn it."""


class LampTurn:
    """Watches the lamps of each dwell.

    Parameters
    ----------
    attended
        The bench.
    """

    def __init__(self, attended: Attended) -> None:
        self._at = attended
        self._is_dark = attended.journal.begun.plan.dark_lamps
        self._lamps: tuple[Lamp, ...] = ()
        self._place: ToPhoto | None = None
        self._places: tuple[ToPhoto, LampPlaces] | None = None
        self._watch: LampWatch | None = None
        self._unlit: Pixels | None = None
        self._lit: Pixels | None = None

    @property
    def are_watched(self) -> bool:
        """Whether there is a lamp to be looked at, and its place is known by now."""
        return bool(self._lamps) and self._place is not None

    def watch(self, lamps: Iterable[Lamp]) -> None:
        """Say which lamps are lit and have a place."""
        self._lamps, self._places = tuple(lamps), None

    def stand(self, place: ToPhoto | None) -> None:
        """Say where the face lies in the picture; None: it was not found this time."""
        self._place = self._place if place is None else place

    def begin(self) -> None:
        """Take the picture with the power off that the dwell's looks are held against."""
        self._watch, self._lit = None, None
        self._unlit, _ = self._at.camera.frame()

    def look(self, lit: Pixels) -> None:
        """Look at the lamps in a picture of the dwell, and keep what went wrong."""
        if self._unlit is None or self._place is None:
            return
        self._lit = lit
        light = self._light(lit, self._unlit, self._place)
        if self._watch is None:
            first = self._first(dark_bench=False)
            if first is None:
                self._at.journal.write(LampsSeen(at=now(), counts=self._at.counts, light=light))
                first = light
            self._watch = LampWatch(first, self._unlit, self._known_out())
        for one in self._watch.look(lit, light):
            self._at.notice(one)

    def end(self, turn: TurnKey, *, judged: bool) -> None:
        """Turn the key off, and hold the last picture against one with the power off.

        Parameters
        ----------
        turn
            Turns the key.
        judged
            Whether the dwell came to its end, so that lamps are judged.
        """
        lit, place = self._lit, self._place
        if not judged or lit is None or place is None:
            self._unlit = None
            return
        if self._is_dark:
            self._at.devices.darken(True)
            lit, _ = self._at.camera.frame()
        try:
            if turn(on=False):
                unlit, _ = self._at.camera.frame()
                self._judge(self._light(lit, unlit, place))
        finally:
            if self._is_dark:
                self._at.devices.darken(False)
        self._unlit = None

    def _light(self, lit: Pixels, unlit: Pixels, place: ToPhoto) -> dict[str, float]:
        """What each lamp gives; where they are seen is worked out once for each place."""
        if self._places is None or self._places[0] is not place:
            high, wide = lit.shape[:2]
            self._places = place, LampPlaces(self._lamps, place, (high, wide))
        return self._places[1].light(lit, unlit)

    def _judge(self, light: dict[str, float]) -> None:
        watch, known_out = self._watch, self._known_out()
        first = self._first(dark_bench=self._is_dark)
        self._at.journal.write(
            LampsSeen(
                at=now(),
                counts=self._at.counts,
                light=light,
                dark_bench=self._is_dark,
                looks=0 if watch is None else watch.looks,
                dark={} if watch is None else dict(watch.dark),
                looks_not_judged=0 if watch is None else watch.not_judged,
            )
        )
        for one in lamps_out(first or light, light):
            if one.where not in known_out | (set() if watch is None else watch.out):
                self._at.notice(one, follows=False)

    def _seen(self) -> list[LampsSeen]:
        return [one for one in self._at.journal.lines if isinstance(one, LampsSeen)]

    def _first(self, *, dark_bench: bool) -> dict[str, float] | None:
        """What lamps gave when they were first seen so; None: they were not yet."""
        seen = (one.light for one in self._seen() if one.dark_bench == dark_bench)
        return next(seen, None)

    def _known_out(self) -> set[str]:
        """Lamps that were out when they were last seen so."""
        seen = [one for one in self._seen() if one.dark_bench == self._is_dark]
        return {one.where for one in lamps_out(seen[0].light, seen[-1].light)} if seen else set()
