"""Where in a frame a needle may be: a bar against the bare face, looked for over directions."""

from math import ceil, degrees, radians
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.families.model import Needle
from needlewright.readings import plane_kernel
from needlewright.readings.bare_ground import BareGround
from needlewright.readings.projection import Array

MAX_STEP_DEG: Final = 1.0
ROWS: Final = 20
MIN_STEP: Final = 5.0
"""Grey levels of step below which nothing is called a needle."""
APART_DEG: Final = 6.0
"""Two directions nearer to each other than this are one."""
USUAL_STEP: Final = 60.0


class NeedleHunt:
    """Looks for one needle.

    Parameters
    ----------
    needle
        Its shape.
    centre_mm
        The dial's centre.
    px_per_mm
        Scale of the frame at the dial.
    first
        Packed view of the needle's plane in the frame the ground is drawn in.
    """

    def __init__(self, needle: Needle, centre_mm: Array, px_per_mm: float, first: Array) -> None:
        self._centre, self._first = centre_mm, first
        r_in = min(1.1 * needle.hub_radius_mm + 0.5, 0.8 * needle.length_mm)
        self._radii = np.linspace(r_in, 0.97 * needle.length_mm, ROWS)
        tip_px = needle.length_mm * px_per_mm
        self._turn = radians(min(MAX_STEP_DEG, max(degrees(0.7 / tip_px), 0.25)))
        half = np.array([needle.width_at(r) for r in self._radii]) / 2
        per_step = self._radii * self._turn
        blur = 1.0 / px_per_mm
        self._bars = np.round(0.7 * half / per_step).astype(np.intp)
        self._nears = np.maximum(self._bars + 1, np.round((half + blur) / per_step)).astype(np.intp)
        far = np.round((2.2 * half + 2 * blur) / per_step)
        self._fars = np.maximum(self._nears + 1, far).astype(np.intp)

    def look(
        self,
        grey: NDArray[np.uint8],
        view: Array,
        ground: BareGround,
        window_deg: tuple[float, float],
        *,
        step: float | None,
        signs: tuple[float, ...],
    ) -> list[tuple[float, float]]:
        """Directions that look like the needle.

        Parameters
        ----------
        grey
            The frame.
        view
            Packed view of the needle's plane in it.
        ground
            The bare face.
        window_deg
            The direction looked about and how far, degrees.
        step
            The needle's step over its ground, grey levels, where it is known.
        signs
            Whether it is lighter (1) or darker (-1) than its ground, or may be either.

        Returns
        -------
        list
            Directions in degrees with their scores, best first: of every sign the best, and the
            best clearly apart from it.
        """
        about_deg, reach_deg = window_deg
        pad = int(self._fars.max())
        steps = ceil(radians(reach_deg) / self._turn)
        angles = radians(about_deg) + self._turn * np.arange(-steps - pad, steps + pad + 1)
        difference = plane_kernel.polar_difference(
            grey,
            view,
            ground.grey,
            ground.corner_px,
            self._first,
            self._centre,
            angles,
            self._radii,
        )
        cap = 1.5 * (abs(step) if step is not None else USUAL_STEP)
        found: list[tuple[float, float]] = []
        for sign in signs:
            scores = plane_kernel.bar_scores(
                difference, self._bars, self._nears, self._fars, sign, cap
            )
            found += _peaks(np.asarray(angles, np.float64), scores)
        found.sort(key=lambda one: -one[1])
        least = MIN_STEP if step is None else max(MIN_STEP, 0.3 * abs(step))
        return [(degrees(a), s) for a, s in found if s > 0.6 * least]


def _peaks(angles: Array, scores: Array) -> list[tuple[float, float]]:
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
        left[away < radians(APART_DEG)] = -1e9
    return found
