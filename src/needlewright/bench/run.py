"""A run at the bench, step by step: tell, wait, look, keep."""

from collections.abc import Callable
from dataclasses import dataclass, field
from time import monotonic
from typing import Final, Literal

from needlewright.bench.checks import Checks, LookThrough
from needlewright.bench.devices import CutShort, Devices, Wishes
from needlewright.bench.fallen import Fallen
from needlewright.bench.keeping import KeptRun
from needlewright.bench.key import ClusterKey
from needlewright.bench.looking import NOT_SETTLED, Looking, Temperature
from needlewright.bench.outcome import LampPhoto, Outcome, Sweep
from needlewright.bench.settling import Settled, Watch, heard_after_s
from needlewright.bench.steps import RunStep, step_words
from needlewright.errors import UnusableInput
from needlewright.readings.live import LiveLook, LiveReader
from needlewright.readings.model import PhotoReadings
from needlewright.readings.runs import Run, RunRow
from needlewright.signals.instruments import NO_INSTRUMENTS, Instruments
from needlewright.signals.model import Command
from needlewright.signals.wiring import signal_of

__all__ = ["NOT_SETTLED", "BenchRun", "Ended", "Listeners", "Progress", "State"]

SWEEP_LOOKS: Final = 8.0
"""A sweep with its looking through takes as long as so many looks, about."""
STOPPED: Final = "stopped by the person at the bench"
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
    outcome: Outcome = field(default_factory=Outcome)
    """What it gave beside its rows."""


@dataclass(frozen=True, slots=True)
class Listeners:
    """Who is told what happens."""

    progress: Callable[[Progress], None] = lambda progress: None
    look: Callable[[LiveLook], None] = lambda look: None
    row: Callable[[tuple[RunRow, ...]], None] = lambda rows: None
    sweep: Callable[[Sweep], None] = lambda sweep: None
    lamp: Callable[[LampPhoto], None] = lambda photo: None


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
    look_through
        Follows the video of the sweep; None: it is kept, and nobody does.

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
        temperature_c: Temperature = None,
        instruments: Instruments = NO_INSTRUMENTS,
        wishes: Wishes | None = None,
        listeners: Listeners | None = None,
        look_through: LookThrough | None = None,
    ) -> None:
        self._kept, self._devices = kept, devices
        self._listeners = listeners or Listeners()
        self._wishes = wishes or Wishes()
        self._steps = kept.plan.steps
        self._commands = [_commands(kept, step, instruments) for step in self._steps]
        reader = LiveReader(kept.family)
        self._watch = Watch(kept.family, reader, devices, self._wishes, self._listeners.look)
        fallen = Fallen(kept.family, kept.state.rows)
        self._looking = Looking(kept, devices, reader, fallen, temperature_c)
        self._key = ClusterKey(
            devices,
            self._wishes,
            kept.state.key_ons,
            wait=self._watch.wait,
            counted=kept.keep_key_ons,
            drawn=kept.keep_current,
        )
        self._checks = Checks(
            kept,
            devices,
            self._wishes,
            self._key,
            instruments=instruments,
            reader=reader,
            fallen=fallen,
            look_through=look_through,
        )
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
        wrong: list[str] = []
        try:
            if self._go_on():
                state, words = "stopped", STOPPED
            else:
                self._kept.finish()
        except UnusableInput as error:
            state, words = "failed", str(error)
        except KeyboardInterrupt:  # the person at a terminal
            self._wishes.want("stop")
            state, words = "stopped", STOPPED
        finally:
            self._switch_off(wrong)
        if wrong:
            words = f"{words}; and it could not be switched off: {'; and '.join(wrong)}"
        return self._ended(state, words)

    def _switch_off(self, wrong: list[str]) -> None:
        """Take everything off, the power too, and let there be light; whatever one of them says."""

        def power_off() -> None:
            if self._key.may_be_on:
                self._devices.key(False)

        for act in (self._devices.transport.stop, power_off, self._checks.lamp_check.lighten):
            try:
                act()
            except (CutShort, KeyboardInterrupt):  # the person is told, and not waited for
                continue
            except UnusableInput as error:
                wrong.append(str(error))

    def _go_on(self) -> bool:
        """Whether the person stopped it."""
        done = self._kept.state.done
        is_led_in = done > 0
        while done < len(self._steps):
            step = self._steps[done]
            self._tell_progress(done, step)
            if step.kind == "look":
                outcome = self._read(done, is_led_in=is_led_in)
            elif step.kind == "sweep":
                outcome = self._checks.sweep(step, done + 1, self._listeners.sweep)
            else:
                outcome = self._checks.lamps(step, done + 1, self._listeners.lamp)
            if outcome == "stop":
                return True
            is_led_in = outcome == "redo"
            if outcome == "redo":
                done = max(done - 1, 0)
                self._kept.take_back(self._steps[done], done)
            else:
                done += 1
        return False

    def _read(self, place: int, *, is_led_in: bool) -> str:
        """Come to a look's point, read the needles, keep the rows; how that ended."""
        self._checks.lamp_check.lighten()
        settled = self._come_to(place) if is_led_in else self._settle(place)
        if settled.outcome in ("stop", "redo"):
            return settled.outcome
        rows, photo = ((), None) if settled.outcome == "skip" else self._look(place, settled)
        self._kept.keep_step(rows, photo, place + 1, self._key.key_ons)
        self._listeners.row(rows)
        return settled.outcome

    def _come_to(self, place: int) -> Settled:
        """Come to a point from the side it is to be come to from, wherever the needles are."""
        is_away = self._key.may_be_on or (place > 0 and bool(self._steps[place - 1].told))
        if place > 0 and self._steps[place].told and is_away:
            before = self._settle(place - 1)
            if before.outcome != "settled":
                return before
        return self._settle(place)

    def _settle(self, place: int) -> Settled:
        step, commands = self._steps[place], self._commands[place]
        while True:
            if self._wishes.stopping:  # nothing new goes on the wires
                return Settled("stop")
            wish = self._key.come_to(step.key_ons, on=bool(step.told))
            if wish is None and not step.told:
                wish = self._key.come_off()
            if wish is not None:
                return Settled(wish)
            if not step.told:
                return self._watch.until_settled([d.id for d in self._kept.family.dials], 0.0)
            try:
                self._devices.transport.apply(*commands)
            except CutShort:
                if (wish := self._wishes.instead()) is not None:
                    return Settled(wish)
                continue  # nothing else is wanted after all: asked once more
            return self._watch.until_settled(list(step.told), heard_after_s(commands))

    def _look(
        self, place: int, settled: Settled
    ) -> tuple[tuple[RunRow, ...], PhotoReadings | None]:
        step, commands = self._steps[place], self._commands[place]
        return self._looking.take(step, commands, settled, self._key.key_ons)

    def _tell_progress(self, done: int, step: RunStep) -> None:
        fresh = _looks_worth(self._steps[self._began_at : done])
        left_s = None
        if done > self._began_at:
            each_s = (monotonic() - self._began_s) / fresh
            left_s = each_s * _looks_worth(self._steps[done:])
        words = step_words(step, self._kept.family)
        self._listeners.progress(Progress(done, len(self._steps), words, left_s))

    def _ended(self, state: State, words: str) -> Ended:
        kept = self._kept.state
        return Ended(state, words, self._kept.run, kept.done, len(self._steps), kept.outcome)


def _looks_worth(steps: tuple[RunStep, ...]) -> float:
    """How many looks steps take as long as."""
    return sum(SWEEP_LOOKS if step.kind == "sweep" else 1.0 for step in steps)


def _commands(kept: KeptRun, step: RunStep, instruments: Instruments) -> list[Command]:
    return [
        signal_of(kept.family, dial).command(value, bench=instruments)
        for dial, value in step.told.items()
    ]
