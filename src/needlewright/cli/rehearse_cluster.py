"""`needlewright rehearse cluster`: what a simulated cluster does, with no reader between."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Final

import typer
from rich.table import Table

from needlewright.bench.steps import plan_run
from needlewright.cli import console
from needlewright.cli.rehearsed_unit import Faults, Seed, unit_of
from needlewright.composing.steps import check_values
from needlewright.errors import ScaleError
from needlewright.families.folder import load_family
from needlewright.families.model import Dial
from needlewright.readings.frame import Pixels
from needlewright.rehearsal.cluster.camera import write_video
from needlewright.rehearsal.cluster.rehearsal import Rehearsal, faults_said
from needlewright.signals.wiring import signals_of
from needlewright.units import unit_for_people

VIDEO_HZ: Final = 25.0
HOMING_S: Final = 5.0
THERE_S: Final = 6.0
"""So long a needle is given at each point; the slowest signal repeats once a second."""
VIDEO_S: Final = (1.0, 5.0, 4.0, 4.0)
"""Before key-on, after it, at the last marks, back at the first ones."""


@dataclass(frozen=True, slots=True)
class Stood:
    """Where one needle stood."""

    dial: str
    unit: str
    approach: str
    told: float
    angle_deg: float
    error_deg: float
    """Angle less that of the programme, positive clockwise."""
    shown: float | None


def cluster(
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    fault: Faults = None,
    temperature: Annotated[
        float | None, typer.Option(metavar="DEGC", help="Of the movements; 23 unless stated.")
    ] = None,
    seed: Seed = 0,
    video: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Also film a sweep: off, key-on, to the last marks and back."
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Say where the needles of a simulated cluster stand, point for point: the truth of a run.

    It hears frames on a virtual bus and turns its needles by the physics of their movements. Faults
    are those of the vocabulary, by their sizes. `needlewright bench --rehearse` looks at the same
    cluster with the camera and the reader.
    """
    design = load_family(family)
    unit = unit_of(design, fault, temperature, seed)
    rehearsal = Rehearsal(design, unit)
    try:
        with rehearsal.transport:
            filmed = None if video is None else write_video(video, _sweep(rehearsal))
            stood = _points(rehearsal)
    finally:
        rehearsal.close()
    if as_json:
        console.emit_json(
            {
                "family": design.name,
                "faults": [
                    {"dial": f.dial, "fault": f.code, "size": f.size, "begins": f.begins}
                    for f in unit.injected
                ],
                "temperature_c": unit.temperature_degc,
                "seed": unit.seed,
                "video": None if video is None else str(video),
                "frames": filmed,
                "points": [_document(each) for each in stood],
            }
        )
        return
    console.out.print(
        f"{design.name}, {faults_said(unit.injected)}, {unit.temperature_degc:g} degC, "
        f"seed {unit.seed}; nothing of this is measured",
        markup=False,
    )
    console.out.print(_table(stood))
    if video is not None:
        console.out.print(f"{filmed} frames in {video}", markup=False)


def _points(rehearsal: Rehearsal) -> list[Stood]:
    family, signals = rehearsal.family, signals_of(rehearsal.family)
    plan = plan_run({dial.id: check_values(dial) for dial in family.dials}, ())
    rehearsal.transport.stop()
    rehearsal.key(on=False)
    rehearsal.pass_time(HOMING_S)
    rehearsal.key(on=True)
    rehearsal.pass_time(HOMING_S)
    stood = []
    for step in plan.steps:
        commands = {dial: signals[dial].command(value) for dial, value in step.told.items()}
        rehearsal.transport.apply(*commands.values())
        slow = any(d.movement.kind == "thermal" for d in family.dials)
        rehearsal.pass_time(60.0 if slow else THERE_S)
        seen = rehearsal.cluster.angles_deg()
        stood += [_stood(d, step.approach, commands[d.id].value, seen[d.id]) for d in family.dials]
    return stood


def _stood(dial: Dial, approach: str, told: float, angle_deg: float) -> Stood:
    try:
        shown = dial.scale.value_at(angle_deg)
    except ScaleError:
        shown = None
    error = angle_deg - dial.programme_angle_deg(told)
    return Stood(dial.id, dial.unit, approach, told, angle_deg, error, shown)


def _sweep(rehearsal: Rehearsal) -> Iterator[tuple[Pixels, float]]:
    """Frames of a sweep, as a camera before the cluster takes them."""
    signals = signals_of(rehearsal.family)
    camera = rehearsal.filming(VIDEO_HZ)
    for part, seconds in enumerate(VIDEO_S):
        if part == 1:
            rehearsal.key(on=True)
        elif part > 1:
            end = -1 if part == 2 else 0
            rehearsal.transport.apply(
                *(signals[d.id].command(d.scale.values[end]) for d in rehearsal.family.dials)
            )
        for _ in range(round(seconds * VIDEO_HZ)):
            yield camera.frame()


def _document(stood: Stood) -> dict[str, Any]:
    return {
        "dial": stood.dial,
        "unit": stood.unit,
        "approach": stood.approach,
        "told": stood.told,
        "angle_deg": round(stood.angle_deg, 4),
        "error_deg": round(stood.error_deg, 4),
        "shown": None if stood.shown is None else round(stood.shown, 6),
    }


def _table(stood: list[Stood]) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0))
    for heading in ("dial", "told", "from", "shown", "angle, deg", "error, deg"):
        table.add_column(heading, justify="left" if heading in ("dial", "from") else "right")
    for one in sorted(stood, key=lambda each: each.dial):
        table.add_row(
            one.dial,
            f"{one.told:g} {unit_for_people(one.unit)}",
            "below" if one.approach == "up" else "above",
            "" if one.shown is None else f"{round(one.shown, 3) + 0.0:g}",
            f"{one.angle_deg:.2f}",
            f"{one.error_deg:+.2f}",
        )
    return table
