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

LUMA: Final = np.array([0.114, 0.587, 0.299])
"""Weights of blue, green and red codes (ITU-R BT.601, which JPEG uses)."""
WHITE: Final = 255.0
"""Light of the highest code, so that light and codes have one order of size."""


def sample_light(picture: NDArray[np.uint8], at_px: Array, *, coded: bool = False) -> Array:
    """Light of a picture at points, by eight pixels each way.

    Parameters
    ----------
    picture
        Height x width x 3, sRGB codes.
    at_px
        (rows, columns, 2), pixel coordinates; the centre of the top-left pixel is (0, 0).
    coded
        Whether codes are wanted instead of light: a bright plain's noise is half as large in them,
        and what is alike on both sides is in its place in them too.

    Returns
    -------
    NDArray
        (rows, columns, 4), 0 to `WHITE`: blue, green, red, and all of them together; NaN outside
        the picture. The last is the light of the luma, which JPEG keeps at full resolution where it
        keeps colours at half.
    """
    height, width = picture.shape[:2]
    low = np.clip(np.floor(at_px.min(axis=(0, 1))) - REACH, 0, (width - 1, height - 1))
    high = np.clip(np.ceil(at_px.max(axis=(0, 1))) + REACH + 1, 1, (width, height))
    left, top, right, bottom = (int(edge) for edge in (*low, *high))
    part = picture[top:bottom, left:right]
    luma = np.rint(part @ LUMA).astype(np.uint8)
    both = np.dstack([part, luma])
    light = both if coded else linear_light(both) * np.float32(WHITE)
    return sample_finely(light, at_px - np.array([left, top], dtype=float))
