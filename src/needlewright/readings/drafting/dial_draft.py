"""A found dial in the face's own frame: angles, values, hidden marks, and how sure each is."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from needlewright.families.model import Direction
from needlewright.readings.drafting.finding import FoundDial, ends_on_plane
from needlewright.readings.drafting.framing import Frame
from needlewright.readings.drafting.hidden import Completed, complete
from needlewright.readings.drafting.ink import angle_of
from needlewright.readings.drafting.model import DraftDial, DraftMark
from needlewright.readings.drafting.needles import height_of, needle_of
from needlewright.readings.drafting.values import Counted, count_values
from needlewright.readings.projection import Array, Projection

PLACE_PX: Final = 0.08
"""Standard deviation of a mark's place along its circle, pixels of the photo."""


def dial_of(
    dial: FoundDial, frame: Frame, plane: Projection, *, photo_px_per_mm: float
) -> DraftDial:
    """Put a dial into the face's frame.

    Parameters
    ----------
    dial
        As found.
    frame
        Of the face, on the plane.
    plane
        Plane to the picture the dial was found in.
    photo_px_per_mm
        Resolution of the photo at the dial, which says how finely a mark could be placed.

    Returns
    -------
    DraftDial
        Its hidden marks put in, its values counted, its needle assumed.

    Raises
    ------
    FamilyError
        If the typed values neither all rise nor all fall.
    """
    typed, chain = dial.typed, dial.chain
    inner, outer = ends_on_plane(chain.ticks, plane)
    middle = (inner + outer) / 2
    angles = np.unwrap(angle_of(dial.centre, middle), period=360.0) - frame.turned_deg
    angles -= 360.0 * round(float(angles[0] + angles[-1]) / 720.0)
    radii = np.stack([np.linalg.norm(e - dial.centre, axis=1) for e in (inner, outer)]) * frame.mm
    whole = complete(angles, chain.major)
    place_of = {int(origin): i for i, origin in enumerate(whole.origin) if origin >= 0}
    clicks = {
        place_of[place]: mark.value for place, mark in zip(chain.clicked, typed.marks, strict=True)
    }
    counted = count_values(typed.id, whole.major, tuple(clicks.items()))
    covariance = frame.axes.T @ dial.covariance @ frame.axes * frame.mm**2
    usual = np.median(radii[:, chain.major], axis=1)
    doubts = _doubts(whole, radii, usual, covariance, PLACE_PX / photo_px_per_mm)
    past = _past(inner, outer, dial.centre) * frame.mm
    ends = np.column_stack([np.vstack([radii, past]), [*usual, np.nan]])
    marks = _marks(whole, counted, doubts, ends, set(clicks))
    rest = _first_deg(marks) if typed.rest_angle_deg is None else typed.rest_angle_deg
    needle, sources = needle_of([], height_of([]), (float(usual[0]), float(usual[1])), typed.needle)
    x, y = frame.to_mm(dial.centre)
    return DraftDial(
        id=typed.id,
        quantity=typed.quantity_words,
        unit=typed.unit,
        centre_mm=(float(x), float(y)),
        u_centre_mm=float(np.sqrt(np.linalg.eigvalsh(covariance)[-1])),
        direction=direction_of(marks),
        marks=marks,
        needle=needle,
        needle_sources=sources,
        rest_angle_deg=rest,
        rest_pin=typed.rest_pin,
        rest_typed=typed.rest_angle_deg is not None,
        rest_source="assumed" if typed.rest_angle_deg is None else "typed",
        line_rms_mm=1.4826 * float(np.median(np.abs(past))),
        remarks=(*counted.remarks, *_hidden_words(marks)),
    )


def _doubts(
    whole: Completed, radii: Array, usual: Array, covariance: Array, place_mm: float
) -> Array:
    """Standard uncertainty of each mark's angle: the centre's, its own place's, a hidden one's."""
    reach = np.where(whole.origin >= 0, radii.mean(axis=0)[whole.origin], usual.mean())
    turn = np.radians(whole.angles_deg)
    side = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    centre = np.sqrt(np.einsum("ni,ij,nj->n", side, covariance, side)) / reach
    seen = np.degrees(np.hypot(centre, place_mm / reach))
    return np.asarray(np.hypot(seen, whole.doubt_deg))


def _marks(
    whole: Completed, counted: Counted, doubts: Array, ends: Array, clicked: set[int]
) -> tuple[DraftMark, ...]:
    """The marks; the last column of `ends` is that of a mark nobody saw.

    Its rows: the radii of both ends, and how far the line passes the centre.
    """
    return tuple(
        DraftMark(
            angle_deg=float(whole.angles_deg[i]),
            u_angle_deg=float(doubts[i]),
            major=bool(whole.major[i]) or i in clicked,
            value=value,
            inner_mm=float(ends[0, whole.origin[i]]),
            outer_mm=float(ends[1, whole.origin[i]]),
            source="found" if whole.origin[i] >= 0 else "between",
            value_source="typed" if i in clicked else "none" if value is None else "counted",
            past_mm=float(ends[2, whole.origin[i]]) if whole.origin[i] >= 0 else None,
        )
        for i, value in enumerate(counted.values)
    )


def _hidden_words(marks: Sequence[DraftMark]) -> tuple[str, ...]:
    hidden = [f"{m.value:g}" for m in marks if m.source == "between" and m.value is not None]
    if not hidden:
        return ()
    return (f"mark {', '.join(hidden)} is hidden and put between its neighbours",)


def direction_of(marks: Sequence[DraftMark]) -> Direction:
    """Which way the needle turns as the value rises; marks in rising angle."""
    values = [mark.value for mark in marks if mark.value is not None]
    return "cw" if values[-1] > values[0] else "ccw"


def _first_deg(marks: Sequence[DraftMark]) -> float:
    """Angle of the mark of the lowest value."""
    return min((mark.value, mark.angle_deg) for mark in marks if mark.value is not None)[1]


def _past(inner: Array, outer: Array, centre: Array) -> Array:
    """How far each mark's line passes the centre, positive to the right seen outwards along it."""
    along, out = outer - inner, inner - centre
    return np.asarray(
        (out[:, 1] * along[:, 0] - out[:, 0] * along[:, 1]) / np.linalg.norm(along, axis=1)
    )
