"""One needle in one plane of a video: its line in a frame, and what is learned on the way.

The needle's width, blur and level are the same from frame to frame, so is the shaft it turns
about, and the face under it shows while it is elsewhere. All are learned from the frames that were
accepted and stand as the next frame's prior.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

from math import degrees, hypot, radians
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings import bar_kernel as kernel
from needlewright.readings import plane_kernel
from needlewright.readings.axle import Axle, FreeLine
from needlewright.readings.bare_ground import BareGround, draw_ground
from needlewright.readings.dial_view import DialView
from needlewright.readings.frame import WEIGHTS, Frame, Plane
from needlewright.readings.needle_hunt import MIN_STEP, NeedleHunt
from needlewright.readings.needle_lines import FaceInFrame, Line
from needlewright.readings.needle_prior import NeedlePrior
from needlewright.readings.needle_rows import FLANK_PX, NeedleRows
from needlewright.readings.needle_shade import (
    NO_LIGHT,
    Caster,
    Light,
    Shadow,
)
from needlewright.readings.projection import Array
from needlewright.readings.seen_ground import ENOUGH, SeenGround
from needlewright.readings.shadow_looks import Look, look_beside, places_beside

PASSES: Final = 4
FIT_FACTOR: Final = 3.0
"""The scatter of residuals understates: neighbouring samples err together (coding, sampling)."""
MODEL_PX: Final = (0.05, 0.15)
"""How far a needle's end lies from the line the model sees, by coding and print: in the light, and
in a colour difference, which is coded more coarsely. Set on the two videos of the benchmark."""
STEP_SHARE: Final = (0.55, 1.7)
"""Of the step learned: outside, what was fitted is not the needle."""
MIN_ACCEPTED: Final = 0.5
MAX_NOISE_SHARE: Final = 0.8
MAX_U_DEG: Final = 1.0
SECOND_FLOOR_DEG: Final = 0.35
OFFSET_SIGMAS: Final = 4.0
SHADE_PULL: Final = 0.1
"""Share of a shadow's distance and darkness by which it still pulls a line."""
MOST_LOOKS: Final = 20
"""The light is learned from so many looks at one needle."""
RELEARN_EVERY: Final = 3
"""Once the ground is known every so many looks are fitted first, to know the needle's shape."""
FAR_DEG: Final = 1.5
"""A fit that turns further than this is made once more about where it came to."""
LEARN_AT: Final = (6, 10, 16, 24, 36, 48)
"""The ground is learned anew when so many directions of the needle were seen."""


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
    axle
        The needle's, learned from its lines in every plane.
    """

    def __init__(self, view: DialView, frame: Frame, plane: Plane, axle: Axle) -> None:
        self._view, self._needle, self._plane = view, view.dial.needle, plane
        self._axle = axle
        self._shrunk = frame.shrunk(plane)
        self._scale = view.px_per_mm / self._shrunk
        self._centre = np.asarray(view.dial.centre_mm, float)
        self._ground: BareGround = draw_ground(view, frame, plane)
        self._ground_level = float(np.median(self._ground.grey))
        foot = np.asarray(view.viewpoint.foot_mm)
        self._toward = (self._centre - foot) / view.viewpoint.height_mm
        self._seen_ground = SeenGround(
            self._ground, self._needle, self._centre, view.viewpoint, self._scale
        )
        self._first = plane_kernel.packed_view(
            frame.seen_in(plane, view.projection), view.viewpoint, self._needle.height_mm
        )
        self._prior = self._new_prior()
        self._rows = NeedleRows(view, self._scale, wide=plane == "light")
        self._hunt = NeedleHunt(self._needle, self._centre, self._scale, self._first)
        self._shadow = self._new_shadow(NO_LIGHT)

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
        return Line(angle, u_deg, self._apart(fit, free), offset, free, fit), ""

    def _apart(self, fit: Array, free: FreeLine) -> float:
        """What noise and coding leave open of a direction given the axle, degrees."""
        together, u_offset = fit[kernel.R_TOGETHER], fit[kernel.R_U_OFFSET]
        told = self._axle.held(free) * (together / u_offset) ** 2
        left = max(float(fit[kernel.R_U_ANGLE] ** 2 - told), 1e-12)
        return degrees(FIT_FACTOR * np.sqrt(left))

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

    def settle_ground(self) -> None:
        """Learn the face from what was seen so far."""
        self._ground = self._seen_ground.learned()

    def settle(self, light: Light, axle: Axle) -> None:
        """Learn anew, in a light that is known now, what rests on ground and shadow.

        Parameters
        ----------
        light
            The light; a colour difference shows nothing of it.
        axle
            The needle's, of which nothing was learned yet.
        """
        self._shadow = self._new_shadow(light if self._plane == "light" else NO_LIGHT)
        self._axle = axle
        if self._shadow.light.depth > 0:
            throw = self._shadow.light.lean - self._shadow.light.depth * self._toward
            dark = self._ground_level / max(abs(self._prior.step or np.inf), MIN_STEP)
            axle.pulled(SHADE_PULL * dark * throw * self._needle.height_mm)
        self._prior = self._new_prior()
        view = self._kept_view()
        kept = self._seen_ground.kept()
        for angle_deg, pixels in kept[::RELEARN_EVERY] + kept:
            fit = self._fit(pixels, view, angle_deg, 0.0)
            if self._not_a_needle(fit) is None:
                self._prior.learn(fit)
                axle.learn(self._free(fit))

    @property
    def caster(self) -> Caster:
        """How the needle casts a shadow."""
        return Caster(self._needle, self._toward, self._prior.blur_mm)

    def looks(self, light: Light) -> list[Look]:
        """The ground about the needle in many directions, its axis fitted in a light."""
        self._shadow = self._new_shadow(light)
        kept = self._seen_ground.kept()
        if len(kept) < ENOUGH or self._plane != "light":
            return []
        view, places = self._kept_view(), places_beside(self._needle, self._scale)
        found = []
        for angle_deg, pixels in kept[:: -(-len(kept) // MOST_LOOKS)]:
            fit = self._fit(pixels, view, angle_deg, 0.0)
            if self._not_a_needle(fit) is not None:
                continue
            stands_deg, offset_mm = degrees(fit[kernel.ANGLE]), fit[kernel.OFFSET]
            strip = self._cut(pixels, view, stands_deg, places[0], places[1] + offset_mm)
            blur_mm = self._prior.blur_mm
            found.append(look_beside(self._needle, blur_mm, stands_deg, places, strip))
        return found

    def _kept_view(self) -> Array:
        """Packed view of the needle's plane in the frames that were kept."""
        view = self._first.copy()
        view[10:12] -= self._ground.corner_px
        return view

    def _new_shadow(self, light: Light) -> Shadow:
        half_mm = self._needle.base_width_mm / 2 + FLANK_PX / self._scale
        return Shadow(self.caster, self._needle, light, half_mm, self._scale)

    @property
    def _ends_px(self) -> float:
        """How far either end of a needle may lie off its line: by coding, print and shadow."""
        shadow = kernel.SHADE_DOUBT * self._shadow_share * self._prior.blur_mm * self._scale
        return hypot(MODEL_PX[self._shrunk > 1], shadow)

    @property
    def _shadow_share(self) -> float:
        """How dark the shadow is, in steps of the needle over its ground."""
        if self._shadow.light.depth == 0 or not self._prior.step:
            return 0.0
        return self._shadow.light.depth * self._ground_level / abs(self._prior.step)

    def _new_prior(self) -> NeedlePrior:
        return NeedlePrior(self._scale, max(self._view.softness_mm, 0.6 / self._scale))

    def _free(self, fit: Array) -> FreeLine:
        """The fitted line, its covariance widened by what the fit does not know of itself."""
        wider = FIT_FACTOR**2
        ends_mm = self._ends_px / self._scale
        turn = ends_mm / max(fit[kernel.R_SPREAD] * np.sqrt(12), 1e-6)
        middle_mm = fit[kernel.R_MIDDLE]
        apart = 0.1 * (fit[kernel.R_SECOND] - fit[kernel.ANGLE])
        turned2 = turn**2 + apart**2
        aside2 = (ends_mm / 2) ** 2
        return FreeLine(
            self._view.dial.scale.on_branch(degrees(fit[kernel.ANGLE])),
            float(fit[kernel.OFFSET]),
            degrees(np.sqrt(wider * fit[kernel.R_U_ANGLE] ** 2 + turned2)),
            float(np.sqrt(wider * fit[kernel.R_U_OFFSET] ** 2 + turned2 * middle_mm**2 + aside2)),
            degrees(wider * fit[kernel.R_TOGETHER] - turned2 * middle_mm),
            self._shrunk > 1,
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
        rows, halves, ends, cols = self._rows.about(angle_deg, 0.0, self._prior.blur_mm)
        strip, inside = self._cut(pixels, view, angle_deg, rows, cols)
        level = 0.0
        if not self.known:
            level = float(np.median(strip[1])) + self._signs()[0] * score
        usual, precision = self._prior.usual(level)
        fit = kernel.fit_bar(
            strip,
            inside,
            rows,
            halves,
            ends,
            cols,
            *self._shadow.at(angle_deg),
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
