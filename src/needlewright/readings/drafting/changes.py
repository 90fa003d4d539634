"""Changes of a draft by hand, each a new draft; and their undoing."""

from collections.abc import Sequence
from dataclasses import fields, replace
from functools import reduce
from itertools import pairwise
from typing import Final

import numpy as np

from needlewright.errors import FamilyError
from needlewright.families.model import Needle
from needlewright.readings.drafting.changed import (
    AddMark,
    Change,
    DeleteMark,
    MoveCentre,
    MoveMark,
    Rename,
    TypeNeedle,
    TypeRest,
    TypeValue,
)
from needlewright.readings.drafting.dial_draft import direction_of
from needlewright.readings.drafting.model import (
    Draft,
    DraftDial,
    DraftMark,
    NeedleSource,
    ValueSource,
)
from needlewright.readings.drafting.values import count_values
from needlewright.units import unit as unit_of

LEAST_APART_DEG: Final = 0.05
MEASURES: Final = tuple(field.name for field in fields(Needle) if field.name.endswith("_mm"))


def corrected(draft: Draft, change: Change) -> Draft:
    """A draft with one thing changed by hand.

    Parameters
    ----------
    draft
        As it is.
    change
        What is changed.

    Returns
    -------
    Draft
        Another one; `undone` takes the change back.

    Raises
    ------
    FamilyError
        One sentence, if the change cannot be made; the draft stays as it is.
    """
    return replace(draft, dials=_changed(draft.dials, change), changes=(*draft.changes, change))


def undone(draft: Draft) -> Draft:
    """A draft without its last change.

    Parameters
    ----------
    draft
        As it is; one without changes is returned as it is.

    Returns
    -------
    Draft
        What was found, with all changes but the last made anew.
    """
    kept = draft.changes[:-1]
    return replace(draft, dials=reduce(_changed, kept, draft.found), changes=kept)


def _changed(dials: tuple[DraftDial, ...], change: Change) -> tuple[DraftDial, ...]:
    ids = [dial.id for dial in dials]
    if change.dial not in ids:
        raise FamilyError(f"there is no dial '{change.dial}' in the draft: {', '.join(ids)}")
    if isinstance(change, Rename) and change.id != change.dial and change.id in ids:
        raise FamilyError(f"there is a dial '{change.id}' already; give another id")
    return tuple(_apply(dial, change) if dial.id == change.dial else dial for dial in dials)


def _apply(dial: DraftDial, change: Change) -> DraftDial:
    match change:
        case MoveCentre():
            changed = _about(dial, change.centre_mm)
        case MoveMark() | DeleteMark() | AddMark():
            changed = _with_marks(dial, _changed_marks(dial, change))
        case TypeValue():
            changed = _valued(dial, change)
        case TypeNeedle():
            changed = _with_needle(dial, change)
        case TypeRest():
            changed = replace(
                dial,
                rest_angle_deg=change.angle_deg,
                rest_pin=change.pin,
                rest_typed=True,
                rest_source="typed",
            )
        case Rename():
            unit_of(change.unit)
            changed = replace(dial, id=change.id, quantity=change.quantity, unit=change.unit)
    return changed


def _changed_marks(
    dial: DraftDial, change: MoveMark | DeleteMark | AddMark
) -> tuple[DraftMark, ...]:
    if isinstance(change, AddMark):
        return (*dial.marks, _new_mark(dial, change))
    mark = _mark(dial, change.mark)
    if isinstance(change, DeleteMark):
        return _but(dial.marks, change.mark, None)
    turned = replace(
        mark, angle_deg=change.angle_deg, u_angle_deg=None, source="hand", past_mm=None
    )
    return _but(dial.marks, change.mark, turned)


def _mark(dial: DraftDial, place: int) -> DraftMark:
    if not 0 <= place < len(dial.marks):
        raise FamilyError(
            f"dial '{dial.id}' has {len(dial.marks)} marks, counted from 0; there is no {place}"
        )
    return dial.marks[place]


def _but(marks: tuple[DraftMark, ...], place: int, mark: DraftMark | None) -> tuple[DraftMark, ...]:
    return (*marks[:place], *(() if mark is None else (mark,)), *marks[place + 1 :])


def _about(dial: DraftDial, centre_mm: tuple[float, float]) -> DraftDial:
    """The dial about another centre, its marks where they were on the face."""
    move = np.subtract(dial.centre_mm, centre_mm)

    def seen(mark: DraftMark) -> DraftMark:
        turn = np.radians(mark.angle_deg)
        way, side = np.array([np.sin(turn), -np.cos(turn)]), np.array([np.cos(turn), np.sin(turn)])
        inner, outer = move + mark.inner_mm * way, move + mark.outer_mm * way
        x, y = (inner + outer) / 2
        angle = float(np.degrees(np.arctan2(x, -y)))
        angle += 360.0 * round((mark.angle_deg - angle) / 360.0)
        return replace(
            mark,
            angle_deg=angle,
            inner_mm=float(np.hypot(*inner)),
            outer_mm=float(np.hypot(*outer)),
            past_mm=None if mark.past_mm is None else mark.past_mm + float(move @ side),
        )

    moved = replace(dial, centre_mm=centre_mm, u_centre_mm=None)
    return _with_marks(moved, tuple(seen(mark) for mark in dial.marks))


def _new_mark(dial: DraftDial, change: AddMark) -> DraftMark:
    """A mark as long as others of its kind."""
    alike = [mark for mark in dial.marks if mark.major == (change.value is not None)] or dial.marks
    return DraftMark(
        change.angle_deg,
        None,
        change.value is not None,
        change.value,
        float(np.median([mark.inner_mm for mark in alike])),
        float(np.median([mark.outer_mm for mark in alike])),
        "hand",
        "none" if change.value is None else "typed",
    )


def _valued(dial: DraftDial, change: TypeValue) -> DraftDial:
    source: ValueSource = "none" if change.value is None else "typed"
    mark = replace(
        _mark(dial, change.mark),
        value=change.value,
        major=change.value is not None,
        value_source=source,
    )
    return _with_marks(dial, _but(dial.marks, change.mark, mark))


def _with_needle(dial: DraftDial, change: TypeNeedle) -> DraftDial:
    if change.measure not in MEASURES:
        raise FamilyError(
            f"dial '{dial.id}': a needle has no measure '{change.measure}'; it has "
            f"{', '.join(MEASURES)}"
        )
    if not change.value > 0:
        raise FamilyError(
            f"dial '{dial.id}': {change.measure} must be above 0, given {change.value:g}"
        )
    typed: dict[str, NeedleSource] = {change.measure: "typed"}
    sources = dict(dial.needle_sources) | typed
    needle = replace(dial.needle, **{change.measure: change.value})  # type: ignore[arg-type]
    return replace(dial, needle=needle, needle_sources=tuple(sources.items()))


def _with_marks(dial: DraftDial, marks: Sequence[DraftMark]) -> DraftDial:
    """Marks in their order, values counted from the typed ones, the rest with the first mark."""
    order = sorted(marks, key=lambda mark: mark.angle_deg)
    if len(order) < 2:
        raise FamilyError(f"dial '{dial.id}': at least two marks are needed; add one first")
    for before, after in pairwise(order):
        if after.angle_deg - before.angle_deg < LEAST_APART_DEG:
            raise FamilyError(
                f"dial '{dial.id}': two marks would stand at {after.angle_deg:.2f} degrees; move "
                "one or delete it"
            )
    typed = tuple(
        (i, mark.value)
        for i, mark in enumerate(order)
        if mark.value_source == "typed" and mark.value is not None
    )
    if len(typed) < 2:
        raise FamilyError(
            f"dial '{dial.id}': two marks must keep a typed value, from which the others are "
            "counted; type another value first"
        )
    counted = count_values(dial.id, np.array([mark.major for mark in order]), typed)
    is_typed = {place for place, _ in typed}
    valued = tuple(
        replace(
            mark,
            value=value,
            value_source="typed" if i in is_typed else "none" if value is None else "counted",
        )
        for i, (mark, value) in enumerate(zip(order, counted.values, strict=True))
    )
    lowest = min((mark.value, mark.angle_deg) for mark in valued if mark.value is not None)
    return replace(
        dial,
        marks=valued,
        direction=direction_of(valued),
        rest_angle_deg=dial.rest_angle_deg if dial.rest_typed else lowest[1],
        remarks=counted.remarks,
    )
