"""The compiled part of asking whether a sound motor could have moved so, without any slip.

Two things look like a step where frames are few: a bend, where speed and acceleration change once,
and a dip, where the motor slows down and goes on as before, having lost some way. A dip that loses
a way s in a time T needs an acceleration of 4 s / T^2, and more where it stays slow for a while:
a motor that cannot give it did not dip.
"""

# ruff: noqa: PLR0917
# Compiled loops over plain arrays: they take what they need by place, and calls cost.

from typing import Any, Final

import numpy as np
from numba import njit

from needlewright.findings.step_kernel import COLUMNS, fit

_PARTS: Final = 5
_MIDDLES: Final = 15
_WIDTHS: Final = 12
_LONGEST_S: Final = 0.24
_RESTS = np.array([0.0, 0.4])
"""Shares of a dip in which the motor neither brakes nor accelerates."""


@njit(cache=True, nogil=True, error_model="numpy")
def _window(
    t_s: Any, angle_deg: Any, u_deg: Any, last: int, first: int, before: int, after: int
) -> Any:
    """Times from the gap's middle, angles and weights of a window, one row each."""
    rows = np.zeros((3, before + after))
    centre = 0.5 * (t_s[last] + t_s[first])
    for n in range(before + after):
        i = last - before + 1 + n if n < before else first + n - before
        rows[0, n], rows[1, n], rows[2, n] = t_s[i] - centre, angle_deg[i], 1.0 / u_deg[i] ** 2
    return rows


@njit(cache=True, nogil=True, error_model="numpy")
def bend_chi2(
    t_s: Any, angle_deg: Any, u_deg: Any, last: int, first: int, before: int, after: int
) -> float:
    """Chi squared of the best two parabolas that meet somewhere in the window."""
    window = _window(t_s, angle_deg, u_deg, last, first, before, after)
    x, y, w = window[0] / window[0, -1], window[1], window[2]
    rows = before + after
    columns, out = np.zeros((rows, COLUMNS)), np.zeros(COLUMNS + 1)
    best = np.inf
    for gap in range(rows - 1):
        for part in range(_PARTS):
            at = x[gap] + (x[gap + 1] - x[gap]) * (part + 0.5) / _PARTS
            for n in range(rows):
                past = max(0.0, x[n] - at)
                columns[n, 0], columns[n, 1], columns[n, 2] = 1.0, x[n], x[n] * x[n]
                columns[n, 3], columns[n, 4] = past, past * past
            best = min(best, fit(columns, rows, 5, y, w, out))
    return best


@njit(cache=True, nogil=True, error_model="numpy")
def dip_chi2(
    t_s: Any, angle_deg: Any, u_deg: Any, last: int, first: int, before: int, after: int,
    degree: int, step_deg: float, most_deg_s2: float,
) -> float:  # fmt: skip
    """Chi squared of the best dip near the gap that a motor of that acceleration can make."""
    window = _window(t_s, angle_deg, u_deg, last, first, before, after)
    scale = window[0, -1]
    x, y, w = window[0] / scale, window[1], window[2]
    rows = before + after
    columns, out = np.zeros((rows, COLUMNS)), np.zeros(COLUMNS + 1)
    shortest = 2.0 * np.sqrt(0.7 * abs(step_deg) / most_deg_s2)
    longest = max(_LONGEST_S, 2.0 * shortest)
    reach = 0.5 * (t_s[first] - t_s[last]) + 0.5 * shortest
    best = np.inf
    for rests in _RESTS:
        # one that stays slow for a while needs more acceleration, or more time
        longer = 1.0 / np.sqrt(1.0 - rests * rests)
        for width in range(_WIDTHS):
            half = longer * 0.5 * shortest * (longest / shortest) ** (width / (_WIDTHS - 1.0))
            half /= scale
            slow = rests * half
            for middle in range(_MIDDLES):
                at = reach / scale * (2.0 * middle / (_MIDDLES - 1.0) - 1.0)
                for n in range(rows):
                    columns[n, 0] = 1.0
                    for r in range(1, degree + 1):
                        columns[n, r] = columns[n, r - 1] * x[n]
                    begun, slowed = max(0.0, x[n] - at + half), max(0.0, x[n] - at + slow)
                    again, over = max(0.0, x[n] - at - slow), max(0.0, x[n] - at - half)
                    columns[n, degree + 1] = 0.5 * (begun**2 - slowed**2 - again**2 + over**2)
                chi2 = fit(columns, rows, degree + 2, y, w, out)
                if abs(out[degree + 1]) / scale**2 <= most_deg_s2:
                    best = min(best, chi2)
    return best
