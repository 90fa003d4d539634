"""`needlewright burn-in run`: leaves a cluster running, and goes on after an interruption."""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from needlewright.amounts import figure, hours_words, work_words
from needlewright.bench.burn_in.journal import Ended, GoneOn, Happened, Journal
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
    DarkLamps,
    Dwell,
    Given,
    Hours,
    MaybeFamily,
    NoLamps,
    OfJob,
    SweepsEach,
    plan_of,
)
from needlewright.cli.burn_in_place import Place, place_of, say_not_taken_over
from needlewright.cli.burn_in_told import event_words, told
from needlewright.cli.rehearsed_unit import Faults, Seed, unit_of
from needlewright.cli.shop_options import By, ShopFolder
from needlewright.composing.bench_devices import unit_words
from needlewright.composing.bench_sweep import looked_through
from needlewright.composing.burn_in_bench import (
    dials_without_a_person,
    limit_of,
    refuse_on_real_bench,
    rehearsal_work,
    rehearsed_burn_in,
    rehearsed_limit,
)
from needlewright.errors import UsageError
from needlewright.families.model import Family
from needlewright.papers.wording import count_words
from needlewright.rehearsal.cluster.cluster import with_signals
from needlewright.rehearsal.cluster.rehearsal import Unit
from needlewright.signals.settings import BenchSettings, load_settings

STOPPED_CODE: Final = 130
Out = Annotated[
    Path | None,
    typer.Option(
        metavar="FOLDER", help="Where the journal goes; an interrupted one is gone on with."
    ),
]
UnitName = Annotated[
    str | None,
    typer.Option("--unit", metavar="NAME", help="Which cluster: its tag or serial number."),
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
    family: MaybeFamily = None,
    out: Out = None,
    unit: UnitName = None,
    job: OfJob = None,
    hours: Hours = HOURS,
    dwell: Dwell = DWELL_S,
    sweeps_each: SweepsEach = 1,
    check_every: CheckEvery = CHECK_EVERY_H,
    points: Given = None,
    no_lamps: NoLamps = False,
    dark_lamps: DarkLamps = False,
    chamber: Chamber = "",
    bench_file: BenchFile = None,
    camera: CameraNumber = 0,
    rehearse: Rehearse = False,
    fault: Faults = None,
    temperature: Temperature = None,
    seed: Seed = 0,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Leave a cluster running with the camera on it, and keep whatever happens.

    Sweeps, dwells with the lamps on, and visits of the check points take turns. Every event is
    timed, with pictures around it; more current than the family allows switches off. Whatever ends
    it, the same command goes on with the hours counted so far.
    """
    with place_of(family, out, unit, job, (shop, by)) as place:
        stands = _unit_at(place.family, rehearse, fault, temperature, seed)
        on = _on_bench(place.family, stands, bench_file, camera)
        planned = plan_of(
            on.family,
            on.dials,
            hours=hours,
            dwell_s=dwell,
            sweeps_each=sweeps_each,
            check_every_h=check_every,
            points=points or [],
            lamps=not no_lamps,
            dark_lamps=dark_lamps,
            chamber=chamber,
        )
        if stands is None:
            refuse_on_real_bench(planned)
        for line in planned.cautions:
            console.err.print(f"caution: {line}", markup=False)
        ended, journal = _carried_out(on, stands, planned, place, camera)
        say_not_taken_over(place.taken_over())
    if as_json:
        console.emit_json(_document(ended, journal))
    else:
        _say(ended, journal, job)
    _leave(ended)


def _unit_at(
    family: Family,
    rehearse: bool,
    fault: list[str] | None,
    temperature: float | None,
    seed: int,
) -> Unit | None:
    """The rehearsed cluster; None: a real one."""
    if rehearse:
        return unit_of(family, fault, temperature, seed)
    if fault or seed or temperature is not None:
        raise UsageError(
            "--fault, --temperature and --seed are of a rehearsed cluster; add --rehearse"
        )
    return None


def _on_bench(
    family: Family, stands: Unit | None, bench_file: Path | None, camera: int
) -> _OnBench:
    if stands is not None:
        if bench_file is not None or camera:
            raise UsageError("--rehearse needs no bench; leave --bench and --camera out")
        told = with_signals(family)
        dials = tuple(dial.id for dial in told.dials)
        return _OnBench(told, dials, unit_words(stands), rehearsed_limit(told), BenchSettings())
    settings = BenchSettings() if bench_file is None else load_settings(bench_file)
    limit_a = limit_of(family)
    return _OnBench(family, dials_without_a_person(family, settings), REAL, limit_a, settings)


def _carried_out(
    on: _OnBench, stands: Unit | None, planned: BurnInPlan, place: Place, camera: int
) -> tuple[Ended, Journal]:
    """On a real bench nothing is written before its devices are there."""
    if stands is None:
        with real(RealBench(on.settings, camera), on.family) as opened:
            journal = place.begin(planned, on.cluster)
            return _go(journal, on, opened), journal
    journal = place.begin(planned, on.cluster)
    devices = rehearsed_burn_in(on.family, stands, planned, lambda: journal.counts.hours)
    with devices as opened:
        return _go(journal, on, opened), journal


def _go(journal: Journal, on: _OnBench, devices: Devices) -> Ended:
    counts, last = journal.counts, journal.lines[-1]
    if isinstance(last, GoneOn) and last.cut_off:
        console.err.print(
            "the last line of the journal was cut off, as by a power cut; it is left out",
            markup=False,
        )
    if counts.powered_s > 0:
        console.err.print(
            f"going on after {counts.hours:.3f} h and {count_words(counts.sweeps, 'sweep')}",
            markup=False,
        )
    plan = journal.begun.plan
    if journal.is_rehearsed:
        work = rehearsal_work(plan, len(on.family.dials))
        left_s = work.per_hour_s * max(plan.hours - counts.hours, 0.0)
        console.err.print(
            f"a rehearsal of {hours_words(plan.hours)}, its clock let loose: "
            f"some {work_words(left_s)} of work for this computer, if it does nothing else",
            markup=False,
        )
    with told(plan.hours, "rehearsed h" if journal.is_rehearsed else "h") as listeners:
        return BurnInRun(
            journal,
            on.family,
            devices,
            on.limit_a,
            instruments=on.settings.instruments(),
            listeners=listeners,
            look_through=looked_through(on.family),
        ).go()


def _document(ended: Ended, journal: Journal) -> dict[str, Any]:
    counts = ended.counts
    return {
        "journal": str(journal.path),
        "folder": str(journal.folder),
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


def _say(ended: Ended, journal: Journal, job: str | None) -> None:
    if journal.is_rehearsed:
        console.out.print(
            f"{journal.begun.cluster}; nothing of this was seen on a real cluster", markup=False
        )
    for one in journal.lines:
        if isinstance(one, Happened):
            console.out.print(event_words(one), markup=False)
    counts = ended.counts
    of = str(journal.folder) if job is None else f"--job {journal.begun.unit}"
    console.out.print(
        f"{counts.hours:.3f} of {figure(journal.begun.plan.hours)} h, "
        f"{count_words(counts.sweeps, 'sweep')}, {count_words(counts.key_ons, 'key-on')}; "
        f"needlewright burn-in report {of} says what they are worth",
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
