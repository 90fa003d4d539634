"""Light of a photo between its pixels.

Where an edge is blurred, half its light is where the edge is; half its code lies beside it, on
the dark side, by the more the wider the blur. Edges that run aslant are blurred otherwise than
upright ones, so a circle of ends measured in codes is not round about its centre.

Source: derivation in docs/decisions/0050-marks-in-light.md; the curve, see `light.linear`.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.light.linear import linear_light
from needlewright.readings.projection import Array
from needlewright.readings.sampling import REACH, sample_finely

WHITE: Final = 255.0
"""Light of the highest code, so that light and codes have one order of size."""


def sample_light(picture: NDArray[np.uint8], at_px: Array) -> Array:
    """Light of a picture at points, by eight pixels each way.

    Parameters
    ----------
    picture
        Height x width x 3, sRGB codes.
    at_px
        (rows, columns, 2), pixel coordinates; the centre of the top-left pixel is (0, 0).

    Returns
    -------
    NDArray
        (rows, columns, 3), 0 to `WHITE`; NaN outside the picture.
    """
    height, width = picture.shape[:2]
    low = np.clip(np.floor(at_px.min(axis=(0, 1))) - REACH, 0, (width - 1, height - 1))
    high = np.clip(np.ceil(at_px.max(axis=(0, 1))) + REACH + 1, 1, (width, height))
    left, top, right, bottom = (int(edge) for edge in (*low, *high))
    part = linear_light(picture[top:bottom, left:right]) * np.float32(WHITE)
    return sample_finely(part, at_px - np.array([left, top], dtype=float))
