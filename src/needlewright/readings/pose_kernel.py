"""The compiled part of registration: nine numbers and a dilation fitted to the edges found.

Everything here works on plain arrays, because it is compiled by numba; `registration` packs and
unpacks them. It calls no kernel of another module: numba would not notice a change there.

Source: derivation in docs/decisions/0002-registration.md.
"""

from typing import Any, Final

import numpy as np

from needlewright.readings.compiled import kernel
from needlewright.readings.sampling_kernel import LIKENESS, NORMAL_X, NORMAL_Y, SHIFT

ROBUST_PASSES: Final = 6
ROBUST_AT: Final = 2.0
MIN_SCATTER_PX: Final = 0.02
UNKNOWNS: Final = 10
"""Nine of the projection and the dilation."""
RADIAL, DILATION = 8, 9
DILATION_PRECISION: Final = 1e-3
HOMOGRAPHY_PRECISION: Final = 1e-9
"""Holds what no edge tells, and is nothing beside what edges tell."""


@kernel
def design_of(view: Any, tangent: Any, points: Any, found: Any, free_radial: bool) -> Any:
    """How every unknown moves every edge along its normal.

    Parameters
    ----------
    view
        The projection, `packed`.
    tangent
        (9, 8) basis of the steps of the homography: `Projection.tangent`.
    points
        (n, 2) edges on the face, mm.
    found
        (n, 4) as `look_along_normals` gives it.
    free_radial
        Whether the lens may bend.

    Returns
    -------
    NDArray
        (n, 10), pixels per unit of each unknown.
    """
    count = len(points)
    design = np.zeros((count, UNKNOWNS))
    by_matrix = np.empty(9)
    half, k = view[12], view[9]
    for e in range(count):
        x, y = points[e, 0], points[e, 1]
        depth = view[6] * x + view[7] * y + view[8]
        a = (view[0] * x + view[1] * y + view[2]) / depth
        b = (view[3] * x + view[4] * y + view[5]) / depth
        nx, ny = found[e, NORMAL_X] * half, found[e, NORMAL_Y] * half
        r2 = a * a + b * b
        along = 2 * k * (a * nx + b * ny)
        # Normal times bend: what a step of the ideal place is worth along the normal.
        ga, gb = (1 + k * r2) * nx + along * a, (1 + k * r2) * ny + along * b
        back = -(ga * a + gb * b)
        for c in range(3):
            h = (x if c == 0 else (y if c == 1 else 1.0)) / depth
            by_matrix[c], by_matrix[3 + c], by_matrix[6 + c] = ga * h, gb * h, back * h
        for p in range(8):
            total = 0.0
            for q in range(9):
                total += by_matrix[q] * tangent[q, p]
            design[e, p] = total
        if free_radial:
            design[e, RADIAL] = (nx * a + ny * b) * r2
        design[e, DILATION] = 1.0
    return design


@kernel
def _factor(matrix: Any) -> bool:
    """Cholesky factor in the lower triangle, in place; False if the matrix is not positive."""
    size = len(matrix)
    for i in range(size):
        for j in range(i + 1):
            total = matrix[i, j]
            for m in range(j):
                total -= matrix[i, m] * matrix[j, m]
            if i == j:
                if not total > 0.0:
                    return False
                matrix[i, i] = np.sqrt(total)
            else:
                matrix[i, j] = total / matrix[j, j]
    return True


@kernel
def _solve(factor: Any, right: Any) -> None:
    """Solve with a Cholesky factor, in place."""
    size = len(factor)
    for i in range(size):
        for m in range(i):
            right[i] -= factor[i, m] * right[m]
        right[i] /= factor[i, i]
    for i in range(size - 1, -1, -1):
        for m in range(i + 1, size):
            right[i] -= factor[m, i] * right[m]
        right[i] /= factor[i, i]


@kernel
def robust_step(design: Any, found: Any, radial: float, radial_spread: float) -> Any:
    """One robust least-squares step of the unknowns, with Cauchy weights.

    Parameters
    ----------
    design
        (n, 10) as `design_of` gives it.
    found
        (n, 4) as `look_along_normals` gives it.
    radial
        The radial term as it stands.
    radial_spread
        Standard deviation of its prior about none.

    Returns
    -------
    tuple
        Whether it succeeded, (10,) step, (10, 10) sandwich covariance, and the robust standard
        deviation of what is left, px.
    """
    count = len(design)
    shift, sizes = found[:, SHIFT].copy(), np.empty(count)
    solution, covariance = np.zeros(UNKNOWNS), np.zeros((UNKNOWNS, UNKNOWNS))
    factor, right = np.empty((UNKNOWNS, UNKNOWNS)), np.empty(UNKNOWNS)
    residual, weights = shift.copy(), np.empty(count)
    middle = np.median(shift)
    for e in range(count):
        sizes[e] = abs(shift[e] - middle)
    scatter = float(1.4826 * np.median(sizes) + MIN_SCATTER_PX)
    for _ in range(ROBUST_PASSES):
        for e in range(count):
            off = residual[e] / (ROBUST_AT * scatter)
            weights[e] = found[e, LIKENESS] * found[e, LIKENESS] / (1 + off * off)
        _normal_equations(design, weights, shift, factor, right)
        # The radial term is a lens's: its prior pulls toward none, from where it now stands.
        prior = (scatter / radial_spread) ** 2
        for i in range(8):
            factor[i, i] += HOMOGRAPHY_PRECISION
        factor[RADIAL, RADIAL] += prior
        factor[DILATION, DILATION] += DILATION_PRECISION
        right[RADIAL] -= radial * prior
        if not _factor(factor):
            return False, solution, covariance, scatter
        _solve(factor, right)
        solution[:] = right
        for e in range(count):
            told = 0.0
            for i in range(UNKNOWNS):
                told += design[e, i] * solution[i]
            residual[e] = shift[e] - told
            sizes[e] = abs(residual[e])
        scatter = max(float(1.4826 * np.median(sizes)), MIN_SCATTER_PX)
    for e in range(count):
        sizes[e] = weights[e] * weights[e] * residual[e] * residual[e]
    _sandwich(design, sizes, factor, covariance)
    return True, solution, covariance, scatter


@kernel
def _normal_equations(design: Any, weights: Any, shift: Any, matrix: Any, right: Any) -> None:
    """Lower triangle and right side of weighted least squares."""
    matrix[:] = 0.0
    right[:] = 0.0
    for e in range(len(design)):
        for i in range(UNKNOWNS):
            share = weights[e] * design[e, i]
            right[i] += share * shift[e]
            for j in range(i + 1):
                matrix[i, j] += share * design[e, j]


@kernel
def _sandwich(design: Any, squares: Any, factor: Any, covariance: Any) -> None:
    """Inverse x (design' squares design) x inverse, by solving for its columns twice.

    The matrix between is symmetric: its rows are its columns, and rows lie together in memory.
    """
    spread = np.zeros((UNKNOWNS, UNKNOWNS))
    for e in range(len(design)):
        for i in range(UNKNOWNS):
            for j in range(UNKNOWNS):
                spread[i, j] += squares[e] * design[e, i] * design[e, j]
    for i in range(UNKNOWNS):
        _solve(factor, spread[i])
    for i in range(UNKNOWNS):
        for j in range(UNKNOWNS):
            covariance[i, j] = spread[j, i]
    for i in range(UNKNOWNS):
        _solve(factor, covariance[i])
