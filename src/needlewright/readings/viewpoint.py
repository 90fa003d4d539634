"""Where the camera stood: enough of it to know how far parallax moves a needle sideways.

A point at height h above the face at X looks as the face does at X + h (X - F) / (Z - h), with F
the foot of the camera on the face plane and Z its height. That is a similarity, so it turns
nothing; it only says where along and beside the needle to look.

Source: derivation in docs/decisions/0003-direction-not-parallax.md.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from needlewright.readings.projection import Array, Projection

USUAL_FOCAL_35MM: Final = 32.0
"""Focal length taken when the photo states none and its perspective shows none."""
SKEW_SPREAD: Final = 0.004
"""Standard deviation of the root of `skew`: what registration and lens leave of it."""
FOCAL_SPREAD: Final = 0.35
"""Standard deviation of the logarithm of focal lengths people use at a bench."""


@dataclass(frozen=True, slots=True)
class Viewpoint:
    """The camera over the face.

    Parameters
    ----------
    foot_mm
        Foot of the camera on the face plane.
    height_mm
        Height of the camera over the face plane.
    focal_stated
        Whether the focal length came with the photo.
    """

    foot_mm: tuple[float, float]
    height_mm: float
    focal_stated: bool

    def lifted(self, points_mm: Array, height_mm: float) -> Array:
        """Where on the face plane points at a height above it are seen; shape (..., 2)."""
        foot = np.asarray(self.foot_mm)
        return np.asarray(points_mm + height_mm * (points_mm - foot) / (self.height_mm - height_mm))

    def slant(self, point_mm: Array) -> tuple[float, float]:
        """How obliquely a place is seen.

        Parameters
        ----------
        point_mm
            Shape (2,).

        Returns
        -------
        tuple[float, float]
            Tangent of the view's angle to the face's normal, and the direction of the lean in
            degrees clockwise from 12 o'clock.
        """
        lean = point_mm - np.asarray(self.foot_mm)
        tangent = float(np.hypot(*lean)) / self.height_mm
        return tangent, float(np.degrees(np.arctan2(lean[0], -lean[1])))


def viewpoint_of(
    projection: Projection, focal_35mm: float | None, shape: tuple[int, ...]
) -> Viewpoint:
    """Recover the camera's place from a registration.

    Parameters
    ----------
    projection
        Face millimetres to pixels.
    focal_35mm
        Focal length as 35 mm film would need it for the same width, or None.
    shape
        Height and width of the photo.

    Returns
    -------
    Viewpoint
        The camera over the face. Without a focal length the one is taken that makes the face's
        axes most nearly square and equal, weighed against what people use.
    """
    width_halves = max(shape[:2]) / projection.half_diagonal_px
    if focal_35mm is not None:
        focal = focal_35mm / 36.0 * width_halves
    else:
        candidates = USUAL_FOCAL_35MM * np.exp(np.linspace(-1.0, 1.0, 81))
        costs = [
            skew(projection.matrix, f / 36.0 * width_halves) / SKEW_SPREAD**2
            + (np.log(f / USUAL_FOCAL_35MM) / FOCAL_SPREAD) ** 2
            for f in candidates
        ]
        focal = float(candidates[int(np.argmin(costs))]) / 36.0 * width_halves
    place = _camera_place(projection.matrix, focal)
    return Viewpoint(
        (float(place[0]), float(place[1])), abs(float(place[2])), focal_35mm is not None
    )


def _columns(matrix: Array, focal: float) -> tuple[Array, Array, Array]:
    pose = np.diag([1 / focal, 1 / focal, 1.0]) @ matrix
    scale = (np.linalg.norm(pose[:, 0]) + np.linalg.norm(pose[:, 1])) / 2
    return pose[:, 0] / scale, pose[:, 1] / scale, pose[:, 2] / scale


def skew(matrix: Array, focal: float) -> float:
    """How far the face's axes are from square and equal under a focal length.

    Parameters
    ----------
    matrix
        Of a projection.
    focal
        Focal length, in half diagonals of the photo.

    Returns
    -------
    float
        Square of it, as a share of the axes' length.
    """
    x, y, _ = _columns(matrix, focal)
    return float((x @ y) ** 2 + (np.linalg.norm(x) - np.linalg.norm(y)) ** 2)


def _camera_place(matrix: Array, focal: float) -> Array:
    x, y, origin = _columns(matrix, focal)
    z = np.cross(x, y)
    z /= np.linalg.norm(z)
    return np.asarray(-np.linalg.solve(np.stack([x, y, z], axis=1), origin))
