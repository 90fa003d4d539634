"""A window of the frame, sampled more finely than its pixels."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from needlewright.rehearsal.camera import Camera, Floats, Pose, Rays, project, rays_through


@dataclass(frozen=True, slots=True)
class Window:
    """Pixels left..right, top..bottom of the frame, the ends excluded."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def rows(self) -> slice:
        """Rows of the frame."""
        return slice(self.top, self.bottom)

    @property
    def columns(self) -> slice:
        """Columns of the frame."""
        return slice(self.left, self.right)

    def shifted(self, by: "Window") -> tuple[slice, slice]:
        """Rows and columns of this window inside another that contains it.

        Parameters
        ----------
        by
            The containing window.

        Returns
        -------
        tuple
            Row and column slices.
        """
        return (
            slice(self.top - by.top, self.bottom - by.top),
            slice(self.left - by.left, self.right - by.left),
        )


def window_around(
    camera: Camera, pose: Pose, points_mm: Floats, margin_px: float = 3.0
) -> Window | None:
    """The window that holds a set of points, cut to the frame.

    Parameters
    ----------
    camera
        The camera.
    pose
        Where it stands.
    points_mm
        N x 3, face coordinates.
    margin_px
        Added on every side.

    Returns
    -------
    Window or None
        None when the frame shows none of it.
    """
    px = project(camera, pose, points_mm)
    low, high = px.min(axis=0) - margin_px, px.max(axis=0) + margin_px
    left, top = max(int(np.floor(low[0])), 0), max(int(np.floor(low[1])), 0)
    right = min(int(np.ceil(high[0])) + 1, camera.width_px)
    bottom = min(int(np.ceil(high[1])) + 1, camera.height_px)
    return Window(left, top, right, bottom) if right > left and bottom > top else None


def window_rays(camera: Camera, pose: Pose, window: Window) -> Rays:
    """Rays of a window's pixels.

    Parameters
    ----------
    camera
        The camera.
    pose
        Where it stands.
    window
        Which pixels.

    Returns
    -------
    Rays
        Of shape rows x columns.
    """
    u = np.arange(window.left, window.right, dtype=np.float64)
    v = np.arange(window.top, window.bottom, dtype=np.float64)
    return rays_through(camera, pose, u[None, :], v[:, None])


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """Some pixels of the frame, each cut into fine x fine parts."""

    rows: NDArray[np.intp]
    """N, of the frame."""
    columns: NDArray[np.intp]
    """N, of the frame."""
    rays: Rays
    """N x fine^2."""


def parts_of(
    camera: Camera, pose: Pose, window: Window, near: NDArray[np.bool_], fine: int
) -> Parts:
    """Cut the pixels that a solid comes near to into parts.

    Parameters
    ----------
    camera
        The camera.
    pose
        Where it stands.
    window
        A window of the frame.
    near
        Which of the window's pixels.
    fine
        Parts along each side of a pixel.

    Returns
    -------
    Parts
        With the rays of their middles.
    """
    rows, columns = np.nonzero(near)
    rows, columns = rows + window.top, columns + window.left
    step = (np.arange(fine) + 0.5) / fine - 0.5
    u = columns[:, None] + np.tile(step, fine)[None, :]
    v = rows[:, None] + np.repeat(step, fine)[None, :]
    return Parts(rows, columns, rays_through(camera, pose, u, v))
