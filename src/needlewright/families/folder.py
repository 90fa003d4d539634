"""A family folder: loading it, checking it, writing it."""

import json
import os
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from needlewright.errors import FamilyError, UnusableInput
from needlewright.families.assemble import family_from
from needlewright.families.document import document_notes
from needlewright.families.face import SIZE_ERROR_SHARE, face_header, open_face, size_disagreement
from needlewright.families.jsonfile import read_object
from needlewright.families.model import Family
from needlewright.families.notes import Note
from needlewright.families.revise import document_of
from needlewright.families.schema import FamilyFile

FAMILY_FILE: Final = "family.json"
FACE_FILE: Final = "face.png"
INDENT: Final = 1


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
        is_folder = os.path.isdir(folder)  # of a folder that cannot be opened, False
        file = str(folder / FAMILY_FILE if is_folder else folder)
        notes = [Note("error", file, "", "", str(error).removeprefix(f"{file}: "))]
        return notes + (list(_face_notes(folder, None, None)) if is_folder else [])
    notes = list(document_notes(str(folder / FAMILY_FILE), raw))
    size = raw.get("face_size_mm"), raw.get("px_per_mm")
    sound = not any(n.field.startswith(("face_size_mm", "px_per_mm")) for n in notes)
    return notes + list(_face_notes(folder, *(size if sound else (None, None))))


def write_family(family: Family | Mapping[str, Any], folder: Path) -> Path:
    """Write `family.json` into a folder; the face picture is left to the caller.

    Parameters
    ----------
    family
        A family, or the document itself. A family that was loaded is written as it was read, with
        what has changed since put in: unknown fields, key order and number forms stay.
    folder
        Made if it is not there.

    Returns
    -------
    Path
        The file written.

    Raises
    ------
    FamilyError
        If the document has an error; nothing is written then.
    """
    document = document_of(family) if isinstance(family, Family) else dict(family)
    path = folder / FAMILY_FILE
    try:
        text = json.dumps(document, indent=INDENT, ensure_ascii=False, allow_nan=False) + "\n"
    except (TypeError, ValueError) as error:
        raise FamilyError(f"{path}: not written, as it is not plain JSON: {error}") from error
    for note in document_notes(str(path), json.loads(text)):
        if note.kind == "error":
            raise FamilyError(f"{note.sentence}; not written")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _replace(path, text)
    except OSError as error:
        raise FamilyError(f"{path}: not written: {error.strerror or error}") from error
    return path


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
    try:
        is_file, exists = folder.is_file(), folder.exists()
    except OSError as error:
        raise FamilyError(f"{folder}: cannot be opened: {error.strerror or error}") from error
    if is_file:
        raise FamilyError(f"{folder}: expected {wish}, found a file; give {folder.parent}")
    if not exists:
        raise FamilyError(f"{folder}: there is no such folder; expected {wish}")
    return folder / FAMILY_FILE


def _replace(path: Path, text: str) -> None:
    """A reader sees the file before or after, never half of it."""
    handle, name = tempfile.mkstemp(prefix=f".{path.name}-", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        mode = path.stat().st_mode & 0o777 if path.exists() else 0o644
        Path(name).chmod(mode)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
