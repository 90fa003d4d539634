"""A draft as its page shows it: typed, found with every change made, and what is wrong."""

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from needlewright.errors import NeedlewrightError
from needlewright.readings.drafting.model import Draft, DraftDial, PictureUse
from needlewright.web.drafts_desk import DraftDesk, DraftFar
from needlewright.web.drafts_store import Kept, State, changes_of, now_of
from needlewright.web.drafts_typed import TypedForm
from needlewright.web.drafts_written import changed, projection_document, read_draft


def draft_of(desk: DraftDesk, kept: Kept) -> Draft | None:
    """What was found, with every change made; None before the first drafting.

    Parameters
    ----------
    desk
        Where drafts are kept.
    kept
        The draft.

    Returns
    -------
    Draft | None
        Under the name that is typed now.

    Raises
    ------
    NeedlewrightError
        If it cannot be read any more.
    """
    state = now_of(kept)
    if state["result"] is None:
        return None
    found = read_draft(desk.store.result(kept["id"], state["result"]))
    draft = changed(found, changes_of(kept))
    name = TypedForm.model_validate(state["typed"]).name.strip()
    return replace(draft, inputs=replace(draft.inputs, name=name))


def page_state(desk: DraftDesk, kept: Kept) -> dict[str, Any]:
    """Everything the page's scripts draw.

    Parameters
    ----------
    desk
        Where drafts are kept.
    kept
        The draft.

    Returns
    -------
    dict
        Plain JSON.
    """
    state = now_of(kept)
    wrongs = list(kept["wrongs"])
    try:
        draft = draft_of(desk, kept)
    except NeedlewrightError as error:
        draft = None
        wrongs.append({"place": "", "what": str(error)})
    known = {photo["id"]: photo for photo in kept["photos"]}
    return {
        "id": kept["id"],
        "serial": kept["serial"],
        "can_undo": kept["at"] > 0,
        "can_redo": kept["at"] + 1 < len(kept["history"]),
        "photos": [known[one] for one in state["photos"]],
        "typed": state["typed"],
        "found": None if draft is None else _found(draft) | {"is_old": is_old(state)},
        "wrongs": wrongs,
        "far": far_document(desk.far(kept["id"])),
        "saved": kept["saved"]
        and kept["saved"] | {"is_current": kept["saved"]["at"] == kept["at"]},
    }


def _needles(draft: Draft, use: PictureUse) -> dict[str, Any]:
    """Where the needles stand in a photo, under the names their dials have now."""
    now = {found.id: dial for found, dial in zip(draft.found, draft.dials, strict=True)}
    stand = []
    for dial_id, angle_deg in zip(use.needles, use.angles_deg, strict=False):
        dial = now.get(dial_id)
        if dial is not None:
            value = _value_at(dial, angle_deg)
            stand.append({"dial": dial.id, "angle_deg": angle_deg, "value": value})
    return {"photo": use.photo, "needles": stand}


def _value_at(dial: DraftDial, angle_deg: float) -> float | None:
    """The value a needle points at; None: it points off the scale."""
    marks = sorted((mark.angle_deg, mark.value) for mark in dial.majors if mark.value is not None)
    angles = [angle for angle, _ in marks]
    if not angles or not angles[0] <= angle_deg <= angles[-1]:
        return None
    return float(np.interp(angle_deg, angles, [value for _, value in marks]))


def far_document(far: DraftFar | None) -> dict[str, Any] | None:
    """How far a drafting is, for the page's scripts."""
    return None if far is None else asdict(far)


def is_old(state: State) -> bool:
    """Whether clicks, values or photos were changed since they were drafted from."""
    of = state["of"]
    return of is None or _what_counts(state) != _what_counts(of)


def _what_counts(state: Mapping[str, Any]) -> tuple[Any, ...]:
    typed = {key: value for key, value in state["typed"].items() if key != "name"}
    return typed, list(state["photos"])


def _found(draft: Draft) -> dict[str, Any]:
    return {
        "projection": projection_document(draft.projection),
        "face_size_mm": draft.face_size_mm,
        "tilt_deg": draft.tilt_deg,
        "u_tilt_deg": draft.u_tilt_deg,
        "remarks": draft.remarks,
        "unseen": [use.photo for use in draft.pictures if not use.found],
        "needles": [_needles(draft, use) for use in draft.pictures if use.needles],
        "at_rest": list(draft.inputs.at_rest),
        "changes": len(draft.changes),
        "dials": [
            asdict(dial) | {"needle_sources": dict(dial.needle_sources)} for dial in draft.dials
        ],
    }
