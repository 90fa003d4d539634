"""What all needles of a video's frame share, and a needle's line in it."""

from dataclasses import dataclass

from needlewright.readings.axle import FreeLine
from needlewright.readings.frame import Frame
from needlewright.readings.projection import Array, Projection
from needlewright.readings.viewpoint import Viewpoint


@dataclass(frozen=True, slots=True)
class FaceInFrame:
    """What all needles of one frame share."""

    frame: Frame
    projection: Projection
    viewpoint: Viewpoint
    moved: bool
    """Whether the camera stands elsewhere than in the frame the face was registered in."""


@dataclass(frozen=True, slots=True)
class Line:
    """A needle's line that may stand.

    Parameters
    ----------
    angle_deg, u_angle_deg
        Direction given the axle, on the scale's branch, and its standard uncertainty.
    u_apart_deg
        The part of it that differs from frame to frame.
    offset_mm
        How far the line passes from the printed centre.
    free
        The line by itself.
    fit
        As the kernel gave it.
    """

    angle_deg: float
    u_angle_deg: float
    u_apart_deg: float
    offset_mm: float
    free: FreeLine
    fit: Array
