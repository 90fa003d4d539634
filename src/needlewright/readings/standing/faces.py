"""The face in several photos of one camera, and how long that camera's lens is.

A face seen obliquely tells the focal length: its axes must come out square and equal. Several
photos of one camera tell it together, far better than each, and better than the whole millimetres a
camera writes into a photo.

Source: derivation in docs/calibrating.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial
from needlewright.readings.dial_view import DialView
from needlewright.readings.face_art import FaceArt
from needlewright.readings.gates import photo_reason
from needlewright.readings.picture import Picture, open_picture
from needlewright.readings.registration import MIN_SHARE_FOUND, Registration, register
from needlewright.readings.viewpoint import (
    FOCAL_SPREAD,
    SKEW_SPREAD,
    USUAL_FOCAL_35MM,
    Viewpoint,
    skew,
    viewpoint_of,
)

STATED_SPREAD: Final = 0.02
"""Standard deviation of the logarithm of a stated focal length about the real one: it is rounded
to whole millimetres and says nothing of a crop (common practice, no source)."""
FILM_MM: Final = 36.0
STEPS: Final = 321
OUTLIER: Final = 2.0
"""Squares of a photo's skew beyond so many count less and less: one may be registered wrongly."""
LEAST_U: Final = 0.004
"""Of the logarithm of the focal length: a lens is not a pinhole."""


@dataclass(frozen=True, slots=True, eq=False)
class SeenFace:
    """The face in one photo."""

    photo: str
    """As given by the caller."""
    picture: Picture
    registration: Registration
    viewpoint: Viewpoint
    focal: float
    """Focal length taken, in half diagonals of the photo."""
    u_log_focal: float
    """Standard uncertainty of the logarithm of the focal length, common to its camera's photos."""
    art: FaceArt

    def view_of(self, dial: Dial, eccentricity_mm: float) -> DialView:
        """One dial in it."""
        return DialView(
            self.picture.pixels,
            dial,
            self.art,
            self.registration.projection,
            self.viewpoint,
            self.registration.softness_mm,
            eccentricity_mm,
        )

    def with_focal(self, factor: float) -> Viewpoint:
        """Where the camera stood, were its lens longer by a factor."""
        width_halves = max(self.shape) / self.registration.projection.half_diagonal_px
        focal_35mm = self.focal * factor * FILM_MM / width_halves
        return viewpoint_of(self.registration.projection, focal_35mm, self.shape)

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width in pixels."""
        return self.picture.pixels.shape[0], self.picture.pixels.shape[1]


def see_faces(
    paths: Sequence[Path], art: FaceArt
) -> tuple[tuple[SeenFace, ...], tuple[tuple[str, str], ...]]:
    """Find the face in photos, and each camera's focal length from all of its photos.

    Parameters
    ----------
    paths
        Of one or several cameras; those of the same size that state the same focal length are
        taken as of one camera.
    art
        The family's artwork.

    Returns
    -------
    tuple
        The faces in the order given, and of each photo without one its name and the reason, a
        word of `readings.flags`.

    Raises
    ------
    PictureError
        If a file cannot be used.
    """
    found: list[tuple[str, Picture, Registration]] = []
    without: list[tuple[str, str]] = []
    for path in paths:
        picture = open_picture(path)
        grey = np.asarray(cv2.cvtColor(picture.pixels, cv2.COLOR_BGR2GRAY), dtype=np.uint8)
        registration = register(grey, art)
        if registration is None or registration.share_found < MIN_SHARE_FOUND:
            reason = photo_reason(grey, something_found=registration is not None)
            without.append((str(path), reason))
        else:
            found.append((str(path), picture, registration))
    lenses = {camera: _lens(camera, found) for camera in {_camera(p) for _, p, _ in found}}
    faces = []
    for name, picture, registration in found:
        focal, u_log = lenses[_camera(picture)]
        shape = picture.pixels.shape
        stated = focal * FILM_MM / (max(shape[:2]) / registration.projection.half_diagonal_px)
        viewpoint = viewpoint_of(registration.projection, stated, shape)
        faces.append(SeenFace(name, picture, registration, viewpoint, focal, u_log, art))
    return tuple(faces), tuple(without)


Camera = tuple[int, int, float | None]


def _camera(picture: Picture) -> Camera:
    height, width = picture.pixels.shape[:2]
    return height, width, picture.focal_35mm


def _lens(
    camera: Camera, found: Sequence[tuple[str, Picture, Registration]]
) -> tuple[float, float]:
    """Focal length in half diagonals of a camera's photos, and how sure its logarithm is."""
    height, width, stated = camera
    width_halves = max(height, width) / (float(np.hypot(width, height)) / 2)
    middle = (stated or USUAL_FOCAL_35MM) / FILM_MM * width_halves
    spread = STATED_SPREAD if stated else FOCAL_SPREAD
    logs = np.linspace(-5 * spread, 5 * spread, STEPS)
    costs: NDArray[np.float64] = (logs / spread) ** 2
    for _, picture, registration in found:
        if _camera(picture) == camera:
            matrix = registration.projection.matrix
            squares = np.array([skew(matrix, middle * np.exp(log)) for log in logs])
            costs += OUTLIER * np.log1p(squares / SKEW_SPREAD**2 / OUTLIER)
    weights = np.exp(-0.5 * (costs - costs.min()))
    weights /= weights.sum()
    mean = float(weights @ logs)
    return float(middle * np.exp(mean)), max(LEAST_U, float(np.sqrt(weights @ (logs - mean) ** 2)))
