"""`needlewright read`: photos to needle readings."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Annotated, Any, Final

import typer
from rich.markup import escape
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.overlays import overlay_files
from needlewright.cli.progress import progress_bar
from needlewright.composing.bench_devices import REHEARSED as NO_CLUSTER
from needlewright.composing.overlays import OverlayingReader, reading_label, reason_words
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.papers.figures import decimals_for
from needlewright.readings.batch import Outcome, PictureProblem, face_reader, read_photos
from needlewright.readings.flags import FLAGS, REASONS
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.runs import REHEARSED
from needlewright.rules.decision import COVERAGE_K

UNUSABLE: Final = "photo_not_usable"
"""Reason of each dial of a photo that could not be opened."""


def read(
    photos: Annotated[list[str], typer.Argument(metavar="PHOTO...", help="Photos of one family.")],
    family: Annotated[Path, typer.Option(metavar="DIR", help="The family's folder.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    overlay: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder for the photos with the readings drawn on them."),
    ] = None,
    budget: Annotated[
        bool, typer.Option("--budget", help="Show what each uncertainty is made of.")
    ] = False,
) -> None:
    """Read every needle in photos of one family."""
    cluster = load_family(family)
    make_reader = face_reader
    files: dict[str, Path] = {}
    if overlay is not None:
        files = overlay_files(overlay, photos)
        make_reader = partial(OverlayingReader, files)
    with progress_bar("reading", len(photos)) as on_progress:
        outcomes = read_photos(cluster, photos, on_progress, make_reader=make_reader)
    if as_json:
        console.emit_json(readings_document(cluster, outcomes, with_budget=budget))
    else:
        _show(cluster, outcomes, with_budget=budget)
        if overlay is not None:
            console.out.print(f"overlays in {overlay}", markup=False)
    problems = [outcome for outcome in outcomes if isinstance(outcome, PictureProblem)]
    for problem in problems:
        console.say_error(problem.reason)
    if problems:
        raise typer.Exit(1)


def readings_document(
    family: Family, outcomes: Sequence[Outcome], *, with_budget: bool = False
) -> dict[str, Any]:
    """The JSON document of `needlewright read --json`."""
    return {"photos": [_photo_document(family, outcome, with_budget) for outcome in outcomes]}


def _photo_document(family: Family, outcome: Outcome, with_budget: bool) -> dict[str, Any]:
    photo = as_photo(family, outcome)
    return {
        "photo": photo.photo,
        "found": photo.found,
        "reason": photo.reason,
        "dials": [_dial_document(reading, with_budget) for reading in photo.readings],
    }


def as_photo(family: Family, outcome: Outcome) -> PhotoReadings:
    """An outcome with a reading for each dial, refused where there is no face or no photo."""
    if isinstance(outcome, PhotoReadings) and outcome.found:
        return outcome
    why = outcome.reason if isinstance(outcome, PhotoReadings) else UNUSABLE
    refused = tuple(Reading(d.id, "refused", d.unit, why) for d in family.dials)
    return PhotoReadings(outcome.photo, False, outcome.reason, refused)


def _dial_document(reading: Reading, with_budget: bool) -> dict[str, Any]:
    document: dict[str, Any] = {
        "dial": reading.dial,
        "status": reading.status,
        "reason": reading.reason,
        "angle_deg": rounded(reading.angle_deg),
        "u_angle_deg": rounded(reading.u_angle_deg),
        "value": rounded(reading.value),
        "u_value": rounded(reading.u_value),
        "unit": reading.unit,
        "offset_mm": rounded(reading.offset_mm),
        "flags": list(reading.flags),
    }
    if with_budget:
        document["budget_deg"] = {name: rounded(u) for name, u in reading.components_deg}
    return document


def rounded(number: float | None) -> float | None:
    """A number for JSON: to 1e-6, far below every uncertainty there is."""
    return None if number is None else round(number, 6)


def _show(family: Family, outcomes: Sequence[Outcome], *, with_budget: bool) -> None:
    headings = ("dial", "reading", "angle, deg", "off centre", "remarks")
    console.out.print(f"family {escape(family.name)}; ± is U, k = 2 (about 95 %)\n")
    console.out.print(_row_of_table(headings, "bold"))
    for outcome in outcomes:
        console.out.print(Text(outcome.photo, style="bold"))
        if _is_rehearsed(outcome):
            console.out.print(f"  rehearsed: {NO_CLUSTER}", markup=False)
        if isinstance(outcome, PictureProblem) or not outcome.found:
            console.out.print(Text(f"  not read: {_photo_words(outcome)}"))
            continue
        for reading in outcome.readings:
            offset = "" if reading.offset_mm is None else f"{reading.offset_mm:+.2f} mm"
            remarks = ", ".join(map(_flag_words, reading.flags))
            cells = (reading.dial, reading_label(reading), _angle(reading), offset, remarks)
            console.out.print(_row_of_table(cells))
            if with_budget and reading.u_angle_deg is not None:
                console.out.print(Text(f"      {_budget_words(reading)}", style="dim"))


def _is_rehearsed(outcome: Outcome) -> bool:
    """Whether the file of a photo says that no real cluster is in it."""
    readings = outcome.readings if isinstance(outcome, PhotoReadings) else ()
    return any(REHEARSED in one.flags for one in readings)


def _photo_words(outcome: Outcome) -> str:
    if isinstance(outcome, PictureProblem):
        return reason_words(UNUSABLE)
    known = REASONS.get(outcome.reason or "")
    words = reason_words(outcome.reason)
    return f"{words} ({known.long})" if known else words


def _flag_words(flag: str) -> str:
    return FLAGS[flag].short if flag in FLAGS else flag.replace("_", " ")


def _row_of_table(cells: Sequence[str], style: str = "") -> Text:
    """One line of fixed columns; a long cell pushes the rest on, nothing is cut or broken."""
    widths = (10, 26, 18, 12, 0)
    padded = [
        f"{cell:<{width}}" if number in (0, 4) else f"{cell:>{width}}"
        for number, (cell, width) in enumerate(zip(cells, widths, strict=True))
    ]
    return Text("  ".join(("", *padded)).rstrip(), style=style)


def _angle(reading: Reading) -> str:
    if reading.angle_deg is None or reading.u_angle_deg is None:
        return ""
    expanded = COVERAGE_K * reading.u_angle_deg
    places = decimals_for(expanded) if expanded > 0 else 2
    return f"{reading.angle_deg:.{places}f} ± {expanded:.{places}f}"


def _budget_words(reading: Reading) -> str:
    parts = ", ".join(f"{name.replace('_', ' ')} {u:.4f}" for name, u in reading.components_deg)
    return f"u(angle) {reading.u_angle_deg:.4f} deg (k = 1) by squares of: {parts}"
