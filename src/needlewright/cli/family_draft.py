"""`needlewright family draft`: photos and a few clicks to a family folder."""

import json
import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Final

import typer
from rich.markup import escape
from rich.table import Table
from rich.text import Text

from needlewright.cli import console
from needlewright.cli.draft_words import (
    DIAL_FORM,
    parse_dial,
    parse_known,
    parse_needles,
    parse_pair,
    parse_rests,
)
from needlewright.cli.read import rounded
from needlewright.composing.draft_overlay import write_draft_overlay
from needlewright.errors import FamilyError, UnusableInput, UsageError
from needlewright.families.folder import FAMILY_FILE
from needlewright.readings.drafting.drafting import NamedPicture, draft_family
from needlewright.readings.drafting.inputs import (
    INPUTS_FILE,
    DraftInputs,
    TypedDial,
    check_inputs,
    inputs_document,
    read_inputs,
)
from needlewright.readings.drafting.model import Draft, DraftDial
from needlewright.readings.drafting.saving import save
from needlewright.readings.picture import open_picture

OVERLAY_FILE: Final = "draft.overlay.jpg"


Out = Annotated[
    Path, typer.Option(metavar="DIR", help="The family's folder; made if it is not there.")
]
Photos = Annotated[
    list[Path] | None,
    typer.Argument(
        metavar="PHOTO...",
        help="Photos of the cluster, needles in other places in each. The first is the one "
        "that was clicked in, unless there is a bare one.",
    ),
]
Bare = Annotated[
    Path | None,
    typer.Option(
        metavar="PHOTO", help="A photo or scan with every needle pulled: it is clicked in."
    ),
]
Dials = Annotated[
    list[str] | None,
    typer.Option("--dial", metavar="CLICKS", help=f"A dial: {DIAL_FORM}. Once for each dial."),
]
Clicks = Annotated[
    Path | None,
    typer.Option(
        metavar="FILE.json",
        help=f"All that was typed, from a file such as the {INPUTS_FILE} a draft leaves; "
        "other options change what it says.",
    ),
]
Dpi = Annotated[
    float | None, typer.Option(metavar="N", help="The picture is a scan of N dots per inch.")
]
KnownMm = Annotated[
    str | None,
    typer.Option(
        metavar="MM:A:B",
        help="A length measured on the face: from dial A's centre to dial B's, or between two "
        "pixels X,Y.",
    ),
]
Face = Annotated[
    str | None,
    typer.Option(
        metavar="X,Y:X,Y",
        help="Two opposite corners of the face, pixels; the dials with a margin by default.",
    ),
]
LevelWith = Annotated[
    str | None,
    typer.Option(
        metavar="X,Y:X,Y",
        help="Two places level with each other, pixels; from how the dials stand by default.",
    ),
]
Rests = Annotated[
    list[str] | None,
    typer.Option(
        "--rest",
        metavar="DIAL=DEG[,pin]",
        help="Where a needle lies unpowered; the first mark by default.",
    ),
]
Needles = Annotated[
    list[str] | None,
    typer.Option(
        "--needle",
        metavar="DIAL:MEASURE=MM",
        help="A needle's measure taken by hand: length, tail, base_width, tip_width, "
        "hub_radius, height, thickness.",
    ),
]
AtRest = Annotated[
    list[str] | None,
    typer.Option(
        "--at-rest",
        metavar="PHOTO",
        help="A photo, as it is named here, in which every needle lies unpowered: where "
        "they rest is measured there. Once for each photo.",
    ),
]
Name = Annotated[
    str | None,
    typer.Option(metavar="NAME", help="The family's name; that of the folder by default."),
]
Replace = Annotated[bool, typer.Option("--replace", help="Replace a family that is in the folder.")]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document.")]


def draft(
    photos: Photos = None,
    *,
    out: Out,
    bare: Bare = None,
    dials: Dials = None,
    clicks: Clicks = None,
    dpi: Dpi = None,
    known_mm: KnownMm = None,
    face: Face = None,
    level: LevelWith = None,
    rests: Rests = None,
    needles: Needles = None,
    at_rest: AtRest = None,
    name: Name = None,
    replace_family: Replace = False,
    as_json: AsJson = False,
) -> None:
    """Draft a family from photos: click on each dial and type two values, the rest is found."""
    named = [*([] if bare is None else [bare]), *(photos or [])]
    if not named:
        raise UsageError("no picture is named; name a photo, or a bare one with --bare")
    if (out / FAMILY_FILE).exists() and not replace_family:
        raise UsageError(
            f"{out}: holds a family already; name another folder, or say --replace to write the "
            "draft over it"
        )
    inputs = _inputs(out, clicks, name, [parse_dial(text) for text in dials or ()])
    inputs = replace(
        inputs,
        dpi=dpi if dpi is not None or known_mm is not None else inputs.dpi,
        known=parse_known(known_mm) if known_mm is not None else None if dpi else inputs.known,
        face_px=inputs.face_px if face is None else parse_pair("--face", face),
        level_px=inputs.level_px if level is None else parse_pair("--level", level),
        at_rest=inputs.at_rest if at_rest is None else tuple(dict.fromkeys(at_rest)),
    )
    inputs = _by_hand(inputs, parse_rests(rests or ()), parse_needles(needles or ()))
    kept = _keep(out, inputs, named)
    try:
        check_inputs(inputs)
        pictures = [NamedPicture(str(path), open_picture(path)) for path in named]
        drafted = draft_family(inputs, pictures[0], pictures[1:], bare=bare is not None)
        save(drafted.draft, drafted.face, out)
    except UnusableInput as error:
        raise type(error)(f"{error} (what was typed is kept: --clicks {kept})") from error
    overlay = out / OVERLAY_FILE
    write_draft_overlay(overlay, drafted.draft, pictures[0].picture.pixels)
    if as_json:
        console.emit_json(draft_document(drafted.draft, out, overlay, kept))
        return
    _show(drafted.draft, out, overlay)


def _inputs(
    out: Path, clicks: Path | None, name: str | None, dials: Sequence[TypedDial]
) -> DraftInputs:
    """What a file says, with the dials of the command line put in or put in their place."""
    if clicks is None:
        if not dials:
            raise UsageError(f"no dial is clicked; say --dial {DIAL_FORM}, or --clicks FILE.json")
        return DraftInputs(name or out.resolve().name or "family", tuple(dials))
    inputs = read_inputs(clicks)
    again = {dial.id: dial for dial in dials}
    merged = [again.pop(dial.id, dial) for dial in inputs.dials]
    return replace(inputs, name=name or inputs.name, dials=(*merged, *again.values()))


def _by_hand(
    inputs: DraftInputs,
    rests: dict[str, tuple[float, bool]],
    needles: dict[str, dict[str, float]],
) -> DraftInputs:
    ids = [dial.id for dial in inputs.dials]
    for option, named in (("--rest", rests), ("--needle", needles)):
        for dial_id in named:
            if dial_id not in ids:
                raise UsageError(f"{option}: there is no dial '{dial_id}' among {', '.join(ids)}")
    dials = []
    for dial in inputs.dials:
        angle, pin = rests.get(dial.id, (dial.rest_angle_deg, dial.rest_pin))
        measures = {**dial.needle, **needles.get(dial.id, {})}
        dials.append(replace(dial, rest_angle_deg=angle, rest_pin=pin, needle=measures))
    return replace(inputs, dials=tuple(dials))


def _keep(out: Path, inputs: DraftInputs, photos: Sequence[Path]) -> Path:
    """Write what was typed before anything can go wrong with it."""
    path = out / INPUTS_FILE
    text = json.dumps(inputs_document(inputs, tuple(map(str, photos))), indent=1) + "\n"
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        out.mkdir(parents=True, exist_ok=True)
        part.write_text(text, encoding="utf-8")
        os.replace(part, path)
    except OSError as error:
        raise FamilyError(f"{out}: cannot be written: {error.strerror or error}") from error
    return path


def draft_document(draft: Draft, folder: Path, overlay: Path, clicks: Path) -> dict[str, Any]:
    """The JSON document of `needlewright family draft --json`."""
    return {
        "name": draft.inputs.name,
        "folder": str(folder),
        "overlay": str(overlay),
        "clicks": str(clicks),
        "photo": draft.photo,
        "face_size_mm": list(draft.face_size_mm),
        "px_per_mm": draft.px_per_mm,
        "tilt_deg": rounded(draft.tilt_deg),
        "u_tilt_deg": rounded(draft.u_tilt_deg),
        "u_scale": rounded(draft.u_scale),
        "remarks": list(draft.remarks),
        "pictures": [
            {
                "photo": use.photo,
                "found": use.found,
                "needles": list(use.needles),
                "angles_deg": [rounded(angle) for angle in use.angles_deg],
            }
            for use in draft.pictures
        ],
        "dials": [_dial_document(dial) for dial in draft.dials],
    }


def _dial_document(dial: DraftDial) -> dict[str, Any]:
    needle = dial.needle
    measures = {name: rounded(getattr(needle, name)) for name, _ in dial.needle_sources[:-1]}
    return {
        "id": dial.id,
        "quantity": dial.quantity,
        "unit": dial.unit,
        "centre_mm": [rounded(c) for c in dial.centre_mm],
        "u_centre_mm": rounded(dial.u_centre_mm),
        "direction": dial.direction,
        "marks": [
            {
                "angle_deg": rounded(mark.angle_deg),
                "u_angle_deg": rounded(mark.u_angle_deg),
                "value": rounded(mark.value),
                "major": mark.major,
                "source": mark.source,
                "value_source": mark.value_source,
                "past_mm": rounded(mark.past_mm),
            }
            for mark in dial.marks
        ],
        "line_rms_mm": rounded(dial.line_rms_mm),
        "rest_angle_deg": rounded(dial.rest_angle_deg),
        "rest_pin": dial.rest_pin,
        "rest_source": dial.rest_source,
        "needle": {**measures, "colour": None if needle.colour is None else list(needle.colour)},
        "needle_sources": dict(dial.needle_sources),
        "remarks": list(dial.remarks),
    }


def _show(draft: Draft, folder: Path, overlay: Path) -> None:
    width, height = draft.face_size_mm
    tilt = "a scan" if draft.tilt_deg is None else f"seen {draft.tilt_deg:.1f} deg from above"
    console.out.print(
        f"[bold]{escape(draft.inputs.name)}[/bold]  face {width:g} x {height:g} mm, {tilt}"
    )
    table = Table(header_style="bold", show_lines=True)
    for head in ("dial", "marks, deg, u (k = 1)", "needle, mm"):
        table.add_column(head, overflow="fold")
    for dial in draft.dials:
        table.add_row(*(Text(cell) for cell in _cells(dial)))
    console.out.print(table, soft_wrap=False)
    for dial in draft.dials:
        for remark in dial.remarks:
            console.out.print(f"remark: {dial.id}: {remark}", markup=False)
    for remark in draft.remarks:
        console.out.print(f"remark: {remark}", markup=False)
    for use in draft.pictures:
        if not use.found:
            console.out.print(f"remark: the face is not found in {use.photo}", markup=False)
    console.out.print(f"look at {overlay}: each mark should carry a line", markup=False)
    console.out.print(f"family in {folder}", markup=False)


def _cells(dial: DraftDial) -> tuple[str, str, str]:
    x, y = dial.centre_mm
    u = "" if dial.u_centre_mm is None else f", u {dial.u_centre_mm:.2f} mm"
    wide = max(len(f"{mark.value:g}") for mark in dial.majors)
    marks = [
        f"{mark.value:>{wide}g} {mark.angle_deg:>8.2f}"
        + ("" if mark.u_angle_deg is None else f"  {mark.u_angle_deg:.2f}")
        for mark in dial.majors
    ]
    minor = sum(mark.value is None for mark in dial.marks)
    needle = [
        f"{name.removesuffix('_mm').replace('_', ' ')} {getattr(dial.needle, name):.2f}"
        f"{'' if source == 'measured' else ', ' + source}"
        for name, source in dial.needle_sources
        if name != "colour"
    ]
    return (
        f"{dial.id}\n{dial.quantity}\n{dial.unit}\nat {x:.2f}, {y:.2f}{u}",
        "\n".join([*marks, f"and {minor} minor marks"]),
        "\n".join(needle),
    )
