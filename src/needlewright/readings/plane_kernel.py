"""Compiled sampling: from a needle's plane to the pixels of a frame, and of the ground behind it.

Everything here works on plain arrays, because it is compiled by numba. A view is a packed map
from the needle's plane (mm, its parallax in it) to pixels: matrix (9), radial term, centre (2),
half diagonal, bend limit.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

# ruff: noqa: PLR0917
# Compiled loops over plain arrays: they take what they need by place, and calls cost.

from math import cos, sin
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.compiled import kernel
from needlewright.readings.projection import BEND_LIMIT, Array, Projection
from needlewright.readings.viewpoint import Viewpoint

VIEW: Final = 14
"""Length of a packed view."""


def packed_view(projection: Projection, viewpoint: Viewpoint, height_mm: float) -> Array:
    """Pack the map from a plane at a height over the face to pixels.

    Parameters
    ----------
    projection
        Face millimetres to pixels.
    viewpoint
        Where the camera stands.
    height_mm
        Height of the plane over the face; 0 is the face.

    Returns
    -------
    NDArray
        Shape (VIEW,).
    """
    k = height_mm / (viewpoint.height_mm - height_mm)
    x, y = viewpoint.foot_mm
    lift = np.array([[1 + k, 0, -k * x], [0, 1 + k, -k * y], [0, 0, 1]])
    return np.array(
        [
            *(projection.matrix @ lift).ravel(),
            projection.radial,
            *projection.centre_px,
            projection.half_diagonal_px,
            BEND_LIMIT,
        ]
    )


@kernel
def between(picture: Any, x: float, y: float) -> float:
    """Bilinear value, or -1 outside the picture."""
    height, width = picture.shape
    if not (0.0 <= x < width - 1 and 0.0 <= y < height - 1):
        return -1.0
    i, j = int(x), int(y)
    a, b = x - i, y - j
    top = (1.0 - a) * picture[j, i] + a * picture[j, i + 1]
    low = (1.0 - a) * picture[j + 1, i] + a * picture[j + 1, i + 1]
    return float((1.0 - b) * top + b * low)


@kernel
def in_frame(view: Any, x: float, y: float) -> tuple[float, float]:
    """Pixel of a point of the view's plane."""
    depth = view[6] * x + view[7] * y + view[8]
    a = (view[0] * x + view[1] * y + view[2]) / depth
    b = (view[3] * x + view[4] * y + view[5]) / depth
    bend = 1.0 + view[9] * min(a * a + b * b, view[13])
    return a * bend * view[12] + view[10], b * bend * view[12] + view[11]


@kernel
def polar_difference(
    frame: Any,
    view: Any,
    ground: Any,
    corner: Any,
    first: Any,
    centre: Any,
    angles: Any,
    radii: Any,
) -> Any:
    """Frame less bare face over directions and radii; NaN outside either.

    `first` is the view of the frame the ground was drawn in, `corner` the ground's place there.
    """
    out = np.empty((len(angles), len(radii)), np.float32)
    for i in range(len(angles)):
        s, c = sin(angles[i]), cos(angles[i])
        for j in range(len(radii)):
            x, y = centre[0] + radii[j] * s, centre[1] - radii[j] * c
            u, v = in_frame(view, x, y)
            seen = between(frame, u, v)
            u, v = in_frame(first, x, y)
            bare = between(ground, u - corner[0], v - corner[1])
            out[i, j] = seen - bare if seen >= 0.0 and bare >= 0.0 else np.nan
    return out


@kernel
def cut_strip(
    frame: Any,
    view: Any,
    ground: Any,
    doubt: Any,
    corner: Any,
    first: Any,
    centre: Any,
    angle: float,
    rows: Any,
    cols: Any,
) -> Any:
    """The strip along a direction: frame, bare face, its doubt, and which rows lie inside both."""
    n, m = len(rows), len(cols)
    strip = np.empty((3, n, m))
    inside = np.ones(n, np.bool_)
    s, c = sin(angle), cos(angle)
    for i in range(n):
        for j in range(m):
            x = centre[0] + rows[i] * s + cols[j] * c
            y = centre[1] - rows[i] * c + cols[j] * s
            u, v = in_frame(view, x, y)
            strip[0, i, j] = between(frame, u, v)
            u, v = in_frame(first, x, y)
            u, v = u - corner[0], v - corner[1]
            strip[1, i, j] = between(ground, u, v)
            strip[2, i, j] = between(doubt, u, v)
            if strip[0, i, j] < 0.0 or strip[1, i, j] < 0.0:
                inside[i] = False
    return strip, inside


@kernel
def carried_back(frame: Any, view: Any, face_x: Any, face_y: Any) -> NDArray[np.uint8]:
    """A frame's pixels over a grid of face points; 0 outside it."""
    height, width = face_x.shape
    out = np.zeros((height, width), np.uint8)
    for i in range(height):
        for j in range(width):
            u, v = in_frame(view, face_x[i, j], face_y[i, j])
            value = between(frame, u, v)
            if value >= 0.0:
                out[i, j] = np.uint8(value + 0.5)
    return out


@kernel
def bar_scores(difference: Any, bars: Any, nears: Any, fars: Any, sign: float, cap: float) -> Any:
    """How much of a bar lies in every direction, grey levels; -1e9 where it cannot be judged.

    At each radius the mean over the bar's half width (columns of directions) less the greater of
    those beside it, each radius counted only so far that none outweighs the rest.
    """
    count, rows = difference.shape
    scores = np.full(count, -1e9)
    for i in range(count):
        total, used = 0.0, 0
        for j in range(rows):
            far, near, half = fars[j], nears[j], bars[j]
            if i - far < 0 or i + far >= count:
                continue
            bar, n_bar = 0.0, 0
            for d in range(-half, half + 1):
                value = difference[i + d, j]
                if not np.isnan(value):
                    bar += value
                    n_bar += 1
            left, n_left, right, n_right = 0.0, 0, 0.0, 0
            for d in range(near, far + 1):
                value = difference[i - d, j]
                if not np.isnan(value):
                    left += value
                    n_left += 1
                value = difference[i + d, j]
                if not np.isnan(value):
                    right += value
                    n_right += 1
            if n_bar == 0 or n_left == 0 or n_right == 0:
                continue
            bar /= n_bar
            step = min(sign * (bar - left / n_left), sign * (bar - right / n_right))
            total += min(max(step, -cap), cap)
            used += 1
        if used > rows // 2:
            scores[i] = total / used
    return scores
