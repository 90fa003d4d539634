"""`needlewright burn-in run`: leaves a cluster running, and goes on after an interruption."""

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Final

import typer
from rich.progress import BarColumn, TextColumn, TimeRemainingColumn
from rich.progress import Progress as Bar

from needlewright.bench.burn_in.attended import Listeners, Progress
from needlewright.bench.burn_in.journal import Ended, Happened, Journal, begin
from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.bench.burn_in.run import BurnInRun
from needlewright.bench.devices import Devices
from needlewright.bench.run_state import REAL
from needlewright.cli import console
from needlewright.cli.bench_devices import RealBench, real
from needlewright.cli.burn_in_options import (
    CHECK_EVERY_H,
    DWELL_S,
    HOURS,
    AsJson,
    Chamber,
    CheckEvery,
    Dwell,
    FamilyDir,
    Given,
    Hours,
    NoLamps,
    SweepsEach,
    plan_of,
)
from needlewright.cli.rehearsed_unit import Faults, Seed, unit_of
from needlewright.composing.bench_devices import unit_words
from needlewright.composing.bench_sweep import looked_through
from needlewright.composing.burn_in_bench import (
    dials_without_a_person,
    limit_of,
    rehearsed_burn_in,
    rehearsed_limit,
)
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.rehearsal.cluster.cluster import with_signals
from needlewright.signals.settings import BenchSettings, load_settings

STOPPED_CODE: Final = 130
Out = Annotated[
    Path,
    typer.Option(
        metavar="FOLDER", help="Where the journal goes; an interrupted one is gone on with."
    ),
]
UnitName = Annotated[
    str, typer.Option("--unit", metavar="NAME", help="Which cluster: its tag or serial number.")
]
BenchFile = Annotated[
    Path | None,
    typer.Option("--bench", metavar="BENCH.toml", help="Settings of the bench's devices."),
]
CameraNumber = Annotated[
    int, typer.Option("--camera", metavar="N", help="Camera, as the system counts from 0.")
]
Rehearse = Annotated[
    bool, typer.Option("--rehearse", help="On a simulated cluster, its clock let loose.")
]
Temperature = Annotated[
    float | None, typer.Option(metavar="DEGC", help="Of the rehearsed cluster.")
]


@dataclass(frozen=True, slots=True)
class _OnBench:
    """What it is run on."""

    family: Family
    dials: tuple[str, ...]
    cluster: str
    limit_a: float
    settings: BenchSettings


def run_burn_in(
    *,
    family: FamilyDir,
    out: Out,
    unit: UnitName,
    hours: Hours = HOURS,
    dwell: Dwell = DWELL_S,
    sweeps_each: SweepsEach = 1,
    check_every: CheckEvery = CHECK_EVERY_H,
    points: Given = None,
    no_lamps: NoLamps = False,
    chamber: Chamber = "",
    bench_file: BenchFile = None,
    camera: CameraNumber = 0,
    rehearse: Rehearse = False,
    fault: Faults = None,
    temperature: Temperature = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> None:
    """Leave a cluster running with the camera on it, and keep whatever happens.

    Sweeps, dwells with the lamps on, and visits of the check points take turns. Every event is
    timed, with pictures around it; more current than the family allows switches off. Whatever ends
    it, the same command goes on with the hours counted so far.
    """
    cluster = load_family(family)
    if rehearse:
        if bench_file is not None or camera:
            raise UsageError("--rehearse needs no bench; leave --bench and --camera out")
        stands = unit_of(cluster, fault, temperature, seed)
        cluster = with_signals(cluster)
        dials = tuple(dial.id for dial in cluster.dials)
        on = _OnBench(cluster, dials, unit_words(stands), rehearsed_limit(cluster), BenchSettings())
    else:
        if fault or seed or temperature is not None:
            raise UsageError(
                "--fault, --temperature and --seed are of a rehearsed cluster; add --rehearse"
            )
        stands = None
        settings = BenchSettings() if bench_file is None else load_settings(bench_file)
        limit_a = limit_of(cluster)
        on = _OnBench(cluster, dials_without_a_person(cluster, settings), REAL, limit_a, settings)
    if not unit.strip():
        raise UsageError("--unit: say which cluster it is, by its tag or serial number")
    planned = plan_of(
        on.family,
        on.dials,
        hours=hours,
        dwell_s=dwell,
        sweeps_each=sweeps_each,
        check_every_h=check_every,
        points=points or [],
        lamps=not no_lamps,
        chamber=chamber,
    )
    for line in planned.cautions:
        console.err.print(f"caution: {line}", markup=False)
    devices: AbstractContextManager[Devices]
    if stands is None:
        with real(RealBench(on.settings, camera), on.family) as opened:
            ended, journal = _carried_out(on, planned, out, unit, opened)
    else:
        journal = begin(out, on.family.name, on.cluster, unit, planned)
        devices = rehearsed_burn_in(on.family, stands, planned, lambda: journal.counts.hours)
        with devices as opened:
            ended = _go(journal, on, opened)
    if as_json:
        console.emit_json(_document(ended, journal, out))
    else:
        _say(ended, journal, out)
    _leave(ended)


def _carried_out(
    on: _OnBench, planned: BurnInPlan, out: Path, unit: str, devices: Devices
) -> tuple[Ended, Journal]:
    """On a real bench nothing is written before its devices are there."""
    journal = begin(out, on.family.name, on.cluster, unit, planned)
    return _go(journal, on, devices), journal


def _go(journal: Journal, on: _OnBench, devices: Devices) -> Ended:
    counts = journal.counts
    if counts.powered_s > 0:
        console.err.print(
            f"going on after {counts.hours:.3f} h and {counts.sweeps} sweeps", markup=False
        )
    with _told(journal.begun.plan.hours) as listeners:
        return BurnInRun(
            journal,
            on.family,
            devices,
            on.limit_a,
            instruments=on.settings.instruments(),
            listeners=listeners,
            look_through=looked_through(on.family),
        ).go()


@contextmanager
def _told(of_hours: float) -> Iterator[Listeners]:
    """A bar and the events, on standard error where that is a terminal."""
    if not console.err.is_terminal:
        yield Listeners()
        return
    columns = (
        TextColumn("burn-in"),
        BarColumn(),
        TextColumn("{task.completed:.2f} of {task.total:g} h"),
        TextColumn("{task.description}"),
        TimeRemainingColumn(),
    )
    with Bar(*columns, console=console.err, transient=True) as bar:
        task = bar.add_task("", total=of_hours)

        def progress(now: Progress) -> None:
            words = f"{now.counts.sweeps} sweeps, {now.events} events, {now.words}"
            bar.update(task, completed=min(now.counts.hours, of_hours), description=words)

        def event(one: Happened) -> None:
            bar.console.print(_event_words(one), markup=False)

        yield Listeners(progress=progress, event=event)


def _event_words(one: Happened) -> str:
    return f"{one.counts.hours:.3f} h  {one.where}: {one.words}"


def _document(ended: Ended, journal: Journal, out: Path) -> dict[str, Any]:
    counts = ended.counts
    return {
        "journal": str(journal.path),
        "folder": str(out),
        "unit": journal.begun.unit,
        "cluster": journal.begun.cluster,
        "rehearsed": journal.is_rehearsed,
        "state": ended.state,
        "words": ended.words,
        "hours": counts.hours,
        "of_hours": journal.begun.plan.hours,
        "sweeps": counts.sweeps,
        "key_ons": counts.key_ons,
        "events": sum(isinstance(one, Happened) for one in journal.lines),
    }


def _say(ended: Ended, journal: Journal, out: Path) -> None:
    if journal.is_rehearsed:
        console.out.print(
            f"{journal.begun.cluster}; nothing of this was seen on a real cluster", markup=False
        )
    for one in journal.lines:
        if isinstance(one, Happened):
            console.out.print(_event_words(one), markup=False)
    counts = ended.counts
    console.out.print(
        f"{counts.hours:.3f} of {journal.begun.plan.hours:g} h, {counts.sweeps} sweeps, "
        f"{counts.key_ons} key-ons; needlewright burn-in report {out} says what they are worth",
        markup=False,
    )


def _leave(ended: Ended) -> None:
    """End the command as the run ended."""
    if ended.state == "finished":
        return
    kept = f"{ended.counts.hours:.3f} h are kept, and the same command goes on from there"
    if ended.state == "stopped":
        console.err.print(kept, markup=False)
        raise typer.Exit(STOPPED_CODE)
    console.say_error(f"{ended.words}; {kept}")
    raise typer.Exit(1)
