"""Values of a picture between its pixels."""

from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

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
