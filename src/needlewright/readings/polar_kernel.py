"""The compiled part of looking for a needle: the dial over directions and radii.

Everything here works on plain arrays, because it is compiled by numba; `needle_search` packs and
unpacks them. Arrays of colours are (directions, radii, 3), BGR.

Source: docs/decisions/0006-compiled-kernels.md.
"""

from typing import Any, Final

import numpy as np

from needlewright.readings.compiled import kernel

LIGHTING: Final = 6
"""Unknowns of a channel's light: gain and offset, each with a slope across and down."""
ROBUST_PASSES: Final = 4
ROBUST_AT: Final = 2.0


@kernel
def light_of_print(photo: Any, art: Any, inside: Any, away: Any, stride: int) -> Any:
    """The print as this photo would show it: a gain and an offset that vary over the dial.

    Parameters
    ----------
    photo
        Colours of the photo, float32.
    art
        Colours of the artwork, float32.
    inside
        (directions, radii) where the photo was seen.
    away
        (directions, radii, 2) from the dial's centre, in times the largest.
    stride
        Every so many of the places seen are fitted.

    Returns
    -------
    NDArray
        The print's colours, float32.
    """
    directions, radii = inside.shape
    seen = inside.sum()
    count = (seen + stride - 1) // stride
    basis, target, here = np.empty((count, LIGHTING)), np.empty(count), np.empty(LIGHTING)
    shown = np.empty(photo.shape, np.float32)
    for channel in range(3):
        place = 0
        for i in range(directions):
            for j in range(radii):
                if not inside[i, j]:
                    continue
                if place % stride == 0:
                    x, y = away[i, j, 0], away[i, j, 1]
                    _light_basis(basis[place // stride], art[i, j, channel], x, y)
                    target[place // stride] = photo[i, j, channel]
                place += 1
        light = _fit_light(basis, target)
        for i in range(directions):
            for j in range(radii):
                _light_basis(here, art[i, j, channel], away[i, j, 0], away[i, j, 1])
                shown[i, j, channel] = _product(here, light)
    return shown


@kernel
def _fit_light(basis: Any, target: Any) -> Any:
    """Least squares with Cauchy weights."""
    count = len(target)
    residual, weights = np.empty(count), np.ones(count)
    normal, right = np.empty((LIGHTING, LIGHTING)), np.empty(LIGHTING)
    for _ in range(ROBUST_PASSES):
        normal[:] = 0.0
        right[:] = 0.0
        for n in range(count):
            for p in range(LIGHTING):
                share = weights[n] * basis[n, p]
                right[p] += share * target[n]
                for q in range(p + 1):
                    normal[p, q] += share * basis[n, q]
        _solve_held(normal, right)
        for n in range(count):
            residual[n] = target[n] - _product(basis[n], right)
        spread = 1.4826 * np.median(np.abs(residual)) + 0.5
        for n in range(count):
            weights[n] = 1 / (1 + (residual[n] / (ROBUST_AT * spread)) ** 2)
    return right


@kernel
def _product(a: Any, b: Any) -> Any:
    total = 0.0
    for p in range(LIGHTING):
        total += a[p] * b[p]
    return total


@kernel
def _light_basis(basis: Any, art: float, x: float, y: float) -> None:
    basis[0], basis[1], basis[2] = 1.0, x, y
    basis[3], basis[4], basis[5] = art / 255.0, art / 255.0 * x, art / 255.0 * y


@kernel
def _solve_held(normal: Any, right: Any) -> None:
    """Solve in place by Cholesky; what nothing was seen of (a blank print) is held at none."""
    size = len(right)
    for i in range(size):
        largest = normal[i, i]
        for j in range(i + 1):
            total = normal[i, j]
            for m in range(j):
                total -= normal[i, m] * normal[j, m]
            if i == j:
                normal[i, i] = np.sqrt(total) if total > 1e-9 * largest + 1e-12 else 0.0
            else:
                normal[i, j] = total / normal[j, j] if normal[j, j] > 0.0 else 0.0
    for i in range(size):
        for m in range(i):
            right[i] -= normal[i, m] * right[m]
        right[i] = right[i] / normal[i, i] if normal[i, i] > 0.0 else 0.0
    for i in range(size - 1, -1, -1):
        for m in range(i + 1, size):
            right[i] -= normal[m, i] * right[m]
        right[i] = right[i] / normal[i, i] if normal[i, i] > 0.0 else 0.0


@kernel
def bar_and_flanks(colours: Any, inside: Any, half: Any, near: Any, far: Any) -> Any:
    """Means over a needle-wide bar, left of it and right of it, for every direction and radius.

    Parameters
    ----------
    colours
        What the photo shows less the print, float32.
    inside
        (directions, radii) where the photo was seen.
    half
        (radii,) half the bar, in directions.
    near
        (radii,) where its flanks begin, in directions from its middle.
    far
        (radii,) where they end.

    Returns
    -------
    NDArray
        (3, directions, radii, 3): left, right and bar; NaN where less than half was seen.
    """
    directions, radii = inside.shape
    means = np.empty((3, directions, radii, 3))
    turns = directions + 2 * int(np.max(far)) + 1
    summed = np.empty((turns + 1, 4))
    pad = int(np.max(far)) + 1
    for j in range(radii):
        summed[0] = 0.0
        for n in range(turns):
            i = (n - pad) % directions
            summed[n + 1] = summed[n]
            if inside[i, j]:  # elsewhere the colours are no numbers
                for c in range(3):
                    summed[n + 1, c] += colours[i, j, c]
                summed[n + 1, 3] += 1.0
        for which in range(3):
            if which == 0:
                low, high = -far[j], -near[j]
            elif which == 1:
                low, high = near[j], far[j]
            else:
                low, high = -half[j], half[j]
            for i in range(directions):
                first, last = i + pad + low, i + pad + high + 1
                seen = summed[last, 3] - summed[first, 3]
                enough = seen > 0.5 * (high - low + 1)
                for c in range(3):
                    total = summed[last, c] - summed[first, c]
                    means[which, i, j, c] = total / seen if enough else np.nan
    return means


@kernel
def scores_along(means: Any, expected: Any) -> Any:
    """How strongly a bar of an expected colour lies in every direction.

    Parameters
    ----------
    means
        As `bar_and_flanks` gives it.
    expected
        (3,) unit direction in colour, BGR.

    Returns
    -------
    NDArray
        (directions,) mean step over the length, grey levels; each radius is counted only so far
        that none outweighs the rest.
    """
    _, directions, radii, _ = means.shape
    step = np.zeros((directions, radii))
    strongest = 1.0
    for i in range(directions):
        for j in range(radii):
            left = right = bar = 0.0
            for c in range(3):
                left += means[0, i, j, c] * expected[c]
                right += means[1, i, j, c] * expected[c]
                bar += means[2, i, j, c] * expected[c]
            least = bar - max(left, right)
            if np.isfinite(left) and np.isfinite(right) and np.isfinite(bar):
                step[i, j] = least
        strongest = max(strongest, np.median(step[i]))
    cap = 1.5 * strongest
    scores = np.empty(directions)
    for i in range(directions):
        total = 0.0
        for j in range(radii):
            total += min(max(step[i, j], -cap), cap)
        scores[i] = total / radii
    return scores


@kernel
def noise_of(colours: Any, inside: Any) -> Any:
    """Covariance of the noise, from neighbours along the radius; print and needle left out.

    Parameters
    ----------
    colours
        What the photo shows less the print, float32.
    inside
        (directions, radii) where the photo was seen.

    Returns
    -------
    NDArray
        (3, 3), grey levels squared.
    """
    directions, radii = inside.shape
    change, size = np.empty((directions * radii, 3)), np.empty(directions * radii)
    count = 0
    for i in range(directions):
        for j in range(radii - 1):
            if inside[i, j] and inside[i, j + 1]:
                total = 0.0
                for c in range(3):
                    change[count, c] = colours[i, j + 1, c] - colours[i, j, c]
                    total += change[count, c] ** 2
                size[count] = np.sqrt(total)
                count += 1
    covariance = np.zeros((3, 3))
    if count == 0:
        return covariance
    limit = 3 * np.median(size[:count]) + 1.0
    calm = 0
    for n in range(count):
        if size[n] <= limit:
            calm += 1
            for p in range(3):
                for q in range(3):
                    covariance[p, q] += change[n, p] * change[n, q]
    return covariance / (2 * max(calm, 1))
