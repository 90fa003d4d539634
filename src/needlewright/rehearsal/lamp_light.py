"""Light of a cluster's own lamps as a camera sees it: print lit from behind, signs that glow."""

from collections.abc import Mapping
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.families.lamps import Lamp
from needlewright.families.model import Family
from needlewright.rehearsal.camera import Camera, Pose, frame_rays
from needlewright.rehearsal.housing import Housing, draw_surroundings
from needlewright.rehearsal.light import Light, Picture, glow_of, linear_of
from needlewright.rehearsal.sheet import Sheet

BACKLIGHT: Final = np.float32(0.55)
"""Of white print that every lamp lights, beside a white sheet in the picture."""
SIGN_LIGHT: Final = np.float32(0.9)
"""Of a lit sign."""
SIGN_MM: Final = 3.0
"""Reach of a tell-tale that states none."""
HALO_SHARE: Final = 0.25
FAINT: Final = 0.02
"""Print that differs less than this from its ground is no sign that could be seen to light."""
LIGHTS_KEPT: Final = 3
"""Lamps by hand, all of them, and one with a fault: a cluster goes to and fro between them."""
Plane = NDArray[np.float32]


class LampLight:
    """What every lamp of a face adds to a picture from one place.

    Each backlight lamp lights its neighbourhood, and all sound ones together the whole face
    evenly; where one is out its own share is missing.

    Parameters
    ----------
    family
        The design.
    camera
        The camera.
    pose
        Where it stands.
    sheet
        The family's face.
    """

    def __init__(self, family: Family, camera: Camera, pose: Pose, sheet: Sheet) -> None:
        rays = frame_rays(camera, pose)
        self._x, self._y = rays.at_height(0.0)
        self._print = sheet.seen(camera, pose, rays)
        around = draw_surroundings(camera, pose, family.face_size_mm, Housing(), Light())
        self._face: Picture = around.face_share[..., None]
        self._behind = {lamp.id: lamp for lamp in family.lamps}
        self._signs = {lamp.id: lamp for lamp in family.tell_tales}
        self._size_mm = family.face_size_mm
        self._drawn: dict[tuple[tuple[str, float], ...], Picture] = {}

    def glow(self, shares: Mapping[str, float]) -> Picture | None:
        """Light that lamps add.

        Parameters
        ----------
        shares
            Of the lamps that are switched on, what each gives of a sound one's light.

        Returns
        -------
        ndarray or None
            Linear light to be added to the bare face; None: none of them gives any.
        """
        lit = tuple(sorted((name, share) for name, share in shares.items() if share > 0.0))
        if not lit:
            return None
        drawn = self._drawn.pop(lit, None)
        if drawn is None:
            drawn = self._draw(dict(lit))
        self._drawn[lit] = drawn  # the last one, so that the first is the oldest
        while len(self._drawn) > LIGHTS_KEPT:
            del self._drawn[next(iter(self._drawn))]
        return drawn

    def _draw(self, lit: Mapping[str, float]) -> Picture:
        glow: Picture = np.zeros_like(self._print)
        behind = {name: lit[name] for name in lit if name in self._behind}
        if behind:
            level = self._level(behind)
            colour = linear_of(self._colour_behind())
            glow += glow_of(self._print) * (level * BACKLIGHT)[..., None] * colour
        for name, share in lit.items():
            if name in self._signs:
                self._light_sign(glow, self._signs[name], share)
        return np.asarray(glow * self._face, dtype=np.float32)

    def _level(self, lit: Mapping[str, float]) -> Plane:
        """Light from behind, 1 where all lamps are sound."""
        placed = [lamp for lamp in self._behind.values() if lamp.centre_mm is not None]
        if not placed:
            mean = sum(lit.values()) / len(self._behind)
            return np.full(self._x.shape, mean, np.float32)
        whole, given = np.full(self._x.shape, 1e-12), np.zeros(self._x.shape)
        for lamp in placed:
            x, y = lamp.centre_mm or (0.0, 0.0)
            reach = lamp.reach_mm or max(self._size_mm) / (2 * len(placed))
            away = ((self._x - x) ** 2 + (self._y - y) ** 2) / reach**2
            near = np.exp(-np.minimum(away, 12.0))
            whole += near
            given += lit.get(lamp.id, 0.0) * near
        level = given / whole
        for sign in self._signs.values():  # each in a chamber of its own
            if sign.centre_mm is not None:
                x, y = sign.centre_mm
                level[np.hypot(self._x - x, self._y - y) < (sign.reach_mm or SIGN_MM)] = 0.0
        return np.asarray(level, dtype=np.float32)

    def _colour_behind(self) -> tuple[float, float, float]:
        stated = [lamp.colour for lamp in self._behind.values() if lamp.colour is not None]
        return stated[0] if stated else (1.0, 0.94, 0.84)

    def _light_sign(self, glow: Picture, lamp: Lamp, share: float) -> None:
        if lamp.centre_mm is None:
            return
        x, y = lamp.centre_mm
        away = np.hypot(self._x - x, self._y - y) / (lamp.reach_mm or SIGN_MM)
        rows, columns = np.nonzero(away < 2.0)
        if not len(rows):
            return
        window = (slice(rows.min(), rows.max() + 1), slice(columns.min(), columns.max() + 1))
        near, seen = away[window], self._print[window]
        inside = near < 1.0
        if not inside.any():
            return
        ground = np.median(seen[inside], axis=0)
        off = np.abs(seen - ground).max(axis=2) * inside
        most = float(np.quantile(off[inside], 0.98))
        shape = np.clip(off / most, 0, 1) if most > FAINT else np.clip(2 * (1 - near), 0, 1)
        shape = np.asarray(shape, dtype=np.float32)
        halo = np.asarray(cv2.GaussianBlur(shape, (0, 0), 2.0), dtype=np.float32)
        colour = _sign_colour(lamp, seen, shape)
        light = np.maximum(shape, np.float32(HALO_SHARE) * halo) * SIGN_LIGHT * np.float32(share)
        glow[window] += light[..., None] * colour


def _sign_colour(lamp: Lamp, seen: Picture, shape: Plane) -> NDArray[np.float32]:
    """As stated, or that of the print, as bright as it goes."""
    if lamp.colour is not None:
        return linear_of(lamp.colour)
    ink = (seen * shape[..., None]).sum(axis=(0, 1))
    return np.asarray(ink / max(float(ink.max()), 1e-6), dtype=np.float32)
