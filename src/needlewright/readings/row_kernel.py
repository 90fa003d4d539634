"""The compiled part of the needle's fit: every row explained, and what the rows say together.

Everything here works on plain arrays, because it is compiled by numba; `needle_fit` packs and
unpacks them. It calls no kernel of another module: numba would not notice a change there.

Source: derivation in docs/decisions/0004-needle-fit.md.
"""

# ruff: noqa: PLR0917
# Compiled loops over plain arrays: they take what they need by place.

import math
from typing import Any, Final

import numpy as np

from needlewright.readings.compiled import kernel

GROUND, SLOPE, STEP = range(3)
"""Columns of a row's levels: ground, its slope over half the strip, and the step to the needle."""
FAR: Final = 5.0
"""Blurs beyond which an edge is all there or not there."""
LITTLE: Final = 1e-6
ROOT_TWO: Final = math.sqrt(2.0)
ROOT_TWO_PI: Final = math.sqrt(2.0 * math.pi)


@kernel
def _edges(wall_mm: Any, side: Any) -> Any:
    """Edges, left to right: side of the axis, beyond it, rise of cover, and that by the side."""
    edges = np.zeros((3, 4))
    if wall_mm > 0:
        edges[0, 0], edges[0, 2] = -1.0, 1.0
        edges[1, 0], edges[1, 2], edges[1, 3] = 1.0, side - 1.0, 1.0
        edges[2, 0], edges[2, 1], edges[2, 2], edges[2, 3] = 1.0, wall_mm, -side, -1.0
    else:
        edges[0, 0], edges[0, 1], edges[0, 2], edges[0, 3] = -1.0, wall_mm, side, 1.0
        edges[1, 0], edges[1, 2], edges[1, 3] = -1.0, 1.0 - side, -1.0
        edges[2, 0], edges[2, 2] = 1.0, -1.0
    return edges


@kernel
def _cover(t_mm: Any, axis_mm: Any, half_mm: Any, blur_mm: Any, edges: Any) -> Any:
    """Cover of a place, and its derivatives by the side, offset, half width and blur."""
    cover, by_side, by_offset, by_half, by_blur = 0.0, 0.0, 0.0, 0.0, 0.0
    for k in range(3):
        z = (t_mm - axis_mm - edges[k, 0] * half_mm - edges[k, 1]) / blur_mm
        if z < -FAR:
            continue
        past, density = 1.0, 0.0
        if z < FAR:
            past = 0.5 * math.erfc(-z / ROOT_TWO)
            density = edges[k, 2] * math.exp(-0.5 * z * z) / ROOT_TWO_PI / blur_mm
        cover += edges[k, 2] * past
        by_side += edges[k, 3] * past
        by_offset -= density
        by_half -= density * edges[k, 0]
        by_blur -= density * z
    return cover, by_side, by_offset, by_half, by_blur


@kernel
def _draw_row(
    place: Any, t_mm: Any, shape: Any, edges: Any, unit: Any, base: Any, effect: Any
) -> None:
    """Fill in a row's base (ground, slope, needle, and unevenness) and the shape's effects."""
    r, along = place[0], abs(place[0])
    half = place[1] + (shape[2] + (shape[4] if r < 0 else shape[3] * along)) / 2
    axis = shape[1] + shape[0] * r
    reach = max(abs(t_mm[0]), abs(t_mm[-1]))
    for j in range(len(t_mm)):
        cover, by_side, by_offset, by_half, by_blur = _cover(t_mm[j], axis, half, shape[5], edges)
        clear = 1.0 - cover
        uneven = unit * clear * (1.0 if t_mm[j] > axis else -1.0)
        base[j, 0], base[j, 1], base[j, 2], base[j, 3] = 1.0, clear * t_mm[j] / reach, cover, uneven
        effect[j, 0], effect[j, 1], effect[j, 2] = by_offset * r, by_offset, by_half * 0.5
        effect[j, 3] = 0.0 if r < 0 else by_half * along / 2
        effect[j, 4] = by_half * 0.5 if r < 0 else 0.0
        effect[j, 5], effect[j, 6] = by_blur, by_side
        effect[j, 7], effect[j, 8] = uneven, uneven * place[2]


@kernel
def _free(base: Any, seen: Any, trust: Any, effect: Any) -> None:
    """Take from what is seen, and from every effect, what the row's free levels explain."""
    columns, count = effect.shape
    normal, inverse = np.zeros((3, 3)), np.zeros((3, 3))
    aside = np.zeros((3, count + 1))
    for j in range(columns):
        for a in range(3):
            heavy = max(trust[j], LITTLE) * base[j, a]
            aside[a, count] += heavy * seen[j]
            for k in range(count):
                aside[a, k] += heavy * effect[j, k]
            for b in range(3):
                normal[a, b] += heavy * base[j, b]
    for a in range(3):
        normal[a, a] += LITTLE
    inverse[:] = np.linalg.inv(normal)
    mimicked = inverse @ aside
    for j in range(columns):
        for a in range(3):
            seen[j] -= base[j, a] * mimicked[a, count]
            for k in range(count):
                effect[j, k] -= base[j, a] * mimicked[a, k]


@kernel
def _levels(base: Any, seen: Any, trust: Any) -> Any:
    """The row's free levels: ground, its slope over half the strip, step to the needle."""
    normal, aside = np.zeros((3, 3)), np.zeros(3)
    for j in range(len(seen)):
        for a in range(3):
            heavy = max(trust[j], LITTLE) * base[j, a]
            aside[a] += heavy * seen[j]
            for b in range(3):
                normal[a, b] += heavy * base[j, b]
    for a in range(3):
        normal[a, a] += LITTLE
    return np.linalg.solve(normal, aside)


@kernel
def explain_rows(
    at: Any, t_mm: Any, light: Any, drawn: Any, trust: Any, shape: Any, wall_mm: Any, unit: Any
) -> Any:
    """Explain each row as ground, needle, the needle's side, and ground.

    Three soft edges bound the needle: the two of its top, and the foot of the side that an
    oblique view shows. The levels of each row are solved for, and what they can mimic is taken
    out of the shape's effects (variable projection).

    Parameters
    ----------
    at
        (rows, 3): distance from the centre along the needle in mm, negative on the tail; half
        the needle's nominal width there in mm; distance from the needle's middle as a share of
        its length.
    t_mm
        (columns,) sideways distances.
    light
        (rows, columns) the photo.
    drawn
        (rows, columns) the print there, less its median in the row.
    trust
        (rows, columns) weights.
    shape
        (9,) as in `needle_shape`.
    wall_mm
        How far the side shows beyond the top, positive on the + side.
    unit
        The needle's usual step, in which unevenness is measured.

    Returns
    -------
    tuple
        (rows, 3) levels, (rows, columns) residuals, (rows, columns, 9) effects of the shape.
    """
    rows, columns = light.shape
    levels = np.zeros((rows, 3))
    residual = np.zeros((rows, columns))
    effect = np.zeros((rows, columns, 9))
    base = np.zeros((columns, 4))
    edges = _edges(wall_mm, shape[6])
    reach = max(abs(t_mm[0]), abs(t_mm[-1]))
    for i in range(rows):
        _draw_row(at[i], t_mm, shape, edges, unit, base, effect[i])
        lighter = shape[7] + shape[8] * at[i, 2]
        for j in range(columns):
            clear = base[j, 0] - base[j, 2]
            residual[i, j] = light[i, j] - clear * drawn[i, j] - base[j, 3] * lighter
        levels[i] = _levels(base, residual[i], trust[i])
        for j in range(columns):
            height = levels[i, 2] - levels[i, 1] * t_mm[j] / reach - drawn[i, j]
            for k in range(7):
                effect[i, j, k] *= height
        _free(base, residual[i], trust[i], effect[i])
    return levels, residual, effect


@kernel
def say_together(residual: Any, effect: Any, weights: Any) -> Any:
    """The normal matrix of all samples, and each row's score.

    Parameters
    ----------
    residual
        (rows, columns).
    effect
        (rows, columns, 9).
    weights
        (rows, columns), over the noise's variance.

    Returns
    -------
    tuple
        (9, 9) normal matrix, (rows, 9) scores.
    """
    rows, columns, count = effect.shape
    normal = np.zeros((count, count))
    scores = np.zeros((rows, count))
    for i in range(rows):
        for j in range(columns):
            weight = weights[i, j]
            if weight <= 0.0:
                continue
            told = weight * residual[i, j]
            for a in range(count):
                scores[i, a] += told * effect[i, j, a]
                heavy = weight * effect[i, j, a]
                for b in range(a + 1):
                    normal[a, b] += heavy * effect[i, j, b]
    for a in range(count):
        for b in range(a):
            normal[b, a] = normal[a, b]
    return normal, scores
