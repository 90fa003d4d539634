"""When a photo or a needle is refused, and what is said of one that is not.

A silent gross error is the worst outcome there is, so every gate asks for something the needle
must have and a finger, a tool, a mark or a shadow seldom has all of.
"""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.dial_view import DialView
from needlewright.readings.needle_fit import NeedleFit
from needlewright.readings.needle_search import Candidate
from needlewright.readings.projection import Array
from needlewright.readings.second_look import SecondLook

DARK_LEVEL: Final = 40.0
"""Brightest percentile of a photo below which nothing printed can be seen, grey levels."""
BLURRED_RATIO: Final = 0.75
"""Share of the steepest edges left by a blur of four pixels when the photo was soft before."""
MIN_STEP: Final = 8.0
"""Smallest step of a needle against its ground, grey levels."""
MIN_SIGNIFICANCE: Final = 4.0
"""Step over the spread of directions without a needle."""
RIVAL_SHARE: Final = 0.7
"""A second direction this strong, and not the needle's own tail, makes the dial ambiguous."""
MIN_COLOUR_LIKENESS: Final = 0.3
"""Cosine between the step's colour and the family's needle colour over its ground."""
MIN_HUE_LIKENESS: Final = 0.6
"""The same with grey taken out of both, for needles with a colour of their own."""
COLOURED_SHARE: Final = 0.3
"""Share of the needle's step that must be colour for the needle to count as coloured."""
MIN_ACCEPTED: Final = 0.45
"""Least share of the needle's length that must be accepted."""
MAX_U_DEG: Final = 0.3
"""A direction less certain than this is not worth a number."""
MAX_OFFSET: Final = 5.0
"""Largest sideways offset, in its own standard uncertainties."""
MAX_WIDTH_EXCESS: Final = 0.8
"""Largest width beyond the family's, as a share of it, after blur."""
DISAGREE: Final = 4.0
"""Difference of the two estimates, in standard uncertainties, beyond which neither is believed."""
DISAGREE_FLOOR_DEG: Final = 0.3

HIDING_GLARE: Final = 0.03
"""Share of the needle's circle blown out beyond which a needle not seen may lie under it."""

SOFT_PX: Final = 2.0
OBLIQUE_DEG: Final = 25.0
PARTLY_HIDDEN: Final = 0.85
NOISY: Final = 0.1
GLARE_SHARE: Final = 0.08
OFF_CENTRE: Final = 3.0
COVERAGE_K: Final = 2.0
"""A needle stands past an end mark when it does so by its expanded uncertainty."""


def photo_reason(grey: NDArray[np.uint8], *, something_found: bool) -> str:
    """Say why a face was not found.

    Parameters
    ----------
    grey
        The photo, height x width.
    something_found
        Whether features matched in a plausible pose that the print then did not bear out.

    Returns
    -------
    str
        A code of `flags.PHOTO_REASONS`.
    """
    if float(np.percentile(grey, 99.5)) < DARK_LEVEL:
        return "too_dark"
    small = np.asarray(cv2.resize(grey, None, fx=0.5, fy=0.5), dtype=np.uint8)
    before, after = (_steepest(small, sigma) for sigma in (1.5, 4.0))
    if after > BLURRED_RATIO * before:
        return "too_blurred"
    return "wrong_family" if something_found else "face_not_found"


def _steepest(grey: NDArray[np.uint8], sigma: float) -> float:
    """Slope of the steepest edges under a blur, grey levels per pixel."""
    soft = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), sigma)
    across, down = cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1)
    return float(np.percentile(np.hypot(across, down), 99.8)) + 1e-6


def needle_reason(
    view: DialView,
    candidates: list[Candidate],
    fit: NeedleFit | None = None,
    second: SecondLook | None = None,
    u_deg: float | None = None,
) -> str | None:
    """Say why a needle is refused, from what is known so far.

    Parameters
    ----------
    view
        The dial.
    candidates
        Directions found, best first.
    fit
        The fit, once there is one.
    second
        The second look, once there is one.
    u_deg
        Combined standard uncertainty of the direction, degrees, once it is known.

    Returns
    -------
    str | None
        A code of `flags.DIAL_REASONS`; None when nothing speaks against the needle.
    """
    best = candidates[0] if candidates else None
    if best is None:
        return "out_of_frame"
    doubts = [
        (best.score < max(MIN_STEP, MIN_SIGNIFICANCE * best.noise), _unseen(best)),
        (not view.shows_tip(best.angle_deg), "out_of_frame"),
        (not _looks_like_needle(view, best), "occluded"),
        (_has_rival(candidates), "ambiguous"),
    ]
    if fit is not None and u_deg is not None:
        doubts += _doubts_of_fit(view, fit, second, u_deg)
    return next((reason for holds, reason in doubts if holds), None)


def _unseen(best: Candidate) -> str:
    """Why no needle is seen: glare may hide it; else there is none."""
    return "occluded" if best.glare_share > HIDING_GLARE else "needle_missing"


def _doubts_of_fit(
    view: DialView, fit: NeedleFit, second: SecondLook | None, u_deg: float
) -> list[tuple[bool, str]]:
    width = view.dial.needle.width_at(view.dial.needle.length_mm / 2)
    widest = MAX_WIDTH_EXCESS * width + 2.0 / view.px_per_mm
    differ = allowed = 0.0
    if second is not None:
        differ = abs(fit.angle_deg - second.angle_deg)
        allowed = DISAGREE * float(np.hypot(u_deg, second.u_angle_deg)) + DISAGREE_FLOOR_DEG
    return [
        (fit.accepted < MIN_ACCEPTED, "occluded"),
        (fit.step < MIN_STEP or fit.noise > fit.step, "too_uncertain"),
        (abs(fit.offset_mm) > MAX_OFFSET * fit.u_offset_mm, "occluded"),
        (fit.width_excess_mm > widest, "occluded"),
        (differ > allowed, "estimators_disagree"),
        (u_deg > MAX_U_DEG, "too_uncertain"),
    ]


def _looks_like_needle(view: DialView, best: Candidate) -> bool:
    """Whether the step seen has the direction in colour that the family's needle asks for.

    Brightness alone is no witness: fingers, tools and shadows have it too. Where the needle has
    a colour of its own, the step must have it, grey taken out of both.
    """
    colour = view.dial.needle.colour
    if colour is None:
        return True
    expected = 255.0 * np.asarray(colour[::-1]) - best.art_ground
    if _cosine(expected, best.colour_step) < MIN_COLOUR_LIKENESS:
        return False
    hue, hue_seen = _without_grey(expected), _without_grey(best.colour_step)
    if np.linalg.norm(hue) < COLOURED_SHARE * np.linalg.norm(expected):
        return True
    return _cosine(hue, hue_seen) > MIN_HUE_LIKENESS


def _cosine(a: Array, b: Array) -> float:
    return float(a @ b / (np.linalg.norm(a) * np.linalg.norm(b) + 1e-9))


def _without_grey(colour: Array) -> Array:
    return np.asarray(colour - colour.mean())


def _has_rival(candidates: list[Candidate]) -> bool:
    best = candidates[0]
    for other in candidates[1:]:
        apart = abs((other.angle_deg - best.angle_deg + 180.0) % 360.0 - 180.0)
        if other.score > RIVAL_SHARE * best.score and apart < 170.0:
            return True
    return False


def flags_of(view: DialView, fit: NeedleFit, angle_deg: float, u_deg: float) -> tuple[str, ...]:
    """What to know about a needle that was read.

    Parameters
    ----------
    view
        The dial.
    fit
        The fitted needle.
    angle_deg
        Its direction on the scale's branch.
    u_deg
        Standard uncertainty of that direction, degrees.

    Returns
    -------
    tuple[str, ...]
        Codes of `flags.FLAGS`.
    """
    scale = view.dial.scale
    tangent, _ = view.viewpoint.slant(view.centre_mm)
    past_end_deg = abs(angle_deg - scale.middle_deg) - scale.reach_deg
    glare = float((fit.strip.trust == 0.0).mean())
    every = (
        ("beyond_scale", not scale.reaches_angle(angle_deg)),
        ("off_scale", scale.reaches_angle(angle_deg) and past_end_deg > COVERAGE_K * u_deg),
        ("partly_hidden", fit.accepted < PARTLY_HIDDEN),
        ("glare", glare > GLARE_SHARE),
        ("oblique", float(np.degrees(np.arctan(tangent))) > OBLIQUE_DEG),
        ("soft", fit.blur_px > SOFT_PX),
        ("noisy", fit.noise > NOISY * fit.step),
        ("off_centre", abs(fit.offset_mm) > OFF_CENTRE * fit.u_offset_mm),
    )
    return tuple(code for code, holds in every if holds)
