"""What all rows of a needle share: nine numbers, and what is known of them beforehand.

Source: derivation in docs/decisions/0004-needle-fit.md.
"""

from typing import Final

import numpy as np

from needlewright.readings.dial_view import DialView
from needlewright.readings.projection import Array

ANGLE, OFFSET, WIDTH, TAPER, TAIL, BLUR, SIDE, UNEVEN, UNEVEN_ALONG = range(9)
"""Direction (radians against the strip), sideways offset, width and taper beyond the family's,
the tail's width beyond that, the edges' blur (mm; taper: mm per mm), the step of the side as a
share of the top's, and how much lighter the ground is on the + side than on the other: at the
middle of the needle's length, and its change over that length (halves of it, as shares of the
needle's step)."""
COUNT: Final = 9

ANGLE_SPREAD: Final = 0.1
PARALLAX_DOUBT: Final = 0.15
"""Parallax is known to this share of itself: needle height and the camera's place."""
OFFSET_PX: Final = 0.3
WIDTH_PX: Final = 0.4
WIDTH_MM: Final = 0.1
TAPER_SPREAD: Final = 0.005
BLUR_SPREAD: Final = 0.7
UNEVEN_SPREAD: Final = 0.03
UNEVEN_ALONG_SPREAD: Final = 0.01
"""Ground beside a needle differs from side to side by its shadow, and less so from hub to tip:
shares of the needle's step."""
CORRELATED: Final = 2.0
"""Samples of one picture err together, so the data tell less than they claim: the priors count
for so many times what independent samples would leave them."""

MIN_BLUR_PX: Final = 0.4
MAX_BLUR: Final = 4.0
"""Narrowest blur in pixels, widest as a multiple of the blur expected."""
_LARGEST_PX: Final = np.array([0.03, 2.0, 2.0, 0.02, 2.0, 0.5, 0.3, 0.1, 0.1])
_IN_PX: Final = np.array([False, True, True, False, True, True, False, False, False])


def usual_shape(view: DialView) -> Array:
    """The shape a needle of the family has before anything is seen, (9,)."""
    shape = np.zeros(COUNT)
    shape[BLUR] = expected_blur_mm(view)
    shape[SIDE] = view.side_like_top
    return shape


def expected_blur_mm(view: DialView) -> float:
    """The print's blur, and no less than a pixel's own."""
    return max(view.softness_mm, 0.6 / view.px_per_mm)


def prior_precision(view: DialView) -> Array:
    """Inverse variances of the shape about the usual one, (9,).

    The offset's holds the eccentricity of shaft to print and what the camera's place leaves
    open of the parallax: an honest width, so that the direction stays the line's own.
    """
    return CORRELATED / np.square(
        [
            ANGLE_SPREAD,
            offset_spread_mm(view),
            WIDTH_PX / view.px_per_mm + WIDTH_MM,
            TAPER_SPREAD,
            2 * (WIDTH_PX / view.px_per_mm + WIDTH_MM),
            BLUR_SPREAD * expected_blur_mm(view),
            view.side_spread,
            UNEVEN_SPREAD,
            UNEVEN_ALONG_SPREAD,
        ]
    )


def offset_spread_mm(view: DialView) -> float:
    """How far the axis of a soundly assembled needle may lie from the dial's centre, k = 1."""
    tangent, _ = view.viewpoint.slant(view.centre_mm)
    parallax_mm = view.dial.needle.height_mm * tangent
    return float(
        np.sqrt(
            view.eccentricity_mm**2
            + (PARALLAX_DOUBT * parallax_mm) ** 2
            + (OFFSET_PX / view.px_per_mm) ** 2
        )
    )


def moved(shape: Array, step: Array, view: DialView) -> Array:
    """The shape after a step, no further than a pass may go."""
    scale = view.px_per_mm
    largest = np.where(_IN_PX, _LARGEST_PX / scale, _LARGEST_PX)
    changed = shape + np.clip(step, -largest, largest)
    changed[BLUR] = np.clip(changed[BLUR], MIN_BLUR_PX / scale, MAX_BLUR * expected_blur_mm(view))
    return np.asarray(changed)
