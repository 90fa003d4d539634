"""A draft laid over the picture it was made from, as plain data for the drawing."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from needlewright.papers.overlay import DialDrawing, Pixels, Point, draw_overlay, write_overlay
from needlewright.readings.drafting.ink import on_circle
from needlewright.readings.drafting.model import Draft, DraftDial, DraftMark
from needlewright.readings.projection import Projection

ARC_STEP_DEG = 2.0


def draft_drawings(draft: Draft) -> list[DialDrawing]:
    """What is drawn for each dial of a draft over the picture it was clicked in.

    Parameters
    ----------
    draft
        The draft.

    Returns
    -------
    list
        A cross on each centre, the circle of the outer ends, a line on each mark found, and the
        first and last value.
    """
    return [_drawing(dial, draft.projection) for dial in draft.dials]


def draft_overlay(draft: Draft, pixels: Pixels) -> Pixels:
    """The picture with the draft over it; see `draft_drawings`."""
    return draw_overlay(pixels, draft_drawings(draft), footer(draft))


def write_draft_overlay(path: Path, draft: Draft, pixels: Pixels) -> None:
    """Write `draft_overlay` as a JPEG; it appears whole or not at all."""
    write_overlay(path, pixels, draft_drawings(draft), footer(draft))


def footer(draft: Draft) -> Sequence[str]:
    """Two lines under the picture: what it is, and what to look for."""
    tilt = "a scan" if draft.tilt_deg is None else f"taken {draft.tilt_deg:.1f} deg from above"
    return (
        f"draft of {draft.inputs.name}   {Path(draft.photo).name}, {tilt}",
        "every printed mark should carry a line, and no line should stand beside its mark",
    )


def mark_line(dial: DraftDial, mark: DraftMark) -> NDArray[np.float64]:
    """Both ends of a mark's line as it was seen: it need not pass the centre exactly.

    Parameters
    ----------
    dial
        The mark's.
    mark
        Its angle is that of its middle about the centre.

    Returns
    -------
    ndarray
        2 x 2, face millimetres, the inner end first.
    """
    aside = mark.past_mm or 0.0
    middle_mm = (mark.inner_mm + mark.outer_mm) / 2
    turn = np.radians(mark.angle_deg) - np.arcsin(np.clip(aside / middle_mm, -1.0, 1.0))
    way, side = np.array([np.sin(turn), -np.cos(turn)]), np.array([np.cos(turn), np.sin(turn)])
    radii = np.array([mark.inner_mm, mark.outer_mm])
    along = np.sqrt(np.maximum(radii**2 - aside**2, 0.0))
    return np.asarray(dial.centre_mm + aside * side + along[:, None] * way)


def _drawing(dial: DraftDial, projection: Projection) -> DialDrawing:
    centre = np.array(dial.centre_mm)

    def at(angles_deg: Sequence[float], radii_mm: Sequence[float]) -> tuple[Point, ...]:
        points = on_circle(centre, np.array(angles_deg), np.array(radii_mm))
        return tuple((float(x), float(y)) for x, y in projection.to_photo(points))

    outer = float(np.median([mark.outer_mm for mark in dial.marks if mark.major]))
    first, last = dial.marks[0].angle_deg, dial.marks[-1].angle_deg
    arc = np.linspace(first, last, 2 + int((last - first) / ARC_STEP_DEG))
    marks = []
    for mark in dial.marks:
        (x0, y0), (x1, y1) = projection.to_photo(mark_line(dial, mark)).tolist()
        marks.append(((x0, y0), (x1, y1)))
    majors = dial.majors
    around = np.arange(0.0, 361.0, 10.0)
    return DialDrawing(
        name=dial.id,
        label=f"{majors[0].value:g} to {majors[-1].value:g} {dial.unit}, {len(majors)} marks",
        was_read=True,
        centre_px=at([0.0], [0.0])[0],
        hub_px=at(list(around), [0.04 * outer] * len(around)),
        arc_px=at(list(arc), [outer] * len(arc)),
        marks_px=tuple(marks),
    )
