"""What is measured in the temperatures of one thermocouple: slopes, durations, the peak."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Span = tuple[float, float]
MAD_TO_SD: Final = 1.4826
"""Standard deviation of a normal distribution by its median absolute deviation."""


@dataclass(frozen=True, slots=True)
class Slope:
    """The steepest slope over a window, K/s, and where it is past a limit."""

    k_s: float
    at_s: Span
    past: tuple[Span, ...]
    """Stretches whose windows are steeper than the limit."""


def crossings(t_s: Floats, c: Floats, level_c: float) -> tuple[list[float], list[float]]:
    """Times at which a line of straight pieces passes a level, upward and downward.

    Parameters
    ----------
    t_s
        Rising, s.
    c
        degC, as many.
    level_c
        degC. A point on it counts as above it.

    Returns
    -------
    tuple of list of float
        Upward, downward, s.
    """
    above = c >= level_c
    changes = np.flatnonzero(above[1:] != above[:-1])
    share = (level_c - c[changes]) / (c[changes + 1] - c[changes])
    times = t_s[changes] + share * (t_s[changes + 1] - t_s[changes])
    upward = above[changes + 1]
    return times[upward].tolist(), times[~upward].tolist()


def stretches_above(t_s: Floats, c: Floats, level_c: float) -> tuple[Span, ...]:
    """Where a line of straight pieces is above a level; what the record cuts off ends with it."""
    up, down = crossings(t_s, c, level_c)
    if c[0] >= level_c:
        up = [float(t_s[0]), *up]
    if c[-1] >= level_c:
        down = [*down, float(t_s[-1])]
    return tuple(zip(up, down, strict=True))


def soak(t_s: Floats, c: Floats, window_c: Span) -> Span | None:
    """The climb through the soak window.

    Parameters
    ----------
    t_s
        Rising, s.
    c
        degC, as many.
    window_c
        Its lower and upper end, degC.

    Returns
    -------
    tuple of float or None
        From the last time it passes the lower end before it first reaches the upper one, to that;
        None where it does not reach it, or the record begins above the lower end.
    """
    tops = crossings(t_s, c, window_c[1])[0]
    if not tops:
        return None
    begins = [t for t in crossings(t_s, c, window_c[0])[0] if t <= tops[0]]
    return (begins[-1], tops[0]) if begins else None


def steepest(t_s: Floats, c: Floats, window_s: float, limit_k_s: float, sign: int) -> Slope | None:
    """The steepest slope of a line of straight pieces over a window.

    Parameters
    ----------
    t_s
        Rising, s.
    c
        degC, as many.
    window_s
        Over which a slope is taken, s.
    limit_k_s
        Above 0, K/s.
    sign
        1: upward; -1: downward.

    Returns
    -------
    Slope or None
        Exact: the difference of two such lines is steepest where either has a corner. None where
        the record is shorter than the window.
    """
    last = t_s[-1] - window_s
    starts = np.unique(np.concatenate((t_s, t_s - window_s)))
    starts = starts[(starts >= t_s[0]) & (starts <= last)]
    if not len(starts):
        return None
    rise = np.interp(starts + window_s, t_s, c) - np.interp(starts, t_s, c)
    slopes = sign * rise / window_s
    i = int(np.argmax(slopes))
    at = (float(starts[i]), float(starts[i]) + window_s)
    return Slope(float(slopes[i]) + 0.0, at, _joined(starts[slopes > limit_k_s], window_s))


def scatter_k(c: Floats) -> float:
    """Standard deviation of single readings about a smooth line, K.

    Parameters
    ----------
    c
        Evenly read, degC, at least 3.

    Returns
    -------
    float
        By second differences, whose variance is six times a reading's; at least what the smallest
        step between two readings leaves when they are rounded to it.
    """
    second = np.diff(c, 2)
    spread = MAD_TO_SD * float(np.median(np.abs(second - np.median(second)))) / 6**0.5
    steps = np.diff(np.unique(c))
    rounding = float(steps.min()) / 12**0.5 if len(steps) else 0.0
    return max(spread, rounding)


def _joined(starts: Floats, window_s: float) -> tuple[Span, ...]:
    """Windows that overlap, as one stretch."""
    spans: list[Span] = []
    for start in starts.tolist():
        if spans and start <= spans[-1][1]:
            spans[-1] = (spans[-1][0], start + window_s)
        else:
            spans.append((start, start + window_s))
    return tuple(spans)
