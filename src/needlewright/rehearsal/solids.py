"""The solid parts over the face, met by rays: the needle, a flat bar; the cap, a raised disc.

Each is given as signed distances (positive inside) along the rays of a finely sampled window, so
that edges are soft over one part of a pixel only and stay where they are to far below it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from needlewright.rehearsal.camera import Floats, Rays


@dataclass(frozen=True, slots=True, eq=False)
class Bar:
    """A needle as it stands: symmetric about its line, flat on top, of constant thickness."""

    pivot_mm: tuple[float, float]
    angle_deg: float
    """Clockwise from 12 o'clock, in the face plane."""
    along_mm: NDArray[np.float64]
    """Knots of the outline from the blunt end (negative) to the tip, rising."""
    half_width_mm: NDArray[np.float64]
    """At the knots, straight between them."""
    top_mm: float
    """Height of the top surface over the face, at the pivot."""
    thickness_mm: float
    pitch_deg: float = 0.0
    """Positive: the tip stands higher than the pivot."""

    @property
    def direction(self) -> tuple[float, float]:
        """Unit vector from the pivot to the tip, face coordinates."""
        angle = np.radians(self.angle_deg)
        return float(np.sin(angle)), float(-np.cos(angle))

    def corners_mm(self) -> NDArray[np.float64]:
        """Points that contain the bar: both ends, both sides, top and bottom; 8 x 3."""
        (dx, dy), wide = self.direction, float(self.half_width_mm.max())
        points = []
        for along in (float(self.along_mm[0]), float(self.along_mm[-1])):
            z = self.top_mm + along * float(np.tan(np.radians(self.pitch_deg)))
            for across in (-wide, wide):
                x = self.pivot_mm[0] + along * dx - across * dy
                y = self.pivot_mm[1] + along * dy + across * dx
                points += [(x, y, z), (x, y, z - self.thickness_mm)]
        return np.array(points)

    def centre_line_mm(self, along_mm: Floats) -> NDArray[np.float64]:
        """Points of the middle of the top surface.

        Parameters
        ----------
        along_mm
            Distances from the pivot, N.

        Returns
        -------
        ndarray
            N x 3.
        """
        dx, dy = self.direction
        rise = np.tan(np.radians(self.pitch_deg))
        return np.column_stack(
            [
                self.pivot_mm[0] + along_mm * dx,
                self.pivot_mm[1] + along_mm * dy,
                self.top_mm + along_mm * rise,
            ]
        )

    def along_across(self, rays: Rays, below_top_mm: float) -> tuple[Floats, Floats]:
        """Where rays meet the bar's plane, in the bar's own coordinates.

        Parameters
        ----------
        rays
            The rays.
        below_top_mm
            0 for the plane of the top surface, `thickness_mm` for that of the bottom.

        Returns
        -------
        tuple
            Millimetres along the bar from the pivot, and across it, positive clockwise.
        """
        (dx, dy), eye = self.direction, rays.eye_mm
        rise = float(np.tan(np.radians(self.pitch_deg)))
        x0, y0 = float(eye[0] - self.pivot_mm[0]), float(eye[1] - self.pivot_mm[1])
        high = self.top_mm - below_top_mm - float(eye[2])
        along_slope = rays.slope_x * dx + rays.slope_y * dy
        across_slope = rays.slope_y * dx - rays.slope_x * dy
        along0 = x0 * dx + y0 * dy
        down = (high + rise * along0) / (1.0 - rise * along_slope)
        return along0 + down * along_slope, y0 * dx - x0 * dy + down * across_slope

    def inside(self, along: Floats, across: Floats, per_part: tuple[float, float]) -> Floats:
        """Signed distance to the outline, in parts of a pixel, positive inside.

        Parameters
        ----------
        along
            Millimetres along the bar.
        across
            Millimetres across it.
        per_part
            Millimetres of one part along and across.

        Returns
        -------
        ndarray
            Of the given shape.
        """
        half = np.interp(along, self.along_mm, self.half_width_mm)
        side = (half - np.abs(across)) / per_part[1]
        ends = np.minimum(self.along_mm[-1] - along, along - self.along_mm[0]) / per_part[0]
        return np.asarray(np.minimum(side, ends))

    def per_px(self, rays: Rays) -> tuple[float, float]:
        """Millimetres along and across the bar from one pixel to the next.

        Parameters
        ----------
        rays
            Of a window's pixels.

        Returns
        -------
        tuple
            In the middle of the window.
        """
        along, across = self.along_across(_middle_of(rays), 0.0)
        return _steepness(along), _steepness(across)

    def near(self, rays: Rays) -> NDArray[np.bool_]:
        """Which pixels the bar may touch.

        Parameters
        ----------
        rays
            Of a window's pixels.

        Returns
        -------
        ndarray
            Of the window's shape.
        """
        per_px = self.per_px(rays)
        along, across = self.along_across(rays, self.thickness_mm / 2)
        slack = self.thickness_mm / 2 * float(np.hypot(*_slope_at_middle(rays))) + 0.1
        wide = self.half_width_mm.max() + slack + 1.5 * per_px[1]
        ends = slack + 1.5 * per_px[0]
        near = (np.abs(across) < wide) & (along > self.along_mm[0] - ends)
        return np.asarray(near & (along < self.along_mm[-1] + ends))

    def cover(self, rays: Rays, per_part: tuple[float, float]) -> tuple[Floats, Floats]:
        """Shares of each part that the top surface, and the whole bar, cover.

        Parameters
        ----------
        rays
            Of parts of pixels.
        per_part
            Millimetres of one part along and across the bar.

        Returns
        -------
        tuple
            Top surface and whole bar, 0 to 1, the first never more than the second.
        """
        top = self.inside(*self.along_across(rays, 0.0), per_part)
        whole = top
        leans = self.thickness_mm * float(np.hypot(*_slope_at_middle(rays)))
        # a lean of less than half the width leaves no gap between top and bottom outlines
        shares = (0.5, 1.0) if leans > float(self.half_width_mm.min()) else (1.0,)
        for share in shares:
            below = self.along_across(rays, share * self.thickness_mm)
            whole = np.maximum(whole, self.inside(*below, per_part))
        return _soft(top), _soft(whole)

    def shade(
        self, x_mm: Floats, y_mm: Floats, lean: tuple[float, float], soft_mm: float
    ) -> Floats:
        """How much of the light the bar takes from points of the face.

        Parameters
        ----------
        x_mm
            Points of the face.
        y_mm
            Points of the face.
        lean
            Millimetres the light goes sideways per millimetre of height, toward the lamp.
        soft_mm
            Width of the half-shadow.

        Returns
        -------
        ndarray
            0 in full light, 1 in full shadow.
        """
        dx, dy = self.direction
        deep = None
        for z in (self.top_mm, self.top_mm - self.thickness_mm):
            x, y = x_mm + (z * lean[0] - self.pivot_mm[0]), y_mm + (z * lean[1] - self.pivot_mm[1])
            inside = self.inside(x * dx + y * dy, y * dx - x * dy, (soft_mm, soft_mm))
            deep = inside if deep is None else np.maximum(deep, inside)
        return _smooth(deep + 0.5) if deep is not None else np.zeros_like(x_mm)


@dataclass(frozen=True, slots=True)
class Cap:
    """The disc over the shaft, standing on the needle."""

    centre_mm: tuple[float, float]
    radius_mm: float
    bottom_mm: float
    top_mm: float

    def corners_mm(self) -> NDArray[np.float64]:
        """Points that contain the cap; 8 x 3."""
        (x, y), r = self.centre_mm, self.radius_mm
        return np.array(
            [
                (x + i * r, y + j * r, z)
                for i in (-1, 1)
                for j in (-1, 1)
                for z in (self.bottom_mm, self.top_mm)
            ]
        )

    def near(self, rays: Rays) -> NDArray[np.bool_]:
        """Which pixels the cap may touch; as `Bar.near`."""
        rise = (self.top_mm - self.bottom_mm) / 2
        x, y = rays.at_height(self.top_mm - rise)
        slack = rise * float(np.hypot(*_slope_at_middle(rays))) * 1.5 + 0.1
        apart = np.hypot(x - self.centre_mm[0], y - self.centre_mm[1])
        return np.asarray(apart < self.radius_mm + slack + 2 * self.per_px(rays))

    def per_px(self, rays: Rays) -> float:
        """Millimetres from one pixel to the next, on the average of all directions."""
        x, y = _middle_of(rays).at_height(self.top_mm)
        return 0.5 * (_steepness(x) + _steepness(y))

    def cover(self, rays: Rays, per_part: float) -> tuple[Floats, Floats, Floats, Floats]:
        """Shares of each part that the cap's top, and the whole cap, cover.

        Parameters
        ----------
        rays
            Of parts of pixels.
        per_part
            Millimetres of one part.

        Returns
        -------
        tuple
            Top and whole, 0 to 1; then where on the top, x and y from its centre in radii.
        """
        x, y = rays.at_height(self.top_mm)
        x, y = x - self.centre_mm[0], y - self.centre_mm[1]
        top = self.radius_mm - np.hypot(x, y)
        # the point of the ray, between bottom and top, that passes nearest to the shaft
        span = self.top_mm - self.bottom_mm
        slope2 = rays.slope_x**2 + rays.slope_y**2
        down = (x * rays.slope_x + y * rays.slope_y) / np.maximum(slope2, 1e-12)
        down = np.clip(down, 0.0, span)
        whole = self.radius_mm - np.hypot(x - down * rays.slope_x, y - down * rays.slope_y)
        return (
            _soft(top / per_part),
            _soft(np.maximum(whole, top) / per_part),
            x / self.radius_mm,
            y / self.radius_mm,
        )

    def shade(
        self, x_mm: Floats, y_mm: Floats, lean: tuple[float, float], soft_mm: float
    ) -> Floats:
        """How much of the light the cap takes from points of the face; as `Bar.shade`."""
        x, y = x_mm - self.centre_mm[0], y_mm - self.centre_mm[1]
        slope2 = lean[0] ** 2 + lean[1] ** 2 + 1e-12
        z = np.clip(-(x * lean[0] + y * lean[1]) / slope2, self.bottom_mm, self.top_mm)
        deep = self.radius_mm - np.hypot(x + z * lean[0], y + z * lean[1])
        return _smooth(deep / soft_mm + 0.5)

    def hides(self, points_mm: Floats, eye_mm: Floats) -> NDArray[np.bool_]:
        """Whether the cap stands between points and the eye.

        Parameters
        ----------
        points_mm
            N x 3, at or above the cap's bottom or below its top.
        eye_mm
            3, above the cap.

        Returns
        -------
        ndarray
            N, true where hidden.
        """
        toward = np.asarray(eye_mm) - points_mm
        slope = toward[:, :2] / toward[:, 2:]
        flat = points_mm[:, :2] - np.array(self.centre_mm)
        low = np.maximum(self.bottom_mm - points_mm[:, 2], 0.0)
        high = np.maximum(self.top_mm - points_mm[:, 2], 0.0)
        rise = -(flat * slope).sum(axis=1) / np.maximum((slope**2).sum(axis=1), 1e-12)
        rise = np.clip(rise, low, high)[:, None]
        near = np.hypot(*(flat + rise * slope).T) < self.radius_mm
        return np.asarray(near & (high > 0))


def _middle_of(rays: Rays) -> Rays:
    """Three by three rays (or fewer) from the middle of a window."""
    i, j = rays.slope_x.shape[0] // 2, rays.slope_x.shape[1] // 2
    near = (slice(max(i - 1, 0), i + 2), slice(max(j - 1, 0), j + 2))
    return Rays(rays.eye_mm, rays.slope_x[near], rays.slope_y[near])


def _slope_at_middle(rays: Rays) -> tuple[float, float]:
    near = _middle_of(rays)
    return float(near.slope_x.mean()), float(near.slope_y.mean())


def _steepness(values: Floats) -> float:
    """Length of the gradient per sample, over a small window."""
    down = float(np.diff(values, axis=0).mean()) if values.shape[0] > 1 else 0.0
    right = float(np.diff(values, axis=1).mean()) if values.shape[1] > 1 else 0.0
    return max(float(np.hypot(down, right)), 1e-9)


def _soft(parts: Floats) -> Floats:
    return np.asarray(np.clip(parts + 0.5, 0.0, 1.0))


def _smooth(share: Floats) -> Floats:
    share = np.clip(share, 0.0, 1.0)
    return np.asarray(share * share * (3.0 - 2.0 * share))
