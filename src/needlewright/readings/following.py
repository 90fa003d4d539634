"""From frame to frame: the face found once, held against hand shake, every needle followed."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from needlewright.families.model import Family
from needlewright.readings.axle import Siting
from needlewright.readings.dial_view import DialView
from needlewright.readings.face_art import art_of
from needlewright.readings.followed_dial import FollowedDial, NeedleSeen
from needlewright.readings.frame import Frame
from needlewright.readings.gates import photo_reason
from needlewright.readings.hand_shake import PrintFollower
from needlewright.readings.needle_lines import FaceInFrame
from needlewright.readings.needle_shade import learn_light
from needlewright.readings.projection import Projection
from needlewright.readings.registration import MIN_SHARE_FOUND, Registration, register
from needlewright.readings.viewpoint import Viewpoint, viewpoint_of

LOOK_AGAIN_S: Final = (0.0, 0.5)
"""After the face was lost it is looked for anew after so long: at once, and at the longest."""


@dataclass(frozen=True, slots=True)
class FrameReadings:
    """All needles of one frame."""

    t_s: float
    found: bool
    """Whether the face was found."""
    reason: str | None
    """Why it was not, one of `readings.flags.PHOTO_REASONS`."""
    needles: tuple[NeedleSeen, ...]
    """In the family's order; empty where the face was not found."""
    projection: Projection | None = None
    """Where the face plane lies in the frame."""
    moved_px: float | None = None
    """How far the print moved since the frame before; None in the first frame and when lost."""


class Follower:
    """Follows every needle of a family through the frames of a video or a camera.

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
        self.family = family
        self._art = art_of(family)
        self._registration: Registration | None = None
        self._viewpoint: Viewpoint | None = None
        self._print: PrintFollower | None = None
        self._dials: tuple[FollowedDial, ...] = ()
        self._shape: tuple[int, ...] = ()
        self._last_moved = 0.0
        self._next_look_s, self._wait_s = -np.inf, LOOK_AGAIN_S[0]
        self._reason = "face_not_found"

    def look(self, frame: Frame, t_s: float) -> FrameReadings:
        """Read every needle of a frame.

        Parameters
        ----------
        frame
            The frame.
        t_s
            Its presentation time, seconds, rising from frame to frame.

        Returns
        -------
        FrameReadings
            Readings in the family's order, or the reason why there are none.
        """
        grey = frame.light
        if grey.shape != self._shape:
            self._lose()
            self._shape = grey.shape
        moved: float | None = None
        projection: Projection | None = None
        if self._print is not None:
            shift = self._print.look(grey)
            if shift is not None:
                projection = shift.projection
                moved = abs(shift.moved_px - self._last_moved)
                self._last_moved = shift.moved_px
        if projection is None:
            projection = self._find(frame, t_s)
        if projection is None or self._registration is None or self._viewpoint is None:
            return FrameReadings(t_s, False, self._reason, ())
        moved_camera = projection is not self._registration.projection
        face = FaceInFrame(frame, projection, self._viewpoint, moved_camera)
        needles = tuple(dial.look(face, t_s) for dial in self._dials)
        return FrameReadings(t_s, True, None, needles, projection, moved)

    def settle(self) -> None:
        """Learn what the frames so far show of the ground, the light and the needles."""
        light = learn_light([dial.settle_ground() for dial in self._dials])
        siting: Siting | None = None
        for dial in sorted(self._dials, key=lambda one: -one.length_mm):
            siting = dial.settle(light, siting)

    def _lose(self) -> None:
        self._print, self._registration = None, None
        self._next_look_s, self._wait_s = -np.inf, LOOK_AGAIN_S[0]

    def _find(self, frame: Frame, t_s: float) -> Projection | None:
        """Register the face anew, not more often than it is worth."""
        grey = frame.light
        if t_s < self._next_look_s:
            return None
        found = register(grey, self._art)
        if found is None or found.share_found < MIN_SHARE_FOUND:
            self._reason = photo_reason(grey, something_found=found is not None)
            self._wait_s = min(max(2 * self._wait_s, 0.04), LOOK_AGAIN_S[1])
            self._next_look_s = t_s + self._wait_s
            return None
        self._wait_s, self._next_look_s = LOOK_AGAIN_S[0], -np.inf
        self._registration = found
        self._viewpoint = viewpoint_of(found.projection, None, grey.shape)
        self._last_moved = 0.0
        circles = np.array(
            [[*d.centre_mm, max(d.needle.length_mm, d.needle.tail_mm)] for d in self.family.dials]
        )
        self._print = PrintFollower(grey, found.projection, self.family.face_size_mm, circles)
        colours = np.repeat(grey[:, :, None], 3, axis=2)
        self._dials = tuple(
            FollowedDial(
                DialView(
                    colours,
                    dial,
                    self._art,
                    found.projection,
                    self._viewpoint,
                    found.softness_mm,
                    self.family.eccentricity_mm,
                ),
                frame,
                found.covariance,
            )
            for dial in self.family.dials
        )
        return found.projection
