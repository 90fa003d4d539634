"""Scenes whose only error is white noise: what a direction can be known to, at best."""

from dataclasses import dataclass
from math import degrees, exp, pi, sqrt
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf

from needlewright.families.model import Dial, Family, Needle
from needlewright.families.scale import Scale

PX_PER_MM: Final = 4.0
"""Of the plain face and of the picture: the camera looks straight down on it."""
GROUND: Final = 60.0
"""Picture value of the plain face."""


@dataclass(frozen=True, slots=True)
class NoiseCase:
    """A bar from `inner_px` to `outer_px` from its centre, in white Gaussian noise."""

    name: str
    inner_px: float
    outer_px: float
    width_px: float
    contrast: float
    """Picture value of the bar over that of the face."""
    sigma: float
    """Standard deviation of the noise of each pixel, picture values."""
    blur_px: float
    """Standard deviation of the edges' spread."""

    @property
    def bound_deg(self) -> float:
        """The Cramer-Rao bound of the direction, the sideways offset free.

        Source: derivation in docs/rehearsal.md.
        """
        s, w = self.blur_px, self.width_px
        per_length = (
            self.contrast**2 / (self.sigma**2 * s * sqrt(pi)) * (1 - exp(-((w / s) ** 2) / 4))
        )
        return degrees((per_length * (self.outer_px - self.inner_px) ** 3 / 12) ** -0.5)


CASES: Final = (
    NoiseCase("small dial, webcam", 15, 75, 4, 60, 6, 1.2),
    NoiseCase("big dial, 1600 px photo", 30, 250, 8, 120, 4, 1.0),
    NoiseCase("big dial, 12 Mpx photo", 80, 680, 22, 120, 5, 1.5),
    NoiseCase("small dial, dark", 15, 75, 4, 25, 8, 1.6),
)
"""The views whose limit is of interest."""


@dataclass(frozen=True, slots=True, eq=False)
class NoiseScene:
    """One drawing of a case."""

    case: NoiseCase
    picture: NDArray[np.float64]
    """Height x width, picture values, not rounded and not clipped."""
    bare: NDArray[np.float64]
    """The same without needle and noise."""
    centre_px: tuple[float, float]
    """Column and row of the pivot; the centre of the top-left pixel is (0, 0)."""
    angle_deg: float
    """Clockwise from 12 o'clock."""
    family: Family
    """One dial whose needle is the bar, at no height; face_size_mm times `PX_PER_MM` is the
    picture. There is no folder behind it."""


def white_noise_scene(
    case: NoiseCase, angle_deg: float, seed: int, offset_px: float = 0.0
) -> NoiseScene:
    """Draw a bar with soft edges on a plain face, and add white Gaussian noise.

    Parameters
    ----------
    case
        Its measures.
    angle_deg
        Direction, clockwise from 12 o'clock.
    seed
        Of the noise.
    offset_px
        How far the bar's line passes from the pivot, positive clockwise.

    Returns
    -------
    NoiseScene
        Floating-point, so that rounding adds nothing.
    """
    half = int(np.ceil(case.outer_px + 8 * case.blur_px + abs(offset_px))) + 8
    side = 2 * half + 1
    at = np.arange(side) - half
    x, y = at[None, :], at[:, None]
    a = np.radians(angle_deg)
    along, across = x * np.sin(a) - y * np.cos(a), x * np.cos(a) + y * np.sin(a) - offset_px
    share = _between(across, -case.width_px / 2, case.width_px / 2, case.blur_px)
    share *= _between(along, case.inner_px, case.outer_px, case.blur_px)
    bare = np.full((side, side), GROUND)
    noise = np.random.default_rng([seed, 6]).normal(0.0, case.sigma, (side, side))
    return NoiseScene(
        case=case,
        picture=bare + case.contrast * share + noise,
        bare=bare,
        centre_px=(float(half), float(half)),
        angle_deg=angle_deg,
        family=_plain_family(case, side, half),
    )


def _between(at: NDArray[np.float64], low: float, high: float, blur: float) -> NDArray[np.float64]:
    scale = blur * sqrt(2.0)
    return np.asarray(0.5 * (erf((at - low) / scale) - erf((at - high) / scale)))


def _plain_family(case: NoiseCase, side_px: int, half_px: int) -> Family:
    middle = (half_px + 0.5) / PX_PER_MM
    needle = Needle(
        length_mm=case.outer_px / PX_PER_MM,
        tail_mm=0.0,
        base_width_mm=case.width_px / PX_PER_MM,
        tip_width_mm=case.width_px / PX_PER_MM,
        hub_radius_mm=case.inner_px / PX_PER_MM,
        height_mm=1e-6,
        thickness_mm=1e-6,
        pitch_u_deg=0.0,
    )
    dial = Dial(
        id="bar",
        quantity="direction",
        unit="%",
        centre_mm=(middle, middle),
        scale=Scale((0.0, 100.0), (-179.0, 179.0)),
        direction="cw",
        rest_angle_deg=-179.0,
        rest_pin=False,
        needle=needle,
    )
    size = side_px / PX_PER_MM
    return Family("white noise", (size, size), PX_PER_MM, (dial,), Path(), eccentricity_mm=0.0)
