"""Where in a frame a needle can ever be, and its cap, which always looks the same."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from needlewright.rehearsal.camera import Camera, Pose, project
from needlewright.rehearsal.light import Light, Picture
from needlewright.rehearsal.painting import Mounted, paint_cap

BLUR_PX: Final = 6
"""Further than a lens's blur carries anything."""
REACH_MM: Final = 1.0
"""More room about where a needle can be."""
Window = tuple[slice, slice]
"""Rows and columns of a frame."""


@dataclass(frozen=True, slots=True, eq=False)
class Stamp:
    """Something that always looks the same: laid over a picture at its place."""

    at: Window
    leaves: Picture
    adds: Picture

    def lay(self, picture: Picture) -> None:
        """Lay it over a picture, in place."""
        picture[self.at] = picture[self.at] * self.leaves + self.adds


def reach_of(turned: Sequence[Mounted], camera: Camera, pose: Pose, light: Light) -> Window:
    """Where in the frame a needle, its cap and their shadow can ever be.

    Parameters
    ----------
    turned
        The needle in directions all round.
    camera
        The camera.
    pose
        Where it stands.
    light
        Its lamp casts the shadow.

    Returns
    -------
    tuple of slice
        Inside the frame.
    """
    high = max(max(one.bar.top_mm, one.cap.top_mm) for one in turned)
    points = np.vstack([np.vstack([m.bar.corners_mm(), m.cap.corners_mm()]) for m in turned])
    shade = points.copy()
    shade[:, :2] -= shade[:, 2:] * np.array(light.lean)
    shade[:, 2] = 0.0
    every = np.vstack([points, shade])
    pad = max(high * light.softness, 0.15) + REACH_MM
    low, top = every.min(axis=0) - pad, every.max(axis=0) + pad
    box = np.array(
        [[x, y, z] for x in (low[0], top[0]) for y in (low[1], top[1]) for z in (0.0, high)]
    )
    seen = project(camera, pose, box)
    left, up = np.floor(seen.min(axis=0)).astype(int) - BLUR_PX
    right, down = np.ceil(seen.max(axis=0)).astype(int) + BLUR_PX
    return (
        slice(max(up, 0), min(down, camera.height_px)),
        slice(max(left, 0), min(right, camera.width_px)),
    )


def stamp_of(mounted: Mounted, camera: Camera, pose: Pose, light: Light, reach: Window) -> Stamp:
    """A cap as it always looks: what it leaves of the picture under it, and what it adds.

    Parameters
    ----------
    mounted
        With the cap.
    camera
        The camera.
    pose
        Where it stands.
    light
        The light.
    reach
        Where it can be.

    Returns
    -------
    Stamp
        As small as may be; empty where the cap is out of the picture.
    """
    shape = (camera.height_px, camera.width_px, 3)
    black, white = np.zeros(shape, np.float32), np.ones(shape, np.float32)
    for ground in (black, white):
        paint_cap(ground, camera, pose, mounted, light)
    differs = np.any(white[reach] != 1.0, axis=2) | np.any(black[reach] > 0, axis=2)
    rows, columns = np.nonzero(differs)
    if not len(rows):
        nowhere = (slice(0, 0), slice(0, 0))
        return Stamp(nowhere, white[nowhere], black[nowhere])
    tight = (
        slice(reach[0].start + rows.min(), reach[0].start + rows.max() + 1),
        slice(reach[1].start + columns.min(), reach[1].start + columns.max() + 1),
    )
    return Stamp(tight, white[tight] - black[tight], black[tight].copy())


def wider(at: Window, by: int, shape: tuple[int, ...]) -> Window:
    """A window with more room on every side, inside a frame."""
    rows, columns = at
    return (
        slice(max(rows.start - by, 0), min(rows.stop + by, shape[0])),
        slice(max(columns.start - by, 0), min(columns.stop + by, shape[1])),
    )


def within(at: Window, around: Window) -> Window:
    """The same place counted from the corner of a window around it."""
    rows, columns = at
    down, right = around[0].start, around[1].start
    return (
        slice(rows.start - down, rows.stop - down),
        slice(columns.start - right, columns.stop - right),
    )
