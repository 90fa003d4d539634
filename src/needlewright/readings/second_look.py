"""A second, independent estimate of the direction, to catch what would fool the first.

It shares neither model nor colours with the fit: brightness alone, the steepest places to the
left and to the right of the axis in short stretches of the needle, their middles, and a robust
line through those.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.dial_view import DialView
from needlewright.readings.needle_fit import NeedleFit
from needlewright.readings.projection import Array

STRETCH_PX: Final = 4.0
MIN_STRETCHES: Final = 4
PASSES: Final = 6


@dataclass(frozen=True, slots=True)
class SecondLook:
    """What the second estimate says.

    Parameters
    ----------
    angle_deg, u_angle_deg
        Direction, and its standard uncertainty from the scatter of the middles.
    stretches
        How many stretches it rests on.
    """

    angle_deg: float
    u_angle_deg: float
    stretches: int


def look_again(view: DialView, fit: NeedleFit) -> SecondLook | None:
    """Estimate the direction once more.

    Parameters
    ----------
    view
        The dial.
    fit
        The first estimate: where to look, and on which rows.

    Returns
    -------
    SecondLook | None
        None when too few stretches show both edges.
    """
    strip = fit.strip
    points = view.along_needle(strip.angle_deg, strip.r_mm[:, None], strip.t_mm[None, :])
    colours = np.nan_to_num(view.photo_at(points).astype(np.float64))
    sums = colours.sum(axis=2) / 3
    # The channel in which the needle stands out most: brightness when it does in all of them.
    steps = [_contrast(channel, fit) for channel in (sums, *np.moveaxis(colours, 2, 0))]
    best = int(np.argmax(np.abs(steps)))
    light = (sums, *np.moveaxis(colours, 2, 0))[best] * np.sign(steps[best])
    r, middle, weight = _middles(light, view, fit)
    if len(r) < MIN_STRETCHES:
        return None
    return _line(r, middle, weight, strip.angle_deg)


def _axis(fit: NeedleFit) -> Array:
    return np.asarray(fit.shape[1] + fit.shape[0] * fit.strip.r_mm)


def _contrast(light: Array, fit: NeedleFit) -> float:
    away = np.abs(fit.strip.t_mm[None] - _axis(fit)[:, None])
    reach = float(np.abs(fit.strip.t_mm).max())
    rows = fit.accepted_rows[:, None]
    inside, outside = (away < 0.25 * reach) & rows, (away > 0.75 * reach) & rows
    return float(light[inside].mean() - light[outside].mean())


def _middles(light: Array, view: DialView, fit: NeedleFit) -> tuple[Array, Array, Array]:
    """Middle between the steepest rise and the steepest fall, stretch by stretch."""
    strip, scale = fit.strip, view.px_per_mm
    t, r = strip.t_mm, strip.r_mm
    row_px = float(abs(r[-1] - r[-2])) * scale
    length = max(1, round(STRETCH_PX / row_px))
    found: list[tuple[float, float, float]] = []
    axis = _axis(fit)
    for start in range(0, len(r) - length + 1, length):
        rows = slice(start, start + length)
        if not fit.accepted_rows[rows].all() or np.ptp(r[rows]) > 2 * length * row_px / scale:
            continue
        slope = np.gradient(light[rows].mean(axis=0), t)
        half = view.dial.needle.width_at(float(r[rows].mean())) / 2 + 1.0 / scale
        centre = float(axis[rows].mean())
        near = np.abs(t - centre) < half + 2.0 / scale
        left = _steepest(t, slope, near & (t < centre))
        right = _steepest(t, -slope, near & (t > centre))
        if left is None or right is None:
            continue
        found.append((float(r[rows].mean()), (left + right) / 2, 1.0))
    table = np.array(found).reshape(-1, 3)
    return table[:, 0], table[:, 1], table[:, 2]


def _steepest(t: Array, slope: Array, where: NDArray[np.bool_]) -> float | None:
    """Centre of gravity of the slope about its peak."""
    index = np.flatnonzero(where)
    if len(index) < 3:
        return None
    peak = index[int(np.argmax(slope[index]))]
    if slope[peak] <= 0 or peak in (0, len(t) - 1):
        return None
    around = slice(max(peak - 2, 0), peak + 3)
    weights = np.maximum(slope[around], 0.0)
    return float((weights * t[around]).sum() / weights.sum())


def _line(r: Array, middle: Array, weight: Array, along_deg: float) -> SecondLook:
    """Robust line through the middles (Cauchy weights); returns its direction."""
    design = np.stack([r, np.ones_like(r)], axis=1)
    weights = weight
    for _ in range(PASSES):
        normal = design.T @ (weights[:, None] * design)
        slope, start = np.linalg.solve(normal, design.T @ (weights * middle))
        residual = middle - design @ np.array([slope, start])
        spread = 1.4826 * float(np.median(np.abs(residual))) + 1e-3
        weights = weight / (1 + (residual / (2 * spread)) ** 2)
    variance = float((weights * residual**2).sum() / max(weights.sum() - 2, 1.0))
    u = float(np.degrees(np.sqrt(variance * np.linalg.inv(normal)[0, 0])))
    return SecondLook(along_deg + float(np.degrees(np.arctan(slope))), u, len(r))
