"""`needlewright bench`: the whole as-found or as-left run, on a cluster or on a rehearsed one."""

from contextlib import AbstractContextManager
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Final

import typer

from needlewright.bench.devices import Devices
from needlewright.bench.keeping import KeptRun, begin
from needlewright.bench.run import BenchRun, Ended, Listeners
from needlewright.bench.steps import KEY_ONS, RunPlan, with_checks
from needlewright.cli import console
from needlewright.cli.bench_devices import RealBench, real, rehearsed
from needlewright.cli.bench_points import Points, plan_like, plan_of
from needlewright.cli.bench_said import bench_document, show_bench
from needlewright.cli.progress import progress_bar
from needlewright.cli.rehearsed_unit import Faults, Seed, unit_of
from needlewright.composing.bench_devices import unit_words
from needlewright.composing.bench_sweep import looked_through
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.rehearsal.cluster.cluster import with_signals
from needlewright.rehearsal.cluster.rehearsal import Unit
from needlewright.signals.settings import BenchSettings, load_settings

STOPPED_CODE: Final = 130

app = typer.Typer(add_completion=False)


class Which(StrEnum):
    """Which run of the job."""

    AS_FOUND = "as-found"
    AS_LEFT = "as-left"


Out = Annotated[
    Path,
    typer.Option(metavar="RUN.csv", help="File of the run; an interrupted one is gone on with."),
]
Repeats = Annotated[
    Path | None,
    typer.Option(metavar="RUN.csv", help="As left: the as-found run to repeat point for point."),
]
Dials = Annotated[
    list[str] | None,
    typer.Option(metavar="DIAL", help="Tell only this dial; all that have a signal otherwise."),
]
Given = Annotated[
    list[str] | None,
    typer.Option(
        metavar="DIAL=V,V...",
        help="Check points of a dial, rising, in its unit; by its rule and marks otherwise.",
    ),
]
MaxSpeed = Annotated[
    float | None,
    typer.Option(
        metavar="SPEED", help="The vehicle's maximum design speed, in the speedometer's unit."
    ),
]
KeyOns = Annotated[
    str, typer.Option(metavar="N,N...", help="Key-ons after which needles are looked at, at rest.")
]
BenchFile = Annotated[
    Path | None,
    typer.Option("--bench", metavar="BENCH.toml", help="Settings of the bench's devices."),
]
InVehicle = Annotated[
    bool,
    typer.Option("--in-vehicle", help="Sending on a vehicle's bus is meant; the caution is shown."),
]


@dataclass(frozen=True, slots=True)
class _OnBench:
    """What the run is taken on."""

    family: Family
    devices: AbstractContextManager[Devices]
    words: str
    unit: Unit | None
    """The rehearsed cluster; None: a real one."""
    temperature_c: float | None


@app.command()
def bench(
    which: Annotated[Which, typer.Argument(metavar="WHICH", help="as-found or as-left.")],
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    out: Out,
    repeats: Repeats = None,
    dial: Dials = None,
    points: Given = None,
    max_speed: MaxSpeed = None,
    key_ons: KeyOns = ",".join(map(str, KEY_ONS)),
    no_sweep: Annotated[bool, typer.Option("--no-sweep", help="Leave the sweep out.")] = False,
    no_lamps: Annotated[bool, typer.Option("--no-lamps", help="Leave the lamps out.")] = False,
    temperature: Annotated[
        float | None, typer.Option(metavar="DEGC", help="Of the cluster, for every row.")
    ] = None,
    bench_file: BenchFile = None,
    camera: Annotated[
        int, typer.Option(metavar="N", help="Camera, as the system counts from 0.")
    ] = 0,
    in_vehicle: InVehicle = False,
    rehearse: Annotated[
        bool, typer.Option("--rehearse", help="On a simulated cluster, its clock let loose.")
    ] = False,
    fault: Faults = None,
    seed: Seed = 0,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Take every dial to its check points from below and from above, and read every needle.

    The needles are looked at when they stand, several frames each, at rest before and after
    key-ons too. Then every dial sweeps to full scale and back, filmed, and each group of lamps is
    looked at. The file grows with every step; whatever ends a run, the same command goes on at the
    same step. Without --rehearse the devices are those of BENCH.toml, and what they do not carry is
    shown for a person to put on.
    """
    if rehearse:
        if bench_file is not None or in_vehicle or camera:
            raise UsageError(
                "--rehearse needs no bench; leave --bench, --camera and --in-vehicle out"
            )
        settings = BenchSettings()
        on = _rehearsed(load_family(family), fault, temperature, seed)
    else:
        _refuse_of_rehearsal(fault, seed)
        cluster = load_family(family)
        settings = BenchSettings() if bench_file is None else load_settings(bench_file)
        asked = RealBench(settings, camera, in_vehicle)
        on = _OnBench(cluster, real(asked, cluster), "bench", None, temperature)
    typed = Points(dial or [], points or [], max_speed, key_ons)
    plan = _plan(which, on.family, typed, repeats, out)
    plan = with_checks(plan, on.family, sweep=not no_sweep, lamps=not no_lamps)
    kept = begin(out, on.family, plan, on.words)
    with on.devices as devices:
        ended = _go(kept, devices, on.temperature_c, settings)
    if as_json:
        console.emit_json({"which": which.value, **bench_document(ended, out, on.unit)})
    else:
        show_bench(on.family, ended, out, on.unit)
    _leave(ended)


def _refuse_of_rehearsal(fault: list[str] | None, seed: int) -> None:
    if fault:
        raise UsageError("--fault is put on a rehearsed cluster only; add --rehearse")
    if seed:
        raise UsageError("--seed is of a rehearsed cluster's chance; add --rehearse")


def _rehearsed(
    family: Family, fault: list[str] | None, temperature: float | None, seed: int
) -> _OnBench:
    unit = unit_of(family, fault, temperature, seed)
    family = with_signals(family)
    return _OnBench(family, rehearsed(family, unit), unit_words(unit), unit, unit.temperature_degc)


def _plan(which: Which, family: Family, typed: Points, repeats: Path | None, out: Path) -> RunPlan:
    """The looks of the run."""
    if which is Which.AS_LEFT:
        if typed.dials or typed.given:
            raise UsageError("as-left repeats every point as found; leave out --dial, --points")
        return plan_like(repeats, family, out)
    if repeats is not None:
        raise UsageError("--repeats goes with as-left")
    return plan_of(family, typed)


def _go(
    kept: KeptRun, devices: Devices, temperature_c: float | None, settings: BenchSettings
) -> Ended:
    """Carry it out; Ctrl-C is a person who stops it."""
    of = len(kept.plan.steps)
    if 0 < kept.state.done < of:
        console.err.print(f"going on at step {kept.state.done + 1} of {of}", markup=False)
    with progress_bar("at the bench", of) as told:
        listeners = Listeners()
        if told is not None:
            listeners = Listeners(progress=lambda now: told(now.done, now.of))
        run = BenchRun(
            kept,
            devices,
            temperature_c=temperature_c,
            instruments=settings.instruments(),
            listeners=listeners,
            look_through=looked_through(kept.family),
        )
        try:
            return run.go()
        except KeyboardInterrupt:
            words, state = "stopped by the person at the bench", kept.state
            return Ended("stopped", words, kept.run, state.done, of, state.outcome)


def _leave(ended: Ended) -> None:
    """End the command as the run ended."""
    if ended.state == "finished":
        return
    kept = f"{ended.done} of {ended.of} steps are kept, and the same command goes on from there"
    if ended.state == "stopped":
        console.err.print(kept, markup=False)
        raise typer.Exit(STOPPED_CODE)
    console.say_error(f"{ended.words}; {kept}")
    raise typer.Exit(1)
