"""Roughly where a needle points: the strongest bar of the needle's colour about the hub."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.dial_view import DialView
from needlewright.readings.projection import Array

STEP_DEG: Final = 0.5
RADII: Final = 22
PRINT_STRIDE: Final = 7
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
    """

    angle_deg: float
    score: float
    noise: float
    colour_step: Array
    ground: Array
    art_ground: Array
    colour_noise: Array


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
    flat = np.stack(
        [
            view.centre_mm[0] + radii[None] * np.sin(a),
            view.centre_mm[1] - radii[None] * np.cos(a),
        ],
        axis=-1,
    )
    seen_at = view.viewpoint.lifted(flat, needle.height_mm)
    photo = view.photo_at(seen_at)
    art = view.art_at(seen_at)
    inside = np.isfinite(photo[..., 0])
    if inside.mean() < 0.05:
        return []
    photo = np.where(inside[..., None], photo, 0.0)
    shown = _lit_print(photo, art, inside, flat - view.centre_mm)
    print_free = photo - shown
    art_ground = np.median(art.reshape(-1, 3), axis=0).astype(np.float64)
    left, right, bar = _bar_and_flanks(print_free, inside, radii, view)
    score, noise = max(
        (_along(step, bar, left, right) for step in _expected_steps(view, art_ground)),
        key=lambda found: float(found[0].max()),
    )
    colour_noise = _colour_noise(print_free, inside)
    return [
        Candidate(
            float(angles[i] + _parabola(score, i) * STEP_DEG),
            float(score[i]),
            noise,
            _median(bar[i] - (left[i] + right[i]) / 2),
            _median((left[i] + right[i]) / 2 + shown[i]),
            art_ground,
            colour_noise,
        )
        for i in _peaks(score)
    ]


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


def _along(expected: Array, bar: Array, left: Array, right: Array) -> tuple[Array, float]:
    """Score of every direction along a step of colour, and its spread where there is no needle."""
    step = np.minimum((bar - left) @ expected, (bar - right) @ expected)
    score = _score(np.where(np.isfinite(step), step, 0.0))
    return score, 1.4826 * float(np.median(np.abs(score - np.median(score)))) + 1e-3


def _lit_print(
    photo: NDArray[np.float32], art: NDArray[np.float32], inside: NDArray[np.bool_], away: Array
) -> NDArray[np.float32]:
    """The print as this photo would show it: a gain and an offset that vary over the dial."""
    reach = float(np.abs(away).max())
    x, y = away[..., 0] / reach, away[..., 1] / reach
    shown = np.zeros_like(photo)
    for channel in range(3):
        a = art[..., channel] / 255.0
        basis = np.stack([np.ones_like(a), x, y, a, a * x, a * y], axis=-1)
        flat, target = basis[inside][::PRINT_STRIDE], photo[..., channel][inside][::PRINT_STRIDE]
        weights = np.ones(len(target))
        for _ in range(4):
            weighted = flat * weights[:, None]
            solution = np.linalg.lstsq(weighted.T @ flat, weighted.T @ target, rcond=None)[0]
            residual = target - flat @ solution
            spread = 1.4826 * np.median(np.abs(residual)) + 0.5
            weights = 1 / (1 + (residual / (2 * spread)) ** 2)
        shown[..., channel] = basis @ solution
    return shown


def _bar_and_flanks(
    colours: NDArray[np.float32], inside: NDArray[np.bool_], radii: Array, view: DialView
) -> tuple[Array, Array, Array]:
    """Means left of, right of and over a needle-wide bar, for every direction and radius."""
    count = len(colours)
    pad = count // 4
    masked = np.where(inside[..., None], colours, 0.0).astype(np.float64)
    both = np.concatenate([masked, inside[..., None]], axis=2)
    summed = np.cumsum(np.concatenate([both[-pad - 1 :], both, both[:pad]]), axis=0)
    at = np.arange(count)[:, None] + pad + 1
    column = np.arange(len(radii))[None, :]

    def mean(low: NDArray[np.intp], high: NDArray[np.intp]) -> NDArray[np.float64]:
        total = summed[at + high, column] - summed[at + low - 1, column]
        full = total[..., 3] > 0.5 * (high - low + 1)
        return np.where(full[..., None], total[..., :3] / np.maximum(total[..., 3:], 1), np.nan)

    per_step = radii * np.radians(STEP_DEG)
    half = np.array([view.dial.needle.width_at(r) for r in radii]) / 2
    blur_mm = 1.0 / view.px_per_mm
    h = np.round(0.7 * half / per_step).astype(int)
    near = np.maximum(h + 1, np.round((half + blur_mm) / per_step).astype(int))
    far = np.maximum(near + 1, np.round((2.2 * half + 2 * blur_mm) / per_step).astype(int))
    far = np.minimum(far, pad - 2)
    near = np.minimum(near, far - 1)
    return mean(-far, -near), mean(near, far), mean(-h, h)


def _colour_noise(print_free: NDArray[np.float32], inside: NDArray[np.bool_]) -> Array:
    """Covariance of the noise, from neighbours along the radius; print and needle left out."""
    both = inside[:, 1:] & inside[:, :-1]
    change = (print_free[:, 1:] - print_free[:, :-1])[both].astype(np.float64)
    size = np.linalg.norm(change, axis=1)
    calm = change[size <= 3 * np.median(size) + 1.0]
    return np.asarray(calm.T @ calm / (2 * max(len(calm), 1)))


def _score(step: Array) -> Array:
    """Mean step over the length, each radius counted only so far that none outweighs the rest."""
    cap = 1.5 * max(float(np.median(step, axis=1).max()), 1.0)
    return np.asarray(np.clip(step, -cap, cap).mean(axis=1))


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
    return float(np.clip(0.5 * (before - after) / bend, -1, 1)) if bend < 0 else 0.0


def _median(colours: Array) -> Array:
    known = colours[np.isfinite(colours).all(axis=1)]
    return np.median(known, axis=0) if len(known) else np.zeros(3)
