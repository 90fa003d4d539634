"""One needle in one plane of a video: its line in a frame, and what is learned on the way.

The needle's width, blur and level are the same from frame to frame, so is the shaft it turns
about, and the face under it shows while it is elsewhere. All are learned from the frames that were
accepted and stand as the next frame's prior.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

from dataclasses import dataclass
from math import degrees, hypot, radians
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from needlewright.readings import bar_kernel as kernel
from needlewright.readings import plane_kernel
from needlewright.readings.axle import Axle, FreeLine
from needlewright.readings.bare_ground import BareGround, draw_ground
from needlewright.readings.dial_view import CAP_OVER_NEEDLE_MM, DialView
from needlewright.readings.frame import WEIGHTS, Frame, Plane
from needlewright.readings.needle_hunt import MIN_STEP, NeedleHunt
from needlewright.readings.needle_prior import NeedlePrior
from needlewright.readings.needle_shade import NO_SHADE, Look, Shade, learn_shade
from needlewright.readings.projection import Array, Projection
from needlewright.readings.seen_ground import ENOUGH, SeenGround
from needlewright.readings.viewpoint import Viewpoint

FLANK_PX: Final = 4.5
COLUMN_PX: Final = 0.75
MAX_ROWS: Final = 80
PASSES: Final = 5
FIT_FACTOR: Final = 1.5
"""The scatter of residuals understates: neighbouring samples err together (coding, sampling)."""
MODEL_PX: Final = 0.05
"""How far the needle's ends lie from the line the model sees, over the lever."""
STEP_SHARE: Final = (0.55, 1.7)
"""Of the step learned: outside, what was fitted is not the needle."""
MIN_ACCEPTED: Final = 0.5
MAX_NOISE_SHARE: Final = 0.8
MAX_U_DEG: Final = 1.0
SECOND_FLOOR_DEG: Final = 0.35
OFFSET_SIGMAS: Final = 4.0
OFFSET_FLOOR_PX: Final = 0.06
"""What the axle's three numbers leave open of a line's offset."""
SITING_PX: Final = 0.3
"""How wrongly a colour difference may be taken to lie over the light, in the light's pixels."""
CLEAR: Final = 0.95
"""In the light, rows count that are needle by so much."""
TAIL_CLEAR: Final = 0.55
FAR_DEG: Final = 1.5
"""A fit that turns further than this is made once more about where it came to."""
LEARN_AT: Final = (6, 10, 16, 24, 36, 48)
"""The ground is learned anew when so many directions of the needle were seen."""


@dataclass(frozen=True, slots=True)
class FaceInFrame:
    """What all needles of one frame share."""

    frame: Frame
    projection: Projection
    viewpoint: Viewpoint
    moved: bool
    """Whether the camera stands elsewhere than in the frame the face was registered in."""


@dataclass(frozen=True, slots=True)
class Line:
    """A needle's line that may stand.

    Parameters
    ----------
    angle_deg, u_angle_deg
        Direction given the axle, on the scale's branch, and its standard uncertainty.
    offset_mm
        How far the line passes from the printed centre.
    free
        The line by itself.
    fit
        As the kernel gave it.
    """

    angle_deg: float
    u_angle_deg: float
    offset_mm: float
    free: FreeLine
    fit: Array


class NeedleInPlane:
    """Fits one needle in one plane of every frame.

    Parameters
    ----------
    view
        The dial in the frame the face was registered in.
    frame
        That frame.
    plane
        Which of its planes.
    """

    def __init__(self, view: DialView, frame: Frame, plane: Plane) -> None:
        self._view, self._needle, self._plane = view, view.dial.needle, plane
        self._shrunk = frame.shrunk(plane)
        self._scale = view.px_per_mm / self._shrunk
        self._centre = np.asarray(view.dial.centre_mm, float)
        self._ground: BareGround = draw_ground(view, frame, plane)
        self._seen_ground = SeenGround(
            self._ground, self._needle, self._centre, view.viewpoint, self._scale
        )
        self._first = plane_kernel.packed_view(
            frame.seen_in(plane, view.projection), view.viewpoint, self._needle.height_mm
        )
        self._axle, self._prior = self._new_axle(), self._new_prior()
        self._hunt = NeedleHunt(self._needle, self._centre, self._scale, self._first)
        self._shade: Shade = NO_SHADE

    @property
    def known(self) -> bool:
        """Whether the needle was ever seen in this plane."""
        return self._prior.step is not None

    @property
    def px_per_mm(self) -> float:
        """Scale of the plane at the dial."""
        return self._scale

    def view_in(self, face: FaceInFrame) -> Array:
        """Packed view of the needle's plane in a frame."""
        projection = face.frame.seen_in(self._plane, face.projection)
        return plane_kernel.packed_view(projection, face.viewpoint, self._needle.height_mm)

    def hunt(
        self, face: FaceInFrame, about_deg: float, reach_deg: float
    ) -> list[tuple[float, float]]:
        """Directions that look like the needle with their scores, best first."""
        return self._hunt.look(
            face.frame.plane(self._plane),
            self.view_in(face),
            self._ground,
            (about_deg, reach_deg),
            step=self._prior.step,
            signs=self._signs(),
        )

    def judged(
        self, face: FaceInFrame, angle_deg: float, score: float = 0.0
    ) -> tuple[Line | None, str]:
        """A line near a direction that may stand, or the reason why none does."""
        view = self.view_in(face)
        pixels = face.frame.plane(self._plane)
        fit = self._fit(pixels, view, angle_deg, score)
        if fit[kernel.R_OK] and abs(degrees(fit[kernel.ANGLE]) - angle_deg) > FAR_DEG:
            fit = self._fit(pixels, view, degrees(fit[kernel.ANGLE]), score)
        reason = self._not_a_needle(fit)
        if reason is not None:
            return None, reason
        free = self._free(fit)
        angle, u_deg, offset = self._axle.turned(free)
        apart = degrees(abs(fit[kernel.R_SECOND] - fit[kernel.ANGLE]))
        doubts = (
            (self._axle.strange(free) > OFFSET_SIGMAS, "occluded"),
            (apart > SECOND_FLOOR_DEG + 4 * free.u_angle_deg, "estimators_disagree"),
            (u_deg > MAX_U_DEG, "too_uncertain"),
        )
        reason = next((why for holds, why in doubts if holds), None)
        if reason is not None:
            return None, reason
        return Line(angle, u_deg, offset, free, fit), ""

    def _not_a_needle(self, fit: Array) -> str | None:
        """Why a fit by itself is no needle, or not this one."""
        if not fit[kernel.R_OK] or fit[kernel.R_ACCEPTED] < MIN_ACCEPTED:
            return "occluded"
        step = abs(fit[kernel.R_STEP])
        if step < MIN_STEP or fit[kernel.R_NOISE] > MAX_NOISE_SHARE * step:
            return "too_uncertain"
        if self._prior.step is None:
            return None
        share = fit[kernel.R_STEP] / self._prior.step
        return None if STEP_SHARE[0] < share < STEP_SHARE[1] else "occluded"

    def learn(self, face: FaceInFrame, line: Line, angle_deg: float) -> None:
        """Take in an accepted line, and the face where the needle is not."""
        self._prior.learn(line.fit)
        self._axle.learn(line.free)
        if not self._seen_ground.wants(angle_deg):
            return
        projection = face.frame.seen_in(self._plane, face.projection)
        flat = plane_kernel.packed_view(projection, face.viewpoint, 0.0)
        pixels = face.frame.plane(self._plane)
        self._seen_ground.see(pixels, flat, angle_deg, moved=face.moved)
        if self._seen_ground.looks in LEARN_AT:
            self._ground = self._seen_ground.learned()

    def settle(self, first: Shade | None) -> Shade:
        """Learn ground and shadow from what was seen so far, and begin anew with the rest.

        Parameters
        ----------
        first
            A shadow found for another needle in the same light.

        Returns
        -------
        Shade
            This needle's; there is none in a colour difference.
        """
        self._ground = self._seen_ground.learned()
        if self._plane == "light" and self._seen_ground.looks >= ENOUGH:
            self._shade = learn_shade(self._looks(), self._prior, self._needle, first)
        self._axle, self._prior = self._new_axle(), self._new_prior()
        return self._shade

    def _looks(self) -> list[Look]:
        view = self._first.copy()
        view[10:12] -= self._ground.corner_px
        looks: list[Look] = []
        for angle_deg, pixels in self._seen_ground.kept():
            rows, halves, ends, cols = self._strip(angle_deg, self._needle.height_mm)
            strip, inside = self._cut(pixels, view, angle_deg, rows, cols)
            wall = self._view.side_wall_mm(angle_deg)
            looks.append(Look(angle_deg, strip, inside, rows, halves, ends, cols, wall))
        return looks

    def _new_axle(self) -> Axle:
        tangent, _ = self._view.viewpoint.slant(self._centre)
        parallax = 0.15 * self._needle.height_mm * tangent
        siting = SITING_PX / self._view.px_per_mm if self._shrunk > 1 else 0.0
        spread = hypot(self._view.eccentricity_mm, parallax, siting)
        return Axle(spread, OFFSET_FLOOR_PX / self._scale, 0.3 / self._scale)

    def _new_prior(self) -> NeedlePrior:
        return NeedlePrior(self._scale, max(self._view.softness_mm, 0.6 / self._scale))

    def _free(self, fit: Array) -> FreeLine:
        """The fitted line, its covariance widened by what the fit does not know of itself."""
        lever_mm = max(fit[kernel.R_SPREAD] * np.sqrt(12), 1e-6)
        model = MODEL_PX / self._scale / lever_mm
        apart = 0.1 * (fit[kernel.R_SECOND] - fit[kernel.ANGLE])
        wider = FIT_FACTOR**2
        return FreeLine(
            self._view.dial.scale.on_branch(degrees(fit[kernel.ANGLE])),
            float(fit[kernel.OFFSET]),
            degrees(np.sqrt(wider * fit[kernel.R_U_ANGLE] ** 2 + model**2 + apart**2)),
            float(np.sqrt(wider) * fit[kernel.R_U_OFFSET]),
            degrees(wider * fit[kernel.R_TOGETHER]),
        )

    def _signs(self) -> tuple[float, ...]:
        if self._prior.step is not None:
            return (1.0 if self._prior.step > 0 else -1.0,)
        colour = self._needle.colour
        if colour is None:
            return (1.0, -1.0)
        level = 255 * float(WEIGHTS[self._plane] @ np.array(colour[::-1]))
        return (1.0,) if level > self._ground.art_level else (-1.0,)

    def _fit(self, pixels: NDArray[np.uint8], view: Array, angle_deg: float, score: float) -> Array:
        """Fit the needle near a direction; angles of the answer are about 12 o'clock, radians."""
        rows, halves, ends, cols = self._strip(angle_deg, 0.0)
        strip, inside = self._cut(pixels, view, angle_deg, rows, cols)
        level = float(np.median(strip[1])) + self._signs()[0] * score
        usual, precision = self._prior.usual(level)
        fit = kernel.fit_bar(
            strip,
            inside,
            rows,
            halves,
            ends,
            cols,
            self._shade.beside(angle_deg, self._needle),
            usual,
            precision,
            self._prior.largest,
            self._view.side_wall_mm(angle_deg),
            self._prior.noise,
            PASSES,
        )
        fit[[kernel.ANGLE, kernel.R_SECOND]] += radians(angle_deg)
        return np.asarray(fit)

    def _cut(
        self, pixels: NDArray[np.uint8], view: Array, angle_deg: float, rows: Array, cols: Array
    ) -> tuple[Array, NDArray[np.bool_]]:
        ground = self._ground
        strip, inside = plane_kernel.cut_strip(
            pixels,
            view,
            ground.grey,
            ground.doubt,
            ground.corner_px,
            self._first,
            self._centre,
            radians(angle_deg),
            rows,
            cols,
        )
        return strip, inside

    def _strip(self, angle_deg: float, beside_mm: float) -> tuple[Array, Array, Array, Array]:
        """Rows along the needle, its half widths, how much of them is needle, and columns."""
        needle, scale = self._needle, self._scale
        row_mm = max(1.0 / scale, (needle.length_mm + needle.tail_mm) / MAX_ROWS)
        hub, tail_hub = self._hub_edge(angle_deg), self._hub_edge(angle_deg + 180.0)
        rows = np.arange(hub, needle.length_mm, row_mm)
        if needle.tail_mm > tail_hub:
            rows = np.concatenate([-np.arange(tail_hub, needle.tail_mm, row_mm)[::-1], rows])
        blur = self._prior.blur_mm
        front, out = rows > 0, np.abs(rows)
        ends = ndtr((np.where(front, needle.length_mm, needle.tail_mm) - out) / blur)
        ends *= ndtr((out - np.where(front, hub, tail_hub)) / blur)
        if self._plane == "light":  # what meets at the hub is darker there than either
            clear = (ends > np.where(front, CLEAR, TAIL_CLEAR)) | (out > 0.9 * needle.length_mm)
            rows, ends, out = rows[clear], ends[clear], out[clear]
        slope = (needle.tip_width_mm - needle.base_width_mm) / needle.length_mm
        halves = (needle.base_width_mm + slope * out) / 2
        half = needle.base_width_mm / 2 + FLANK_PX / scale
        column = max(COLUMN_PX / scale, half / 20)
        half += beside_mm
        return rows, halves, ends, np.arange(-half, half + column / 2, column)

    def _hub_edge(self, angle_deg: float) -> float:
        """How far from the centre the needle comes out from under the hub, mm."""
        tangent, lean_deg = self._view.viewpoint.slant(self._centre)
        leaning = max(0.0, float(np.cos(np.radians(angle_deg - lean_deg))))
        return self._needle.hub_radius_mm + CAP_OVER_NEEDLE_MM * tangent * leaning
