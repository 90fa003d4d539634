"""A draft as a family folder: written whole or not at all, after its own check."""

import json
import os
import shutil
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final
from uuid import uuid4

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from needlewright.errors import FamilyError
from needlewright.families.folder import FACE_FILE, FAMILY_FILE, check_family, write_family
from needlewright.families.notes import Note
from needlewright.readings.drafting.model import Draft, DraftDial
from needlewright.readings.drafting.values import graduation_of

PLACES: Final = 3
"""Decimals of millimetres and degrees that are written: a hundredth of what can be measured."""


def family_document(draft: Draft) -> dict[str, Any]:
    """What goes into `family.json`.

    Parameters
    ----------
    draft
        With its changes.

    Returns
    -------
    dict
        The family, and under `drafted` where its values are from.
    """
    return {
        "name": draft.inputs.name,
        "face_size_mm": list(draft.face_size_mm),
        "px_per_mm": draft.px_per_mm,
        "dials": [_dial(dial) for dial in draft.dials],
        "drafted": {
            "photo": Path(draft.photo).name,
            "tilt_deg": _rounded(draft.tilt_deg),
            "changes_by_hand": len(draft.changes),
            "dials": [_drafted(dial) for dial in draft.dials],
        },
    }


def _dial(dial: DraftDial) -> dict[str, Any]:
    needle = dial.needle
    document: dict[str, Any] = {
        "id": dial.id,
        "quantity": dial.quantity,
        "unit": dial.unit,
        "centre_mm": [_rounded(c) for c in dial.centre_mm],
        "scale": [[mark.value, _rounded(mark.angle_deg)] for mark in dial.majors],
        "direction": dial.direction,
        "rest_angle_deg": _rounded(dial.rest_angle_deg),
        "rest_pin": dial.rest_pin,
        "needle": {
            "length_mm": _rounded(needle.length_mm),
            "tail_mm": _rounded(needle.tail_mm),
            "base_width_mm": _rounded(needle.base_width_mm),
            "tip_width_mm": _rounded(needle.tip_width_mm),
            "hub_radius_mm": _rounded(needle.hub_radius_mm),
            "height_mm": _rounded(needle.height_mm),
            "thickness_mm": _rounded(needle.thickness_mm),
        },
    }
    if needle.colour is not None:
        document["needle"]["colour"] = list(needle.colour)
    graduation = graduation_of(tuple(mark.value for mark in dial.marks))
    if graduation is not None:
        document["graduation"] = graduation
    return document


def _drafted(dial: DraftDial) -> dict[str, Any]:
    return {
        "id": dial.id,
        "u_centre_mm": _rounded(dial.u_centre_mm),
        "u_angle_deg": [_rounded(mark.u_angle_deg) for mark in dial.majors],
        "assumed": [name for name, source in dial.needle_sources if source == "assumed"],
    }


def _rounded(number: float | None) -> float | None:
    return None if number is None else round(number, PLACES) + 0.0


def save(draft: Draft, face: NDArray[np.uint8], folder: Path) -> Path:
    """Write a draft as a family folder.

    Parameters
    ----------
    draft
        The draft.
    face
        Its rectified face, height x width x 3, blue, green, red.
    folder
        Made if it is not there; a family in it is replaced when the new one has passed its check.

    Returns
    -------
    Path
        The `family.json`.

    Raises
    ------
    FamilyError
        If the draft does not pass `check_family`: with everything that is wrong, not only the
        first (`wrongs_of` gives it one by one). If it cannot be written. Nothing is changed then.
    """
    part = folder / f".{uuid4().hex}.part"
    try:
        part.mkdir(parents=True, exist_ok=True)
        wrongs = _written(draft, face, part)
        if wrongs:
            raise FamilyError(f"{_all_words(wrongs)}; not written")
        write_family(family_document(draft), part)  # as any other family is: whole and synced
        _put_both(part, folder)
    except OSError as error:
        raise FamilyError(f"{folder}: cannot be written: {error.strerror or error}") from error
    except FamilyError as error:
        words = str(error).replace(str(part), str(folder))
        raise FamilyError(f"{words}; correct it in the draft") from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return folder / FAMILY_FILE


def wrongs_of(draft: Draft, face: NDArray[np.uint8]) -> tuple[Note, ...]:
    """Everything that keeps a draft from being a family, without writing it anywhere to stay.

    Parameters
    ----------
    draft
        The draft.
    face
        Its rectified face, height x width x 3, blue, green, red.

    Returns
    -------
    tuple of Note
        The errors of `check_family`, each with the field it is about; none: `save` will do.
    """
    with TemporaryDirectory(prefix="needlewright-draft-") as made:
        return tuple(replace(note, file="") for note in _written(draft, face, Path(made)))


def _written(draft: Draft, face: NDArray[np.uint8], part: Path) -> list[Note]:
    """Write both files, right or wrong, so that the check finds all that is wrong."""
    Image.fromarray(np.ascontiguousarray(face[:, :, ::-1])).save(part / FACE_FILE, "PNG")
    (part / FAMILY_FILE).write_text(json.dumps(family_document(draft)), encoding="utf-8")
    return [note for note in check_family(part) if note.kind == "error"]


def _all_words(wrongs: Sequence[Note]) -> str:
    """All that is wrong as one sentence, the file named once."""
    first, *others = wrongs
    more = [": ".join(part for part in (note.subject, note.words) if part) for note in others]
    return "; and ".join([first.sentence, *more])


def _put_both(part: Path, folder: Path) -> None:
    """Face and family into their places; if the second cannot be put, the first is as it was."""
    face, before = folder / FACE_FILE, part / "before.png"
    if face.exists():
        shutil.copyfile(face, before)
    os.replace(part / FACE_FILE, face)
    try:
        os.replace(part / FAMILY_FILE, folder / FAMILY_FILE)
    except BaseException:
        if before.exists():
            os.replace(before, face)
        else:
            face.unlink(missing_ok=True)
        raise
