"""From a photo's codes to light.

A code is no measure of light: twice the code is about four and a half times the light. What a
camera really does to light is its maker's affair and differs a little from the standard curve; that
difference is a component of every uncertainty here.

Source: IEC 61966-2-1:1999, clause 5.2 (from memory), for the curve; ITU-R BT.709-6, item 3.2 (from
memory), for the luminance of its three primaries.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

SATURATED: Final = 250
"""A code from here on says only that there was at least so much light; common practice, no
source."""
BLACK: Final = 2
"""A code up to here says only that there was no more light than that."""
LUMINANCE: Final = (0.0722, 0.7152, 0.2126)
"""Of linear blue, green and red."""
TOP: Final = 65535
"""Light of the highest code, where it is held in whole numbers."""

Light = NDArray[np.float32]
"""Linear light, 1 at the highest code."""


def linear_light(codes: NDArray[np.uint8]) -> Light:
    """Light of sRGB codes.

    Parameters
    ----------
    codes
        Any shape, 0 to 255.

    Returns
    -------
    NDArray
        Of the same shape, 0 to 1.
    """
    return np.asarray(_CURVE[codes], dtype=np.float32)


def luminance(light: Light) -> Light:
    """Luminance of linear blue, green, red.

    Parameters
    ----------
    light
        ... x 3.

    Returns
    -------
    NDArray
        Without the last axis; 1 for white.
    """
    return np.asarray(light @ np.array(LUMINANCE, np.float32), dtype=np.float32)


def _curve() -> Light:
    coded = np.arange(256) / 255
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4).astype(
        np.float32
    )


_CURVE: Final = _curve()
WHOLE_CURVE: Final = np.round(_CURVE.astype(np.float64) * TOP).astype(np.uint16)
"""Light of each code in whole numbers, for photos that are averaged before anything else."""
BLACK_LIGHT: Final = float(_CURVE[BLACK])
"""Light up to which a photo says nothing."""
