"""A draft and its changes as plain JSON, and back: what is kept between two looks at the page."""

import math
from collections.abc import Mapping
from dataclasses import asdict
from functools import cache, reduce
from typing import Any, Final, get_args

import numpy as np
from pydantic import TypeAdapter, ValidationError

from needlewright.errors import FamilyError
from needlewright.readings.drafting.changed import Change
from needlewright.readings.drafting.changes import corrected
from needlewright.readings.drafting.inputs import DraftInputs
from needlewright.readings.drafting.model import Draft, DraftDial, PictureUse
from needlewright.readings.projection import Projection

KINDS: Final[dict[str, type[Change]]] = {kind.__name__: kind for kind in get_args(Change)}
AS_THEY_ARE: Final = (
    "photo",
    "face_size_mm",
    "px_per_mm",
    "tilt_deg",
    "u_tilt_deg",
    "u_scale",
    "remarks",
)


def draft_document(draft: Draft) -> dict[str, Any]:
    """A draft as found, without changes, as plain JSON.

    Parameters
    ----------
    draft
        The draft.

    Returns
    -------
    dict
        As `read_draft` takes it.
    """
    return {
        "inputs": asdict(draft.inputs),
        "projection": projection_document(draft.projection),
        "found": [asdict(dial) for dial in draft.found],
        "pictures": [asdict(use) for use in draft.pictures],
        **{name: getattr(draft, name) for name in AS_THEY_ARE},
    }


def projection_document(projection: Projection) -> dict[str, Any]:
    """Face millimetres to pixels, as numbers."""
    return {
        "matrix": projection.matrix.tolist(),
        "radial": projection.radial,
        "centre_px": list(projection.centre_px),
        "half_diagonal_px": projection.half_diagonal_px,
    }


def read_draft(document: Mapping[str, Any]) -> Draft:
    """A draft out of what `draft_document` made of it.

    Parameters
    ----------
    document
        Plain JSON.

    Returns
    -------
    Draft
        As found.

    Raises
    ------
    FamilyError
        If another version of the program wrote it, or it was damaged.
    """
    try:
        written = document["projection"]
        dials = _adapter(tuple[DraftDial, ...]).validate_python(document["found"])
        half = written["half_diagonal_px"]
        return Draft(
            inputs=_adapter(DraftInputs).validate_python(document["inputs"]),
            photo=document["photo"],
            projection=Projection(
                np.array(written["matrix"], dtype=np.float64),
                written["radial"],
                (written["centre_px"][0], written["centre_px"][1]),
                half,
            ),
            face_size_mm=(document["face_size_mm"][0], document["face_size_mm"][1]),
            px_per_mm=document["px_per_mm"],
            dials=dials,
            found=dials,
            tilt_deg=document["tilt_deg"],
            u_tilt_deg=document["u_tilt_deg"],
            u_scale=document["u_scale"],
            pictures=_adapter(tuple[PictureUse, ...]).validate_python(document["pictures"]),
            remarks=tuple(document["remarks"]),
        )
    except (KeyError, TypeError, IndexError, ValueError) as error:
        raise FamilyError(
            "what was found before cannot be read any more; have it drafted again"
        ) from error


def read_change(said: Mapping[str, Any]) -> Change:
    """One change, as the page says it: `kind` and the fields of that record.

    Parameters
    ----------
    said
        Such as `{"kind": "MoveMark", "dial": "speed", "mark": 3, "angle_deg": 12.5}`.

    Returns
    -------
    Change
        Its numbers are finite.

    Raises
    ------
    FamilyError
        If it is no change.
    """
    fields = dict(said)
    kind = KINDS.get(str(fields.pop("kind", "")))
    if kind is None:
        raise FamilyError("this is no change of a draft; load the page again")
    try:
        change: Change = _of_kind(kind.__name__).validate_python(fields)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise FamilyError(
            f"{' '.join(str(part) for part in first['loc'])}: "
            f"{first['msg'][:1].lower()}{first['msg'][1:]}; correct it"
        ) from error
    numbers = [one for value in asdict(change).values() for one in _each(value)]
    if not all(math.isfinite(one) for one in numbers):
        raise FamilyError("a number is without end; type one with digits")
    return change


def change_document(change: Change) -> dict[str, Any]:
    """A change as `read_change` takes it."""
    return {"kind": type(change).__name__, **asdict(change)}


def changed(draft: Draft, changes: list[dict[str, Any]]) -> Draft:
    """A draft with the changes of a list made, in order."""
    return reduce(corrected, (read_change(one) for one in changes), draft)


@cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


@cache
def _of_kind(name: str) -> TypeAdapter[Any]:
    return TypeAdapter(KINDS[name])


def _each(value: object) -> list[float]:
    values = value if isinstance(value, (tuple, list)) else [value]
    return [float(one) for one in values if isinstance(one, (int, float))]
