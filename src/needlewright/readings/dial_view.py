"""One dial in one photo: the place the needle, the print and the parallax are sampled from."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial
from needlewright.readings.face_art import FaceArt
from needlewright.readings.projection import Array, Projection
from needlewright.readings.sampling_kernel import colours_seen, packed
from needlewright.readings.viewpoint import Viewpoint

CAP_OVER_NEEDLE_MM: Final = 2.0
"""How far the hub's cap is taken to stand over the needle's top (common practice, no source)."""
SIDE_LIKE_TOP: Final = 0.6
SIDE_SPREAD: Final = 0.15
"""Step of the needle's side as a share of its top's: usual, and prior standard deviation."""
CLEAR_OF_HUB: Final = 0.5
"""Rows start so many blurs outside the hub: nearer, the hub's edge hides them."""


@dataclass(frozen=True, slots=True)
class DialView:
    """What is needed to look at one dial.

    Parameters
    ----------
    pixels
        The photo, height x width x 3, BGR, uint8.
    dial
        The dial looked at.
    art
        The family's artwork.
    projection
        Face millimetres to pixels.
    viewpoint
        Where the camera stood.
    softness_mm
        Blur in which the artwork looks most like the photo.
    eccentricity_mm
        Standard deviation of shaft to printed centre, from the family.
    side_like_top, side_spread
        Step of the needle's side as a share of its top's: usual, and prior standard deviation.
    """

    pixels: NDArray[np.uint8]
    dial: Dial
    art: FaceArt
    projection: Projection
    viewpoint: Viewpoint
    softness_mm: float
    eccentricity_mm: float = 0.15
    side_like_top: float = SIDE_LIKE_TOP
    side_spread: float = SIDE_SPREAD

    @property
    def centre_mm(self) -> Array:
        """The dial's printed centre."""
        return np.asarray(self.dial.centre_mm)

    @property
    def px_per_mm(self) -> float:
        """Scale of the photo at the dial's centre, geometric mean of both directions."""
        return self.projection.px_per_mm_at(self.centre_mm)

    @property
    def shows_hub(self) -> bool:
        """Whether the dial's centre lies inside the photo."""
        return self._inside(self.projection.to_photo(self.centre_mm))

    def shows_tip(self, angle_deg: float) -> bool:
        """Whether the tip of a needle at an angle lies inside the photo."""
        tip = self.along_needle(angle_deg, np.array(self.dial.needle.length_mm), np.array(0.0))
        return self._inside(self.projection.to_photo(tip))

    def _inside(self, at_px: Array) -> bool:
        height, width = self.pixels.shape[:2]
        return bool(np.all(at_px >= 0) and at_px[0] <= width - 1 and at_px[1] <= height - 1)

    def inner_radius_mm(self, angle_deg: float) -> float:
        """Where the needle comes out from under the hub's cap in a direction, seen from here.

        The cap stands over the needle, so it covers more of what lies away from the camera.
        """
        tangent, lean_deg = self.viewpoint.slant(self.centre_mm)
        leaning = max(0.0, float(np.cos(np.radians(angle_deg - lean_deg))))
        soft = max(self.softness_mm, 0.7 / self.px_per_mm)
        covered = CAP_OVER_NEEDLE_MM * tangent * leaning
        return self.dial.needle.hub_radius_mm + covered + CLEAR_OF_HUB * soft

    def along_needle(self, angle_deg: float, r_mm: Array, t_mm: Array) -> Array:
        """Face points where a needle at an angle is seen.

        Parameters
        ----------
        angle_deg
            Direction of the needle, clockwise from 12 o'clock.
        r_mm
            Distance from the centre along the needle; broadcasts with `t_mm`.
        t_mm
            Distance sideways of it, positive clockwise.

        Returns
        -------
        NDArray
            Shape (..., 2): millimetres on the face, moved by parallax as the needle's height asks.
        """
        a = np.radians(angle_deg)
        x = self.centre_mm[0] + r_mm * np.sin(a) + t_mm * np.cos(a)
        y = self.centre_mm[1] - r_mm * np.cos(a) + t_mm * np.sin(a)
        points = np.stack(np.broadcast_arrays(x, y), axis=-1)
        return self.viewpoint.lifted(points, self.dial.needle.height_mm)

    def side_wall_mm(self, angle_deg: float) -> float:
        """How much of the needle's side shows beside its top, signed: positive on the + side."""
        tangent, lean_deg = self.viewpoint.slant(self.centre_mm)
        across = np.sin(np.radians(lean_deg - angle_deg))
        return float(-self.dial.needle.thickness_mm * tangent * across)

    def photo_at(self, face_points_mm: Array) -> NDArray[np.float32]:
        """Colours of the photo at face points; shape (..., 3), NaN outside the photo."""
        flat = np.ascontiguousarray(face_points_mm.reshape(-1, 2))
        colours = colours_seen(self.pixels, packed(self.projection), flat)
        return np.asarray(colours).reshape(*face_points_mm.shape[:-1], 3)

    def art_at(self, face_points_mm: Array) -> NDArray[np.float32]:
        """Colours of the artwork at face points, as soft as in the photo; shape (..., 3)."""
        return self.art.as_soft_as(self.softness_mm).colour_at(face_points_mm)
