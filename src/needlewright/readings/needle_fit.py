"""The needle's direction, by fitting its two soft edges with the sideways offset free.

A strip along the needle is sampled from the photo. Across it, every row is explained as ground
(with the print that lies there), then needle, then ground, with both edges blurred alike; the
levels of each row are free, so neither a gradient of light nor shading along the needle can turn
it. What all rows share is the shape: direction, offset, width, taper, blur, and how much lighter
the ground is on one side than on the other.

Source: derivation in docs/decisions/0004-needle-fit.md.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.dial_view import DialView
from needlewright.readings.needle_search import Candidate
from needlewright.readings.needle_shape import (
    ANGLE,
    BLUR,
    OFFSET,
    WIDTH,
    moved,
    offset_spread_mm,
    prior_precision,
    usual_shape,
)
from needlewright.readings.projection import Array
from needlewright.readings.row_kernel import STEP, explain_rows, say_together
from needlewright.readings.row_steadiness import row_weights
from needlewright.readings.strip import Strip, colour_axis, cut_strip

PASSES: Final = 8
THIN_PASSES: Final = 7
THIN_ROWS: Final = 3
"""The first passes look at every so many rows of a long needle."""
JUDGE_FROM: Final = 2
"""The first passes take every row: before the shape is roughly right none can be judged."""
SETTLED: Final = 0.04
"""The fit is done when a pass turns the needle by less than this share of its uncertainty."""
RELIN_DEG: Final = 0.3
"""A strip cut further than this from the needle is cut again."""
ROBUST_AT: Final = 2.2
MIN_STEP_SHARE: Final = 0.4
"""A row belongs to the needle when its step is at least this share of the median row's."""
MIN_ROWS: Final = 6
BLOCK_ROWS: Final = 3
OTHER_GROUND: Final = 0.3
"""A row counts half when its ground differs from the median row's by this share of the needle's
step: it lies in the hub's shadow, on print or in glare."""
FLANK: Final = 0.75
"""Share of the strip's half width beyond which there is ground alone."""


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
        (9,) the fitted parameters, see `needle_shape`,
        relative to the strip's direction.
    spread
        (9, 9) their covariance from the scatter of the residuals alone.
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
    spread: Array


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
        if abs(fit.angle_deg - angle_deg) < RELIN_DEG:
            break
        angle_deg = fit.angle_deg
    return fit


def misfit_of(view: DialView, fit: NeedleFit, noise: float, accepted: NDArray[np.bool_]) -> float:
    """How badly a fit explains some of its rows: to compare fits of one needle to one photo.

    Parameters
    ----------
    view
        The dial, with the needle the fit was made with.
    fit
        The fit.
    noise
        The residuals' spread, grey levels, the same for all that are compared.
    accepted
        (rows,) which rows count, the same for all that are compared.

    Returns
    -------
    float
        Twice the negative log-likelihood of a Student-like law, up to a constant: residuals far
        out count less than their squares.
    """
    sight = _Sight.of(view, fit.strip)
    _, residual, _ = explain_rows(
        sight.at,
        fit.strip.t_mm,
        fit.strip.light,
        sight.drawn,
        fit.strip.trust,
        fit.shape,
        sight.wall_mm,
        fit.step,
    )
    far = np.log1p((residual / (ROBUST_AT * noise)) ** 2)
    weights = fit.strip.trust * accepted[:, None] * sight.usual_ground
    return float(ROBUST_AT**2 * (weights * far).sum())


@dataclass(frozen=True, slots=True)
class _Pass:
    """What the rows say of the shape they were explained with."""

    normal: Array
    scores: Array
    levels: Array
    accepted: NDArray[np.bool_]
    noise: float


@dataclass(frozen=True, slots=True)
class _Seen:
    """Samples explained: what is left, what the shape would change, and how much each counts."""

    residual: Array
    effect: Array
    weights: Array
    accepted: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Sight:
    """The strip as the kernel takes it."""

    strip: Strip
    at: Array
    drawn: Array
    usual_ground: Array
    wall_mm: float

    @classmethod
    def of(cls, view: DialView, strip: Strip) -> "_Sight":
        needle = view.dial.needle
        half = np.array([needle.width_at(r) for r in strip.r_mm]) / 2
        middle = (strip.r_mm - needle.length_mm / 2) / needle.length_mm
        drawn = strip.ground - np.median(strip.ground, axis=1, keepdims=True)
        at = np.stack([strip.r_mm, half, middle], axis=1)
        usual = _usual_ground(strip, drawn)
        return cls(strip, at, drawn, usual, view.side_wall_mm(strip.angle_deg))


def _usual_ground(strip: Strip, drawn: Array) -> Array:
    """Weights of rows, (rows, 1), by how like the others' their ground is, print taken off."""
    flank = np.abs(strip.t_mm) > FLANK * np.abs(strip.t_mm).max()
    ground = np.median((strip.light - drawn)[:, flank], axis=1)
    differs = (ground - np.median(ground)) / (OTHER_GROUND * max(abs(strip.step), 1.0))
    return np.asarray(1 / (1 + differs**2))[:, None]


def _fit_strip(view: DialView, strip: Strip) -> NeedleFit | None:
    usual, precision = usual_shape(view), prior_precision(view)
    shape, unit = usual.copy(), strip.step
    whole = _Sight.of(view, strip)
    thin = whole
    if len(strip.r_mm) > THIN_ROWS * MIN_ROWS * 2:
        thin = _Sight.of(view, strip.every(THIN_ROWS))
    now: _Pass | None = None
    for number in range(THIN_PASSES + PASSES):
        sight = thin if number < THIN_PASSES else whole
        now = _one_pass(view, sight, shape, unit, judge_rows=number >= JUDGE_FROM)
        if now is None:
            return None
        normal = now.normal + np.diag(precision)
        step = np.linalg.solve(normal, now.scores.sum(axis=0) - precision * (shape - usual))
        shape = moved(shape, step, view)
        unit = float(np.median(now.levels[now.accepted, STEP]))
        settled = abs(step[ANGLE]) < SETTLED / np.sqrt(normal[ANGLE, ANGLE])
        if settled and number >= THIN_PASSES + 1:
            break
    return None if now is None else _said(view, strip, shape, now, precision)


def _one_pass(
    view: DialView, sight: _Sight, shape: Array, unit: float, *, judge_rows: bool
) -> _Pass | None:
    strip = sight.strip
    levels, residual, effect = explain_rows(
        sight.at, strip.t_mm, strip.light, sight.drawn, strip.trust, shape, sight.wall_mm, unit
    )
    accepted = np.ones(len(strip.r_mm), dtype=bool)
    if judge_rows:
        accepted = _accept(levels[:, STEP], residual, strip)
        if accepted.sum() < min(MIN_ROWS, len(strip.r_mm)):
            return None
    noise = 1.4826 * float(np.median(np.abs(residual[accepted]))) + 0.3
    weights = strip.trust / (1 + (residual / (ROBUST_AT * noise)) ** 2)
    weights = weights * accepted[:, None] * sight.usual_ground / noise**2
    if judge_rows:
        seen = _Seen(residual, effect, weights, accepted)
        weights = weights * _steadiness(view, strip, seen)
    normal, scores = say_together(residual, effect, weights)
    return _Pass(normal, scores, levels, accepted, noise)


def _steadiness(view: DialView, strip: Strip, seen: "_Seen") -> Array:
    """Weights of rows, (rows, 1), by how far the stretch about them lies from the line."""
    by_offset = seen.effect[..., OFFSET]
    information = (seen.weights * by_offset**2).sum(axis=1)
    told = (seen.weights * seen.residual * by_offset).sum(axis=1)
    scale = view.px_per_mm
    shift_px = scale * told / np.maximum(information, 1e-12)
    return row_weights(strip.r_mm * scale, shift_px, information, seen.accepted)[:, None]


def _said(view: DialView, strip: Strip, shape: Array, last: _Pass, precision: Array) -> NeedleFit:
    scale, accepted = view.px_per_mm, last.accepted
    inverse = np.linalg.inv(last.normal + np.diag(precision))
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
        float(np.median(last.levels[accepted, STEP])),
        last.noise,
        float(shape[BLUR] * scale),
        float(shape[WIDTH]),
        offset_spread_mm(view),
        float(np.std(strip.r_mm[accepted]) * np.sqrt(12) * scale),
        int(accepted.sum()),
        strip,
        accepted,
        shape,
        spread,
    )


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
