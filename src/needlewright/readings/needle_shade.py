"""The needle's shadow on the face: a second bar beside the needle, moved as the light leans.

The light does not move, so in the needle's plane the shadow lies off the needle by the same
vector in every direction; where it comes close it passes for a part of the needle and turns it by
degrees. Shift, depth and softness are learned from the looks the ground was learned from.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from needlewright.families.model import Needle
from needlewright.readings import bar_kernel as kernel
from needlewright.readings.needle_prior import NeedlePrior
from needlewright.readings.projection import Array

PASSES: Final = 4
NOISE: Final = 2.5
"""Grey levels."""
STARTS: Final = ((0.0, 0.6), (0.6, 0.0), (0.0, -0.6), (-0.6, 0.0), (0.5, 0.5), (-0.5, 0.5))
"""Leans tried first: shifts in heights of the needle, right and down."""
LEAN_SPREAD: Final = 0.8
DEPTH: Final = (0.2, 0.3)
"""Share of light a shadow takes, and its spread."""
SOFTNESS: Final = (0.2, 0.15)
"""Blur of the shadow in heights of the needle, and its spread."""
LEAST_SOFT: Final = 0.03
MOST_LOOKS: Final = 16
MOST_STEPS: Final = 8
STEP: Final = 0.01
LARGEST: Final = np.array([0.3, 0.3, 0.2, 0.1, 0.1, 0.1])
DAMPING: Final = 0.01
ENOUGH_GAIN: Final = 0.002
"""Steps stop once one explains no more than this share of what was left."""
MEANS: Final = np.array([0.0, 0.0, DEPTH[0], SOFTNESS[0], 0.0, SOFTNESS[0]])
SPREADS: Final = np.array([LEAN_SPREAD, LEAN_SPREAD, DEPTH[1], *3 * [SOFTNESS[1]]])
LEAST_GAIN: Final = 0.02
"""Share of the misfit a shadow must explain to be believed."""


@dataclass(frozen=True, slots=True)
class Shade:
    """The needle's shadow, in heights of the needle over the face.

    Parameters
    ----------
    right, down
        Its shift.
    depth
        Share of the light it takes.
    soft
        Its blur: a lamp or a window is seldom round, so the shadow is softer in one direction
        than in the other. Lower triangle (right-right, right-down, down-down) of the root of the
        blur's covariance.
    """

    right: float
    down: float
    depth: float
    soft: tuple[float, float, float]

    def beside(self, angle_deg: float, needle: Needle) -> Array:
        """As the kernel takes it, of a needle in a direction: its top and its underside shade."""
        a = np.radians(angle_deg)
        across = self.right * np.cos(a) + self.down * np.sin(a)
        along = self.right * np.sin(a) - self.down * np.cos(a)
        middle = needle.height_mm - needle.thickness_mm / 2
        one, both, other = self.soft
        blur = np.hypot(one * np.cos(a) + both * np.sin(a), other * np.sin(a))
        return np.array(
            [
                middle * across,
                middle * along,
                self.depth,
                needle.height_mm * max(blur, LEAST_SOFT),
                needle.length_mm,
                abs(across) * needle.thickness_mm / 2,
            ]
        )


NO_SHADE: Final = Shade(0.0, 0.0, 0.0, (1.0, 0.0, 1.0))


@dataclass(frozen=True, slots=True)
class Look:
    """A frame's strip about a needle, wide enough to hold its shadow."""

    angle_deg: float
    strip: Array
    inside: Any
    rows: Array
    halves: Array
    ends: Array
    cols: Array
    wall_mm: float


def learn_shade(
    looks: Sequence[Look],
    prior: NeedlePrior,
    needle: Needle,
    first: Shade | None = None,
) -> Shade:
    """Find the needle's shadow.

    Parameters
    ----------
    looks
        Strips with the needle in many directions.
    prior
        What is known of the needle.
    needle
        Its shape.
    first
        A shadow found for another needle in the same light.

    Returns
    -------
    Shade
        `NO_SHADE` where none explains enough.
    """
    known = prior.usual(0.0)
    looks = looks[:: -(-len(looks) // MOST_LOOKS)]

    def fitted(shade: Shade, which: Sequence[Look]) -> Array:
        return np.concatenate(
            [
                _misfit(look, shade.beside(look.angle_deg, needle), known, prior.largest)
                for look in which
            ]
        )

    def residuals(numbers: Array) -> Array:
        return np.concatenate([fitted(_shade(numbers), looks), (numbers - MEANS) / SPREADS])

    def cost(shade: Shade, which: Sequence[Look]) -> float:
        return float(np.sum(fitted(shade, which) ** 2))

    if first is None or first.depth == 0.0:
        few = looks[::2]
        guesses = [Shade(x, y, DEPTH[0], (SOFTNESS[0], 0.0, SOFTNESS[0])) for x, y in STARTS]
        first = min(guesses, key=lambda shade: cost(shade, few))
    numbers = np.array([first.right, first.down, first.depth, *first.soft])
    left = residuals(numbers)
    damping = DAMPING
    for _ in range(MOST_STEPS):
        slopes = np.stack(
            [(residuals(numbers + step) - left) / STEP for step in STEP * np.eye(len(numbers))]
        )
        normal = slopes @ slopes.T
        move = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), -slopes @ left)
        tried = numbers + np.clip(move, -LARGEST, LARGEST)
        then = residuals(tried)
        gain = 1 - (then @ then) / (left @ left)
        if gain > 0:
            numbers, left, damping = tried, then, damping / 4
        else:
            damping *= 8
        if 0 < gain < ENOUGH_GAIN:
            break
    shade = _shade(numbers)
    without, with_it = cost(NO_SHADE, looks), cost(shade, looks)
    return shade if with_it < (1 - LEAST_GAIN) * without else NO_SHADE


def _shade(numbers: Array) -> Shade:
    right, down, depth, one, both, other = (float(number) for number in numbers)
    return Shade(right, down, min(max(depth, 0.0), 0.95), (one, both, other))


def _misfit(look: Look, beside: Array, known: tuple[Array, Array], largest: Array) -> Array:
    """What the best needle with a shadow leaves of a look, robustly: no sample says much alone."""
    fit = kernel.fit_bar(
        look.strip,
        look.inside,
        look.rows,
        look.halves,
        look.ends,
        look.cols,
        beside,
        *known,
        largest,
        look.wall_mm,
        NOISE,
        PASSES,
    )
    shape = fit[: kernel.SHAPE] if fit[kernel.R_OK] else known[0]
    left = kernel.left_over(
        look.strip,
        look.inside,
        look.rows,
        look.halves,
        look.ends,
        look.cols,
        beside,
        shape,
        look.wall_mm,
        NOISE,
    ).ravel()
    return np.asarray(left / np.sqrt(1 + (left / 6.0) ** 2))
