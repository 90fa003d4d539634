"""A dial unrolled about its centre, and the ink on it apart from the ground.

Source: derivation in docs/decisions/0040-drafting.md.
"""

from dataclasses import dataclass
from typing import Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.projection import Array, Projection
from needlewright.readings.sampling import sample

Shade = Literal["light", "dark"]
"""Whether marks are lighter or darker than the face they stand on."""

FINEST_PX: Final = 0.4
MOST_COLUMNS: Final = 6000
"""A turn is unrolled in steps of `FINEST_PX`, and in no more than so many columns."""
ROW_PX: Final = 0.5
WIDEST_MARK: Final = 0.13
"""Arc, in radii, above which a thing is no mark: bands, tracks, plates."""
WIDEST_NEEDLE: Final = 0.5
"""Arc, in radii, up to which a thing may be a needle."""


@dataclass(frozen=True, slots=True)
class Unrolled:
    """The ink about a centre: rows are radii, columns are angles clockwise from 12 o'clock."""

    centre: Array
    """(2,), on the plane."""
    radii: Array
    """Of the rows."""
    step_deg: float
    """From column to column; the first is 0."""
    ink: NDArray[np.float32]
    """Rows x columns: how far each place stands out from what lies beside it on its circle."""
    broad: NDArray[np.float32]
    """The same for things as wide as a needle near its hub."""

    def on_plane(self, angles_deg: Array, radii: Array) -> Array:
        """Points of the plane at angles and radii; shape (..., 2)."""
        return on_circle(self.centre, angles_deg, radii)


def on_circle(centre: Array, angles_deg: Array, radii: Array | float) -> Array:
    """Points at angles clockwise from 12 o'clock and radii about a centre.

    Parameters
    ----------
    centre
        (2,), x right and y down.
    angles_deg
        Degrees.
    radii
        In the centre's unit; broadcast against the angles.

    Returns
    -------
    NDArray
        Shape (..., 2).
    """
    turn = np.radians(angles_deg)
    return np.asarray(
        np.stack([centre[0] + radii * np.sin(turn), centre[1] - radii * np.cos(turn)], axis=-1)
    )


def angle_of(centre: Array, points: Array) -> Array:
    """Degrees clockwise from 12 o'clock of points about a centre, from -180 to 180."""
    out = points - centre
    return np.asarray(np.degrees(np.arctan2(out[..., 0], -out[..., 1])))


def ink_plane(pixels: NDArray[np.uint8], shade: Shade) -> NDArray[np.uint8]:
    """How inky each pixel is: by its strongest colour for light ink, by its weakest for dark ink.

    So a white mark and a red one stand out alike from a black face, and a black one and a red one
    from a white face.

    Parameters
    ----------
    pixels
        Height x width x 3.
    shade
        Of the marks.

    Returns
    -------
    NDArray
        Height x width.
    """
    if shade == "light":
        return np.asarray(pixels.max(axis=2), np.uint8)
    return np.asarray(255 - pixels.min(axis=2), np.uint8)


def unroll(
    plane: NDArray[np.uint8],
    projection: Projection,
    centre: Array,
    radii: tuple[float, float],
    mm_per_px: float = 1.0,
) -> Unrolled:
    """Unroll a ring about a centre and take the ink out of it.

    Parameters
    ----------
    plane
        What `ink_plane` makes of the photo.
    projection
        Plane to photo.
    centre
        (2,), on the plane.
    radii
        Inner and outer radius of the ring, on the plane.
    mm_per_px
        Length on the plane of a pixel of the photo.

    Returns
    -------
    Unrolled
        Circles of one brightness (tracks, rims) and whatever is wider than a mark are gone.
    """
    inner, outer = radii
    columns = min(MOST_COLUMNS, int(np.ceil(2 * np.pi * outer / (FINEST_PX * mm_per_px))))
    step = 360.0 / columns
    row = ROW_PX * mm_per_px
    rows = inner + row * np.arange(int((outer - inner) / row) + 1, dtype=np.float64)
    points = on_circle(centre, step * np.arange(columns, dtype=np.float64)[None], rows[:, None])
    at = projection.to_photo(points)
    seen = sample(plane, at[..., 0], at[..., 1])
    outside = np.any((at < 0) | (at > np.array(plane.shape[::-1]) - 1), axis=-1)
    return Unrolled(
        np.asarray(centre, float),
        rows,
        step,
        _hat(seen, outside, WIDEST_MARK, step),
        _hat(seen, outside, WIDEST_NEEDLE, step),
    )


def _hat(
    seen: NDArray[np.float32], outside: NDArray[np.bool_], arc: float, step_deg: float
) -> NDArray[np.float32]:
    """What is narrower than an arc, along each row; a row closes upon itself."""
    wide = max(3, int(np.degrees(arc) / step_deg) | 1)
    around = np.concatenate([seen[:, -wide:], seen, seen[:, :wide]], axis=1)
    hat = cv2.morphologyEx(around, cv2.MORPH_TOPHAT, np.ones((1, wide), np.uint8))
    ink = np.array(hat[:, wide:-wide], np.float32)
    ink[outside] = 0.0
    return ink
