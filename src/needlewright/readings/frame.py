"""One frame of a video or a camera: its light, and its colour where it comes apart from it.

Video stores light (Y) at full size and two colour differences (Cb, Cr) mostly at half of it. A
coloured needle stands out of the differences alone: print, shadows and the hub have next to no
colour, so nothing there passes for a part of it.

Source: planes and their siting: ITU-T H.273 (2016), clauses 8.3 and 8.7; from memory.
"""

from dataclasses import dataclass, replace
from typing import Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.projection import Array, Projection

Plane = Literal["light", "blue", "red"]
Pixels = NDArray[np.uint8]

WEIGHTS: Final[dict[Plane, Array]] = {
    "light": np.array([0.114, 0.587, 0.299]),
    "blue": np.array([0.5, -0.331, -0.169]),
    "red": np.array([-0.081, -0.419, 0.5]),
}
"""Of blue, green and red in each plane (ITU-R BT.601, clause 2.5; from memory)."""
ENOUGH_COLOUR: Final = 0.12
"""A needle whose colour difference is this share of white is looked for in that plane."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The planes of a frame.

    Parameters
    ----------
    light
        Height x width.
    blue, red
        The colour differences, 128 where there is no colour; None where the source has none.
    shift_px
        Where the centre of the first pixel of a colour difference lies in the light's pixels.
    """

    light: Pixels
    blue: Pixels | None = None
    red: Pixels | None = None
    shift_px: tuple[float, float] = (0.25, 0.5)

    def plane(self, name: Plane) -> Pixels:
        """The pixels of a plane; the light where the frame has no such plane."""
        found = {"light": self.light, "blue": self.blue, "red": self.red}[name]
        return self.light if found is None else found

    def shrunk(self, name: Plane) -> float:
        """How many pixels of the light lie side by side in one of the plane's."""
        return float(round(self.light.shape[1] / self.plane(name).shape[1]))

    def seen_in(self, name: Plane, projection: Projection) -> Projection:
        """The projection to a plane's pixels, from that to the light's."""
        factor = self.shrunk(name)
        if factor == 1.0:
            return projection
        x, y = projection.centre_px
        return replace(
            projection,
            centre_px=((x - self.shift_px[0]) / factor, (y - self.shift_px[1]) / factor),
            half_diagonal_px=projection.half_diagonal_px / factor,
        )


def frame_of_colours(pixels: Pixels) -> Frame:
    """A frame from a picture of a camera.

    Parameters
    ----------
    pixels
        Height x width x 3, blue, green, red; or height x width, its light alone.

    Returns
    -------
    Frame
        Colour differences at half size, each the mean of four pixels.
    """
    if pixels.ndim == 2:
        return Frame(np.ascontiguousarray(pixels))
    planes = cv2.cvtColor(pixels, cv2.COLOR_BGR2YCrCb)
    light, red, blue = (np.ascontiguousarray(planes[..., i], dtype=np.uint8) for i in range(3))
    size = (pixels.shape[1] // 2, pixels.shape[0] // 2)
    small = [
        np.asarray(cv2.resize(p, size, interpolation=cv2.INTER_AREA), np.uint8) for p in (blue, red)
    ]
    return Frame(light, small[0], small[1], (0.5, 0.5))


def plane_of(colour: tuple[float, float, float] | None, frame: Frame) -> Plane:
    """The plane a needle stands out of best.

    Parameters
    ----------
    colour
        The needle's, sRGB from 0 to 1; None where it is not stated.
    frame
        A frame of the source.

    Returns
    -------
    str
        A colour difference where the frame has it and the needle is coloured enough.
    """
    if colour is None or frame.red is None or frame.blue is None:
        return "light"
    much = {name: abs(float(WEIGHTS[name] @ np.array(colour[::-1]))) for name in ("blue", "red")}
    best: Plane = "red" if much["red"] >= much["blue"] else "blue"
    return best if much[best] >= ENOUGH_COLOUR else "light"
