"""A run at the bench, step by step: tell, wait, look, keep."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from time import monotonic
from typing import Final, Literal

from needlewright.bench.devices import Devices, Wishes
from needlewright.bench.fallen import Fallen
from needlewright.bench.keeping import KeptRun
from needlewright.bench.settling import Settled, Watch
from needlewright.bench.steps import RunStep, step_words
from needlewright.errors import UnusableInput
from needlewright.readings.commands import Command as ToldDial
from needlewright.readings.join import join_run
from needlewright.readings.live import LiveLook, LiveReader
from needlewright.readings.model import PhotoReadings
from needlewright.readings.runs import Run, RunRow
from needlewright.signals.instruments import NO_INSTRUMENTS, Instruments
from needlewright.signals.model import Command
from needlewright.signals.wiring import signal_of

HOMING_S: Final = 4.0
"""So long a cluster is given to find its zero after key-on; common practice, no source."""
KEY_OFF_S: Final = 2.5
"""So long needles are given to fall to rest after key-off; common practice, no source."""
NOT_SETTLED: Final = "not_settled"
"""Flag of a needle that never came to stand at a step; such a row has no reading."""
State = Literal["finished", "stopped", "failed"]


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a run stands."""

    done: int
    """Steps finished, in this call and before."""
    of: int
    words: str
    """The step in hand, for people."""
    left_s: float | None
    """How long the rest will take, seconds of the wall's clock; None: not known yet."""


@dataclass(frozen=True, slots=True)
class Ended:
    """How a run ended; what was seen until then is kept in any case."""

    state: State
    words: str
    """One sentence."""
    run: Run
    done: int
    of: int


@dataclass(frozen=True, slots=True)
class Listeners:
    """Who is told what happens."""

    progress: Callable[[Progress], None] = lambda progress: None
    look: Callable[[LiveLook], None] = lambda look: None
    row: Callable[[tuple[RunRow, ...]], None] = lambda rows: None


class BenchRun:
    """Carries a run out, from where it stands.

    Parameters
    ----------
    kept
        The run, with its plan and what is done of it.
    devices
        The bench; its transport is open.
    temperature_c
        Of the cluster; None: not known. What changes is asked for when a step is taken.
    instruments
        Of the bench, for the uncertainty of what is told.
    wishes
        Of the person.
    listeners
        Who is told.

    Raises
    ------
    FamilyError
        If the face's picture cannot be used.
    SignalError
        If a dial of the plan cannot be told its values.
    """

    def __init__(
        self,
        kept: KeptRun,
        devices: Devices,
        *,
        temperature_c: float | Callable[[], float] | None = None,
        instruments: Instruments = NO_INSTRUMENTS,
        wishes: Wishes | None = None,
        listeners: Listeners | None = None,
    ) -> None:
        self._kept, self._devices = kept, devices
        self._temperature_c = temperature_c
        self._listeners = listeners or Listeners()
        self._wishes = wishes or Wishes()
        self._steps = kept.plan.steps
        self._commands = [_commands(kept, step, instruments) for step in self._steps]
        self._reader = LiveReader(kept.family)
        self._watch = Watch(kept.family, self._reader, devices, self._wishes, self._listeners.look)
        self._fallen = Fallen(kept.family)
        self._on: bool | None = None
        self._key_ons = kept.state.key_ons
        self._began_s, self._began_at = monotonic(), kept.state.done

    def go(self) -> Ended:
        """Do what is left of the run.

        Returns
        -------
        Ended
            `finished`; `stopped` by the person; `failed` with the reason. Unless it is finished,
            a run begun on the same file goes on at the same step.
        """
        state: State = "finished"
        words = "every check point was looked at"
        try:
            if self._go_on():
                state, words = "stopped", "stopped by the person at the bench"
            else:
                self._kept.finish()
        except UnusableInput as error:
            state, words = "failed", str(error)
        try:
            self._devices.transport.stop()
            if self._on:
                self._devices.key(False)
        except UnusableInput as error:
            words = f"{words}; and it could not be switched off: {error}"
        return self._ended(state, words)

    def _go_on(self) -> bool:
        """Whether the person stopped it."""
        done = self._kept.state.done
        is_led_in = done > 0
        while done < len(self._steps):
            step = self._steps[done]
            self._tell_progress(done, step)
            settled = self._come_to(done) if is_led_in else self._settle(done)
            if settled.outcome == "stop":
                return True
            is_led_in = settled.outcome == "redo"
            if settled.outcome == "redo":
                done = max(done - 1, 0)
                self._kept.take_back(self._steps[done], done)
                continue
            rows, photo = ((), None) if settled.outcome == "skip" else self._look(done, settled)
            done += 1
            self._kept.keep_step(rows, photo, done, self._key_ons)
            self._listeners.row(rows)
        return False

    def _come_to(self, place: int) -> Settled:
        """Come to a point from the side it is to be come to from, wherever the needles are."""
        is_away = self._on or (place > 0 and bool(self._steps[place - 1].told))
        if place > 0 and self._steps[place].told and is_away:
            before = self._settle(place - 1)
            if before.outcome != "settled":
                return before
        return self._settle(place)

    def _settle(self, place: int) -> Settled:
        step, commands = self._steps[place], self._commands[place]
        while self._key_ons < step.key_ons or (step.told and not self._on):
            if self._wishes.stopping:
                return Settled("stop")
            self._key(on=False)
            self._key(on=True)
        if not step.told:
            self._key(on=False)
            return self._watch.until_settled([d.id for d in self._kept.family.dials], 0.0)
        self._devices.transport.apply(*commands)
        return self._watch.until_settled(list(step.told), _signal_s(commands))

    def _key(self, *, on: bool) -> None:
        """Turn the key, if it does not stand there already, and wait for what follows."""
        if on == self._on:
            return
        was_on, self._on = self._on, on
        if not on:
            self._devices.transport.stop()
        self._devices.key(on)
        if on:
            self._key_ons += 1
        if on or was_on:
            self._watch.wait(HOMING_S if on else KEY_OFF_S)

    def _look(
        self, place: int, settled: Settled
    ) -> tuple[tuple[RunRow, ...], PhotoReadings | None]:
        step = self._steps[place]
        if not settled.standing:
            dials = ", ".join(sorted(settled.hunting))
            where = step_words(step, self._kept.family)
            raise UnusableInput(
                f"no needle comes to stand ({dials}) at {where}: look at the cluster and its "
                "supply, then go on from the same check point"
            )
        path = self._kept.photo_path(step)
        taken = self._reader.take(settled.standing, str(path))
        photo = _without(taken.photo, settled.hunting)
        self._kept.keep_photo(step, taken.frame.pixels)
        told = self._told(place, str(path))
        state = self._kept.state
        rows = join_run(
            state.run, self._kept.family, told, {str(path): photo}, self._kept.path.parent
        ).run.rows
        return self._fallen.judge(rows, step_words(step, self._kept.family)), photo

    def _told(self, place: int, photo: str) -> list[ToldDial]:
        step = self._steps[place]
        commands = {command.dial: command for command in self._commands[place]}
        dials = [d for d in self._kept.family.dials if d.id in step.told or not step.told]
        told_c = self._temperature_c
        degc = told_c() if callable(told_c) else told_c
        now, supply_v = datetime.now(UTC).isoformat(timespec="seconds"), self._devices.supply_v()
        return [
            ToldDial(
                photo=photo,
                dial=dial.id,
                unit=dial.unit,
                approach=step.approach,
                step=step.number,
                commanded=commands[dial.id].value if step.told else None,
                temperature_c=degc,
                u_commanded=commands[dial.id].u_value if step.told else None,
                key_cycle=self._key_ons,
                supply_v=supply_v,
                time=now,
            )
            for dial in dials
        ]

    def _tell_progress(self, done: int, step: RunStep) -> None:
        fresh = done - self._began_at
        left_s = None
        if fresh > 0:
            left_s = (monotonic() - self._began_s) / fresh * (len(self._steps) - done)
        words = step_words(step, self._kept.family)
        self._listeners.progress(Progress(done, len(self._steps), words, left_s))

    def _ended(self, state: State, words: str) -> Ended:
        return Ended(state, words, self._kept.run, self._kept.state.done, len(self._steps))


def _commands(kept: KeptRun, step: RunStep, instruments: Instruments) -> list[Command]:
    return [
        signal_of(kept.family, dial).command(value, bench=instruments)
        for dial, value in step.told.items()
    ]


def _signal_s(commands: list[Command]) -> float:
    """The longest a cluster may take to hear what it is told: a frame's period."""
    periods = [getattr(command.stimulus, "period_s", None) for command in commands]
    return max((period for period in periods if period is not None), default=0.0)


def _without(photo: PhotoReadings, hunting: frozenset[str]) -> PhotoReadings:
    """A needle that hunts is not read, whatever one frame shows of it."""
    readings = tuple(
        replace(
            one,
            status="refused",
            reason=NOT_SETTLED,
            angle_deg=None,
            u_angle_deg=None,
            value=None,
            u_value=None,
            flags=(),
            components_deg=(),
        )
        if one.dial in hunting
        else one
        for one in photo.readings
    )
    return replace(photo, readings=readings)
