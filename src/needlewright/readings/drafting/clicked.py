"""What lies under a person's clicks, before anything is known of a dial."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import PictureError
from needlewright.readings.drafting.ink import Shade, Unrolled, angle_of, unroll
from needlewright.readings.drafting.inputs import TypedDial
from needlewright.readings.projection import Array, Projection

CLICK_PX: Final = 10.0
"""How far from a mark its click may be, pixels of the photo."""
WIDE_RING: Final = (0.78, 1.25)
"""Radii about those of the clicks, in which marks are looked for at first."""
FAINTEST: Final = 15.0
"""Ink under a click below which there is no mark, grey levels."""


def shade_of(
    planes: dict[Shade, NDArray[np.uint8]], dial: TypedDial, projection: Projection
) -> Shade:
    """Find whether a dial's marks are lighter or darker than its face.

    Parameters
    ----------
    planes
        The picture's ink, of both shades.
    dial
        Clicks and values.
    projection
        Plane to picture.

    Returns
    -------
    str
        The shade in which the clicked marks stand out more.

    Raises
    ------
    PictureError
        If a click lies outside the picture, too near to the hub, or on nothing.
    """
    any_plane = planes["light"]
    clicks = [(dial.hub_px, "hub"), *((m.at_px, f"mark {m.value:g}") for m in dial.marks)]
    for (x, y), what in clicks:
        if not (0 <= x <= any_plane.shape[1] - 1 and 0 <= y <= any_plane.shape[0] - 1):
            raise PictureError(
                f"dial '{dial.id}': the click on its {what} at {x:.0f}, {y:.0f} lies outside the "
                f"picture of {any_plane.shape[1]} x {any_plane.shape[0]} px"
            )
    centre = projection.to_face(np.array(dial.hub_px))
    at = projection.to_face(np.array([mark.at_px for mark in dial.marks]))
    radii = np.linalg.norm(at - centre, axis=1)
    if radii.min() < 2 * CLICK_PX:
        raise PictureError(
            f"dial '{dial.id}': a mark is clicked {radii.min():.0f} px from the hub; click on the "
            "hub's middle and on the marks, or take the photo closer"
        )
    shades: tuple[Shade, ...] = ("light", "dark")
    levels = {
        shade: levels_at(unroll(planes[shade], projection, centre, wide_ring(radii)), at)
        for shade in shades
    }
    shade = max(shades, key=lambda name: float(levels[name].min()))
    faintest = int(np.argmin(levels[shade]))
    if levels[shade][faintest] < FAINTEST:
        mark = dial.marks[faintest]
        raise PictureError(
            f"dial '{dial.id}': nothing stands out from the face at the click on mark "
            f"{mark.value:g} ({mark.at_px[0]:.0f}, {mark.at_px[1]:.0f}); click on the mark itself, "
            "or take a photo in which it can be seen"
        )
    return shade


def wide_ring(radii: Array) -> tuple[float, float]:
    """A ring about the clicks, whose radii are given, wide enough for any mark under them."""
    return float(WIDE_RING[0] * radii.min()), float(WIDE_RING[1] * radii.max())


def levels_at(unrolled: Unrolled, at: Array) -> Array:
    """Most ink within a click's reach of each place."""
    angles = angle_of(unrolled.centre, at) % 360.0
    radii = np.linalg.norm(at - unrolled.centre, axis=1)
    columns = np.round(angles / unrolled.step_deg).astype(int)
    rows = np.abs(unrolled.radii[None] - radii[:, None]).argmin(axis=1)
    arc = np.radians(unrolled.step_deg) * radii
    reach = np.maximum(np.round(0.8 * CLICK_PX / arc), 1).astype(int)
    tall = round(0.4 * CLICK_PX / (unrolled.radii[1] - unrolled.radii[0]))
    return np.array(
        [
            unrolled.ink[max(row - tall, 0) : row + tall + 1]
            .take(range(column - wide, column + wide + 1), axis=1, mode="wrap")
            .max()
            for row, column, wide in zip(rows, columns, reach, strict=True)
        ]
    )
