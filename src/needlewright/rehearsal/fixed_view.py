"""A camera that stands still before the cluster: pictures of moving needles, fast."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial, Family
from needlewright.rehearsal.camera import Camera, Pose, frame_rays, project
from needlewright.rehearsal.exposure import expose
from needlewright.rehearsal.housing import FIELD_PX, Housing, draw_surroundings
from needlewright.rehearsal.light import Light, Picture, glow_of
from needlewright.rehearsal.outline import Finish, Seat, bar_of, cap_of, finish_of, true_seats
from needlewright.rehearsal.painting import Mounted, paint_bar, paint_cap, paint_needle
from needlewright.rehearsal.sheet import Sheet, sheet_of
from needlewright.rehearsal.window import window_around, window_rays

_STEPS: Final = 4096
_NOISE_FRAMES: Final = 3
BLUR_PX: Final = 6
"""Further than a lens's blur carries anything."""
REACH_MM: Final = 1.0
"""More room about where a needle can be."""
_READ_SHARE: Final = np.float32(0.004)
"""Light whose photon noise equals the reading noise."""


Window = tuple[slice, slice]


@dataclass(slots=True, eq=False)
class Still:
    """What stands still before the camera, in one light of the cluster's own lamps."""

    glow: Picture | None
    bare: Picture
    level: Picture
    """Steps of the tone curve, blurred as the lens does."""
    spread: Picture
    scene: Picture
    """The bare frame, to draw needles in; it is put right again after each frame."""


@dataclass(frozen=True, slots=True, eq=False)
class Stamp:
    """Something that always looks the same: laid over a picture at its place."""

    at: Window
    leaves: Picture
    adds: Picture

    def lay(self, picture: Picture) -> None:
        """Lay it over a picture, in place."""
        picture[self.at] = picture[self.at] * self.leaves + self.adds


class FixedView:
    """Draws frames for given needle angles; everything that stands still is drawn once.

    Parameters
    ----------
    family
        The design.
    camera
        The camera.
    pose
        Where it stands.
    light
        What lights the cluster; a lens's veil and reflections are left out.
    housing
        What the face lies in.
    seats
        How the needles sit; None: as designed.
    sheet
        The family's face, where it is open already.
    softness_px
        Standard deviation of the lens's blur.
    noise
        Standard deviation of the noise of a white pixel, as a share of white; 0 for none.
    seed
        Of the noise.
    """

    def __init__(
        self,
        family: Family,
        camera: Camera,
        pose: Pose,
        *,
        light: Light | None = None,
        housing: Housing | None = None,
        seats: Mapping[str, Seat] | None = None,
        sheet: Sheet | None = None,
        softness_px: float = 0.5,
        noise: float = 0.01,
        seed: int = 0,
    ) -> None:
        self.family, self.camera, self.pose = family, camera, pose
        self.light, self._soft_px, self._noise = light or Light(), softness_px, noise
        self._seats = dict(seats) if seats is not None else true_seats(family)
        self._seed = seed
        self._finish: dict[str, Finish] = {d.id: finish_of(family, d) for d in family.dials}
        self._rng = np.random.default_rng([seed, 5])
        self._prepare(sheet or sheet_of(family), housing or Housing())
        self._still: Still | None = None
        self._reach = {dial.id: self._reach_of(dial) for dial in family.dials}
        self._caps = {dial.id: self._cap_of(dial) for dial in family.dials}
        shape = (camera.height_px + 64, camera.width_px + 64, 3)
        self._grain = [
            self._rng.standard_normal(shape, dtype=np.float32) for _ in range(_NOISE_FRAMES)
        ]

    def frame(
        self,
        angles_deg: Mapping[str, float],
        pose: Pose | None = None,
        glow: Picture | None = None,
    ) -> NDArray[np.uint8]:
        """One frame.

        Parameters
        ----------
        angles_deg
            Dial to direction, clockwise from 12 o'clock; a missing dial's needle is left out.
        pose
            Where the camera stands in this frame, near its fixed place; None: there. Needles are
            exact from any pose; what stands round the face moves as if it lay in its plane.
        glow
            Light that the cluster's own lamps add to the bare face, from the fixed place; needles
            stand before it.

        Returns
        -------
        ndarray
            Height x width x 3, RGB.
        """
        if pose is None:
            return self._from_here(angles_deg, glow)
        bare, lamp = self._moved(pose)
        if glow is not None:
            bare += glow
        for dial in self.family.dials:
            if dial.id in angles_deg:
                self._put(bare, lamp, dial, angles_deg[dial.id], pose)
        return self._taken(bare)

    def _from_here(
        self, angles_deg: Mapping[str, float], glow: Picture | None
    ) -> NDArray[np.uint8]:
        """A frame from the fixed place: only where needles can be is anything drawn anew."""
        if self._still is None or self._still.glow is not glow:
            bare = self._bare if glow is None else self._bare + glow
            self._still = Still(glow, bare, *self._levels(bare), bare.copy())
        still, grain = self._still, self._some_grain()
        frame = np.empty(still.level.shape, np.uint8)
        expose(still.level, still.spread, grain, _TONE, frame)
        moving = [dial for dial in self.family.dials if dial.id in angles_deg]
        for dial in moving:
            mounted = self._mounted(dial, angles_deg[dial.id])
            self._shade(still.scene, self._lamp, mounted, self.pose)
            paint_bar(still.scene, self.camera, self.pose, mounted, self.light)
            self._caps[dial.id].lay(still.scene)
        for dial in moving:
            at = self._reach[dial.id]
            around = _wider(at, BLUR_PX, frame.shape)
            level, spread = self._levels(still.scene[around])
            inside = _within(at, around)
            expose(level[inside], spread[inside], grain[at], _TONE, frame[at])
        for dial in moving:
            at = self._reach[dial.id]
            still.scene[at] = still.bare[at]
        return frame

    def _levels(self, light: Picture) -> tuple[Picture, Picture]:
        """Steps of the tone curve a picture lies at, and their noise for one standard deviation."""
        seen = light
        if self._soft_px > 0:
            seen = np.asarray(cv2.GaussianBlur(light, (0, 0), self._soft_px))
        spread = np.sqrt(np.maximum(seen, 0.0) + _READ_SHARE)
        spread *= np.float32(self._noise * _STEPS)
        return seen * np.float32(_STEPS), spread

    def in_light(self, light: Light) -> "FixedView":
        """The same camera before the same cluster in another light.

        Parameters
        ----------
        light
            The light.

        Returns
        -------
        FixedView
            Ready to draw.
        """
        return FixedView(
            self.family,
            self.camera,
            self.pose,
            light=light,
            seats=self._seats,
            softness_px=self._soft_px,
            noise=self._noise,
            seed=self._seed,
        )

    def _prepare(self, sheet: Sheet, housing: Housing) -> None:
        """The bare face under the light, and the part of it that comes from the lamp."""
        light = self.light
        around = draw_surroundings(self.camera, self.pose, self.family.face_size_mm, housing, light)
        seen = sheet.seen(self.camera, self.pose, frame_rays(self.camera, self.pose))
        share = around.face_share[..., None]
        self._lamp: Picture = seen * (around.lamp * np.float32(light.lamp))[..., None] * share
        bare = seen * (around.room * np.float32(light.room))[..., None] * share
        if light.lit > 0:
            bare += glow_of(seen) * np.float32(light.lit) * share
        self._bare: Picture = bare + self._lamp + around.picture * (1 - share)

    def _cap_of(self, dial: Dial) -> "Stamp":
        """A cap as it always looks: what it leaves of the picture under it, and what it adds."""
        at, mounted = self._reach[dial.id], self._mounted(dial, 0.0)
        shape = (self.camera.height_px, self.camera.width_px, 3)
        black, white = np.zeros(shape, np.float32), np.ones(shape, np.float32)
        for ground in (black, white):
            paint_cap(ground, self.camera, self.pose, mounted, self.light)
        rows, columns = np.nonzero(np.any(white[at] != 1.0, axis=2) | np.any(black[at] > 0, axis=2))
        if not len(rows):  # out of the picture
            nowhere = (slice(0, 0), slice(0, 0))
            return Stamp(nowhere, white[nowhere], black[nowhere])
        tight = (
            slice(at[0].start + rows.min(), at[0].start + rows.max() + 1),
            slice(at[1].start + columns.min(), at[1].start + columns.max() + 1),
        )
        return Stamp(tight, white[tight] - black[tight], black[tight].copy())

    def _reach_of(self, dial: Dial) -> Window:
        """Where in the frame its needle, its cap and their shadow can ever be."""
        mounted = [self._mounted(dial, float(angle)) for angle in range(0, 360, 5)]
        high = max(max(one.bar.top_mm, one.cap.top_mm) for one in mounted)
        points = np.vstack([np.vstack([m.bar.corners_mm(), m.cap.corners_mm()]) for m in mounted])
        shade = points.copy()
        shade[:, :2] -= shade[:, 2:] * np.array(self.light.lean)
        shade[:, 2] = 0.0
        every = np.vstack([points, shade])
        pad = max(high * self.light.softness, 0.15) + REACH_MM
        low, top = every.min(axis=0) - pad, every.max(axis=0) + pad
        box = np.array(
            [[x, y, z] for x in (low[0], top[0]) for y in (low[1], top[1]) for z in (0.0, high)]
        )
        seen = project(self.camera, self.pose, box)
        left, up = np.floor(seen.min(axis=0)).astype(int) - BLUR_PX
        right, down = np.ceil(seen.max(axis=0)).astype(int) + BLUR_PX
        return (
            slice(max(up, 0), min(down, self.camera.height_px)),
            slice(max(left, 0), min(right, self.camera.width_px)),
        )

    def _mounted(self, dial: Dial, angle_deg: float) -> Mounted:
        finish, seat = self._finish[dial.id], self._seats[dial.id]
        return Mounted(bar_of(dial, finish, seat, angle_deg), cap_of(dial, finish, seat), finish)

    def _put(
        self, frame: Picture, lamp: Picture, dial: Dial, angle_deg: float, pose: Pose | None
    ) -> None:
        mounted = self._mounted(dial, angle_deg)
        self._shade(frame, lamp, mounted, pose or self.pose)
        paint_needle(frame, self.camera, pose or self.pose, mounted, self.light)

    def _shade(self, frame: Picture, lamp: Picture, mounted: Mounted, pose: Pose) -> None:
        """Take the lamp's light from where the needle and its cap keep it off."""
        lean = np.array(self.light.lean)
        points = np.vstack([mounted.bar.corners_mm(), mounted.cap.corners_mm()])
        soft = max(mounted.cap.top_mm * self.light.softness, 0.15)
        points[:, :2] -= points[:, 2:] * lean
        points[:, 2] = 0.0
        low, high = points.min(axis=0) - soft, points.max(axis=0) + soft
        around = np.array([[x, y, 0.0] for x in (low[0], high[0]) for y in (low[1], high[1])])
        window = window_around(self.camera, pose, around, 1.0)
        if window is None:
            return
        x, y = window_rays(self.camera, pose, window).at_height(0.0)
        left = np.ones(x.shape)
        for solid in (mounted.bar, mounted.cap):
            own = max(solid.top_mm * self.light.softness, 0.15)
            left *= 1.0 - 0.93 * solid.shade(x, y, self.light.lean, own)
        at = window.rows, window.columns
        frame[at] -= lamp[at] * (1.0 - left)[..., None].astype(np.float32)

    def _moved(self, pose: Pose) -> tuple[Picture, Picture]:
        """The bare frame from another place, by where its points of the face plane go."""
        x, y = frame_rays(self.camera, pose, FIELD_PX).at_height(0.0)
        flat = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])
        was = project(self.camera, self.pose, flat).astype(np.float32).reshape(*x.shape, 2)
        full = (x.shape[1] * FIELD_PX, x.shape[0] * FIELD_PX)
        grown = cv2.resize(was, full, interpolation=cv2.INTER_LINEAR)
        high, wide = self.camera.height_px, self.camera.width_px
        # held inside: this library's linear interpolation reads beyond the picture's last row
        u, v = (
            np.clip(grown[:high, :wide, i], 0.0, side - 1.01).astype(np.float32)
            for i, side in ((0, wide), (1, high))
        )
        bare = np.asarray(cv2.remap(self._bare, u, v, cv2.INTER_CUBIC), dtype=np.float32)
        lamp = np.asarray(cv2.remap(self._lamp, u, v, cv2.INTER_LINEAR), dtype=np.float32)
        return bare, lamp

    def _taken(self, light: Picture) -> NDArray[np.uint8]:
        seen = light
        if self._soft_px > 0:
            seen = np.asarray(cv2.GaussianBlur(light, (0, 0), self._soft_px))
        if self._noise > 0:
            spread = np.maximum(seen, 0.0) + _READ_SHARE
            np.sqrt(spread, out=spread)
            spread *= self._some_grain()
            seen = np.asarray(cv2.scaleAdd(spread, self._noise, seen))
        seen *= _STEPS
        return np.asarray(np.take(_TONE, seen.astype(np.int32), mode="clip"))

    def _some_grain(self) -> Picture:
        """Noise not drawn anew but taken from another place of a stock each time."""
        stock = self._grain[int(self._rng.integers(_NOISE_FRAMES))]
        down, right = (int(v) for v in self._rng.integers(0, 64, 2))
        return stock[down : down + self.camera.height_px, right : right + self.camera.width_px]


def _wider(at: Window, by: int, shape: tuple[int, ...]) -> Window:
    rows, columns = at
    return (
        slice(max(rows.start - by, 0), min(rows.stop + by, shape[0])),
        slice(max(columns.start - by, 0), min(columns.stop + by, shape[1])),
    )


def _within(at: Window, around: Window) -> Window:
    """The same place counted from the corner of a window around it."""
    rows, columns = at
    down, right = around[0].start, around[1].start
    return (
        slice(rows.start - down, rows.stop - down),
        slice(columns.start - right, columns.stop - right),
    )


def _tone() -> NDArray[np.uint8]:
    x = np.arange(_STEPS + 1) / _STEPS
    coded = np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)
    return np.round(255 * coded).astype(np.uint8)


_TONE: Final = _tone()
