"""A live picture's second opinion: now and then a frame is read as a photo is.

The follower is quick and knows the frames before; the photo reader is slower and knows nothing of
them, and its uncertainty is the one papers rest on. Where the two see different needles neither is
believed, and a needle counts as standing only when the photo reader has seen it stand.
"""

from math import hypot
from typing import Final, Literal

import numpy as np

from needlewright.families.model import Family
from needlewright.readings.following import FrameReadings
from needlewright.readings.frame import Pixels
from needlewright.readings.model import Reading
from needlewright.readings.picture import picture_from_array
from needlewright.readings.reader import FaceReader
from needlewright.readings.uncertainty import combined_deg

AGAIN_S: Final = 2.0
"""A face with needles that move is read as a photo at least so often."""
SOON_S: Final = 0.4
"""And not more often than this, however many needles come to stand."""
DIFFER_DEG: Final = 0.75
DIFFER_SIGMAS: Final = 4.0
"""Follower and photo reader see the same needle if they differ by less."""
NOT_COMMON: Final = "fit"
"""The component of a photo's uncertainty that the follower states itself."""

Opinion = Literal["agrees", "differs", "none"]


class SecondOpinion:
    """Reads frames of a family as photos, and remembers what it saw.

    Parameters
    ----------
    family
        The cluster design.

    Raises
    ------
    FamilyError
        If the face's picture cannot be used.
    """

    def __init__(self, family: Family) -> None:
        self.reader = FaceReader(family)
        self._scales = {dial.id: dial.scale for dial in family.dials}
        self._readings: dict[str, Reading] = {}
        self._opinions: dict[str, Opinion] = {}
        self.at_s = -np.inf
        """Time of the frame looked at last."""

    def is_due(self, t_s: float, *, wanted: bool) -> bool:
        """Whether a frame should be looked at; `wanted` where a needle has come to stand."""
        return t_s - self.at_s > (SOON_S if wanted else AGAIN_S)

    def look(self, pixels: Pixels, seen: FrameReadings) -> None:
        """Read a frame.

        Parameters
        ----------
        pixels
            The frame; blue, green, red.
        seen
            What the follower says of it.
        """
        photo = self.reader.read_picture(picture_from_array(pixels))
        self.at_s = seen.t_s
        self._readings = {reading.dial: reading for reading in photo.readings}
        self._opinions = {
            needle.dial: self._opinion(needle.dial, needle.angle_deg, needle.u_angle_deg)
            for needle in seen.needles
        }

    def forget(self) -> None:
        """Begin anew, as with another picture."""
        self._readings, self._opinions, self.at_s = {}, {}, -np.inf

    def opinion(self, dial: str) -> Opinion:
        """What was said of a needle last; `none` where the photo reader did not read it."""
        return self._opinions.get(dial, "none")

    def reason(self, dial: str) -> str | None:
        """Why the photo reader did not read it, one of `readings.flags.REASONS`."""
        reading = self._readings.get(dial)
        return None if reading is None else reading.reason

    def flags(self, dial: str) -> tuple[str, ...]:
        """What the photo reader remarked on it, apart from where on the scale it stands."""
        reading = self._readings.get(dial)
        return () if reading is None else reading.flags

    def common_deg(self, dial: str) -> float:
        """Standard uncertainty of a direction that is common to all frames, degrees."""
        reading = self._readings.get(dial)
        if reading is None:
            return 0.0
        return combined_deg(tuple(p for p in reading.components_deg if p[0] != NOT_COMMON))

    def _opinion(self, dial: str, angle_deg: float | None, u_deg: float | None) -> Opinion:
        reading = self._readings.get(dial)
        if reading is None or reading.angle_deg is None or reading.u_angle_deg is None:
            return "none"
        if angle_deg is None or u_deg is None:
            return "none"
        apart = abs(self._scales[dial].on_branch(angle_deg) - reading.angle_deg)
        allowed = DIFFER_DEG + DIFFER_SIGMAS * hypot(u_deg, reading.u_angle_deg)
        return "agrees" if min(apart, abs(apart - 360.0)) <= allowed else "differs"
