"""The compiled part of measuring a jump: smooth motion on both sides of a gap, and a step between.

On each side a few frames; through all of them one polynomial of time, the same before and after,
and a step at the gap. Windows of many sizes are tried, because near a corner of the motion only
short ones are smooth.
"""

# ruff: noqa: PLR0912, PLR0917
# Compiled loops over plain arrays: they take what they need by place, and calls cost.

from typing import Any, Final

import numpy as np
from numba import njit

SIDES: Final = np.array(
    [
        (4, 4), (5, 5), (6, 6), (7, 7), (9, 9), (12, 12), (4, 6), (6, 4), (4, 9), (9, 4),
        (3, 6), (6, 3), (3, 9), (9, 3), (6, 9), (9, 6),
    ],
    dtype=np.int64,
)  # fmt: skip
"""Frames before and after a gap, in the windows that are tried."""

(S_STEP, S_U, S_CHI2, S_FREE, S_GAIN, S_RATE, S_RATE_BEFORE, S_RATE_AFTER) = range(8)
ANSWER: Final = 8
"""Step and its uncertainty; chi squared of the fit and its degrees of freedom; how much worse the
next higher polynomial fits without a step; rate at the gap; mean rates on either side."""

_SIDE_S: Final = 0.06
"""In less time than this a motor can do anything: it says nothing about its way."""
COLUMNS: Final = 6
"""Most columns of a fit."""


@njit(cache=True, nogil=True, error_model="numpy")
def fit(columns: Any, rows: int, m: int, y: Any, w: Any, out: Any) -> float:
    """Weighted least squares; fills `out` with coefficients and the last one's variance."""
    a = np.zeros((COLUMNS, COLUMNS))
    b = np.zeros(COLUMNS)
    for i in range(rows):
        for r in range(m):
            b[r] += w[i] * columns[i, r] * y[i]
            for c in range(r + 1):
                a[r, c] += w[i] * columns[i, r] * columns[i, c]
    for r in range(m):
        for c in range(r + 1):
            total = a[r, c]
            for k in range(c):
                total -= a[r, k] * a[c, k]
            if r == c:
                if total <= 1e-12:
                    return np.inf
                a[r, r] = np.sqrt(total)
            else:
                a[r, c] = total / a[c, c]
    for r in range(m):
        total = b[r]
        for k in range(r):
            total -= a[r, k] * b[k]
        b[r] = total / a[r, r]
    out[m] = 1.0 / a[m - 1, m - 1] ** 2
    for r in range(m - 1, -1, -1):
        total = b[r]
        for k in range(r + 1, m):
            total -= a[k, r] * b[k]
        b[r] = total / a[r, r]
        out[r] = b[r]
    chi2 = 0.0
    for i in range(rows):
        off = y[i]
        for r in range(m):
            off -= columns[i, r] * b[r]
        chi2 += w[i] * off * off
    return chi2


@njit(cache=True, nogil=True, error_model="numpy")
def step_at(
    t_s: Any, angle_deg: Any, u_deg: Any, last: int, first: int, before: int, after: int,
    degree: int, answer: Any,
) -> bool:  # fmt: skip
    """Measure a step between frames `last` and `first` with a window; False: it does not fit in."""
    low, high = last - before + 1, first + after - 1
    if low < 0 or high >= len(t_s):
        return False
    if t_s[last] - t_s[low] < _SIDE_S or t_s[high] - t_s[first] < _SIDE_S:
        return False
    rows = before + after
    centre = 0.5 * (t_s[last] + t_s[first])
    scale = 0.5 * (t_s[high] - t_s[low])
    columns = np.zeros((rows, COLUMNS))
    y, w, out = np.zeros(rows), np.zeros(rows), np.zeros(COLUMNS + 1)
    for n in range(rows):
        i = low + n if n < before else first + n - before
        x = (t_s[i] - centre) / scale
        y[n], w[n] = angle_deg[i], 1.0 / u_deg[i] ** 2
        columns[n, 0] = 1.0
        for r in range(1, degree + 1):
            columns[n, r] = columns[n, r - 1] * x
        columns[n, degree + 1] = 0.5 if n >= before else -0.5
    m = degree + 2
    chi2 = fit(columns, rows, m, y, w, out)
    if not np.isfinite(chi2):
        return False
    answer[S_STEP], answer[S_U] = out[m - 1], np.sqrt(out[m])
    answer[S_CHI2], answer[S_FREE] = chi2, rows - m
    answer[S_RATE] = out[1] / scale
    answer[S_RATE_BEFORE] = (angle_deg[last] - angle_deg[low]) / (t_s[last] - t_s[low])
    answer[S_RATE_AFTER] = (angle_deg[high] - angle_deg[first]) / (t_s[high] - t_s[first])
    for n in range(rows):
        columns[n, degree + 1] = columns[n, degree] * columns[n, 1]
    smooth = fit(columns, rows, m, y, w, out)
    answer[S_GAIN] = smooth - chi2
    return True
