"""`needlewright run`: photos and what was commanded, joined into a run."""

from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.measured import say_rehearsed
from needlewright.cli.progress import progress_bar
from needlewright.errors import PictureError, RunError, UsageError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.papers.figures import decimals_for, with_expanded
from needlewright.readings.batch import PictureProblem, read_photos
from needlewright.readings.commands import read_commands
from needlewright.readings.evidence import evidence_of, evidence_path, write_evidence
from needlewright.readings.join import JoinedRun, join_run
from needlewright.readings.model import PhotoReadings
from needlewright.readings.photo_order import check_pictures, match_photos
from needlewright.readings.run_csv import write_run
from needlewright.readings.runs import REHEARSED, RunRow
from needlewright.rules.decision import COVERAGE_K
from needlewright.units import unit_for_people


def run_photos(
    photos: Annotated[list[str], typer.Argument(metavar="PHOTO...", help="Photos of one run.")],
    *,
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    commands: Annotated[
        Path, typer.Option(metavar="COMMANDS.csv", help="What each dial was told in each photo.")
    ],
    name: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Name of the run; the photos' folder if not stated."),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="RUN.csv", help="File to write the run to.")
    ] = None,
    any_order: Annotated[
        bool, typer.Option("--any-order", help="Photos were taken again later: trust the steps.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Join the photos of one bench run with what was commanded."""
    cluster = load_family(family)
    told = read_commands(commands, cluster)
    _refuse_bad_out(out, commands)
    matched = match_photos(commands, told, photos)
    check_pictures(told, matched, any_order=any_order)
    run_name = name or _folder_name(photos)
    read = _read(cluster, matched)
    folder = (commands if out is None else out).parent
    joined = join_run(run_name, cluster, told, read, folder)
    if out is not None:
        write_run(out, joined.run)
        write_evidence(evidence_path(out), evidence_of(joined.run, read.values(), folder))
    if as_json:
        console.emit_json(run_document(joined, out))
        return
    show_run(cluster, joined)
    if out is not None:
        console.out.print(f"\nwritten to {out}", markup=False)


def run_document(joined: JoinedRun, out: Path | None) -> dict[str, Any]:
    """The JSON document of `needlewright run --json`: every column of every row, unknown null."""
    rows = [
        {field.name: _for_json(getattr(row, field.name)) for field in fields(RunRow)}
        for row in joined.run.rows
    ]
    return {
        "run": joined.run.name,
        "out": None if out is None else str(out),
        "rows": rows,
        "remarks": list(joined.remarks),
    }


def _for_json(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


def _refuse_bad_out(out: Path | None, commands: Path) -> None:
    """Say before the long work what would stop the writing after it."""
    if out is None:
        return
    if out.resolve() == commands.resolve():
        raise UsageError(f"--out {out} is the table of commands itself; name another file")
    if out.is_dir():
        raise RunError(f"{out}: is a folder; name the CSV file to write, e.g. {out}/as-found.csv")
    if not out.parent.is_dir():
        raise RunError(f"{out}: there is no folder {out.parent}; make it or name another one")


def _folder_name(photos: Sequence[str]) -> str:
    folders = {Path(photo).resolve().parent for photo in photos}
    if len(folders) > 1:
        raise UsageError(
            f"the photos lie in {len(folders)} folders, so the run has no name of its own; "
            "name it with --name"
        )
    name = folders.pop().name
    if not name:
        raise UsageError("the photos' folder has no name; name the run with --name")
    return name


def _read(cluster: Family, matched: dict[str, str]) -> dict[str, PhotoReadings]:
    """Read every photo, or say which cannot be used: a run with a hole in it is not written."""
    with progress_bar("reading", len(matched)) as on_progress:
        outcomes = read_photos(cluster, list(matched.values()), on_progress)
    read: dict[str, PhotoReadings] = {}
    for photo, outcome in zip(matched, outcomes, strict=True):
        if isinstance(outcome, PictureProblem):
            raise PictureError(outcome.reason)
        read[photo] = outcome
    return read


def show_run(cluster: Family, joined: JoinedRun) -> None:
    """A run as a table for people."""
    run = joined.run
    console.out.print(f"run {run.name}, family {cluster.name}; ± is U, k = 2 (about 95 %)\n")
    console.out.print(_line(("step", "dial", "commanded", "shown", "error", "remarks"), "bold"))
    last_step: object = None
    for row in run.rows:
        step = row.photo if row.step is None else row.step
        if last_step not in (None, step):
            console.out.print()
        last_step = step
        console.out.print(_line(_cells(row)))
    say_rehearsed(run)
    for remark in joined.remarks:
        console.out.print(f"\nlook: {remark}", markup=False)


def _cells(row: RunRow) -> tuple[str, ...]:
    told = "at rest"
    if row.commanded is not None:
        told = f"{row.commanded:g} {unit_for_people(row.unit)} {row.approach}"
    step = "" if row.step is None else str(row.step)
    if row.angle_deg is None:
        reasons = [flag for flag in row.flags if flag != REHEARSED]
        why = ", ".join(reasons).replace("_", " ") or "no reason given"
        return (step, row.dial, told, "", "", f"not read: {why}")
    remarks = ", ".join(flag.replace("_", " ") for flag in row.flags)
    return (step, row.dial, told, _shown(row), _error(row), remarks)


def _shown(row: RunRow) -> str:
    if row.indicated is None:
        return f"{row.angle_deg:.1f}°"
    u = row.u_indicated
    return with_expanded(row.indicated, None if u is None else COVERAGE_K * u, row.unit)


def _error(row: RunRow) -> str:
    """Shown less commanded; a needle on a stop has none."""
    if row.indicated is None or row.commanded is None or row.on_stop:
        return ""
    error = row.indicated - row.commanded
    if not row.u_indicated:
        return f"{error:+.3g}"
    places = decimals_for(COVERAGE_K * row.u_indicated)
    return f"{round(error, places) + 0.0:+.{places}f}"


def _line(cells: Sequence[str], style: str = "") -> Text:
    """One line of fixed columns; a long cell pushes the rest on, nothing is cut or broken."""
    widths = (4, -10, 20, 26, 9, -1)
    padded = [
        f"{cell:<{-width}}" if width < 0 else f"{cell:>{width}}"
        for cell, width in zip(cells, widths, strict=True)
    ]
    return Text("  ".join(padded).rstrip(), style=style)
