"""The compiled part of following a needle: what every frame of a video goes through.

Everything here works on plain arrays, because it is compiled by numba; `following` packs and
unpacks them. A needle's plane lies over the face: its points are mapped to the frame by a
projection that holds the parallax, and to the face's print behind them by a similarity.

Source: derivation in docs/decisions/0016-following-a-needle.md.
"""

# ruff: noqa: PLR0912, PLR0915, PLR0917
# Compiled loops over plain arrays: they take what they need by place, and calls cost.

from math import cos, sin
from typing import Any, Final

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.special import ndtr

Array = NDArray[np.float64]

VIEW: Final = 17
"""Length of a packed view: matrix of the needle's plane (9), radial, centre (2), half diagonal,
parallax factor, parallax shift (2), bend limit."""
SHAPE: Final = 5
ANGLE, OFFSET, WIDTH, BLUR, SIDE = range(SHAPE)

_PER_SIGMA: Final = 64.0
_REACH: Final = 6.0
_STEPS = np.linspace(-_REACH, _REACH, int(2 * _REACH * _PER_SIGMA) + 1)
_PAST = np.ascontiguousarray(ndtr(_STEPS))
_DENSITY = np.ascontiguousarray(np.exp(-0.5 * _STEPS**2) / np.sqrt(2 * np.pi))

# What a fit says, by place in its answer.
(
    R_ANGLE,
    R_OFFSET,
    R_WIDTH,
    R_BLUR,
    R_SIDE,
    R_U_ANGLE,
    R_ACCEPTED,
    R_STEP,
    R_NOISE,
    R_SPREAD,
    R_ROWS,
    R_U_OFFSET,
    R_SECOND,
    R_INFO_WIDTH,
    R_INFO_BLUR,
    R_INFO_SIDE,
    R_OK,
    R_TOGETHER,
) = range(18)
RESULT: Final = 18


@njit(cache=True, nogil=True, inline="always")
def _between(picture: Any, x: float, y: float) -> float:
    """Bilinear value, or -1 outside the picture."""
    height, width = picture.shape
    if not (0.0 <= x < width - 1 and 0.0 <= y < height - 1):
        return -1.0
    i, j = int(x), int(y)
    a, b = x - i, y - j
    top = (1.0 - a) * picture[j, i] + a * picture[j, i + 1]
    low = (1.0 - a) * picture[j + 1, i] + a * picture[j + 1, i + 1]
    return float((1.0 - b) * top + b * low)


@njit(cache=True, nogil=True, inline="always")
def _in_frame(view: Any, x: float, y: float) -> tuple[float, float]:
    depth = view[6] * x + view[7] * y + view[8]
    a = (view[0] * x + view[1] * y + view[2]) / depth
    b = (view[3] * x + view[4] * y + view[5]) / depth
    bend = 1.0 + view[9] * min(a * a + b * b, view[16])
    return a * bend * view[12] + view[10], b * bend * view[12] + view[11]


@njit(cache=True, nogil=True)
def polar_difference(
    frame: Any, view: Any, ground: Any, place: Any, centre: Any, angles: Any, radii: Any
) -> Any:
    """Frame less bare face over directions and radii; NaN outside either."""
    out = np.empty((len(angles), len(radii)), np.float32)
    for i in range(len(angles)):
        s, c = sin(angles[i]), cos(angles[i])
        for j in range(len(radii)):
            x, y = centre[0] + radii[j] * s, centre[1] - radii[j] * c
            u, v = _in_frame(view, x, y)
            seen = _between(frame, u, v)
            behind_x = ((1.0 + view[13]) * x - view[14] - place[0]) * place[2]
            behind_y = ((1.0 + view[13]) * y - view[15] - place[1]) * place[2]
            bare = _between(ground, behind_x, behind_y)
            out[i, j] = seen - bare if seen >= 0.0 and bare > -0.5 else np.nan
    return out


@njit(cache=True, nogil=True)
def bar_scores(difference: Any, bars: Any, nears: Any, fars: Any, sign: float, cap: float) -> Any:
    """How much of a bar lies in every direction, grey levels; -1e9 where it cannot be judged.

    At each radius the mean over the bar's half width (columns of directions) less the greater of
    those beside it, each radius counted only so far that none outweighs the rest.
    """
    count, rows = difference.shape
    scores = np.full(count, -1e9)
    for i in range(count):
        total, used = 0.0, 0
        for j in range(rows):
            far, near, half = fars[j], nears[j], bars[j]
            if i - far < 0 or i + far >= count:
                continue
            bar, n_bar = 0.0, 0
            for d in range(-half, half + 1):
                value = difference[i + d, j]
                if not np.isnan(value):
                    bar += value
                    n_bar += 1
            left, n_left, right, n_right = 0.0, 0, 0.0, 0
            for d in range(near, far + 1):
                value = difference[i - d, j]
                if not np.isnan(value):
                    left += value
                    n_left += 1
                value = difference[i + d, j]
                if not np.isnan(value):
                    right += value
                    n_right += 1
            if n_bar == 0 or n_left == 0 or n_right == 0:
                continue
            bar /= n_bar
            step = min(sign * (bar - left / n_left), sign * (bar - right / n_right))
            total += min(max(step, -cap), cap)
            used += 1
        if used > rows // 2:
            scores[i] = total / used
    return scores


@njit(cache=True, nogil=True)
def _cut(
    frame: Any, view: Any, ground: Any, place: Any, centre: Any, angle: float, rows: Any, cols: Any
) -> Any:
    """The strip along a direction: frame, bare face, and whether a row lies inside both."""
    n, m = len(rows), len(cols)
    light, bare = np.empty((n, m)), np.empty((n, m))
    inside = np.ones(n, np.bool_)
    s, c = sin(angle), cos(angle)
    for i in range(n):
        for j in range(m):
            x = centre[0] + rows[i] * s + cols[j] * c
            y = centre[1] - rows[i] * c + cols[j] * s
            u, v = _in_frame(view, x, y)
            light[i, j] = _between(frame, u, v)
            behind_x = ((1.0 + view[13]) * x - view[14] - place[0]) * place[2]
            behind_y = ((1.0 + view[13]) * y - view[15] - place[1]) * place[2]
            bare[i, j] = _between(ground, behind_x, behind_y)
            if light[i, j] < 0.0 or bare[i, j] < -0.5:
                inside[i] = False
    return light, bare, inside


@njit(cache=True, nogil=True)
def _trust(bare: Any, light: Any, step: float, doubt: Any) -> Any:
    """Weight of each sample by its place: low on print edges, none where saturated."""
    n, m = bare.shape
    trust = np.empty((n, m))
    for i in range(n):
        middle = np.median(bare[i])
        for j in range(m):
            low, high = max(j - 1, 0), min(j + 1, m - 1)
            edge = (bare[i, high] - bare[i, low]) / (high - low) * doubt[0]
            level = (bare[i, j] - middle) * doubt[1]
            trust[i, j] = 1.0 / (1.0 + (edge * edge + level * level) / (step * step))
            if light[i, j] > 251.0:
                trust[i, j] *= 0.05
    return trust


@njit(cache=True, nogil=True, inline="always")
def _soft_step(z: float) -> tuple[float, float]:
    at = (z + _REACH) * _PER_SIGMA
    if at <= 0.0:
        return 0.0, 0.0
    if at >= 2 * _REACH * _PER_SIGMA:
        return 1.0, 0.0
    k = int(at)
    part = at - k
    past = _PAST[k] + part * (_PAST[k + 1] - _PAST[k])
    density = _DENSITY[k] + part * (_DENSITY[k + 1] - _DENSITY[k])
    return past, density


@njit(cache=True, nogil=True)
def _solve3(a: Any, b: Any) -> Any:
    """Solve a symmetric 3 x 3 system for several right sides by elimination."""
    m = a.copy()
    x = b.copy()
    for k in range(3):
        pivot = m[k, k]
        for i in range(3):
            if i != k:
                factor = m[i, k] / pivot
                for j in range(k, 3):
                    m[i, j] -= factor * m[k, j]
                for j in range(x.shape[1]):
                    x[i, j] -= factor * x[k, j]
    for k in range(3):
        for j in range(x.shape[1]):
            x[k, j] /= m[k, k]
    return x


@njit(cache=True, nogil=True)
def fit_bar(
    frame: Any,
    view: Any,
    ground: Any,
    place: Any,
    centre: Any,
    angle: float,
    rows: Any,
    halves: Any,
    cols: Any,
    usual: Any,
    precision: Any,
    largest: Any,
    wall: float,
    noise: float,
    step: float,
    doubt: Any,
    passes: int,
) -> Any:
    """Fit direction, offset, width, blur and side of a bar near a direction (radians).

    The levels of every row (ground, its slope, needle) are free; `usual` and `precision` are the
    shape's prior; `step` the needle's step over its ground (signed) as known so far.
    """
    out = np.zeros(RESULT)
    light, bare, inside = _cut(frame, view, ground, place, centre, angle, rows, cols)
    n, m = light.shape
    wide = np.abs(cols).max()
    trust = _trust(bare, light, 0.06 * abs(step) + 0.2, doubt)
    shape = usual.copy()
    shape[ANGLE] = 0.0
    accepted = inside.copy()
    if accepted.sum() < 6:
        return out
    heights = np.zeros(n)
    rough = np.zeros(n)
    cover = np.empty(m)
    by = np.empty((m, SHAPE))
    edge_way = np.empty(3)
    edge_beyond = np.empty(3)
    edge_share = np.empty(3)
    edge_side = np.empty(3)
    normal = np.zeros((SHAPE, SHAPE))
    for number in range(passes):
        side = shape[SIDE]
        if wall > 0:
            edge_way[:] = np.array([-1.0, 1.0, 1.0])
            edge_beyond[:] = np.array([0.0, 0.0, wall])
            edge_share[:] = np.array([1.0, side - 1.0, -side])
            edge_side[:] = np.array([0.0, 1.0, -1.0])
        else:
            edge_way[:] = np.array([-1.0, -1.0, 1.0])
            edge_beyond[:] = np.array([wall, 0.0, 0.0])
            edge_share[:] = np.array([side, 1.0 - side, -1.0])
            edge_side[:] = np.array([1.0, -1.0, 0.0])
        normal[:] = 0.0
        for k in range(SHAPE):
            normal[k, k] = precision[k]
        gradient = -precision * (shape - usual)
        total_r2, total_w = 0.0, 0.0
        for i in range(n):
            if not inside[i]:
                continue
            half = halves[i] + shape[WIDTH] / 2
            axis = shape[OFFSET] + shape[ANGLE] * rows[i]
            bb = np.zeros((3, 3))
            right = np.zeros((3, SHAPE + 1))
            for j in range(m):
                cover[j] = 0.0
                for k in range(SHAPE):
                    by[j, k] = 0.0
                for e in range(3):
                    z = (cols[j] - axis - edge_way[e] * half - edge_beyond[e]) / shape[BLUR]
                    past, dense = _soft_step(z)
                    cover[j] += edge_share[e] * past
                    density = edge_share[e] * dense / shape[BLUR]
                    by[j, ANGLE] -= density * rows[i]
                    by[j, OFFSET] -= density
                    by[j, WIDTH] -= density * edge_way[e] * 0.5
                    by[j, BLUR] -= density * z
                    by[j, SIDE] += edge_side[e] * past
                clear = 1.0 - cover[j]
                b1 = clear * cols[j] / wide
                w = trust[i, j]
                target = light[i, j] - clear * bare[i, j]
                bb[0, 0] += w * clear * clear
                bb[0, 1] += w * clear * b1
                bb[0, 2] += w * clear * cover[j]
                bb[1, 1] += w * b1 * b1
                bb[1, 2] += w * b1 * cover[j]
                bb[2, 2] += w * cover[j] * cover[j]
                right[0, SHAPE] += w * clear * target
                right[1, SHAPE] += w * b1 * target
                right[2, SHAPE] += w * cover[j] * target
            bb[1, 0], bb[2, 0], bb[2, 1] = bb[0, 1], bb[0, 2], bb[1, 2]
            for k in range(3):
                bb[k, k] += 1e-6
            bb[1, 1] += 0.02 * m
            levels = _solve3(bb, right[:, SHAPE:].copy())
            g0, g1, needle = levels[0, 0], levels[1, 0], levels[2, 0]
            # second sweep: robust weights, effects, and what the free levels can mimic of them
            bb[:] = 0.0
            right[:] = 0.0
            xx = np.zeros((SHAPE, SHAPE))
            xr = np.zeros(SHAPE)
            r2, w_row = 0.0, 0.0
            behind = 0.0
            for j in range(m):
                clear = 1.0 - cover[j]
                t = cols[j] / wide
                b1 = clear * t
                local = g0 + g1 * t + bare[i, j]
                residual = light[i, j] - clear * local - cover[j] * needle
                behind += local * cover[j]
                scaled = residual / (2.2 * noise)
                w = trust[i, j] / (1.0 + scaled * scaled)
                r2 += trust[i, j] * residual * residual
                w_row += trust[i, j]
                height = needle - local
                bb[0, 0] += w * clear * clear
                bb[0, 1] += w * clear * b1
                bb[0, 2] += w * clear * cover[j]
                bb[1, 1] += w * b1 * b1
                bb[1, 2] += w * b1 * cover[j]
                bb[2, 2] += w * cover[j] * cover[j]
                right[0, SHAPE] += w * clear * residual
                right[1, SHAPE] += w * b1 * residual
                right[2, SHAPE] += w * cover[j] * residual
                for k in range(SHAPE):
                    effect = by[j, k] * height
                    right[0, k] += w * clear * effect
                    right[1, k] += w * b1 * effect
                    right[2, k] += w * cover[j] * effect
                    xr[k] += w * effect * residual
                    for q in range(k, SHAPE):
                        xx[k, q] += w * effect * by[j, q] * height
            rough[i] = (r2 / (w_row + 1e-6)) ** 0.5
            heights[i] = needle - behind / (cover.sum() + 1e-9)
            if not accepted[i]:
                continue
            bb[1, 0], bb[2, 0], bb[2, 1] = bb[0, 1], bb[0, 2], bb[1, 2]
            for k in range(3):
                bb[k, k] += 1e-6
            bb[1, 1] += 0.02 * m
            mimic = _solve3(bb, right)
            for k in range(SHAPE):
                value = xr[k]
                for a in range(3):
                    value -= right[a, k] * mimic[a, SHAPE]
                gradient[k] += value / (noise * noise)
                for q in range(k, SHAPE):
                    value = xx[k, q]
                    for a in range(3):
                        value -= right[a, k] * mimic[a, q]
                    normal[k, q] += value / (noise * noise)
            total_r2 += min(r2, 9 * noise * noise * w_row)
            total_w += w_row
        for k in range(SHAPE):
            for q in range(k):
                normal[k, q] = normal[q, k]
        if number == passes - 1:
            break
        move = np.linalg.solve(normal, gradient)
        for k in range(SHAPE):
            shape[k] += min(max(move[k], -largest[k]), largest[k])
        shape[BLUR] = min(max(shape[BLUR], 0.4 * usual[BLUR]), 3.0 * usual[BLUR])
        shape[SIDE] = min(max(shape[SIDE], 0.0), 1.2)
        if total_w > 0:
            noise = max(0.5, (0.5 * noise * noise + 0.5 * total_r2 / total_w) ** 0.5)
        if number >= 1:
            usual_rough = np.median(rough[inside])
            typical = np.median(heights[inside])
            if typical * step <= 0:
                return out
            for i in range(n):
                share = heights[i] / typical
                accepted[i] = (
                    inside[i]
                    and 0.4 < share < 2.5
                    and rough[i] < max(3.0 * usual_rough, 0.25 * abs(typical))
                    and trust[i].mean() > 0.2
                )
            if accepted.sum() < 6:
                return out
    spread = np.linalg.inv(normal)
    mean, second = 0.0, 0.0
    count = 0
    front, front_all = 0, 0
    for i in range(n):
        if rows[i] > 0:
            front_all += 1
        if accepted[i]:
            count += 1
            mean += rows[i]
            second += rows[i] * rows[i]
            if rows[i] > 0:
                front += 1
    mean /= count
    out[R_ANGLE] = angle + shape[ANGLE]
    out[R_OFFSET] = shape[OFFSET]
    out[R_WIDTH] = shape[WIDTH]
    out[R_BLUR] = shape[BLUR]
    out[R_SIDE] = shape[SIDE]
    out[R_U_ANGLE] = max(spread[ANGLE, ANGLE], 0.0) ** 0.5
    out[R_U_OFFSET] = max(spread[OFFSET, OFFSET], 0.0) ** 0.5
    out[R_TOGETHER] = spread[ANGLE, OFFSET]
    out[R_ACCEPTED] = front / max(front_all, 1)
    out[R_STEP] = np.median(heights[accepted])
    out[R_NOISE] = noise
    out[R_SPREAD] = max(second / count - mean * mean, 0.0) ** 0.5
    out[R_ROWS] = count
    out[R_INFO_WIDTH] = normal[WIDTH, WIDTH]
    out[R_INFO_BLUR] = normal[BLUR, BLUR]
    out[R_INFO_SIDE] = normal[SIDE, SIDE]
    out[R_SECOND] = _line_of_centroids(light, bare, rows, halves, cols, accepted, shape, trust)
    out[R_SECOND] += angle
    out[R_OK] = 1.0
    return out


@njit(cache=True, nogil=True)
def _line_of_centroids(
    light: Any,
    bare: Any,
    rows: Any,
    halves: Any,
    cols: Any,
    accepted: Any,
    shape: Any,
    trust: Any,
) -> float:
    """Direction of the line through the rows' centres of gravity, by the same offset's prior.

    A second look that shares no edge model with the fit.
    """
    n, m = light.shape
    sw, sr, sc, srr, src = 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(n):
        if not accepted[i]:
            continue
        axis = shape[OFFSET] + shape[ANGLE] * rows[i]
        reach = halves[i] + 2.5 * shape[BLUR]
        ground, flank = 0.0, 0.0
        for j in range(m):
            if abs(cols[j] - axis) > reach:
                ground += trust[i, j] * (light[i, j] - bare[i, j])
                flank += trust[i, j]
        ground /= flank + 1e-9
        mass, moment = 0.0, 0.0
        for j in range(m):
            away = abs(cols[j] - axis)
            if away <= reach:
                value = light[i, j] - bare[i, j] - ground
                mass += value
                moment += value * (cols[j] - axis)
        if abs(mass) < 1e-6:
            continue
        off = min(max(moment / mass, -reach), reach)
        sw += 1.0
        sr += rows[i]
        sc += off
        srr += rows[i] * rows[i]
        src += rows[i] * off
    if sw < 3.0:
        return float(shape[ANGLE])
    bend = srr - sr * sr / sw
    return float(shape[ANGLE] + (src - sr * sc / sw) / (bend + 1e-9))
