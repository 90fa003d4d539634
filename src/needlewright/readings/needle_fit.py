"""The needle's direction, by fitting its two soft edges with the sideways offset free.

A strip along the needle is sampled from the photo. Across it, every row is explained as ground
(with the print that lies there), then needle, then ground, with both edges blurred alike; the
levels of each row are free, so neither a gradient of light nor shading along the needle can turn
it. What all rows share is the shape: direction, offset, width, taper and blur.

Source: derivation in docs/decisions/0004-needle-fit.md.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from needlewright.readings.dial_view import DialView
from needlewright.readings.needle_search import Candidate
from needlewright.readings.projection import Array
from needlewright.readings.strip import Strip, colour_axis, cut_strip

PASSES: Final = 8
THIN_PASSES: Final = 7
THIN_ROWS: Final = 3
"""The first passes look at every so many rows of a long needle."""
SETTLED: Final = 0.04
"""The fit is done when a pass turns the needle by less than this share of its uncertainty."""
ROBUST_AT: Final = 2.2
MIN_STEP_SHARE: Final = 0.4
"""A row belongs to the needle when its step is at least this share of the median row's."""
MIN_ROWS: Final = 6
BLOCK_ROWS: Final = 3
SIDE_LIKE_TOP: Final = 0.6
SIDE_SPREAD: Final = 0.15
"""Step of the needle's side as a share of its top's: usual, and prior standard deviation."""

ANGLE_SPREAD: Final = 0.1
PARALLAX_DOUBT: Final = 0.15
"""Parallax is known to this share of itself: needle height and the camera's place."""
OFFSET_PX: Final = 0.3
WIDTH_PX: Final = 0.4
WIDTH_MM: Final = 0.1
TAPER_SPREAD: Final = 0.005
BLUR_SPREAD: Final = 0.7

ANGLE, OFFSET, WIDTH, TAPER, TAIL, BLUR, SIDE = range(7)
LARGEST_STEP: Final = np.array([0.03, 2.0, 2.0, 0.02, 2.0, 0.5, 0.3])
"""Per pass: radians, then pixels (taper: mm per mm)."""


@dataclass(frozen=True, slots=True)
class NeedleFit:
    """What a fit says.

    Parameters
    ----------
    angle_deg, offset_mm
        Direction, and sideways distance of the axis from the dial's centre (positive clockwise).
    u_fit_deg
        Standard uncertainty of the direction from the scatter of the residuals alone.
    accepted
        Share of the needle's visible length whose rows were accepted.
    step, noise
        Median step of the accepted rows and the residuals' spread, grey levels.
    blur_px
        Standard deviation of the edges' blur.
    width_excess_mm
        Width beyond the family's.
    u_offset_mm
        What the offset may be in a sound assembly: eccentricity and doubt about the parallax.
    lever_px
        Root of the accepted rows' second moment about their mean, in photo pixels, times sqrt 12:
        the length of the uniform bar with the same lever.
    rows
        Rows accepted.
    strip
        The strip the fit ended on.
    accepted_rows
        (rows,) which.
    shape
        (7,) the fitted parameters, relative to the strip's direction.
    """

    angle_deg: float
    offset_mm: float
    u_fit_deg: float
    accepted: float
    step: float
    noise: float
    blur_px: float
    width_excess_mm: float
    u_offset_mm: float
    lever_px: float
    rows: int
    strip: Strip
    accepted_rows: NDArray[np.bool_]
    shape: Array


def fit_needle(view: DialView, best: Candidate) -> NeedleFit | None:
    """Fit a needle near a direction.

    Parameters
    ----------
    view
        The dial.
    best
        A direction right within a degree or two, and the colours there.

    Returns
    -------
    NeedleFit | None
        None when there are too few rows or the fit runs away.
    """
    fit: NeedleFit | None = None
    axis = colour_axis(best)
    angle_deg = best.angle_deg
    for _ in range(2):
        strip = cut_strip(view, angle_deg, axis, float(best.colour_step @ axis))
        if strip is None:
            return None
        fit = _fit_strip(view, strip)
        if fit is None:
            return None
        if abs(fit.angle_deg - angle_deg) < 0.3:
            break
        angle_deg = fit.angle_deg
    return fit


@dataclass(frozen=True, slots=True)
class _Pass:
    """One Gauss-Newton step and what it rests on."""

    step: Array
    normal: Array
    scores: Array
    levels: Array
    accepted: NDArray[np.bool_]
    noise: float


def _fit_strip(view: DialView, strip: Strip) -> NeedleFit | None:
    scale = view.px_per_mm
    start_blur = max(view.softness_mm, 0.6 / scale)
    usual = np.array([0.0, 0.0, 0.0, 0.0, 0.0, start_blur, SIDE_LIKE_TOP])
    precision = 1 / _spreads(view, start_blur) ** 2
    largest = LARGEST_STEP / np.array([1, scale, scale, 1, scale, scale, 1])
    shape = usual.copy()
    thin = strip.every(THIN_ROWS) if len(strip.r_mm) > THIN_ROWS * MIN_ROWS * 2 else strip
    now: _Pass | None = None
    for number in range(THIN_PASSES + PASSES):
        early = number < THIN_PASSES
        now = _one_pass(
            view, thin if early else strip, shape, precision, usual, judge_rows=number >= 2
        )
        if now is None:
            return None
        shape = shape + np.clip(now.step, -largest, largest)
        shape[BLUR] = np.clip(shape[BLUR], 0.4 / scale, 4 * start_blur)
        settled = abs(now.step[ANGLE]) < SETTLED / np.sqrt(now.normal[ANGLE, ANGLE])
        if settled and number >= THIN_PASSES + 1:
            break
    return None if now is None else _said(view, strip, shape, now, precision)


def _one_pass(
    view: DialView, strip: Strip, shape: Array, precision: Array, usual: Array, *, judge_rows: bool
) -> _Pass | None:
    levels, residual, effect = _rows(strip, *_coverage(view, strip, shape))
    accepted = np.ones(len(strip.r_mm), dtype=bool)
    if judge_rows:
        accepted = _accept(levels[:, 2], residual, strip)
        if accepted.sum() < min(MIN_ROWS, len(strip.r_mm)):
            return None
    noise = 1.4826 * float(np.median(np.abs(residual[accepted]))) + 0.3
    weights = strip.trust / (1 + (residual / (ROBUST_AT * noise)) ** 2)
    weights = weights * accepted[:, None] / noise**2
    flat, w = effect.reshape(-1, len(shape)), weights.reshape(-1, 1)
    normal = flat.T @ (w * flat) + np.diag(precision)
    scores = ((weights * residual)[:, None, :] @ effect)[:, 0, :]
    step = np.linalg.solve(normal, scores.sum(axis=0) - precision * (shape - usual))
    return _Pass(step, normal, scores, levels, accepted, noise)


def _said(view: DialView, strip: Strip, shape: Array, last: _Pass, precision: Array) -> NeedleFit:
    scale, accepted = view.px_per_mm, last.accepted
    inverse = np.linalg.inv(last.normal)
    # Neighbouring samples share noise (half-pixel sampling, demosaicing, JPEG): rows in blocks.
    starts = np.arange(0, len(last.scores), BLOCK_ROWS)
    blocks = np.add.reduceat(last.scores, starts, axis=0)
    spread = inverse @ (blocks.T @ blocks + np.diag(precision)) @ inverse
    row_mm = float(strip.r_mm[-1] - strip.r_mm[-2])
    inner = view.inner_radius_mm(strip.angle_deg)
    wanted = (view.dial.needle.length_mm - inner) / row_mm
    return NeedleFit(
        strip.angle_deg + float(np.degrees(np.arctan(shape[ANGLE]))),
        float(shape[OFFSET]),
        float(np.degrees(np.sqrt(max(spread[0, 0], inverse[0, 0])))),
        float((accepted & (strip.r_mm > 0)).sum() / wanted),
        float(np.median(last.levels[accepted, 2])),
        last.noise,
        float(shape[BLUR] * scale),
        float(shape[WIDTH]),
        float(1 / np.sqrt(precision[OFFSET])),
        float(np.std(strip.r_mm[accepted]) * np.sqrt(12) * scale),
        int(accepted.sum()),
        strip,
        accepted,
        shape,
    )


def _spreads(view: DialView, start_blur: float) -> Array:
    """Prior standard deviations of the shape about the family's figures.

    The offset's holds the eccentricity of shaft to print and what the camera's place leaves
    open of the parallax: an honest width, so that the direction stays the line's own.
    """
    scale = view.px_per_mm
    tangent, _ = view.viewpoint.slant(view.centre_mm)
    parallax_mm = view.dial.needle.height_mm * tangent
    offset = np.sqrt(
        view.eccentricity_mm**2 + (PARALLAX_DOUBT * parallax_mm) ** 2 + (OFFSET_PX / scale) ** 2
    )
    width = WIDTH_PX / scale + WIDTH_MM
    return np.array(
        [
            ANGLE_SPREAD,
            offset,
            width,
            TAPER_SPREAD,
            2 * width,
            BLUR_SPREAD * start_blur,
            SIDE_SPREAD,
        ]
    )


def _coverage(view: DialView, strip: Strip, shape: Array) -> tuple[Array, Array]:
    """How much needle each sample shows, and its derivative by the shape.

    Three soft edges bound the needle: the two of its top, and the foot of the side that an
    oblique view shows; the side counts as `SIDE` of the top.

    Returns
    -------
    tuple
        (rows, columns) and (rows, columns, 7).
    """
    r = strip.r_mm[:, None]
    tail = r < 0
    half = np.array([view.dial.needle.width_at(x) for x in strip.r_mm])[:, None] / 2
    half = half + (shape[WIDTH] + np.where(tail, shape[TAIL], shape[TAPER] * np.abs(r))) / 2
    axis = shape[OFFSET] + shape[ANGLE] * r
    half_by = (0.5, np.where(tail, 0.0, np.abs(r)) / 2, np.where(tail, 0.5, 0.0))
    wall = view.side_wall_mm(strip.angle_deg)
    cover = np.zeros(strip.light.shape)
    by = np.zeros((*cover.shape, 7))
    for way, beyond, share, side_share in _edges_of(wall, float(shape[SIDE])):
        z = (strip.t_mm[None] - axis - way * half - beyond) / shape[BLUR]
        past = ndtr(z)
        density = share * np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi) / shape[BLUR]
        cover += share * past
        by[..., ANGLE] -= density * r
        by[..., OFFSET] -= density
        for which, change in zip((WIDTH, TAPER, TAIL), half_by, strict=True):
            by[..., which] -= density * way * change
        by[..., BLUR] -= density * z
        by[..., SIDE] += side_share * past
    return cover, by


def _edges_of(wall_mm: float, side: float) -> tuple[tuple[float, float, float, float], ...]:
    """Edges, left to right: side of the axis, beyond it, rise of cover, and that by SIDE."""
    if wall_mm > 0:
        return ((-1, 0.0, 1.0, 0.0), (1, 0.0, side - 1.0, 1.0), (1, wall_mm, -side, -1.0))
    return ((-1, wall_mm, side, 1.0), (-1, 0.0, 1.0 - side, -1.0), (1, 0.0, -1.0, 0.0))


def _rows(strip: Strip, cover: Array, by_shape: Array) -> tuple[Array, Array, Array]:
    """Free levels of every row, what they leave, and the shape's effect that they cannot mimic.

    Returns
    -------
    tuple
        (rows, 3) ground level, ground slope and step; (rows, columns) residuals;
        (rows, columns, 7) effects.
    """
    t = strip.t_mm / np.abs(strip.t_mm).max()
    clear = 1 - cover
    drawn = strip.ground - np.median(strip.ground, axis=1, keepdims=True)
    basis = np.stack([np.ones_like(clear), clear * t[None], cover], axis=-1)
    target = strip.light - clear * drawn
    weighted = basis * np.maximum(strip.trust, 1e-6)[..., None]
    turned = weighted.transpose(0, 2, 1)
    inverse = np.linalg.inv(turned @ basis + 1e-6 * np.eye(3))
    levels = (inverse @ (turned @ target[..., None]))[..., 0]
    residual = target - (basis @ levels[..., None])[..., 0]
    height = levels[:, 2:3] - levels[:, 1:2] * t[None] - drawn
    effect = by_shape * height[..., None]
    mimicked = inverse @ (turned @ effect)
    return levels, residual, effect - basis @ mimicked


def _accept(contrast: Array, residual: Array, strip: Strip) -> NDArray[np.bool_]:
    """Rows in which the needle is there: its step large enough, and explained."""
    usable = strip.trust.mean(axis=1) > 0.3
    typical = float(np.median(contrast[usable])) if usable.any() else 0.0
    rough = np.sqrt((residual**2 * strip.trust).sum(axis=1) / (strip.trust.sum(axis=1) + 1e-6))
    usual = float(np.median(rough))
    return np.asarray(
        usable
        & (contrast > MIN_STEP_SHARE * typical)
        & (contrast < 2.5 * typical)
        & (rough < max(3.0 * usual, 0.25 * typical))
    )
