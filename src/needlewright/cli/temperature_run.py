"""`needlewright temperature-series run`: cool, take the run while it warms, and so on."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from needlewright.bench.devices import Devices
from needlewright.bench.series import KeptSeries, begin_series, open_series
from needlewright.bench.series_run import (
    Attendant,
    SeriesEnded,
    SeriesRun,
)
from needlewright.bench.series_state import StepTemperature, Which, fresh_series
from needlewright.bench.soak import (
    cautions,
    in_order,
    refuse_out_of_reach,
)
from needlewright.bench.steps import KEY_ONS, RunPlan, with_checks
from needlewright.cli import console
from needlewright.cli.bench import STOPPED_CODE, BenchFile, Dials, Given, KeyOns, MaxSpeed
from needlewright.cli.bench import Which as WhichRun
from needlewright.cli.bench_devices import REHEARSED, RealBench, real
from needlewright.cli.bench_points import Points, plan_like, plan_of
from needlewright.cli.rehearsed_unit import Faults, Seed, unit_of
from needlewright.cli.signal_send import show_lines
from needlewright.cli.temperature_attendant import PersonAtTerminal, SeriesBar
from needlewright.cli.temperature_conditions import (
    FREEZER,
    HUMIDITY,
    PLACE_U_DEGC,
    ROOM,
    WITHIN_DEGC,
    AsJson,
    Asked,
    FamilyDir,
    Freezer,
    Humidity,
    Mass,
    PlaceU,
    Room,
    TimeConstantOption,
    WayOption,
    Within,
    conditions_of,
    temperatures_of,
)
from needlewright.cli.temperature_documents import (
    cold_lines,
    conditions_document,
    event_lines,
    series_document,
    series_table,
)
from needlewright.composing.bench_devices import opened
from needlewright.composing.bench_sweep import looked_through
from needlewright.composing.cold_series import cold_findings
from needlewright.composing.rehearsed_series import RehearsedAttendant
from needlewright.composing.series_summary import summaries
from needlewright.errors import RunError, UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.rehearsal.cluster.cluster import with_signals
from needlewright.rehearsal.cluster.rehearsal import Unit, faults_said
from needlewright.rehearsal.warming import WarmingRehearsal
from needlewright.signals.settings import BenchSettings, load_settings
from needlewright.signals.wiring import signal_of


def run_series(
    which: Annotated[WhichRun, typer.Argument(metavar="WHICH", help="as-found or as-left.")],
    *,
    family: FamilyDir,
    out: Annotated[
        Path,
        typer.Option(
            metavar="DIR", help="Folder of the series; an interrupted one is gone on with."
        ),
    ],
    at: Annotated[
        str | None, typer.Option(metavar="DEGC,DEGC...", help="Temperatures, like -20,-10,0,23.")
    ] = None,
    repeats: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="As left: the as-found series to repeat."),
    ] = None,
    way: WayOption = "freezer-bag",
    freezer: Freezer = FREEZER,
    room: Room = ROOM,
    humidity: Humidity = HUMIDITY,
    time_constant: TimeConstantOption = None,
    mass: Mass = None,
    place_u: PlaceU = PLACE_U_DEGC,
    within: Within = WITHIN_DEGC,
    thermometer: Annotated[
        bool,
        typer.Option("--thermometer", help="One lies beside the movements: ask for what it shows."),
    ] = False,
    dial: Dials = None,
    points: Given = None,
    max_speed: MaxSpeed = None,
    key_ons: KeyOns = ",".join(map(str, KEY_ONS)),
    sweep: Annotated[
        bool,
        typer.Option(
            "--sweep", help="Also drive all dials to full scale and back at each, filmed."
        ),
    ] = False,
    bench_file: BenchFile = None,
    camera: Annotated[
        int, typer.Option(metavar="N", help="Camera, as the system counts from 0.")
    ] = 0,
    rehearse: Annotated[
        bool, typer.Option("--rehearse", help="On a simulated cluster, its clock let loose.")
    ] = False,
    fault: Faults = None,
    seed: Seed = 0,
    as_json: AsJson = False,
) -> None:
    """Take the same run at every temperature, each in a file of its own.

    Every row says how warm the movements were by then, and series.json how well that is known.
    Whatever ends a series, the same command goes on at the same step of the same temperature. A
    cluster in a bag that warms too far is cooled again in between.
    """
    if not rehearse and (fault or seed):
        raise UsageError("--fault and --seed are of a rehearsed cluster; add --rehearse")
    if rehearse and (bench_file is not None or camera):
        raise UsageError("--rehearse needs no bench; leave --bench and --camera out")
    cluster = load_family(family)
    asked = Asked(way, freezer, room, humidity, time_constant, mass, place_u, within)
    conditions = conditions_of(asked, cluster)
    unit = unit_of(cluster, fault, None, seed) if rehearse else None
    if rehearse:
        cluster = with_signals(cluster)
    typed = Points(dial or [], points or [], max_speed, key_ons)
    whole = _as_left(repeats, at, typed) if which is WhichRun.AS_LEFT else _as_found(at, repeats)
    temperatures = in_order(whole, conditions.way)
    refuse_out_of_reach(temperatures, conditions)
    settings = BenchSettings() if bench_file is None else load_settings(bench_file)
    kept = begin_series(
        out,
        fresh_series(
            family=cluster.name,
            cluster="bench" if unit is None else _unit_words(unit),
            which=_which(which),
            way=conditions.way,
            at=temperatures,
            time_constant_source=conditions.time_constant.source,
            clock_s=time.time() if unit is None else 0.0,
        ),
    )

    def planned(place: int) -> RunPlan:
        if repeats is None:
            looks = plan_of(cluster, typed)
        else:
            name = kept.state.temperatures[place].run
            looks = plan_like(repeats / name, cluster, out / name)
        return with_checks(looks, cluster, sweep=sweep, lamps=False)

    for place in range(len(temperatures)):
        _refuse_untellable(planned(place), cluster, settings)
    bar = SeriesBar(temperatures)
    place_bench = _Bench(unit, settings, camera, thermometer)
    with _at_bench(place_bench, kept, bar, cluster) as (devices, attendant):
        show_lines([f"caution: {line}" for line in cautions(conditions.way)])
        series = SeriesRun(
            kept,
            cluster,
            planned,
            conditions=conditions,
            devices=devices,
            attendant=attendant,
            instruments=settings.instruments(),
            told=bar.told,
            look_through=looked_through(cluster),
        )
        ended = _go(series, bar)
        true_degc = _truth_of(attendant)
    if as_json:
        console.emit_json(
            {
                "state": ended.state,
                "words": ended.words,
                "rehearsed": None if unit is None else _unit_document(unit),
                "conditions": conditions_document(conditions),
                **series_document(
                    kept, summaries(kept, cluster), cold_findings(kept, cluster), true_degc
                ),
            }
        )
    else:
        _say(kept, cluster, unit)
    _leave(ended, kept)


@dataclass(frozen=True, slots=True)
class _Bench:
    """What the series is taken on."""

    unit: Unit | None
    settings: BenchSettings
    camera: int
    thermometer: bool


def _as_found(at: str | None, repeats: Path | None) -> tuple[float, ...]:
    if repeats is not None:
        raise UsageError("--repeats goes with as-left")
    if at is None:
        raise UsageError("say at which temperatures, like --at -20,-10,0,23")
    return temperatures_of(at)


def _as_left(repeats: Path | None, at: str | None, typed: Points) -> tuple[float, ...]:
    if repeats is None:
        raise UsageError("as-left repeats an as-found series; name its folder with --repeats DIR")
    if at is not None or typed.dials or typed.given:
        raise UsageError("as-left repeats every point as found; leave out --at, --dial, --points")
    state = open_series(repeats).state
    if any(one.state != "finished" for one in state.temperatures):
        raise RunError(f"{repeats}: the as-found series is not finished; finish it first")
    return tuple(one.at_c for one in state.temperatures)


def _refuse_untellable(plan: RunPlan, family: Family, settings: BenchSettings) -> None:
    """Say before hours of cooling what no dial can be told."""
    for step in plan.steps:
        for dial, value in step.told.items():
            signal_of(family, dial).command(value, bench=settings.instruments())


def _which(which: WhichRun) -> Which:
    return "as-found" if which is WhichRun.AS_FOUND else "as-left"


def _unit_words(unit: Unit) -> str:
    return f"rehearsed, {faults_said(unit.injected)}, seed {unit.seed}"


@contextmanager
def _at_bench(
    bench: _Bench, kept: KeptSeries, bar: SeriesBar, family: Family
) -> Iterator[tuple[Devices, Attendant]]:
    if bench.unit is None:
        person = PersonAtTerminal(bar, thermometer=bench.thermometer)
        with real(RealBench(bench.settings, bench.camera), family) as devices:
            yield devices, person
        return
    rehearsal = WarmingRehearsal(family, bench.unit, begun_s=kept.state.clock_s)
    with opened(rehearsal) as devices:
        yield devices, RehearsedAttendant(rehearsal, bench.unit.seed, reads=bench.thermometer)


def _go(series: SeriesRun, bar: SeriesBar) -> SeriesEnded:
    """Carry it out; Ctrl-C is a person who stops it."""
    try:
        with bar.shown():
            return series.go()
    except KeyboardInterrupt:
        return SeriesEnded("stopped", "stopped by the person at the bench")


def _truth_of(attendant: Attendant) -> Callable[[StepTemperature], float | None]:
    if not isinstance(attendant, RehearsedAttendant):
        return lambda step: None

    def true_degc(step: StepTemperature) -> float | None:
        if step.stay not in attendant.truth:
            return None  # of a stay before this call
        return round(attendant.true_degc(step.stay, step.seconds), 2)

    return true_degc


def _say(kept: KeptSeries, family: Family, unit: Unit | None) -> None:
    if unit is not None:
        console.out.print(f"{_unit_words(unit)}; {REHEARSED}", markup=False)
    console.out.print("largest error of each needle; ± is U of the temperature, k = 2")
    summed = summaries(kept, family)
    console.out.print(series_table(summed))
    for line in (*event_lines(summed), *cold_lines(cold_findings(kept, family))):
        console.out.print(line, markup=False)
    console.out.print(f"\nwritten to {kept.folder}", markup=False)


def _leave(ended: SeriesEnded, kept: KeptSeries) -> None:
    """With the code that says how it ended."""
    if ended.state == "finished":
        return
    done = sum(one.state == "finished" for one in kept.state.temperatures)
    words = (
        f"{done} of {len(kept.state.temperatures)} temperatures are finished, and the same command "
        "goes on at the same step"
    )
    if ended.state == "stopped":
        console.err.print(words, markup=False)
        raise typer.Exit(STOPPED_CODE)
    console.say_error(f"{ended.words}; {words}")
    raise typer.Exit(1)


def _unit_document(unit: Unit) -> dict[str, Any]:
    return {
        "faults": [
            {"dial": f.dial, "fault": f.code, "size": f.size, "begins": f.begins}
            for f in unit.injected
        ],
        "seed": unit.seed,
    }
