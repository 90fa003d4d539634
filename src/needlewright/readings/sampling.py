"""Values of a picture between its pixels."""

from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

REACH: Final = 5
"""Pixels about a place that its finely sampled value rests on."""
MOST_FINE: Final = 8_000_000
"""Values beyond which a part of a picture is sampled in whole grey levels, to spare memory: so
large a needle has samples enough."""
ROW: Final = 4096
"""OpenCV samples into a table of fewer than 32,768 columns; longer lists are folded."""


def sample(picture: NDArray[Any], x: NDArray[Any], y: NDArray[Any]) -> NDArray[np.float32]:
    """Bilinear values of a picture at points.

    Parameters
    ----------
    picture
        Height x width, or height x width x channels; float32 or uint8.
    x
        Pixel coordinates to the right; the centre of the top-left pixel is (0, 0). Outside the
        picture the nearest border value is returned.
    y
        Pixel coordinates down, of the same shape as `x`.

    Returns
    -------
    NDArray
        Shape of `x`, with the channels behind; float32.
    """
    count = x.size
    rows = max(1, -(-count // ROW))
    width = min(count, ROW)
    maps = np.zeros((2, rows * width), dtype=np.float32)
    maps[0, :count], maps[1, :count] = x.ravel(), y.ravel()
    values = cv2.remap(
        picture,
        maps[0].reshape(rows, width),
        maps[1].reshape(rows, width),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    flat = values.reshape(rows * width, *values.shape[2:])[:count]
    return np.asarray(flat.reshape(*x.shape, *flat.shape[1:]), dtype=np.float32)


def sample_finely(picture: NDArray[Any], at_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Values of a picture at points, by eight pixels each way (windowed sinc).

    Between pixels two neighbours know less than eight: a linear mean blurs by how far from a
    pixel's centre a point lies, and an edge that crosses pixels slowly is drawn with steps.

    Parameters
    ----------
    picture
        Height x width x channels; uint8 or float32.
    at_px
        (rows, columns, 2) pixel coordinates (x, y); the centre of the top-left pixel is (0, 0).

    Returns
    -------
    NDArray
        (rows, columns, channels); NaN outside the picture.
    """
    height, width = picture.shape[:2]
    x, y = at_px[..., 0], at_px[..., 1]
    outside = (x < 0) | (x > width - 1) | (y < 0) | (y > height - 1)
    values = np.full((*x.shape, picture.shape[2]), np.nan)
    if outside.all():
        return values
    left, top = (max(int(v[~outside].min()) - REACH, 0) for v in (x, y))
    right, bottom = (int(v[~outside].max()) + REACH + 1 for v in (x, y))
    around = picture[top:bottom, left:right]
    if around.size <= MOST_FINE:
        around = around.astype(np.float32)
    found = cv2.remap(
        around,
        (x - left).astype(np.float32),
        (y - top).astype(np.float32),
        cv2.INTER_LANCZOS4,
        borderMode=cv2.BORDER_REPLICATE,
    )
    values[~outside] = found[~outside]
    return values
