"""A camera that stands still before the cluster: pictures of moving needles, fast."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial, Family
from needlewright.rehearsal.camera import Camera, Pose, frame_rays, project
from needlewright.rehearsal.housing import FIELD_PX, Housing, draw_surroundings
from needlewright.rehearsal.light import Light, Picture, glow_of
from needlewright.rehearsal.outline import Finish, Seat, bar_of, cap_of, finish_of, true_seats
from needlewright.rehearsal.painting import Mounted, paint_bar, paint_needle
from needlewright.rehearsal.reach import (
    BLUR_PX,
    Stamp,
    Window,
    reach_of,
    stamp_of,
    wider,
    within,
)
from needlewright.rehearsal.sheet import Sheet, sheet_of
from needlewright.rehearsal.taking import Grain, Taking
from needlewright.rehearsal.window import window_around, window_rays

LIGHTS_KEPT: Final = 4
"""Of the cluster's own lamps: none, those that are switched by hand, all, and one with a fault."""
Shown = tuple[tuple[str, float], ...]
"""Dials and where their needles point."""


@dataclass(slots=True, eq=False)
class Still:
    """What is seen from the fixed place in one light of the cluster's own lamps."""

    glow: Picture | None
    bare: Picture
    """Without needles."""
    level: Picture
    """With them: steps of the tone curve, blurred as the lens does."""
    spread: Picture
    shown: Shown = ()
    """The needles that `level` and `spread` hold."""


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
        self.light = light or Light()
        self._seats = dict(seats) if seats is not None else true_seats(family)
        self._finish: dict[str, Finish] = {d.id: finish_of(family, d) for d in family.dials}
        self._taking = Taking(
            camera.height_px, camera.width_px, softness_px=softness_px, noise=noise, seed=seed
        )
        self._prepare(sheet or sheet_of(family), housing or Housing())
        self._stills: list[Still] = []
        self._scene = self._bare.copy()
        """The bare frame of the first of them, to draw needles in; put right again each time."""
        self._reach: dict[str, Window] = {}
        self._caps: dict[str, Stamp] = {}
        for dial in family.dials:
            turned = [self._mounted(dial, float(angle)) for angle in range(0, 360, 5)]
            reach = reach_of(turned, camera, pose, self.light)
            self._reach[dial.id] = reach
            self._caps[dial.id] = stamp_of(turned[0], camera, pose, self.light, reach)

    def next_grain(self) -> Grain:
        """The noise of the next frame, where that frame is to be drawn later or not at all.

        Returns
        -------
        tuple
            For `frame`.
        """
        return self._taking.next_grain()

    def frame(
        self,
        angles_deg: Mapping[str, float],
        pose: Pose | None = None,
        glow: Picture | None = None,
        grain: Grain | None = None,
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
        grain
            Of `next_grain`: the same needles with the same one are the same frame; None: the next.

        Returns
        -------
        ndarray
            Height x width x 3, RGB.
        """
        grain = self.next_grain() if grain is None else grain
        if pose is None:
            return self._from_here(angles_deg, glow, grain)
        bare, lamp = self._moved(pose)
        if glow is not None:
            bare += glow
        for dial in self.family.dials:
            if dial.id in angles_deg:
                self._put(bare, lamp, dial, angles_deg[dial.id], pose)
        return self._taking.taken(bare, grain)

    def _from_here(
        self, angles_deg: Mapping[str, float], glow: Picture | None, grain: Grain
    ) -> NDArray[np.uint8]:
        """A frame from the fixed place: only what has moved since the last one is drawn anew."""
        still = self._still_in(glow)
        moving = [dial for dial in self.family.dials if dial.id in angles_deg]
        shown = tuple((dial.id, float(angles_deg[dial.id])) for dial in moving)
        if shown != still.shown:
            self._show(still, moving, angles_deg)
            still.shown = shown
        return self._taking.exposed(still.level, still.spread, grain)

    def _show(self, still: Still, moving: list[Dial], angles_deg: Mapping[str, float]) -> None:
        """Put needles into a still."""
        before = {name for name, _ in still.shown}
        for dial in moving:
            mounted = self._mounted(dial, angles_deg[dial.id])
            self._shade(self._scene, self._lamp, mounted, self.pose)
            paint_bar(self._scene, self.camera, self.pose, mounted, self.light)
            self._caps[dial.id].lay(self._scene)
        for name in before.union(dial.id for dial in moving):
            at = self._reach[name]
            around = wider(at, BLUR_PX, still.level.shape)
            inside = within(at, around)
            level, spread = self._taking.levels(self._scene[around])
            still.level[at], still.spread[at] = level[inside], spread[inside]
        for dial in moving:
            at = self._reach[dial.id]
            self._scene[at] = still.bare[at]

    def _still_in(self, glow: Picture | None) -> Still:
        """The still in a light of the cluster's own lamps, and the scene ready for it."""
        if self._stills and self._stills[0].glow is glow:
            return self._stills[0]
        still = next((one for one in self._stills if one.glow is glow), None)
        if still is None:
            bare = self._bare if glow is None else self._bare + glow
            still = Still(glow, bare, *self._taking.levels(bare))
        others = [one for one in self._stills if one is not still]
        self._stills = [still, *others[: LIGHTS_KEPT - 1]]
        self._scene[...] = still.bare
        return still

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
            softness_px=self._taking.softness_px,
            noise=self._taking.noise,
            seed=self._taking.seed,
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
