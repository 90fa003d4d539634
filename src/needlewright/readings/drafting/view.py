"""A plane before a camera: two turns, a focal length and one radial term."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np

from needlewright.readings.projection import Projection
from needlewright.readings.viewpoint import USUAL_FOCAL_35MM

FILM_MM: Final = 36.0
"""Width of the film that focal lengths are given for."""


@dataclass(frozen=True, slots=True)
class View:
    """A plane before a camera.

    Parameters
    ----------
    tilt
        (2,), rotation vector of the plane about the photo's x and y axes, radians.
    focal_px
        Focal length.
    radial
        As in `Projection`.
    size_px
        Width and height of the photo.
    """

    tilt: tuple[float, float]
    focal_px: float
    radial: float
    size_px: tuple[int, int]

    @property
    def tilt_deg(self) -> float:
        """Angle between the camera's axis and the plane's normal."""
        return float(np.degrees(np.hypot(*self.tilt)))

    @property
    def projection(self) -> Projection:
        """Plane (pixels of the photo at its middle, origin there) to photo."""
        width, height = self.size_px
        turn = cv2.Rodrigues(np.array([*self.tilt, 0.0]))[0]
        half = float(np.hypot(width, height)) / 2
        f = self.focal_px
        matrix = np.array(
            [
                [f * turn[0, 0] / half, f * turn[0, 1] / half, 0.0],
                [f * turn[1, 0] / half, f * turn[1, 1] / half, 0.0],
                [turn[2, 0], turn[2, 1], f],
            ]
        )
        return Projection(matrix, self.radial, ((width - 1) / 2, (height - 1) / 2), half)


def first_view(size_px: tuple[int, int], focal_35mm: float | None) -> View:
    """A plane seen straight on, before anything is known of it."""
    focal = (focal_35mm or USUAL_FOCAL_35MM) / FILM_MM * max(size_px)
    return View((0.0, 0.0), focal, 0.0, size_px)
