"""What a needle keeps from frame to frame: width, blur, side wall and levels, as they are learned.

What was accepted stands as the next frame's prior.
"""

from typing import Final

import numpy as np

from needlewright.readings import bar_kernel as kernel
from needlewright.readings.projection import Array

WIDTH_SPREAD: Final = (0.4, 0.05)
"""Pixels: of the first frame's prior, and the least it narrows to."""
BLUR_SPREAD: Final = (0.5, 0.08)
"""Shares."""
SIDE_SPREAD: Final = (0.15, 0.05)
SIDE_LIKE_TOP: Final = 0.6
LEVEL_SPREAD: Final = (60.0, 12.0)
"""Grey levels."""
TAPER_SPREAD: Final = (10.0, 4.0)
GROUND_SPREAD: Final = 10.0
SLOPE_SPREAD: Final = 6.0
TURN_SPREAD_RAD: Final = 0.3
FREE_OFFSET_MM: Final = 1.5
FIRST_NOISE: Final = 4.0
SHADE_BLUR_MM: Final = 1.0


class NeedlePrior:
    """What is known of one needle before a frame.

    Parameters
    ----------
    px_per_mm
        Scale of the frame at the dial.
    blur_mm
        Blur of the frame's edges, standard deviation.
    """

    def __init__(self, px_per_mm: float, blur_mm: float) -> None:
        self._scale = px_per_mm
        self._width = _Learned(0.0, WIDTH_SPREAD[0] / px_per_mm + 0.1)
        self._blur = _Learned(blur_mm, BLUR_SPREAD[0] * blur_mm)
        self._side = _Learned(SIDE_LIKE_TOP, SIDE_SPREAD[0])
        self._level: _Learned | None = None
        self._taper = _Learned(0.0, TAPER_SPREAD[0])
        self.step: float | None = None
        """The needle's step over its ground, grey levels; None before it was seen."""
        self.noise = FIRST_NOISE
        """Standard deviation of a sample, grey levels."""
        self.largest = np.array([0.05, 1.5, 1.0, 0.3, 0.2, 80.0, 20.0, 20.0, 10.0])
        """Largest steps of the unknowns in one pass."""
        self.largest[[kernel.OFFSET, kernel.WIDTH, kernel.BLUR]] /= px_per_mm

    @property
    def blur_mm(self) -> float:
        """Blur of the frame's edges, standard deviation."""
        return self._blur.mean

    def learn(self, fit: Array) -> None:
        """Take in an accepted fit."""
        self.noise += 0.2 * (float(fit[kernel.R_NOISE]) - self.noise)
        step = float(fit[kernel.R_STEP])
        self.step = step if self.step is None else self.step + 0.05 * (step - self.step)
        if self._level is None:
            self._level = _Learned(float(fit[kernel.NEEDLE]), LEVEL_SPREAD[0])
        self._level.learn(fit[kernel.NEEDLE], LEVEL_SPREAD[1])
        self._taper.learn(fit[kernel.TAPER], TAPER_SPREAD[1])
        self._width.learn(fit[kernel.WIDTH], WIDTH_SPREAD[1] / self._scale)
        self._blur.learn(fit[kernel.BLUR], BLUR_SPREAD[1] * self._blur.mean)
        self._side.learn(fit[kernel.SIDE], SIDE_SPREAD[1])

    def usual(self, level: float) -> tuple[Array, Array]:
        """Means and precisions of the unknowns; `level` is the needle's where none was learned."""
        needle = self._level or _Learned(level, LEVEL_SPREAD[0])
        means = np.zeros(kernel.SHAPE)
        spreads = np.empty(kernel.SHAPE)
        means[[kernel.WIDTH, kernel.BLUR, kernel.SIDE]] = (
            self._width.mean,
            self._blur.mean,
            self._side.mean,
        )
        means[kernel.NEEDLE], means[kernel.TAPER] = needle.mean, self._taper.mean
        spreads[:] = (
            TURN_SPREAD_RAD,
            FREE_OFFSET_MM,
            self._width.spread,
            self._blur.spread,
            self._side.spread,
            needle.spread,
            self._taper.spread,
            GROUND_SPREAD,
            SLOPE_SPREAD,
        )
        return means, 1 / spreads**2


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
