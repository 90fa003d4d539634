"""The compiled fit of a needle in a frame: one bar with soft edges over a known ground.

What changes from frame to frame is free: direction, offset, and the levels of needle and ground.
Width, blur and the brightness of the side wall come with their priors. All nine are solved for
together by Gauss-Newton steps, each sample weighing by the noise and by how well its ground is
known.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

# ruff: noqa: PLR0912, PLR0915, PLR0917
# Compiled loops over plain arrays: they take what they need by place, and calls cost.

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.compiled import kernel
from needlewright.readings.shadow_kernel import shaded
from needlewright.readings.soft_edge import soft_step

Array = NDArray[np.float64]

SHAPE: Final = 9
ANGLE, OFFSET, WIDTH, BLUR, SIDE, NEEDLE, TAPER, GROUND, SLOPE = range(SHAPE)
"""Unknowns: the needle's level with its change toward the tip, what the ground's is off by with
its change sideways."""
TUNING: Final = 2.2
"""Residuals of so many standard deviations weigh half."""
SHADE_DOUBT: Final = 0.25
"""Share of its depth by which a shadow may be off."""
SATURATED: Final = 251.0

# What a fit says, by place in its answer, behind its nine unknowns.
(
    R_U_ANGLE,
    R_U_OFFSET,
    R_TOGETHER,
    R_ACCEPTED,
    R_STEP,
    R_NOISE,
    R_SPREAD,
    R_SECOND,
    R_OK,
    R_MIDDLE,
) = range(SHAPE, SHAPE + 10)
RESULT: Final = SHAPE + 10


@kernel
def _steepness(bare: Any, cols: Any) -> Any:
    """How fast the ground changes across the needle, per millimetre."""
    n, m = bare.shape
    slope = np.zeros((n, m))
    for i in range(n):
        for j in range(1, m - 1):
            slope[i, j] = (bare[i, j + 1] - bare[i, j - 1]) / (cols[j + 1] - cols[j - 1])
    return slope


@kernel
def _edges(wall: float, side: float) -> Any:
    """Three edges of the silhouette: way out, place beyond the top's edge, share, share by side."""
    edges = np.zeros((3, 4))
    if wall > 0:
        edges[:, 0] = np.array([-1.0, 1.0, 1.0])
        edges[:, 1] = np.array([0.0, 0.0, wall])
        edges[:, 2] = np.array([1.0, side - 1.0, -side])
        edges[:, 3] = np.array([0.0, 1.0, -1.0])
    else:
        edges[:, 0] = np.array([-1.0, -1.0, 1.0])
        edges[:, 1] = np.array([wall, 0.0, 0.0])
        edges[:, 2] = np.array([side, 1.0 - side, -1.0])
        edges[:, 3] = np.array([1.0, -1.0, 0.0])
    return edges


@kernel
def fit_bar(
    strip: Any,
    inside: Any,
    rows: Any,
    halves: Any,
    ends: Any,
    cols: Any,
    loss: Any,
    place: Any,
    usual: Any,
    precision: Any,
    largest: Any,
    wall: float,
    noise: float,
    passes: int,
) -> Any:
    """Fit a bar near the strip's axis.

    `strip` holds frame, bare ground and its doubt; `ends` how much of each row is needle, which
    falls off at its ends and under the hub; `usual` and `precision` the unknowns' prior, `largest`
    their largest steps; `loss` and `place` are the needle's shadow, as `shaded` takes it.
    """
    out = np.zeros(RESULT)
    light = strip[0]
    n, m = light.shape
    wide, reach = np.abs(cols).max(), np.abs(rows).max()
    shape = usual.copy()
    accepted = inside.copy()
    if accepted.sum() < 5:
        return out
    bare = shaded(strip[1], rows, cols, shape[OFFSET] + shape[ANGLE] * rows, loss, place)
    unsure = np.sqrt(strip[2] ** 2 + (SHADE_DOUBT * (strip[1] - bare)) ** 2)
    steep = _steepness(bare, cols)
    heights = np.zeros(n)
    contrasts = np.zeros(n)
    rough = np.zeros(n)
    by = np.empty(SHAPE)
    normal = np.zeros((SHAPE, SHAPE))
    gradient = np.zeros(SHAPE)
    for number in range(passes):
        last = number == passes - 1
        edges = _edges(wall, shape[SIDE])
        normal[:] = 0.0
        for k in range(SHAPE):
            normal[k, k] = precision[k]
            gradient[k] = -precision[k] * (shape[k] - usual[k])
        total_r2, total_n = 0.0, 0.0
        blur2 = shape[BLUR] * shape[BLUR]
        for i in range(n):
            if not inside[i]:
                continue
            half = halves[i] + shape[WIDTH] / 2
            axis = shape[OFFSET] + shape[ANGLE] * rows[i]
            level = shape[NEEDLE] + shape[TAPER] * rows[i] / reach
            seen, meant, contrast, r2, weight = 0.0, 0.0, 0.0, 0.0, 0.0
            for j in range(m):
                cover, edge, by_half, by_blur, by_side = 0.0, 0.0, 0.0, 0.0, 0.0
                for e in range(3):
                    z = (cols[j] - axis - edges[e, 0] * half - edges[e, 1]) / shape[BLUR]
                    past, dense = soft_step(z)
                    cover += edges[e, 2] * past
                    density = edges[e, 2] * dense / shape[BLUR]
                    edge -= density
                    by_half -= density * edges[e, 0]
                    by_blur -= density * z
                    by_side += edges[e, 3] * past
                cover *= ends[i]
                edge *= ends[i]
                by_half *= ends[i]
                by_blur *= ends[i]
                by_side *= ends[i]
                t = cols[j] / wide
                local = bare[i, j] + shape[GROUND] + shape[SLOPE] * t
                height = level - local
                # what is blurred is the needle over the ground, not each by itself
                seam = blur2 * edge * steep[i, j]
                residual = light[i, j] - local - cover * height - seam
                variance = noise * noise + unsure[i, j] * unsure[i, j]
                w = 1.0 / (variance + residual * residual / (TUNING * TUNING))
                if light[i, j] > SATURATED:
                    w *= 0.05
                trust = noise * noise / variance
                r2 += trust * min(residual * residual, 16 * variance)
                weight += trust
                seen += w * cover * height * (residual + cover * height)
                meant += w * cover * height * cover * height
                contrast += cover * height * cover
                if not accepted[i]:
                    continue
                by[ANGLE] = edge * rows[i] * height
                by[OFFSET] = edge * height
                by[WIDTH] = by_half * 0.5 * height
                by[BLUR] = by_blur * height
                by[SIDE] = by_side * height
                by[NEEDLE] = cover
                by[TAPER] = cover * rows[i] / reach
                by[GROUND] = 1.0 - cover
                by[SLOPE] = (1.0 - cover) * t
                for k in range(SHAPE):
                    wk = w * by[k]
                    gradient[k] += wk * residual
                    for q in range(k, SHAPE):
                        normal[k, q] += wk * by[q]
            rough[i] = (r2 / (weight + 1e-9)) ** 0.5
            heights[i] = seen / (meant + 1e-9)
            contrasts[i] = contrast
            if accepted[i]:
                total_r2 += r2
                total_n += weight
        for k in range(SHAPE):
            for q in range(k):
                normal[k, q] = normal[q, k]
        if last:
            break
        move = np.linalg.solve(normal, gradient)
        for k in range(SHAPE):
            shape[k] += min(max(move[k], -largest[k]), largest[k])
        shape[BLUR] = min(max(shape[BLUR], 0.4 * usual[BLUR]), 3.0 * usual[BLUR])
        shape[SIDE] = min(max(shape[SIDE], 0.0), 1.2)
        noise = max(0.5, (0.5 * noise * noise + 0.5 * total_r2 / (total_n + 1e-9)) ** 0.5)
        if number >= 1:
            usual_rough = np.median(rough[inside])
            typical = np.median(np.abs(contrasts[inside]))
            for i in range(n):
                plain = ends[i] < 0.8 or abs(contrasts[i]) < 0.35 * typical
                accepted[i] = (
                    inside[i]
                    and rough[i] < max(3.0 * usual_rough, 3.0 * noise)
                    and (plain or 0.4 < heights[i] < 1.9)
                )
            if accepted.sum() < 5:
                return out
    spread = np.linalg.inv(normal)
    count, mean, second, front, front_all = 0, 0.0, 0.0, 0, 0
    for i in range(n):
        if rows[i] > 0 and ends[i] >= 0.8:
            front_all += 1
        if accepted[i]:
            count += 1
            mean += rows[i]
            second += rows[i] * rows[i]
            if rows[i] > 0 and ends[i] >= 0.8:
                front += 1
    mean /= count
    out[:SHAPE] = shape
    out[R_U_ANGLE] = max(spread[ANGLE, ANGLE], 0.0) ** 0.5
    out[R_U_OFFSET] = max(spread[OFFSET, OFFSET], 0.0) ** 0.5
    out[R_TOGETHER] = spread[ANGLE, OFFSET]
    out[R_ACCEPTED] = front / max(front_all, 1)
    out[R_STEP] = shape[NEEDLE] - np.median(bare[inside].ravel()) - shape[GROUND]
    out[R_NOISE] = noise
    out[R_SPREAD] = max(second / count - mean * mean, 0.0) ** 0.5
    out[R_SECOND] = _line_of_centroids(
        light, bare, unsure, rows, halves, cols, accepted, shape, noise
    )
    out[R_MIDDLE] = mean
    out[R_OK] = 1.0
    return out


@kernel
def _line_of_centroids(
    light: Any,
    bare: Any,
    unsure: Any,
    rows: Any,
    halves: Any,
    cols: Any,
    accepted: Any,
    shape: Any,
    noise: float,
) -> float:
    """Direction of the line through the rows' centres of gravity.

    A second look that shares no edge model with the fit.
    """
    n, m = bare.shape
    wide = np.abs(cols).max()
    sw, sr, sc, srr, src = 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(n):
        if not accepted[i]:
            continue
        axis = shape[OFFSET] + shape[ANGLE] * rows[i]
        reach = halves[i] + 2.5 * shape[BLUR]
        mass, moment, error = 0.0, 0.0, 0.0
        for j in range(m):
            away = cols[j] - axis
            if abs(away) <= reach:
                local = bare[i, j] + shape[GROUND] + shape[SLOPE] * cols[j] / wide
                value = light[i, j] - local
                mass += value
                moment += value * away
                error += (noise * noise + unsure[i, j] ** 2) * away * away
        if abs(mass) < 1e-6:
            continue
        off = min(max(moment / mass, -reach), reach)
        w = mass * mass / (error + 1e-9)
        sw += w
        sr += w * rows[i]
        sc += w * off
        srr += w * rows[i] * rows[i]
        src += w * rows[i] * off
    bend = srr - sr * sr / (sw + 1e-12)
    if sw <= 0.0 or bend <= 1e-9:
        return float(shape[ANGLE])
    return float(shape[ANGLE] + (src - sr * sc / sw) / bend)
