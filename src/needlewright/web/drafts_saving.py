"""A draft taken into the shop as a family after the check; or everything wrong with it."""

import json
import re
from dataclasses import fields
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from needlewright.errors import ConflictError, FamilyError, UnusableInput
from needlewright.families.folder import FACE_FILE, FAMILY_FILE, check_family, write_family
from needlewright.families.model import Needle
from needlewright.families.notes import Note
from needlewright.readings.drafting.model import Draft
from needlewright.readings.drafting.saving import family_document
from needlewright.records.families import families, keep_family
from needlewright.records.opening import Shop
from needlewright.records.people import name_key
from needlewright.records.views import FamilyView
from needlewright.web.drafts_typed import WrongAt
from needlewright.web.texts import Texts

_OF_DIAL: Final = re.compile(r"dials\[(\d+)\]\.?(.*)")
MEASURES: Final = tuple(field.name for field in fields(Needle) if field.name.endswith("_mm"))
FIELDS: Final = (
    ("id", "id"),
    ("unit", "unit"),
    ("quantity", "quantity"),
    ("centre_mm", "centre"),
    ("rest_angle_deg", "rest"),
    ("rest_pin", "rest"),
    ("scale", "marks"),
    ("direction", "marks"),
    *((f"needle.{measure}", measure) for measure in MEASURES),
)
"""How a field of a dial begins in the file, and the place on the page it is typed at."""


def wrongs_of_draft(draft: Draft, shop: Shop, texts: Texts, *, new_version: bool) -> list[WrongAt]:
    """What keeps a draft from being kept before it is even written.

    Parameters
    ----------
    draft
        The draft.
    shop
        Whose families are looked at.
    texts
        For the sentences.
    new_version
        Whether it may become the next version of a family of that name.

    Returns
    -------
    list of WrongAt
        Each with its place.
    """
    name = draft.inputs.name
    if not name:
        return [WrongAt("name", texts("drafts.wrong.name"))]
    known = [one for one in families(shop) if name_key(one.name) == name_key(name)]
    if known and not new_version:
        said = texts("drafts.wrong.name_known", name=known[0].name, number=known[0].number)
        return [WrongAt("name", said)]
    return []


def keep_draft(
    draft: Draft, face: Path, shop: Shop, by: str | None, note: str
) -> FamilyView | list[WrongAt]:
    """Check a draft as `needlewright family check` does, and take it into the shop.

    Parameters
    ----------
    draft
        The draft.
    face
        Its rectified face, PNG.
    shop
        The shop.
    by
        Who keeps it.
    note
        What is new in it, in words.

    Returns
    -------
    FamilyView | list of WrongAt
        The version it is now, or every error of the check beside what it is about.

    Raises
    ------
    FamilyError
        If it cannot be written.
    ConflictError, RecordError
        If it cannot be stored.
    """
    with TemporaryDirectory(prefix="needlewright-family-") as made:
        folder = Path(made) / "family"
        folder.mkdir()
        document = family_document(draft)
        try:
            (folder / FACE_FILE).write_bytes(face.read_bytes())
            # plainly at first, right or wrong, so that the check finds everything at once
            (folder / FAMILY_FILE).write_text(json.dumps(document), encoding="utf-8")
        except OSError as error:
            raise FamilyError(
                "the face that was laid flat is missing; have it drafted again"
            ) from error
        notes = [note for note in check_family(folder) if note.kind == "error"]
        if notes:
            return [_wrong(note) for note in notes]
        write_family(document, folder)
        try:
            return keep_family(shop, folder, by, note=note)
        except ConflictError:
            raise
        except UnusableInput as error:
            said = str(error).replace(f"{folder}/", "").replace(str(folder), "family")
            raise FamilyError(said) from error


def _wrong(note: Note) -> WrongAt:
    of = _OF_DIAL.match(note.field)
    words = ": ".join(part for part in (note.subject, note.words) if part)
    if of is not None:
        at = next((place for begin, place in FIELDS if of.group(2).startswith(begin)), None)
        if at is not None:  # the place says of which dial and field
            return WrongAt(f"found:{of.group(1)}:{at}", note.words)
        return WrongAt(f"found:{of.group(1)}", words)
    return WrongAt("name" if note.field == "name" else "", words)
