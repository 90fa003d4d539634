"""Everything there is to say about the content of a `family.json`, the face picture aside."""

from collections import Counter
from collections.abc import Iterator
from typing import Any, Final

from pydantic import ValidationError

from needlewright.families.assemble import dial_from
from needlewright.families.checks import meaning_complaints, shape_complaints
from needlewright.families.notes import Note, Place, path_of, shape_notes, where
from needlewright.families.schema import DialFile, FamilyFile
from needlewright.families.signal_checks import supply_complaints
from needlewright.families.signal_file import SupplyFile

LISTS_WITH_IDS: Final = ("variants", "lamps", "tell_tales", "displays", "weak_points")


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
    yield from _supply_notes(file, raw)
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


def _supply_notes(file: str, raw: dict[str, Any]) -> Iterator[Note]:
    try:
        supply = SupplyFile.model_validate(raw.get("supply") or {})
    except ValidationError:
        return  # said of the shape
    for field, words in supply_complaints(supply):
        yield Note("error", file, f"supply.{field}", f"supply.{field}", words)


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
