"""The sweep and the lamps of a run, as steps of it: done, kept, told, and what a person wants."""

from collections.abc import Callable
from typing import Final

from needlewright.bench.devices import CutShort, Devices, Wish, Wishes
from needlewright.bench.fallen import Fallen
from needlewright.bench.keeping import KeptRun
from needlewright.bench.key import KEY_OFF_S, ClusterKey
from needlewright.bench.lamp_check import LampCheck, stays_on
from needlewright.bench.outcome import LampPhoto, Sweep, SweepFound
from needlewright.bench.settling import LOOK_S, Outcome
from needlewright.bench.steps import RunStep
from needlewright.bench.sweep_take import REST_S, SweepFilm
from needlewright.bench.sweeping import Sweeping
from needlewright.errors import RunError
from needlewright.families.lamps import LampGroup, lamp_groups
from needlewright.readings.live import LiveReader
from needlewright.signals.instruments import Instruments

LookThrough = Callable[[SweepFilm], SweepFound]
"""Follows the needles of a sweep's video and finds what went wrong."""
DONE: Final = "settled"


class Checks:
    """Carries out what follows the looks of a run.

    Parameters
    ----------
    kept
        The run.
    devices
        Of the bench.
    wishes
        Of the person.
    key
        The cluster's.
    instruments
        Of the bench.
    reader
        Of the live picture.
    fallen
        Knows which needles followed before.
    look_through
        Follows the video of a sweep; None: nobody does.
    """

    def __init__(
        self,
        kept: KeptRun,
        devices: Devices,
        wishes: Wishes,
        key: ClusterKey,
        *,
        instruments: Instruments,
        reader: LiveReader,
        fallen: Fallen,
        look_through: LookThrough | None = None,
    ) -> None:
        self._kept, self._devices, self._wishes, self._key = kept, devices, wishes, key
        self._look_through = look_through
        self._sweeping = Sweeping(
            kept.family, devices, instruments, wishes, reader=reader, fallen=fallen
        )
        self.lamp_check = LampCheck(devices, wishes)

    def sweep(self, step: RunStep, done: int, told: Callable[[Sweep], None]) -> Outcome:
        """Take the sweep, look it through, keep both.

        Parameters
        ----------
        step
            The step.
        done
            Steps finished then.
        told
            Told what it gave.

        Returns
        -------
        str
            As waiting for needles ends: `settled`, or what the person wants instead.
        """
        while True:
            self._key.turn(on=False)  # steps lost at the check points are found again by homing
            wish = self._held(step)
            if wish != DONE:
                return self._without(wish, done)
            self.lamp_check.lighten()
            taken = self._sweeping.take(
                self._kept.plan.dials,
                self._kept.video_path,
                self._key.off_at_once,
                self._home,
            )
            if isinstance(taken, SweepFilm):
                break
            if taken != "pause":
                return self._without(taken, done)
        self._devices.wait(KEY_OFF_S - REST_S)
        found = None if self._look_through is None else self._look_through(taken)
        sweep = Sweep(
            video=taken.video.name,
            seconds=round(taken.seconds, 3),
            frames=taken.frames,
            dials=tuple(taken.commands),
            at_once=tuple(dial for dial in taken.commands if dial in taken.at_once),
            found=found,
            volts=taken.volts,
            mean_a=taken.mean_a,
            peak_a=taken.peak_a,
        )
        self._kept.keep_check(sweep, done, self._key.key_ons)
        told(sweep)
        return DONE

    def lamps(self, step: RunStep, done: int, told: Callable[[LampPhoto], None]) -> Outcome:
        """Light a group of lamps, and keep its photo.

        Parameters
        ----------
        step
            The step.
        done
            Steps finished then.
        told
            Told of the photo.

        Returns
        -------
        str
            As for the sweep.
        """
        group = self._group(step)
        if not self.lamp_check.dark:  # needles stand where they were told to, if nothing swept
            self._key.turn(on=False)
        while True:
            wish = self._held(step)
            if wish != DONE:
                return self._without(wish, done)
            try:
                seen = self.lamp_check.take(group)
                break
            except CutShort:  # what is wanted is looked at above; nothing: the lamps are lit anew
                if stays_on(group):
                    self._key.turn(on=False)
        path = self._kept.keep_photo(step, seen.pixels)
        photo = LampPhoto(
            group=group.name,
            photo=path.relative_to(self._kept.path.parent).as_posix(),
            lit=seen.lit,
            not_lit=seen.not_lit,
            volts=seen.volts,
            amperes=seen.amperes,
        )
        self._kept.keep_check(photo, done, self._key.key_ons)
        told(photo)
        if stays_on(group):
            self._key.turn(on=False)
        return DONE

    def _home(self) -> Wish | None:
        return self._key.come_to(self._key.key_ons + 1, on=True)

    def _held(self, step: RunStep) -> Outcome:
        """Wait while the person wants to, and have the key on; what else is wanted, if anything."""
        while (wish := self._wishes.look()) == "pause":
            self._devices.wait(LOOK_S)
            self._devices.transport.check()
        if wish != "go_on":
            return wish
        return self._key.come_to(step.key_ons, on=True) or DONE

    def _without(self, wish: Outcome, done: int) -> Outcome:
        if wish == "skip":
            self._kept.keep_check(None, done, self._key.key_ons)
        return wish

    def _group(self, step: RunStep) -> LampGroup:
        family = self._kept.family
        for group in lamp_groups((*family.lamps, *family.tell_tales)):
            if group.name == step.group:
                return group
        raise RunError(
            f"family '{family.name}' has no lamps of the group '{step.group}' any more; put them "
            "back into family.json, or begin the run again"
        )
