"""Marks that a needle hides: put where the marks about them say they must be."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.projection import Array

WIDER: Final = 1.5
"""Times the gaps about it that a gap must be for a major mark to be missing in it."""
DOUBT: Final = 0.05
"""Standard uncertainty of a mark put between others, in the gap from mark to mark."""


@dataclass(frozen=True, slots=True)
class Completed:
    """Marks with the hidden ones between them."""

    angles_deg: Array
    major: NDArray[np.bool_]
    origin: NDArray[np.intp]
    """Of each mark its place among those found; -1: hidden."""
    doubt_deg: Array
    """Of hidden marks, standard uncertainty; 0 for those found."""


def complete(angles_deg: Array, major: NDArray[np.bool_]) -> Completed:
    """Put hidden major marks between those that were found.

    A major mark is missing where a gap holds twice the minor marks that other gaps hold, and is
    clearly wider than they are; without minor marks, where an else even scale has a double gap.

    Parameters
    ----------
    angles_deg
        (n,), rising.
    major
        (n,).

    Returns
    -------
    Completed
        In rising angle.
    """
    places = np.flatnonzero(major)
    result = Completed(angles_deg, major, np.arange(len(angles_deg)), np.zeros(len(angles_deg)))
    if len(places) < 3:
        return result
    inside = np.diff(places) - 1
    usual = _usual(inside)
    gaps = np.diff(angles_deg[places])
    added = []
    for i, (gap, count) in enumerate(zip(gaps, inside, strict=True)):
        others = np.delete(gaps, i)
        near = [gaps[k] for k in (i - 1, i + 1) if 0 <= k < len(gaps)]
        if gap < WIDER * min(float(np.mean(near)), float(others.max())):
            continue
        marks = angles_deg[places[i] : places[i + 1] + 1]
        if usual > 0 and count == 2 * usual:
            added.append(_between_minors(marks, usual))
        elif usual == 0 and abs(gap / np.median(others) - 2) < 0.1 and np.ptp(others) < 0.1 * gap:
            added.append((float(marks.mean()), DOUBT * float(np.median(others))))
    if not added:
        return result
    angles = np.concatenate([angles_deg, [angle for angle, _ in added]])
    order = np.argsort(angles)
    count = len(added)
    return Completed(
        angles[order],
        np.concatenate([major, np.ones(count, dtype=bool)])[order],
        np.concatenate([result.origin, np.full(count, -1)])[order],
        np.concatenate([result.doubt_deg, [doubt for _, doubt in added]])[order],
    )


def _usual(inside: NDArray[np.intp]) -> int:
    """How many minor marks most gaps hold; of equals, the fewest."""
    values, counts = np.unique(inside, return_counts=True)
    return int(values[int(np.argmax(counts))])


def _between_minors(marks: Array, usual: int) -> tuple[float, float]:
    """Where the mark between two runs of minor marks lies, from both sides."""
    left, right = marks[: usual + 1], marks[usual + 1 :]
    from_left = float(left[-1] + np.diff(left).mean())
    from_right = float(right[0] - np.diff(right).mean())
    step = float(right[0] - left[-1]) / 2
    doubt = np.hypot(DOUBT * step, (from_right - from_left) / 2)
    return (from_left + from_right) / 2, float(doubt)
