"""Where a needle leaves the way it was on: cumulative sums of its innovations.

The way a needle is on is a parabola through its last frames. What a frame differs from it by, in
units of what such a difference has by noise alone, is its innovation. Two sums, of innovations
forward and backward, each less an allowance and never below zero, rise when the needle leaves its
way (Page's test). A motor that begins to turn makes them rise too: what is found here is only
looked at more closely.

Source: E. S. Page, "Continuous inspection schemes", Biometrika 41 (1954); from memory.
"""

from typing import Any, Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

FRAMES: Final = 5
"""Frames a parabola is laid through."""
ALLOWANCE: Final = 0.5
ALARM: Final = 4.0
_MOST_S: Final = 0.5
"""Frames further apart than this do not belong to one way."""


@njit(cache=True, nogil=True, error_model="numpy")
def innovation(t_s: Any, angle_deg: Any, u_deg: Any, k: int) -> float:
    """How far frame k lies from the parabola through the `FRAMES` before it, in its own spread.

    Parameters
    ----------
    t_s
        Times.
    angle_deg
        Angles.
    u_deg
        Their uncertainties.
    k
        The frame, at least `FRAMES`.

    Returns
    -------
    float
        Zero where the frames before it are too far away.
    """
    first = k - FRAMES
    if t_s[k] - t_s[first] > _MOST_S:
        return 0.0
    step = (t_s[k] - t_s[first]) / FRAMES
    a = np.zeros((3, 3))
    b = np.zeros(3)
    for i in range(first, k):
        x, w = (t_s[i] - t_s[k]) / step, 1.0 / u_deg[i] ** 2
        power = np.array([1.0, x, x * x])
        for r in range(3):
            b[r] += w * power[r] * angle_deg[i]
            for c in range(3):
                a[r, c] += w * power[r] * power[c]
    inverse = np.linalg.inv(a)
    at_k = inverse[0, 0] * b[0] + inverse[0, 1] * b[1] + inverse[0, 2] * b[2]
    return float((angle_deg[k] - at_k) / np.sqrt(inverse[0, 0] + u_deg[k] ** 2))


@njit(cache=True, nogil=True, error_model="numpy")
def departures(t_s: Any, angle_deg: Any, u_deg: Any) -> Any:
    """Frames between which, one after the other, the needle may have left its way.

    Parameters
    ----------
    t_s
        Times, rising.
    angle_deg
        Angles.
    u_deg
        Their uncertainties from frame to frame.

    Returns
    -------
    NDArray[np.bool_]
        One for each gap between neighbouring frames.
    """
    n = len(t_s)
    found = np.zeros(max(0, n - 1), np.bool_)
    for way in (1.0, -1.0):
        total, since = 0.0, FRAMES
        for k in range(FRAMES, n):
            z = way * innovation(t_s, angle_deg, u_deg, k)
            total = max(0.0, total + z - ALLOWANCE)
            if total == 0.0:
                since = k + 1
            elif total > ALARM:
                for gap in range(max(0, since - 2), k):
                    found[gap] = True
                # the parabola has to take the new way in before it can judge again
                total, since = 0.0, k + 1
    return found
