"""Roughly where a needle points: the strongest bar of the needle's colour about the hub."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.dial_view import DialView
from needlewright.readings.polar_kernel import (
    bar_and_flanks,
    light_of_print,
    noise_of,
    scores_along,
)
from needlewright.readings.projection import Array

STEP_DEG: Final = 0.5
RADII: Final = 22
PRINT_STRIDE: Final = 7
ART_STRIDE: Final = 8
MIN_SEEN: Final = 0.05
"""Share of the needle's circle below which nothing is judged."""
BLOWN_OUT: Final = 250.0
"""Grey levels that every channel of a blown-out place has."""
WHITE_PRINT: Final = 200.0
"""Print whose darkest channel is below this is not blown out by its own light."""
FARTHEST_DEG: Final = 89.0
APART_DEG: Final = 6.0
KEPT: Final = 3


@dataclass(frozen=True, slots=True)
class Candidate:
    """A direction in which something needle-like lies.

    Parameters
    ----------
    angle_deg
        Direction, 0..360.
    score
        Mean step over the length, in grey levels along the needle's expected colour.
    noise
        Spread of the score over directions without a needle.
    colour_step
        (3,) median colour of the bar less that beside it, BGR.
    ground
        (3,) median colour beside the bar, BGR.
    art_ground
        (3,) median colour of the artwork about the hub, BGR.
    colour_noise
        (3, 3) covariance of the photo's noise about the hub, BGR.
    glare_share
        Share of the needle's circle that is blown out where the artwork is not white.
    """

    angle_deg: float
    score: float
    noise: float
    colour_step: Array
    ground: Array
    art_ground: Array
    colour_noise: Array
    glare_share: float


def search(view: DialView) -> list[Candidate]:
    """Look for needle-like bars in every direction.

    Parameters
    ----------
    view
        The dial.

    Returns
    -------
    list[Candidate]
        Best first, at most `KEPT`; empty when nothing of the needle's circle can be judged.
    """
    needle = view.dial.needle
    angles = np.arange(0.0, 360.0, STEP_DEG)
    r_in = min(1.1 * needle.hub_radius_mm + 0.5, 0.8 * needle.length_mm)
    radii = np.linspace(r_in, 0.97 * needle.length_mm, RADII)
    a = np.radians(angles)[:, None]
    away = np.stack([radii * np.sin(a), -radii * np.cos(a)], axis=-1)
    seen_at = view.viewpoint.lifted(view.centre_mm + away, needle.height_mm)
    photo = view.photo_at(seen_at)
    art = view.art_at(seen_at)
    inside = np.isfinite(photo[..., 0])
    if inside.mean() < MIN_SEEN:
        return []
    shown = light_of_print(photo, art, inside, away / radii[-1], PRINT_STRIDE)
    print_free = photo - shown
    art_ground = np.median(art[::ART_STRIDE].reshape(-1, 3), axis=0).astype(np.float64)
    means = bar_and_flanks(print_free, inside, *_widths(view, radii))
    score, noise = max(
        (_along(means, step) for step in _expected_steps(view, art_ground)),
        key=lambda found: float(found[0].max()),
    )
    colour_noise = np.asarray(noise_of(print_free, inside))
    blown_out = (photo.min(axis=2) > BLOWN_OUT) & (art.min(axis=2) < WHITE_PRINT)
    glare_share = float(blown_out.mean())
    return [
        Candidate(
            float((i + _parabola(score, i)) * STEP_DEG),
            float(score[i]),
            noise,
            *_step_and_ground(means[:, i], shown[i]),
            art_ground,
            colour_noise,
            glare_share,
        )
        for i in _peaks(score)
    ]


def _step_and_ground(means: Array, shown: NDArray[np.float32]) -> tuple[Array, Array]:
    """Colour of a bar less that beside it, and the colour beside it, both as medians."""
    left, right, bar = means
    flanks = (left + right) / 2
    return _median(bar - flanks), _median(flanks + shown)


def _expected_steps(view: DialView, art_ground: Array) -> list[Array]:
    """Unit directions in colour from the face's ground to the needle, BGR.

    One where the family states the needle's colour, else lighter, darker, redder and bluer.
    """
    colour = view.dial.needle.colour
    if colour is None:
        grey, warm = np.ones(3), np.array([-1.0, 0.0, 1.0])
        steps = [grey, -grey, warm, -warm]
    else:
        steps = [255.0 * np.asarray(colour[::-1]) - art_ground]
    return [step / (np.linalg.norm(step) + 1e-9) for step in steps]


def _along(means: Array, expected: Array) -> tuple[Array, float]:
    """Score of every direction along a step of colour, and its spread where there is no needle."""
    score = np.asarray(scores_along(means, expected))
    return score, 1.4826 * float(np.median(np.abs(score - np.median(score)))) + 1e-3


def _widths(view: DialView, radii: Array) -> tuple[NDArray[np.int64], ...]:
    """By radius, in directions: half the bar, where its flanks begin and where they end."""
    per_step = radii * np.radians(STEP_DEG)
    half = np.array([view.dial.needle.width_at(r) for r in radii]) / 2
    blur_mm = 1.0 / view.px_per_mm
    bar = np.round(0.7 * half / per_step).astype(np.int64)
    near = np.maximum(bar + 1, np.round((half + blur_mm) / per_step).astype(np.int64))
    far = np.maximum(near + 1, np.round((2.2 * half + 2 * blur_mm) / per_step).astype(np.int64))
    far = np.minimum(far, round(FARTHEST_DEG / STEP_DEG))
    return bar, np.minimum(near, far - 1), far


def _peaks(score: Array) -> list[int]:
    chosen: list[int] = []
    blocked = np.zeros(len(score), dtype=bool)
    reach = round(APART_DEG / STEP_DEG)
    for i in np.argsort(score)[::-1]:
        if blocked[i]:
            continue
        chosen.append(int(i))
        blocked[(np.arange(i - reach, i + reach + 1)) % len(score)] = True
        if len(chosen) == KEPT:
            break
    return chosen


def _parabola(score: Array, i: int) -> float:
    before, here, after = score[i - 1], score[i], score[(i + 1) % len(score)]
    bend = before - 2 * here + after
    return float(min(max(0.5 * (before - after) / bend, -1.0), 1.0)) if bend < 0 else 0.0


def _median(colours: Array) -> Array:
    known = colours[np.isfinite(colours).all(axis=1)]
    return np.median(known, axis=0) if len(known) else np.zeros(3)
