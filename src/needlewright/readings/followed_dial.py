"""One needle followed from frame to frame: predicted, searched, fitted, and doubted.

What a video gives that a still does not: the needle's width, blur and step are the same from
frame to frame, and so is the shaft it turns about. They are learned from the frames that were
accepted and stand as the next frame's prior.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

from dataclasses import dataclass
from math import ceil, degrees, hypot, radians
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Dial
from needlewright.readings import frame_kernel as kernel
from needlewright.readings.axle import Axle, FreeLine
from needlewright.readings.bare_ground import BareGround, learn_ground
from needlewright.readings.dial_view import DialView
from needlewright.readings.projection import Array, Projection
from needlewright.readings.viewpoint import Viewpoint

WINDOW_DEG: Final = 18.0
"""How far about the predicted direction a needle is looked for first."""
MAX_STEP_DEG: Final = 1.0
SEARCH_ROWS: Final = 20
FLANK_PX: Final = 4.5
COLUMN_PX: Final = 0.75
MAX_ROWS: Final = 110
PASSES: Final = 5
FIT_FACTOR: Final = 1.5
"""The scatter of residuals understates: neighbouring samples err together (coding, sampling)."""
MODEL_PX: Final = 0.05
"""How far the needle's ends lie from the line the model sees, over the lever."""
MIN_STEP: Final = 5.0
"""Grey levels of step below which nothing is called a needle."""
FIRST_RATIO: Final = 1.25
"""A needle found anew must outdo every other direction by this."""
STEP_SHARE: Final = (0.55, 1.7)
"""Of the step learned: outside, what was fitted is not the needle."""
MIN_ACCEPTED: Final = 0.5
MAX_NOISE_SHARE: Final = 0.8
MAX_U_DEG: Final = 1.0
SECOND_FLOOR_DEG: Final = 0.35
OFFSET_SIGMAS: Final = 4.0
WIDTH_SPREAD: Final = (0.4, 0.05)
"""Pixels: of the first frame's prior, and the least it narrows to."""
BLUR_SPREAD: Final = (0.5, 0.12)
"""Shares."""
SIDE_SPREAD: Final = (0.15, 0.05)
SIDE_LIKE_TOP: Final = 0.6
OFFSET_FLOOR_PX: Final = 0.06
"""What the axle's three numbers leave open of a line's offset."""
FREE_OFFSET_MM: Final = 1.5
LARGEST: Final = np.array([0.05, 1.5, 1.0, 0.3, 0.2])
FRESH_FRAMES: Final = 12
"""After so many frames unseen nothing is predicted any more."""


@dataclass(frozen=True, slots=True)
class NeedleSeen:
    """One needle in one frame: an angle with its standard uncertainty, or none and a reason."""

    dial: str
    angle_deg: float | None = None
    u_angle_deg: float | None = None
    reason: str | None = None
    """One of `readings.flags.REASONS`; None when it was read."""
    line_px: tuple[tuple[float, float], tuple[float, float]] | None = None
    """Hub and tip of the fitted needle in the frame (x, y)."""
    free: FreeLine | None = None
    """The line by itself, with nothing known of the axle it turns about."""


@dataclass(frozen=True, slots=True)
class FaceInFrame:
    """What all dials of one frame share."""

    grey: NDArray[np.uint8]
    projection: Projection
    viewpoint: Viewpoint
    softness_mm: float


class FollowedDial:
    """Follows one needle.

    Parameters
    ----------
    view
        The dial in the frame the face was registered in.
    grey
        That frame, height x width.
    """

    def __init__(self, view: DialView, grey: NDArray[np.uint8]) -> None:
        self._dial: Dial = view.dial
        self._view = view
        self._scale = view.px_per_mm
        self._centre = np.asarray(view.dial.centre_mm, float)
        self._ground: BareGround = learn_ground(view, grey)
        self._place = np.array([*self._ground.origin_mm, self._ground.px_per_mm])
        blur = max(view.softness_mm, 0.6 / self._scale)
        tangent, _ = view.viewpoint.slant(view.centre_mm)
        parallax = 0.15 * view.dial.needle.height_mm * tangent
        self._axle = Axle(
            hypot(view.eccentricity_mm, parallax), OFFSET_FLOOR_PX / self._scale, 0.3 / self._scale
        )
        self._width = _Learned(0.0, WIDTH_SPREAD[0] / self._scale + 0.1)
        self._blur = _Learned(blur, BLUR_SPREAD[0] * blur)
        self._side = _Learned(SIDE_LIKE_TOP, SIDE_SPREAD[0])
        self._step: float | None = None
        self._noise = 4.0
        self._past: list[tuple[float, float]] = []
        self._unseen = 0
        self._bars = self._search_plan()

    def look(self, face: FaceInFrame, t_s: float) -> NeedleSeen:
        """Read the needle in a frame."""
        packed = self._packed(face)
        if not self._inside(face, 0.0, 0.0):
            return self._none(t_s, "out_of_frame")
        predicted = self._predicted(t_s)
        reason = "needle_missing"
        if predicted is not None:
            near = self._search(face.grey, packed, predicted, WINDOW_DEG)
            if near:
                fit, reason = self._judged(face, packed, near[0])
                if fit is not None:
                    return self._taken(face, fit, t_s)
        anywhere = self._search(face.grey, packed, 0.0, 180.0)
        if not anywhere:
            return self._none(t_s, reason)
        best = anywhere[0]
        if len(anywhere) > 1 and best[1] < FIRST_RATIO * anywhere[1][1]:
            return self._none(t_s, "ambiguous" if self._step is None else reason)
        fit, reason = self._judged(face, packed, best)
        if fit is None:
            return self._none(t_s, reason)
        return self._taken(face, fit, t_s)

    def _none(self, t_s: float, reason: str) -> NeedleSeen:
        self._unseen += 1
        if self._unseen > FRESH_FRAMES:
            self._past.clear()
        return NeedleSeen(self._dial.id, reason=reason)

    def _taken(self, face: FaceInFrame, fit: Array, t_s: float) -> NeedleSeen:
        free = self._free(fit)
        self._learn(fit, free)
        angle, u_deg, offset = self._axle.turned(free)
        self._unseen = 0
        self._past = [*self._past[-2:], (t_s, angle)]
        return NeedleSeen(self._dial.id, angle, u_deg, None, self._drawn(face, angle, offset), free)

    def _drawn(
        self, face: FaceInFrame, angle_deg: float, offset_mm: float
    ) -> tuple[tuple[float, float], tuple[float, float]]:
        ends = np.array([[-self._dial.needle.tail_mm], [self._dial.needle.length_mm]])
        a = radians(angle_deg)
        along, across = np.array([np.sin(a), -np.cos(a)]), np.array([np.cos(a), np.sin(a)])
        points = self._centre + ends * along + offset_mm * across
        (x0, y0), (x1, y1) = face.projection.to_photo(
            face.viewpoint.lifted(points, self._dial.needle.height_mm)
        ).tolist()
        return (x0, y0), (x1, y1)

    def _free(self, fit: Array) -> FreeLine:
        """The fitted line, its covariance widened by what the fit does not know of itself."""
        lever_mm = max(fit[kernel.R_SPREAD] * np.sqrt(12), 1e-6)
        model = MODEL_PX / self._scale / lever_mm
        apart = 0.1 * (fit[kernel.R_SECOND] - fit[kernel.R_ANGLE])
        wider = FIT_FACTOR**2
        return FreeLine(
            self._dial.scale.on_branch(degrees(fit[kernel.R_ANGLE])),
            float(fit[kernel.R_OFFSET]),
            degrees(np.sqrt(wider * fit[kernel.R_U_ANGLE] ** 2 + model**2 + apart**2)),
            float(np.sqrt(wider) * fit[kernel.R_U_OFFSET]),
            degrees(wider * fit[kernel.R_TOGETHER]),
        )

    def _learn(self, fit: Array, free: FreeLine) -> None:
        self._noise += 0.2 * (fit[kernel.R_NOISE] - self._noise)
        if self._step is None:
            self._step = float(fit[kernel.R_STEP])
        self._step += 0.05 * (float(fit[kernel.R_STEP]) - self._step)
        self._width.learn(fit[kernel.R_WIDTH], WIDTH_SPREAD[1] / self._scale)
        self._blur.learn(fit[kernel.R_BLUR], BLUR_SPREAD[1] * self._blur.mean)
        self._side.learn(fit[kernel.R_SIDE], SIDE_SPREAD[1])
        self._axle.learn(free)

    def _predicted(self, t_s: float) -> float | None:
        if not self._past:
            return None
        t1, a1 = self._past[-1]
        if len(self._past) == 1 or t_s <= t1:
            return a1
        t0, a0 = self._past[-2]
        return a1 + (a1 - a0) / max(t1 - t0, 1e-6) * min(t_s - t1, 3 * (t1 - t0))

    def _packed(self, face: FaceInFrame) -> Array:
        h, z = self._dial.needle.height_mm, face.viewpoint.height_mm
        k = h / (z - h)
        foot = np.asarray(face.viewpoint.foot_mm)
        lift = np.array([[1 + k, 0, -k * foot[0]], [0, 1 + k, -k * foot[1]], [0, 0, 1]])
        p = face.projection
        return np.array(
            [
                *(p.matrix @ lift).ravel(),
                p.radial,
                *p.centre_px,
                p.half_diagonal_px,
                k,
                k * foot[0],
                k * foot[1],
                1.7,
            ]
        )

    def _inside(self, face: FaceInFrame, angle_deg: float, r_mm: float) -> bool:
        a = radians(angle_deg)
        point = self._centre + r_mm * np.array([np.sin(a), -np.cos(a)])
        at = face.projection.to_photo(face.viewpoint.lifted(point, self._dial.needle.height_mm))
        height, width = face.grey.shape
        return bool(0 <= at[0] <= width - 1 and 0 <= at[1] <= height - 1)

    def _search_plan(
        self,
    ) -> tuple[float, Array, NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
        needle = self._dial.needle
        r_in = min(1.1 * needle.hub_radius_mm + 0.5, 0.8 * needle.length_mm)
        radii = np.linspace(r_in, 0.97 * needle.length_mm, SEARCH_ROWS)
        tip_px = needle.length_mm * self._scale
        step = radians(min(MAX_STEP_DEG, max(degrees(0.7 / tip_px), 0.25)))
        half = np.array([needle.width_at(r) for r in radii]) / 2
        per_step = radii * step
        blur = 1.0 / self._scale
        bars = np.round(0.7 * half / per_step).astype(np.intp)
        nears = np.maximum(bars + 1, np.round((half + blur) / per_step).astype(np.intp))
        fars = np.maximum(nears + 1, np.round((2.2 * half + 2 * blur) / per_step).astype(np.intp))
        return step, radii, bars, nears, fars

    def _search(
        self, grey: NDArray[np.uint8], packed: Array, about_deg: float, reach_deg: float
    ) -> list[tuple[float, float]]:
        """Directions (degrees) that look like the needle, best first, with their scores."""
        step, radii, bars, nears, fars = self._bars
        pad = int(fars.max())
        steps = ceil(radians(reach_deg) / step)
        angles = radians(about_deg) + step * np.arange(-steps - pad, steps + pad + 1)
        difference = kernel.polar_difference(
            grey, packed, self._ground.grey, self._place, self._centre, angles, radii
        )
        found: list[tuple[float, float]] = []
        for sign in self._signs():
            cap = 1.5 * (abs(self._step) if self._step is not None else 60.0)
            scores = kernel.bar_scores(difference, bars, nears, fars, sign, cap)
            found += _peaks(np.asarray(angles, np.float64), scores, radians(6.0))
        found.sort(key=lambda one: -one[1])
        least = MIN_STEP if self._step is None else max(MIN_STEP, 0.3 * abs(self._step))
        return [(degrees(a), s) for a, s in found if s > 0.6 * least]

    def _signs(self) -> tuple[float, ...]:
        if self._step is not None:
            return (1.0 if self._step > 0 else -1.0,)
        colour = self._dial.needle.colour
        if colour is None:
            return (1.0, -1.0)
        light = 255 * (0.299 * colour[0] + 0.587 * colour[1] + 0.114 * colour[2])
        return (1.0,) if light > self._ground.art_level else (-1.0,)

    def _judged(
        self, face: FaceInFrame, packed: Array, found: tuple[float, float]
    ) -> tuple[Array | None, str]:
        """A fit that may stand, or the reason why not."""
        angle_deg, score = found
        if not self._inside(face, angle_deg, self._dial.needle.length_mm):
            return None, "out_of_frame"
        fit = self._fit(face.grey, packed, angle_deg, score)
        if fit[kernel.R_OK] and abs(degrees(fit[kernel.R_ANGLE]) - angle_deg) > 1.5:
            fit = self._fit(face.grey, packed, degrees(fit[kernel.R_ANGLE]), score)
        return (None, reason) if (reason := self._doubt(fit)) else (fit, "")

    def _doubt(self, fit: Array) -> str:
        if not fit[kernel.R_OK] or fit[kernel.R_ACCEPTED] < MIN_ACCEPTED:
            return "occluded"
        step = abs(fit[kernel.R_STEP])
        if step < MIN_STEP or fit[kernel.R_NOISE] > MAX_NOISE_SHARE * step:
            return "too_uncertain"
        if self._step is not None:
            share = fit[kernel.R_STEP] / self._step
            if not STEP_SHARE[0] < share < STEP_SHARE[1]:
                return "occluded"
        free = self._free(fit)
        if self._axle.strange(free) > OFFSET_SIGMAS:
            return "occluded"
        _, u_deg, _ = self._axle.turned(free)
        apart = degrees(abs(fit[kernel.R_SECOND] - fit[kernel.R_ANGLE]))
        if apart > SECOND_FLOOR_DEG + 4 * free.u_angle_deg:
            return "estimators_disagree"
        return "too_uncertain" if u_deg > MAX_U_DEG else ""

    def _fit(self, grey: NDArray[np.uint8], packed: Array, angle_deg: float, score: float) -> Array:
        rows, halves, cols = self._strip(angle_deg)
        usual = np.array([0.0, 0.0, self._width.mean, self._blur.mean, self._side.mean])
        spreads = np.array(
            [0.3, FREE_OFFSET_MM, self._width.spread, self._blur.spread, self._side.spread]
        )
        largest = LARGEST / np.array([1, self._scale, self._scale, self._scale, 1])
        step = self._step
        if step is None:
            step = self._signs()[0] * score
        return np.asarray(
            kernel.fit_bar(
                grey,
                packed,
                self._ground.grey,
                self._place,
                self._centre,
                radians(angle_deg),
                rows,
                halves,
                cols,
                usual,
                1 / spreads**2,
                largest,
                self._view.side_wall_mm(angle_deg),
                self._noise,
                step,
                self._ground.doubt,
                PASSES,
            )
        )

    def _strip(self, angle_deg: float) -> tuple[Array, Array, Array]:
        needle, scale = self._dial.needle, self._scale
        row_mm = max(1.0 / scale, (needle.length_mm + needle.tail_mm) / MAX_ROWS)
        inner = self._view.inner_radius_mm(angle_deg)
        tail_inner = self._view.inner_radius_mm(angle_deg + 180.0)
        rows = np.arange(inner, needle.length_mm - 1.5 / scale, row_mm)
        tail = needle.tail_mm - 1.5 / scale
        if tail > tail_inner + 2.0 / scale:
            rows = np.concatenate([-np.arange(tail_inner, tail, row_mm)[::-1], rows])
        slope = (needle.tip_width_mm - needle.base_width_mm) / needle.length_mm
        halves = (needle.base_width_mm + slope * np.abs(rows)) / 2
        half = needle.base_width_mm / 2 + FLANK_PX / scale
        column = max(COLUMN_PX / scale, half / 20)
        return rows, halves, np.arange(-half, half + column / 2, column)


class _Learned:
    """A number that stays the same from frame to frame."""

    def __init__(self, mean: float, spread: float) -> None:
        self.mean, self.spread = mean, spread
        self._frames = 0

    def learn(self, value: float, floor: float) -> None:
        self._frames += 1
        share = max(1 / (1 + self._frames), 0.02)
        self.mean += share * (float(value) - self.mean)
        self.spread = max(self.spread * 0.97, floor)


def _peaks(angles: Array, scores: Array, apart: float) -> list[tuple[float, float]]:
    """The best direction and the best one clearly apart from it."""
    found: list[tuple[float, float]] = []
    left = scores.copy()
    for _ in range(2):
        i = int(np.argmax(left))
        if left[i] <= 0:
            break
        bend = 0.0
        if 0 < i < len(scores) - 1 and min(scores[i - 1], scores[i + 1]) > -1e8:
            curve = scores[i - 1] - 2 * scores[i] + scores[i + 1]
            if curve < 0:
                bend = float(np.clip(0.5 * (scores[i - 1] - scores[i + 1]) / curve, -1, 1))
        found.append((float(angles[i] + bend * (angles[1] - angles[0])), float(scores[i])))
        away = np.abs((angles - angles[i] + np.pi) % (2 * np.pi) - np.pi)
        left[away < apart] = -1e9
    return found
