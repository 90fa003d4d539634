"""Carrying a temperature series out: cool, wait, take the run while it warms, cool again."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final, Literal, Protocol

from needlewright.bench.checks import LookThrough
from needlewright.bench.devices import Devices, Wishes
from needlewright.bench.keeping import begin, state_path
from needlewright.bench.run import BenchRun, Ended, Listeners, Progress
from needlewright.bench.series import KeptSeries
from needlewright.bench.series_state import StepTemperature, TypedReading
from needlewright.bench.soak import SOAKED_DEGC, Conditions
from needlewright.bench.stays import Cooling, known_at, stay_after, stay_in_room
from needlewright.bench.steps import RunPlan
from needlewright.errors import RunError, UnusableInput
from needlewright.families.model import Family
from needlewright.readings.run_csv import read_run, write_run
from needlewright.readings.runs import Run
from needlewright.signals.instruments import NO_INSTRUMENTS, Instruments

State = Literal["finished", "stopped", "failed"]
READ_U_DEGC: Final = 0.5
"""Of reading a thermometer and the moment; common practice, no source."""
MOST_STAYS: Final = 40
"""So often a cluster is cooled again for one temperature before something is wrong."""


@dataclass(frozen=True, slots=True)
class Soaked:
    """What the person did."""

    soaked_s: float
    """How long the cluster was in the freezer; of a chamber nothing is asked."""
    thermometer_c: float | None
    """What a thermometer beside the movements shows now; None: there is none."""


class Attendant(Protocol):
    """Whoever cools the cluster, and keeps the series' clock; a rehearsal does it by itself."""

    def now_s(self) -> float:
        """The series' clock: seconds that go on while nobody is there."""

    def cool(self, asked: Cooling) -> Soaked | None:
        """Bring the cluster to a temperature; None: given up."""

    def begins(self, stay: int, kept: KeptSeries) -> None:
        """A stay begins, or is gone on with."""

    def wait(self, seconds: float, words: str) -> None:
        """Let time pass; nothing is read meanwhile."""

    def thermometer_c(self, words: str) -> float | None:
        """Ask for what a thermometer shows now; None: there is none."""


@dataclass(frozen=True, slots=True)
class Told:
    """Who is told what happens."""

    temperature: Callable[[int, float, int, int], None] = lambda place, degc, done, of: None
    """Which temperature is in hand, how warm the cluster is, steps done and of all."""
    listeners: Listeners = field(default_factory=Listeners)


@dataclass(frozen=True, slots=True)
class SeriesEnded:
    """How a series ended; what was taken until then is kept in any case."""

    state: State
    words: str
    """One sentence."""


class SeriesRun:
    """Carries a series out, from where it stands.

    Parameters
    ----------
    kept
        The series.
    family
        The cluster design.
    plan
        Of the run at a temperature, by its place among them.
    conditions
        Of the bench and the cold.
    devices
        Of the bench; its transport is open.
    attendant
        Cools, and keeps the clock.
    instruments
        Of the bench, for the uncertainty of what is told.
    wishes
        Of the person.
    told
        Who is told.
    look_through
        Follows the videos of the sweeps, where the plan has any; None: they are kept, and nobody
        does.
    """

    def __init__(
        self,
        kept: KeptSeries,
        family: Family,
        plan: Callable[[int], RunPlan],
        *,
        conditions: Conditions,
        devices: Devices,
        attendant: Attendant,
        instruments: Instruments = NO_INSTRUMENTS,
        wishes: Wishes | None = None,
        told: Told | None = None,
        look_through: LookThrough | None = None,
    ) -> None:
        self._kept, self._family, self._plan = kept, family, plan
        self._conditions, self._devices, self._attendant = conditions, devices, attendant
        self._instruments, self._wishes = instruments, wishes or Wishes()
        self._told, self._look_through = told or Told(), look_through
        self._step: int = 0
        self._too_warm = False

    def go(self) -> SeriesEnded:
        """Do what is left of the series.

        Returns
        -------
        SeriesEnded
            Unless it is finished, a series begun on the same folder goes on at the same step of
            the same temperature.
        """
        state: State = "finished"
        words = "every temperature was taken"
        try:
            if self._kept.state.stays:
                self._attendant.begins(len(self._kept.state.stays) - 1, self._kept)
            for place in range(len(self._kept.state.temperatures)):
                if self._kept.state.temperatures[place].state == "finished":
                    continue
                ended = self._take(place)
                if ended.state != "finished":
                    at = self._kept.state.temperatures[place].at_c
                    return SeriesEnded(ended.state, f"{ended.words} (at {at:g} degC)")
        except UnusableInput as error:
            state, words = "failed", str(error)
        return SeriesEnded(state, words)

    def _take(self, place: int) -> Ended:
        """The run at one temperature, with as many stays in the cold as it needs."""
        path = self._kept.run_path(place)
        if path.exists() and not state_path(path).exists():
            # the run was finished, and the series was not told any more
            return self._finished(place, read_run(path))
        for _ in range(MOST_STAYS):
            self._be_at(place)
            ended = self._run(place, path)
            if ended.state == "finished":
                return self._finished(place, ended.run)
            if not self._too_warm:
                return ended
        raise RunError(
            f"the cluster was cooled {MOST_STAYS} times for one temperature and warms too fast for "
            "its steps; take fewer check points, or allow more with --within"
        )

    def _run(self, place: int, path: Path) -> Ended:
        self._too_warm = False
        kept = begin(path, self._family, self._plan(place), self._kept.state.cluster)
        theirs = self._told.listeners

        def progress(now: Progress) -> None:
            step = kept.plan.steps[now.done]
            self._step = step.number
            degc = self._now().temperature_c
            self._told.temperature(place, degc, now.done, now.of)
            theirs.progress(now)
            self._refuse_too_warm(place, degc)
            if step.kind != "look":
                self._note(place)  # such a step asks for no temperature itself

        self._kept.keep(self._kept.change(place, state="begun"))
        run = BenchRun(
            kept,
            self._devices,
            temperature_c=lambda: self._note(place),
            instruments=self._instruments,
            wishes=self._wishes,
            listeners=replace(theirs, progress=progress),
            look_through=self._look_through,
        )
        return run.go()

    def _now(self) -> StepTemperature:
        state = self._kept.state
        stay = len(state.stays) - 1
        return state.temperature_of(stay, self._in_stay_s())

    def _in_stay_s(self) -> float:
        return max(self._attendant.now_s() - self._kept.state.stays[-1].started_s, 0.0)

    def _note(self, place: int) -> float:
        """Keep how warm it is at the step in hand."""
        now = self._now()
        steps = {**self._kept.state.temperatures[place].steps, self._step: now}
        state = self._kept.change(place, steps=steps)
        self._kept.keep(state.model_copy(update={"clock_s": self._attendant.now_s()}))
        return now.temperature_c

    def _refuse_too_warm(self, place: int, degc: float) -> None:
        at, within = self._kept.state.temperatures[place].at_c, self._conditions.within_degc
        if self._conditions.way == "freezer-bag" and degc > at + within:
            self._too_warm = True
            raise RunError(
                f"the cluster has warmed to {degc:.1f} degC, more than {within:g} degC above "
                f"{at:g}; cool it again, and it goes on at the same step"
            )

    def _be_at(self, place: int) -> None:
        """Come to a temperature: still on the way there, or by a stay in the cold."""
        at = self._kept.state.temperatures[place].at_c
        if not self._is_on_the_way(at):
            self._cool(at)
        warming = self._kept.state.stays[-1].warming
        if self._conditions.way == "chamber":
            start = warming.start
            until_s: float | None = 60.0 * self._conditions.soak_min(at, start)
        else:
            until_s = warming.seconds_until(self._conditions.begins_degc(at))
        left_s = 0.0 if until_s is None else until_s - self._in_stay_s()
        if left_s > 0.0:
            verb = "soaks" if self._conditions.way == "chamber" else "warms"
            self._attendant.wait(left_s, f"the cluster {verb} to {at:g} degC")

    def _is_on_the_way(self, at: float) -> bool:
        """Whether the stay in hand comes to the temperature, or is there."""
        state, within = self._kept.state, self._conditions.within_degc
        if self._conditions.way == "chamber":
            return bool(state.stays) and state.stays[-1].surroundings_c.value == at
        if not state.stays:
            if abs(at - self._conditions.room.value) > within:
                return False
            self._begin(stay_in_room(self._conditions, self._attendant.now_s()))
        return self._now().temperature_c <= at + within - SOAKED_DEGC / 2

    def _cool(self, at: float) -> None:
        conditions, stays = self._conditions, self._kept.state.stays
        start = conditions.room if not stays else known_at(stays[-1], self._in_stay_s())
        asked = Cooling(at, conditions, start)
        soaked = self._attendant.cool(asked)
        if soaked is None:
            raise RunError("the cluster was not cooled: given up at the bench")
        self._begin(stay_after(asked, soaked.soaked_s, self._attendant.now_s()))
        self._typed(soaked.thermometer_c)

    def _begin(self, stay: object) -> None:
        state = self._kept.state
        self._kept.keep(state.model_copy(update={"stays": (*state.stays, stay)}))
        self._attendant.begins(len(self._kept.state.stays) - 1, self._kept)

    def _typed(self, degc: float | None) -> None:
        """Take a thermometer's word in; one that cannot be is said and leaves all as it was."""
        if degc is None:
            return
        stays = self._kept.state.stays
        reading = TypedReading(seconds=self._in_stay_s(), degc=degc, u_degc=READ_U_DEGC)
        stay = stays[-1].model_copy(update={"readings": (*stays[-1].readings, reading)})
        stay.warming  # noqa: B018  refuses a slip before anything is kept
        self._kept.keep(self._kept.state.model_copy(update={"stays": (*stays[:-1], stay)}))

    def _finished(self, place: int, run: Run) -> Ended:
        self._typed(self._attendant.thermometer_c("the run is done"))
        self._kept.keep(self._kept.change(place, state="finished"))
        keep_corrected(self._kept)
        of = len(self._plan(place).steps)
        return Ended("finished", "every check point was looked at", run, of, of)


def keep_corrected(kept: KeptSeries) -> tuple[str, ...]:
    """Work every step's temperature out anew and put it into the finished runs.

    Parameters
    ----------
    kept
        A series.

    Returns
    -------
    tuple of str
        File names of the runs that changed.

    Raises
    ------
    RunError
        If a run cannot be read or written, or a reading cannot be.
    """
    state = kept.state.corrected()
    changed: list[str] = []
    for place, at in enumerate(state.temperatures):
        path = kept.run_path(place)
        if at.state != "finished" or not path.exists():
            continue
        run = read_run(path)
        rows = tuple(
            row
            if row.step not in at.steps
            else replace(row, temperature_c=at.steps[row.step].temperature_c)
            for row in run.rows
        )
        if rows != run.rows:
            write_run(path, Run(run.name, rows))
            changed.append(at.run)
    kept.keep(state)
    return tuple(changed)
