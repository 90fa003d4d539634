"""`needlewright family differs`: two families, or a family and a photo of a unit, compared."""

import re
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Any

import typer

from needlewright.cli import console
from needlewright.cli.read import rounded
from needlewright.cli.shop_options import say
from needlewright.errors import UsageError
from needlewright.families.differences import Difference, differences
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.papers.face_pair import write_face_pair
from needlewright.readings.face_difference import ChangedRegion, FaceDifference, compare_face
from needlewright.readings.picture import open_picture
from needlewright.units import unit_for_people


def differs(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Folder that holds family.json and face.png.")
    ],
    other: Annotated[
        Path, typer.Argument(metavar="OTHER", help="Another family's folder, or a photo of a unit.")
    ],
    *,
    picture: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.png",
            help="Where to draw both faces with what differs boxed; NAME-differs.png here by "
            "default, and with --json only when given.",
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Show what differs between two families, or between a family and a unit in a photo."""
    family = load_family(folder)
    is_folder = other.is_dir()
    second = load_family(other) if is_folder else None
    shown = open_picture(second.face_path if second else other)
    faces = compare_face(family, shown, str(other), needles=second is None)
    fields = differences(family, second) if second else ()
    if picture is None and not as_json:
        stem = re.sub(r"[^\w.-]+", "-", family.name).strip("-.") or "family"
        picture = Path(f"{stem}-differs.png")
    if picture is not None:
        _draw(family, other, faces, picture)
    if as_json:
        console.emit_json(_document(family, other, faces, fields, picture))
        return
    _say(family, faces, fields)
    say(f"both faces: {picture}")


def _draw(family: Family, other: Path, faces: FaceDifference, picture: Path) -> None:
    if picture.suffix.lower() != ".png":
        raise UsageError(f"--picture: expected a file name that ends in .png, given '{picture}'")
    if picture.exists() and picture.resolve() in (family.face_path.resolve(), other.resolve()):
        raise UsageError(f"--picture: '{picture}' is one of the pictures compared; give another")
    boxes = [_box(region, faces.px_per_mm) for region in faces.regions]
    pictures = [
        (f"family {family.name}", faces.first),
        (str(other.name), faces.second),
        ("where they differ", faces.apart),
    ]
    title = f"{len(faces.regions)} place{'' if len(faces.regions) == 1 else 's'} differ in print"
    write_face_pair(picture, pictures, boxes, title)


def _box(region: ChangedRegion, scale: float) -> tuple[float, float, float, float]:
    return (
        region.left_mm * scale,
        region.top_mm * scale,
        (region.left_mm + region.width_mm) * scale,
        (region.top_mm + region.height_mm) * scale,
    )


def _say(family: Family, faces: FaceDifference, fields: tuple[Difference, ...]) -> None:
    for one in fields:
        say(one.sentence)
    if not faces.regions:
        say("in print nothing differs that stands out")
    for number, region in enumerate(faces.regions, start=1):
        say(f"{number}: {_words(family, region)}")
    if faces.left_out:
        say(f"and {faces.left_out} smaller places")
    if faces.share_compared < 0.9:
        say(f"{100 * faces.share_compared:.0f} % of the face was compared; the rest is hidden")


def _words(family: Family, region: ChangedRegion) -> str:
    x, y = region.left_mm + region.width_mm / 2, region.top_mm + region.height_mm / 2
    size = f"{region.width_mm:.1f} x {region.height_mm:.1f} mm at {x:.1f}, {y:.1f}"
    dial = None if region.dial is None else family.dial(region.dial)
    where = ""
    if dial is not None:
        where = f", dial {dial.id}"
        if region.near_value is not None:
            where += f" by {region.near_value:.3g} {unit_for_people(dial.unit)}"
    return size + where


def _document(
    family: Family,
    other: Path,
    faces: FaceDifference,
    fields: tuple[Difference, ...],
    picture: Path | None,
) -> dict[str, Any]:
    return {
        "family": family.name,
        "other": str(other),
        "fields": [{**asdict(one), "sentence": one.sentence} for one in fields],
        "regions": [
            {name: rounded(value) if isinstance(value, float) else value for name, value in pairs}
            for pairs in (asdict(region).items() for region in faces.regions)
        ],
        "left_out": faces.left_out,
        "share_compared": rounded(faces.share_compared),
        "picture": None if picture is None else str(picture),
    }
