"""The printed face, seen from anywhere."""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.families.face import open_face
from needlewright.families.model import Family
from needlewright.rehearsal.camera import Camera, Pose, Rays
from needlewright.rehearsal.light import LINEAR, Picture

_FINER: Final = 1.6
"""The print is first brought to this many of its pixels per pixel of the picture, by areas: so
the plain interpolation that follows neither skips print nor blurs it much."""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A face's print in linear light."""

    art: Picture
    px_per_mm: float
    size_mm: tuple[float, float]

    def seen(self, camera: Camera, pose: Pose, rays: Rays) -> Picture:
        """The print along rays, evenly lit.

        Parameters
        ----------
        camera
            The camera the rays are of.
        pose
            Where it stands.
        rays
            Of any window; the print's edge goes on outside the face.

        Returns
        -------
        ndarray
            Rows x columns x 3, linear reflectance.
        """
        x, y = rays.at_height(0.0)
        art, per_x, per_y = self._brought_to(_FINER * camera.focal_px / nearest_mm(self, pose))
        # held inside: this library's linear interpolation reads beyond the picture's last row
        u = np.clip(x * per_x - 0.5, 0.0, art.shape[1] - 1.01).astype(np.float32)
        v = np.clip(y * per_y - 0.5, 0.0, art.shape[0] - 1.01).astype(np.float32)
        seen = cv2.remap(art, u, v, cv2.INTER_LINEAR)
        return np.asarray(seen, dtype=np.float32)

    def _brought_to(self, px_per_mm: float) -> tuple[Picture, float, float]:
        high, wide = self.art.shape[:2]
        if px_per_mm >= self.px_per_mm:
            return self.art, self.px_per_mm, self.px_per_mm
        share = px_per_mm / self.px_per_mm
        small = max(round(wide * share), 2), max(round(high * share), 2)
        resized = cv2.resize(self.art, small, interpolation=cv2.INTER_AREA)
        art = np.asarray(resized, dtype=np.float32)
        return art, self.px_per_mm * small[0] / wide, self.px_per_mm * small[1] / high


def nearest_mm(sheet: Sheet, pose: Pose) -> float:
    """Distance along the optical axis of the face's nearest corner.

    Parameters
    ----------
    sheet
        The face.
    pose
        Where the camera stands.

    Returns
    -------
    float
        Millimetres.
    """
    wide, high = sheet.size_mm
    corners = np.array([[x, y, 0.0] for x in (0.0, wide) for y in (0.0, high)])
    depth: NDArray[np.float64] = corners @ pose.turn[2] + pose.shift_mm[2]
    return float(depth.min())


def sheet_of(family: Family) -> Sheet:
    """Open a family's face picture.

    Parameters
    ----------
    family
        The family.

    Returns
    -------
    Sheet
        In linear light.

    Raises
    ------
    PictureError
        If the picture cannot be used.
    """
    art = open_face(family.face_path)
    return Sheet(LINEAR[art], family.px_per_mm, family.face_size_mm)
