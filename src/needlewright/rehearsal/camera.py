"""The camera before the face: where it stands, and which ray each pixel sees.

Face coordinates are millimetres, x right, y down, z toward the viewer (0 on the face), which is
left-handed; the camera's are x right, y down, z forward. The centre of the top-left pixel is
(0, 0).
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]

_MIRROR: Final = np.diag([1.0, 1.0, -1.0])
"""Turns the face's z, toward the viewer, into the camera's, away from it."""

_DEGREE: Final = 7
"""Of the polynomial that undoes the distortion; leaves less than 1e-5 px at 3 % of distortion."""


@dataclass(frozen=True, slots=True)
class Camera:
    """A pinhole with two radial terms: u = f (X/Z) (1 + k1 r2 + k2 r2^2) + cx, v likewise."""

    width_px: int
    height_px: int
    focal_px: float
    cx_px: float
    cy_px: float
    k1: float = 0.0
    k2: float = 0.0

    @property
    def corner_r2(self) -> float:
        """Square of the largest X/Z, Y/Z radius the frame can see, with a margin."""
        x = max(self.cx_px, self.width_px - self.cx_px) / self.focal_px
        y = max(self.cy_px, self.height_px - self.cy_px) / self.focal_px
        return 1.2 * (x * x + y * y)


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """Face to camera: camera = turn @ (x, y, z) + shift_mm; det(turn) = -1."""

    turn: NDArray[np.float64]
    """3 x 3."""
    shift_mm: NDArray[np.float64]
    """3."""

    @property
    def eye_mm(self) -> NDArray[np.float64]:
        """Where the camera stands, in face coordinates."""
        return np.asarray(-self.turn.T @ self.shift_mm)

    @property
    def tilt_deg(self) -> float:
        """Angle between the optical axis and the face's normal."""
        return float(np.degrees(np.arccos(np.clip(-self.turn[2, 2], -1.0, 1.0))))


@dataclass(frozen=True, slots=True, eq=False)
class Rays:
    """The rays of a set of pixels: p(z) = eye + (z - eye_z) * slope, in millimetres."""

    eye_mm: NDArray[np.float64]
    slope_x: Floats
    slope_y: Floats

    def at_height(self, z_mm: float) -> tuple[Floats, Floats]:
        """Where each ray meets the plane parallel to the face at a height.

        Parameters
        ----------
        z_mm
            Above the face.

        Returns
        -------
        tuple
            x and y in face millimetres, each of the shape of the slopes.
        """
        rise = float(z_mm - self.eye_mm[2])
        return self.slope_x * rise + self.eye_mm[0], self.slope_y * rise + self.eye_mm[1]


def place_camera(
    *,
    pitch_deg: float = 0.0,
    yaw_deg: float = 0.0,
    roll_deg: float = 0.0,
    distance_mm: float,
    target_mm: tuple[float, float],
    aside_mm: tuple[float, float] = (0.0, 0.0),
) -> Pose:
    """Place a camera that looks at a point of the face.

    Parameters
    ----------
    pitch_deg
        Turn about the camera's x axis; positive shows the face's top nearer the camera.
    yaw_deg
        Turn about the camera's y axis; positive shows the face's left nearer the camera.
    roll_deg
        Turn of the picture about the optical axis, positive clockwise.
    distance_mm
        From the camera to the target along the optical axis.
    target_mm
        Point of the face.
    aside_mm
        Where the target lies right of and below the optical axis, at its distance.

    Returns
    -------
    Pose
        Face to camera.
    """
    turn = _about_z(roll_deg) @ _about_x(pitch_deg) @ _about_y(yaw_deg) @ _MIRROR
    at = np.array([aside_mm[0], aside_mm[1], distance_mm])
    return Pose(turn, at - turn @ np.array([target_mm[0], target_mm[1], 0.0]))


def project(camera: Camera, pose: Pose, points_mm: Floats) -> NDArray[np.float64]:
    """Where points of the cluster fall in the picture.

    Parameters
    ----------
    camera
        The camera.
    pose
        Where it stands.
    points_mm
        N x 3, face coordinates.

    Returns
    -------
    ndarray
        N x 2, pixels; points behind the camera are of no meaning.
    """
    seen = np.asarray(points_mm, dtype=np.float64) @ pose.turn.T + pose.shift_mm
    x, y = seen[:, 0] / seen[:, 2], seen[:, 1] / seen[:, 2]
    r2 = x * x + y * y
    stretch = camera.focal_px * (1.0 + camera.k1 * r2 + camera.k2 * r2 * r2)
    return np.column_stack([x * stretch + camera.cx_px, y * stretch + camera.cy_px])


def rays_through(camera: Camera, pose: Pose, u_px: Floats, v_px: Floats) -> Rays:
    """The rays of pixels, or of points between them.

    Parameters
    ----------
    camera
        The camera.
    pose
        Where it stands; the face must be wholly in front of it.
    u_px
        Columns, any shape that broadcasts with `v_px`.
    v_px
        Rows.

    Returns
    -------
    Rays
        Of the broadcast shape.
    """
    x = (u_px - camera.cx_px) / camera.focal_px
    y = (v_px - camera.cy_px) / camera.focal_px
    if camera.k1 or camera.k2:
        undo = _undoing(camera.k1, camera.k2, camera.corner_r2)
        r2 = x * x + y * y
        factor = np.full_like(r2, undo[-1])
        for term in undo[-2::-1]:
            factor *= r2
            factor += term
        x, y = x * factor, y * factor
    back = pose.turn.astype(x.dtype)
    fall = x * back[0, 2] + y * back[1, 2] + back[2, 2]
    return Rays(
        pose.eye_mm,
        (x * back[0, 0] + y * back[1, 0] + back[2, 0]) / fall,
        (x * back[0, 1] + y * back[1, 1] + back[2, 1]) / fall,
    )


def frame_rays(camera: Camera, pose: Pose, step_px: int = 1) -> Rays:
    """The rays of the whole frame, or of every `step_px`-th pixel's block centre.

    Parameters
    ----------
    camera
        The camera.
    pose
        Where it stands.
    step_px
        Side of the blocks, 1 for every pixel.

    Returns
    -------
    Rays
        Of shape ceil(height / step) x ceil(width / step), single precision.
    """
    middle = (step_px - 1) / 2
    u = np.arange(0, camera.width_px, step_px, dtype=np.float32) + np.float32(middle)
    v = np.arange(0, camera.height_px, step_px, dtype=np.float32) + np.float32(middle)
    return rays_through(camera, pose, u[None, :], v[:, None])


@lru_cache(maxsize=64)
def _undoing(k1: float, k2: float, corner_r2: float) -> tuple[float, ...]:
    """Coefficients of r / r_distorted as a polynomial of r_distorted squared, lowest first."""
    r = np.sqrt(corner_r2) * np.sin(np.linspace(1e-3, np.pi / 2, 400))
    bent = r * (1.0 + k1 * r**2 + k2 * r**4)
    fit = np.polynomial.Polynomial.fit(bent**2, r / bent, _DEGREE)
    return tuple(float(c) for c in fit.convert().coef)


def _about_x(angle_deg: float) -> NDArray[np.float64]:
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return np.array([[1, 0, 0], [0, c, -s], [0, s, c]])


def _about_y(angle_deg: float) -> NDArray[np.float64]:
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])


def _about_z(angle_deg: float) -> NDArray[np.float64]:
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
