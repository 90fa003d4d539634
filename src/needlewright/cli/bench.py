"""`needlewright bench`: the whole as-found or as-left run, on a cluster or on a rehearsed one."""

from contextlib import AbstractContextManager
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from needlewright.bench.devices import Devices
from needlewright.bench.keeping import KeptRun, begin
from needlewright.bench.run import BenchRun, Ended, Listeners
from needlewright.bench.steps import KEY_ONS
from needlewright.cli import console
from needlewright.cli.bench_devices import REHEARSED, RealBench, real, rehearsed
from needlewright.cli.bench_points import Points, plan_like, plan_of
from needlewright.cli.progress import progress_bar
from needlewright.cli.rehearsed_unit import Faults, Seed, unit_of
from needlewright.cli.run import run_document, show_run
from needlewright.composing.bench_devices import unit_words
from needlewright.errors import UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.readings.join import JoinedRun
from needlewright.rehearsal.cluster.cluster import with_signals
from needlewright.rehearsal.cluster.rehearsal import Unit
from needlewright.signals.settings import BenchSettings, load_settings

STOPPED_CODE: Final = 130

app = typer.Typer(add_completion=False)


class Which(StrEnum):
    """Which run of the job."""

    AS_FOUND = "as-found"
    AS_LEFT = "as-left"


@app.command()
def bench(
    which: Annotated[Which, typer.Argument(metavar="WHICH", help="as-found or as-left.")],
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    out: Annotated[
        Path,
        typer.Option(
            metavar="RUN.csv", help="File of the run; an interrupted one is gone on with."
        ),
    ],
    repeats: Annotated[
        Path | None,
        typer.Option(
            metavar="RUN.csv", help="As left: the as-found run to repeat point for point."
        ),
    ] = None,
    dial: Annotated[
        list[str] | None,
        typer.Option(metavar="DIAL", help="Tell only this dial; all that have a signal otherwise."),
    ] = None,
    points: Annotated[
        list[str] | None,
        typer.Option(
            metavar="DIAL=V,V...",
            help="Check points of a dial, rising, in its unit; by its rule and marks otherwise.",
        ),
    ] = None,
    max_speed: Annotated[
        float | None,
        typer.Option(
            metavar="SPEED", help="The vehicle's maximum design speed, in the speedometer's unit."
        ),
    ] = None,
    key_ons: Annotated[
        str,
        typer.Option(metavar="N,N...", help="Key-ons after which needles are looked at, at rest."),
    ] = ",".join(map(str, KEY_ONS)),
    temperature: Annotated[
        float | None, typer.Option(metavar="DEGC", help="Of the cluster, for every row.")
    ] = None,
    bench_file: Annotated[
        Path | None,
        typer.Option("--bench", metavar="BENCH.toml", help="Settings of the bench's devices."),
    ] = None,
    camera: Annotated[
        int, typer.Option(metavar="N", help="Camera, as the system counts from 0.")
    ] = 0,
    in_vehicle: Annotated[
        bool,
        typer.Option(
            "--in-vehicle", help="Sending on a vehicle's bus is meant; the caution is shown."
        ),
    ] = False,
    rehearse: Annotated[
        bool, typer.Option("--rehearse", help="On a simulated cluster, its clock let loose.")
    ] = False,
    fault: Faults = None,
    seed: Seed = 0,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Take every dial to its check points from below and from above, and read every needle.

    The needles are looked at when they stand, several frames each, at rest before and after
    key-ons too. The file grows with every step; whatever ends a run, the same command goes on at
    the same check point. Without --rehearse the devices are those of BENCH.toml, and what they do
    not carry is shown for a person to put on.
    """
    if fault and not rehearse:
        raise UsageError("--fault is put on a rehearsed cluster only; add --rehearse")
    if seed and not rehearse:
        raise UsageError("--seed is of a rehearsed cluster's chance; add --rehearse")
    if rehearse and (bench_file is not None or in_vehicle or camera):
        raise UsageError("--rehearse needs no bench; leave --bench, --camera and --in-vehicle out")
    cluster = load_family(family)
    settings = BenchSettings() if bench_file is None else load_settings(bench_file)
    devices: AbstractContextManager[Devices]
    if rehearse:
        unit = unit_of(cluster, fault, temperature, seed)
        cluster, temperature = with_signals(cluster), unit.temperature_degc
        devices, on_bench = rehearsed(cluster, unit), unit_words(unit)
    else:
        unit = None
        devices, on_bench = real(RealBench(settings, camera, in_vehicle), cluster), "bench"
    if which is Which.AS_LEFT:
        if dial or points:
            raise UsageError("as-left repeats every point as found; leave out --dial, --points")
        plan = plan_like(repeats, cluster, out)
    elif repeats is not None:
        raise UsageError("--repeats goes with as-left")
    else:
        plan = plan_of(cluster, Points(dial or [], points or [], max_speed, key_ons))
    kept = begin(out, cluster, plan, on_bench)
    with devices as open_devices:
        ended = _go(kept, open_devices, temperature, settings)
    _say(ended, cluster, which, out, unit, as_json=as_json)


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
        )
        try:
            return run.go()
        except KeyboardInterrupt:
            words = "stopped by the person at the bench"
            return Ended("stopped", words, kept.run, kept.state.done, of)


def _say(
    ended: Ended, family: Family, which: Which, out: Path, unit: Unit | None, *, as_json: bool
) -> None:
    joined = JoinedRun(ended.run, ())
    if as_json:
        console.emit_json(
            {
                "which": which.value,
                "state": ended.state,
                "words": ended.words,
                "steps_done": ended.done,
                "steps": ended.of,
                "rehearsed": None if unit is None else _unit_document(unit),
                **run_document(joined, out),
            }
        )
    elif ended.run.rows:
        if unit is not None:
            console.out.print(f"{unit_words(unit)}; {REHEARSED}", markup=False)
        show_run(family, joined)
        console.out.print(f"\nwritten to {out}", markup=False)
    if ended.state == "finished":
        return
    kept = f"{ended.done} of {ended.of} steps are kept, and the same command goes on from there"
    if ended.state == "stopped":
        console.err.print(kept, markup=False)
        raise typer.Exit(STOPPED_CODE)
    console.say_error(f"{ended.words}; {kept}")
    raise typer.Exit(1)


def _unit_document(unit: Unit) -> dict[str, Any]:
    return {
        "faults": [
            {"dial": f.dial, "fault": f.code, "size": f.size, "begins": f.begins}
            for f in unit.injected
        ],
        "temperature_c": unit.temperature_degc,
        "seed": unit.seed,
    }
