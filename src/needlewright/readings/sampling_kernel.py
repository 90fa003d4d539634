"""The compiled part of looking at a photo: its colours at places of the face, and its edges.

Everything here works on plain arrays, because it is compiled by numba; `dial_view` and
`registration` pack and unpack them. It calls no kernel of another module: numba would not notice
a change there.

Source: derivation in docs/decisions/0002-registration.md.
"""

# ruff: noqa: PLR0917
# Compiled loops over plain arrays: they take what they need by place.

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.compiled import kernel
from needlewright.readings.projection import BEND_LIMIT, Projection

STEP_PX: Final = 0.5
HALF_WINDOW_PX: Final = 3.0
TEMPLATE: Final = int(2 * HALF_WINDOW_PX / STEP_PX) + 1
"""Samples of the artwork's profile across an edge."""
QUIET: Final = 4.0
"""Variance, in grey levels squared, below which a stretch looks like nothing: two levels of
spread keep flat, noisy stretches from looking like print."""

NORMAL_X, NORMAL_Y, SHIFT, LIKENESS = range(4)
"""Columns of what was found along the normals."""


def packed(projection: Projection) -> NDArray[np.float64]:
    """A projection as the kernels take it: matrix (9), radial, centre (2), half diagonal.

    Parameters
    ----------
    projection
        Face millimetres to pixels.

    Returns
    -------
    NDArray
        (13,) numbers.
    """
    return np.array(
        [
            *projection.matrix.ravel(),
            projection.radial,
            *projection.centre_px,
            projection.half_diagonal_px,
        ]
    )


@kernel
def colours_seen(pixels: Any, view: Any, points: Any) -> Any:
    """Colours of the photo at face points.

    Parameters
    ----------
    pixels
        The photo, height x width x 3, uint8.
    view
        The projection, `packed`.
    points
        (n, 2) on the face, mm.

    Returns
    -------
    NDArray
        (n, 3) float32; NaN outside the photo.
    """
    height, width, _ = pixels.shape
    out = np.empty((len(points), 3), np.float32)
    for n in range(len(points)):
        a, b, _ = _ideal(view, points[n, 0], points[n, 1])
        bend = (1 + view[9] * min(a * a + b * b, BEND_LIMIT)) * view[12]
        x, y = a * bend + view[10], b * bend + view[11]
        if 0.0 <= x <= width - 1 and 0.0 <= y <= height - 1:
            _colour(pixels, x, y, out[n])
        else:
            out[n] = np.nan
    return out


@kernel
def colours_drawn(art: Any, px_per_mm: float, points: Any) -> Any:
    """Colours of the artwork at face points; beyond it the nearest of its border.

    Parameters
    ----------
    art
        The artwork, height x width x 3, uint8.
    px_per_mm
        Its resolution; pixel (column i, row j) has its centre at ((i + 0.5), (j + 0.5)) of it.
    points
        (n, 2) on the face, mm.

    Returns
    -------
    NDArray
        (n, 3) float32.
    """
    height, width, _ = art.shape
    out = np.empty((len(points), 3), np.float32)
    for n in range(len(points)):
        x = min(max(points[n, 0] * px_per_mm - 0.5, 0.0), width - 1.0)
        y = min(max(points[n, 1] * px_per_mm - 0.5, 0.0), height - 1.0)
        _colour(art, x, y, out[n])
    return out


@kernel
def _colour(picture: Any, x: float, y: float, out: Any) -> None:
    """Bilinear colour at a place inside the picture."""
    height, width, _ = picture.shape
    i, j = min(int(x), width - 2), min(int(y), height - 2)
    a, b = np.float32(x - i), np.float32(y - j)
    for c in range(3):
        top_left, low_left = np.float32(picture[j, i, c]), np.float32(picture[j + 1, i, c])
        top = top_left + a * (np.float32(picture[j, i + 1, c]) - top_left)
        low = low_left + a * (np.float32(picture[j + 1, i + 1, c]) - low_left)
        out[c] = top + b * (low - top)


@kernel
def _bilinear(picture: Any, x: float, y: float) -> float:
    """Grey value between pixels; outside the picture the nearest of its border."""
    height, width = picture.shape
    x = min(max(x, 0.0), width - 1.0)
    y = min(max(y, 0.0), height - 1.0)
    i, j = min(int(x), width - 2), min(int(y), height - 2)
    a, b = x - i, y - j
    top = float(picture[j, i]) + a * (float(picture[j, i + 1]) - float(picture[j, i]))
    low = float(picture[j + 1, i]) + a * (float(picture[j + 1, i + 1]) - float(picture[j + 1, i]))
    return float(top + b * (low - top))


@kernel
def _ideal(view: Any, x: float, y: float) -> Any:
    """Ideal image coordinates of a face point, and its depth."""
    depth = view[6] * x + view[7] * y + view[8]
    a = (view[0] * x + view[1] * y + view[2]) / depth
    b = (view[3] * x + view[4] * y + view[5]) / depth
    return a, b, depth


@kernel
def look_along_normals(
    grey: Any, art: Any, art_px_per_mm: float, view: Any, points: Any, normals: Any, reach: float
) -> Any:
    """Shift of each edge along its normal, by correlation of photo and artwork profiles.

    Parameters
    ----------
    grey
        The photo, height x width, uint8.
    art
        The artwork as soft as the photo, height x width, float32.
    art_px_per_mm
        Its resolution, as in `colours_drawn`.
    view
        The projection, `packed`.
    points
        (n, 2) edges on the face, mm.
    normals
        (n, 2) their unit normals, toward the brighter side.
    reach
        How far along its normal an edge is looked for, px.

    Returns
    -------
    NDArray
        (n, 4): the normal in the photo (x, y), the shift along it in pixels, and the normalised
        correlation there; none where the best place lies at the end of the reach.
    """
    places = round(2 * reach / STEP_PX) + 1
    length = places + TEMPLATE - 1
    found = np.empty((len(points), 4))
    photo, drawn, likeness = np.empty(length), np.empty(TEMPLATE), np.empty(places)
    for e in range(len(points)):
        x, y = points[e, 0], points[e, 1]
        u, v, nx, ny, step_x, step_y = _across(view, x, y, normals[e, 0], normals[e, 1])
        for s in range(length):
            t = s * STEP_PX - HALF_WINDOW_PX - reach
            photo[s] = _bilinear(grey, u + t * nx, v + t * ny)
        for s in range(TEMPLATE):
            t = s * STEP_PX - HALF_WINDOW_PX
            drawn[s] = _bilinear(
                art, (x + t * step_x) * art_px_per_mm - 0.5, (y + t * step_y) * art_px_per_mm - 0.5
            )
        found[e, NORMAL_X], found[e, NORMAL_Y] = nx, ny
        best = _correlate(photo, drawn, likeness)
        if best in (0, places - 1):
            found[e, SHIFT], found[e, LIKENESS] = best * STEP_PX - reach, 0.0
            continue
        before, here, after = likeness[best - 1], likeness[best], likeness[best + 1]
        bend = min(before - 2 * here + after, -1e-6)
        beside = min(max(0.5 * (before - after) / bend, -1.0), 1.0)
        found[e, SHIFT], found[e, LIKENESS] = (best + beside) * STEP_PX - reach, here
    return found


@kernel
def _across(view: Any, x: float, y: float, normal_x: float, normal_y: float) -> Any:
    """Place and normal of an edge in the photo, and the step on the face of a pixel along it."""
    a, b, depth = _ideal(view, x, y)
    k, half = view[9], view[12]
    ax, ay = (view[0] - a * view[6]) / depth, (view[1] - a * view[7]) / depth
    bx, by = (view[3] - b * view[6]) / depth, (view[4] - b * view[7]) / depth
    r2 = a * a + b * b
    bend_a, bend_b = 1 + k * r2 + 2 * k * a * a, 1 + k * r2 + 2 * k * b * b
    bend_ab = 2 * k * a * b
    j00, j01 = half * (bend_a * ax + bend_ab * bx), half * (bend_a * ay + bend_ab * by)
    j10, j11 = half * (bend_ab * ax + bend_b * bx), half * (bend_ab * ay + bend_b * by)
    area = j00 * j11 - j01 * j10
    # A line's normal maps with the inverse transpose of the Jacobian.
    nx = (j11 * normal_x - j10 * normal_y) / area
    ny = (j00 * normal_y - j01 * normal_x) / area
    size = np.sqrt(nx * nx + ny * ny)
    nx, ny = nx / size, ny / size
    held = (1 + k * min(r2, BEND_LIMIT)) * half
    return (
        a * held + view[10],
        b * held + view[11],
        nx,
        ny,
        (j11 * nx - j01 * ny) / area,
        (j00 * ny - j10 * nx) / area,
    )


@kernel
def _correlate(photo: Any, drawn: Any, likeness: Any) -> int:
    """Normalised correlation of a short profile at every place of a long one; its best place."""
    drawn_mean = photo_mean = 0.0
    for s in range(TEMPLATE):
        drawn_mean += drawn[s] / TEMPLATE
    for s in range(len(photo)):
        photo_mean += photo[s] / len(photo)
    norm = 0.0
    for s in range(TEMPLATE):
        drawn[s] -= drawn_mean
        norm += drawn[s] * drawn[s]
    for s in range(len(photo)):
        photo[s] -= photo_mean
    scale = 1 / (np.sqrt(norm) + 1e-6)
    places = len(likeness)
    likeness[:] = 0.0
    for s in range(TEMPLATE):  # places inside: in that order the compiler runs them side by side
        for p in range(places):
            likeness[p] += drawn[s] * photo[p + s]
    total, energy = 0.0, 0.0
    for s in range(TEMPLATE):
        total += photo[s]
        energy += photo[s] * photo[s]
    best = 0
    for p in range(places):
        spread = max(energy - total * total / TEMPLATE, 0.0) + TEMPLATE * QUIET
        likeness[p] *= scale / np.sqrt(spread)
        if likeness[p] > likeness[best]:
            best = p
        if p + 1 < places:
            total += photo[p + TEMPLATE] - photo[p]
            energy += photo[p + TEMPLATE] ** 2 - photo[p] ** 2
    return best
