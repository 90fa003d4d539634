"""`needlewright family`: check a family folder, show what it says, print the file's schema."""

import json
import re
from pathlib import Path
from typing import Annotated, Any

import typer

from needlewright.cli import console, family_calibrate, family_differs, family_travel
from needlewright.cli.family_draft import draft
from needlewright.cli.family_tables import dial_table
from needlewright.composing.family_facts import dial_document, face_dial, face_title
from needlewright.errors import UsageError
from needlewright.families.face import open_face
from needlewright.families.folder import check_family, load_family
from needlewright.families.model import Family
from needlewright.families.notes import Note
from needlewright.families.schema import json_schema
from needlewright.papers.face_marks import write_face_marks

app = typer.Typer(
    help="Check a family folder, show what it says, print the schema of its file.",
    no_args_is_help=True,
)

AsJson = Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")]


@app.command()
def check(
    folders: Annotated[
        list[Path],
        typer.Argument(metavar="DIR...", help="Folders that hold family.json and face.png."),
    ],
    as_json: AsJson = False,
) -> int:
    """Check family folders: what bars their use, and what they leave to defaults."""
    checked = [(folder, check_family(folder)) for folder in folders]
    if as_json:
        console.emit_json({"families": [_check_document(*each) for each in checked]})
    else:
        for folder, notes in checked:
            _say_check(folder, notes)
    return int(any(note.kind == "error" for _, notes in checked for note in notes))


@app.command()
def show(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help="Folder that holds family.json and face.png.")
    ],
    picture: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.png",
            help="Where to draw the dials over the face; NAME-marks.png here by default, "
            "and with --json only when given.",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show a family: a table of its dials, and a picture with the marks drawn over the face."""
    family = load_family(folder)
    if picture is None and not as_json:
        stem = re.sub(r"[^\w.-]+", "-", family.name).strip("-.") or "family"
        picture = Path(f"{stem}-marks.png")
    if picture is not None:
        _draw(family, picture)
    if as_json:
        console.emit_json(_show_document(family, picture))
        return
    width, height = family.face_size_mm
    console.out.print(f"[bold]{_plain(family.name)}[/bold]  face {width:g} x {height:g} mm")
    console.out.print(dial_table(family), soft_wrap=False)
    for variant in family.variants:
        words = "; ".join(part for part in (variant.told_apart_by, variant.differs) if part)
        console.out.print(_plain(f"variant {variant.id}: {words or 'not described'}"))
    console.out.print(_plain(f"marks drawn over the face: {picture}"))


@app.command()
def schema() -> None:
    """Print the JSON Schema of family.json."""
    print(json.dumps(json_schema(), indent=1, ensure_ascii=False))


app.command()(family_calibrate.calibrate)
app.command()(family_differs.differs)
family_travel.add_to(app)
app.command()(draft)


def _draw(family: Family, picture: Path) -> None:
    if picture.suffix.lower() != ".png":
        raise UsageError(f"--picture: expected a file name that ends in .png, given '{picture}'")
    if picture.resolve() == family.face_path.resolve():
        raise UsageError(f"--picture: '{picture}' is the family's own face; give another name")
    art = open_face(family.face_path)
    picture.parent.mkdir(parents=True, exist_ok=True)
    title = face_title(family, (art.shape[1], art.shape[0]))
    dials = [face_dial(dial) for dial in family.dials]
    write_face_marks(picture, art, family.px_per_mm, dials, title)


def _say_check(folder: Path, notes: list[Note]) -> None:
    errors = [note for note in notes if note.kind == "error"]
    for note in errors:
        console.say_error(note.sentence)
    remarks: dict[str, list[str]] = {}
    for note in notes:
        if note.kind == "remark":
            remarks.setdefault(note.words, []).append(note.subject)
    verdict = "can be used" if not errors else _counted(len(errors), "error", "cannot be used")
    console.out.print(_plain(f"{folder}: {verdict}"))
    for words, subjects in remarks.items():
        named = ", ".join(subject.removeprefix("dial ").strip("'") for subject in subjects)
        console.out.print(_plain(f"  remark: {named + ': ' if named else ''}{words}"))


def _counted(number: int, noun: str, verdict: str) -> str:
    return f"{verdict}, {number} {noun}{'' if number == 1 else 's'}"


def _check_document(folder: Path, notes: list[Note]) -> dict[str, Any]:
    def said(kind: str) -> list[dict[str, str]]:
        return [
            {"file": note.file, "field": note.field, "sentence": note.sentence}
            for note in notes
            if note.kind == kind
        ]

    errors = said("error")
    return {
        "folder": str(folder),
        "usable": not errors,
        "errors": errors,
        "remarks": said("remark"),
    }


def _show_document(family: Family, picture: Path | None) -> dict[str, Any]:
    return {
        "name": family.name,
        "folder": str(family.folder),
        "face_size_mm": list(family.face_size_mm),
        "px_per_mm": family.px_per_mm,
        "eccentricity_mm": family.eccentricity_mm,
        "picture": None if picture is None else str(picture),
        "variants": [
            {"id": v.id, "told_apart_by": v.told_apart_by, "differs": v.differs}
            for v in family.variants
        ],
        "dials": [dial_document(dial) for dial in family.dials],
    }


def _plain(text: str) -> str:
    """Text of a file, whose brackets are no markup."""
    return text.replace("[", r"\[")
