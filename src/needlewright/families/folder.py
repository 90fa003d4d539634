"""A family folder: loading it, checking it."""

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from needlewright.errors import FamilyError, UnusableInput
from needlewright.families.assemble import dial_from, family_from
from needlewright.families.checks import meaning_complaints, shape_complaints
from needlewright.families.face import SIZE_ERROR_SHARE, face_header, open_face, size_disagreement
from needlewright.families.jsonfile import read_object
from needlewright.families.model import Family
from needlewright.families.notes import Note, Place, path_of, shape_notes, where
from needlewright.families.schema import DialFile, FamilyFile

FAMILY_FILE: Final = "family.json"
FACE_FILE: Final = "face.png"
LISTS_WITH_IDS: Final = ("variants", "lamps", "tell_tales", "displays", "weak_points")


def load_family(folder: Path) -> Family:
    """Load a family folder.

    Parameters
    ----------
    folder
        The folder that holds `family.json` and `face.png`.

    Returns
    -------
    Family
        Checked; the face picture's size is checked too, its pixels are not decoded.

    Raises
    ------
    FamilyError
        One sentence on the first thing that bars the family's use.
    """
    raw = read_object(_family_file(folder))
    for note in document_notes(str(folder / FAMILY_FILE), raw):
        if note.kind == "error":
            raise FamilyError(note.sentence)
    family = family_from(FamilyFile.model_validate(raw), folder, raw)
    for note in _face_notes(folder, family.face_size_mm, family.px_per_mm, decode=False):
        if note.kind == "error":
            raise FamilyError(note.sentence)
    return family


def check_family(folder: Path) -> list[Note]:
    """Check a family folder and gather everything there is to say about it.

    Parameters
    ----------
    folder
        The folder that holds `family.json` and `face.png`.

    Returns
    -------
    list of Note
        Errors, which bar the family's use, and remarks on defaults and oddities.
    """
    try:
        raw = read_object(_family_file(folder))
    except FamilyError as error:
        file = str(folder / FAMILY_FILE if folder.is_dir() else folder)
        notes = [Note("error", file, "", "", str(error).removeprefix(f"{file}: "))]
        return notes + (list(_face_notes(folder, None, None)) if folder.is_dir() else [])
    notes = list(document_notes(str(folder / FAMILY_FILE), raw))
    size = raw.get("face_size_mm"), raw.get("px_per_mm")
    sound = not any(n.field.startswith(("face_size_mm", "px_per_mm")) for n in notes)
    return notes + list(_face_notes(folder, *(size if sound else (None, None))))


def document_notes(file: str, raw: dict[str, Any]) -> Iterator[Note]:
    """Check what a `family.json` says, the face picture aside.

    Parameters
    ----------
    file
        The file's path, as sentences name it.
    raw
        The document.

    Yields
    ------
    Note
        Errors and remarks, in the order shape, family, dials.
    """
    try:
        FamilyFile.model_validate(raw)
    except ValidationError as error:
        shape = list(shape_notes(file, raw, error))
    else:
        shape = []
    yield from shape
    yield from _id_notes(file, raw)
    dials = raw.get("dials")
    sized = not any(n.field.startswith("face_size_mm") for n in shape)
    size_mm = tuple(raw["face_size_mm"]) if sized else None
    for i, dial in enumerate(dials if isinstance(dials, list) else ()):
        try:
            dial_file = DialFile.model_validate(dial)
        except ValidationError:
            continue  # said above
        yield from _dial_notes(file, raw, ("dials", i), dial_file, size_mm)


def _dial_notes(
    file: str,
    raw: dict[str, Any],
    place: Place,
    dial_file: DialFile,
    face_size_mm: tuple[float, float] | None,
) -> Iterator[Note]:
    complaints = list(shape_complaints(dial_file, face_size_mm))
    if not complaints:
        complaints = list(meaning_complaints(dial_file, dial_from(dial_file)))
    for kind, field, words in complaints:
        subject = where(raw, place) if kind == "remark" else f"{where(raw, place)}, {field}"
        yield Note(kind, file, f"{path_of(place)}.{field}", subject, words)


def _id_notes(file: str, raw: dict[str, Any]) -> Iterator[Note]:
    for field in ("dials", *LISTS_WITH_IDS):
        items = raw.get(field)
        if not isinstance(items, list):
            continue
        ids = [x["id"] for x in items if isinstance(x, dict) and isinstance(x.get("id"), str)]
        for repeated, times in Counter(ids).items():
            if times > 1:
                yield Note(
                    "error",
                    file,
                    field,
                    field,
                    f"expected every id once, found '{repeated}' {times} times",
                )


def _face_notes(
    folder: Path,
    face_size_mm: tuple[float, float] | None,
    px_per_mm: float | None,
    *,
    decode: bool = True,
) -> Iterator[Note]:
    path = folder / FACE_FILE
    try:
        header = face_header(path)
        if decode:
            open_face(path)
    except UnusableInput as error:
        yield Note("error", str(path), "", "", str(error).removeprefix(f"{path}: "))
        return
    if face_size_mm is None or px_per_mm is None:
        return
    if off := size_disagreement(header, face_size_mm, px_per_mm):
        share, clause = off
        if share > SIZE_ERROR_SHARE:
            yield Note(
                "error", str(path), "px_per_mm", "", f"{clause}; correct the one that is wrong"
            )
        else:
            words = f"{clause}; places are taken by px_per_mm from the top-left corner"
            yield Note("remark", str(path), "px_per_mm", "", words)


def _family_file(folder: Path) -> Path:
    wish = f"the folder that holds {FAMILY_FILE} and {FACE_FILE}"
    if folder.is_file():
        raise FamilyError(f"{folder}: expected {wish}, found a file; give {folder.parent}")
    if not folder.exists():
        raise FamilyError(f"{folder}: there is no such folder; expected {wish}")
    return folder / FAMILY_FILE
