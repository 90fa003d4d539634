"""Marks that a needle hides: put where the marks about them say they must be."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.projection import Array

WIDER: Final = 1.5
"""Times the gaps about it that a gap must be for a major mark to be missing in it."""
EVEN: Final = 0.04
"""How far from a whole step a mark of an even scale may stand, in steps."""
FEWEST_EVEN: Final = 3
"""Neighbours one step apart that make a scale even."""
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
    clearly wider than they are; and wherever an else even scale lacks one.

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
    even = _even_gaps(angles_deg[places])
    if even:
        return _with(result, even)
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
    return _with(result, added)


def _with(found: Completed, added: list[tuple[float, float]]) -> Completed:
    """Hidden marks put among those found, each with its angle and doubt."""
    if not added:
        return found
    angles = np.concatenate([found.angles_deg, [angle for angle, _ in added]])
    order = np.argsort(angles)
    count = len(added)
    return Completed(
        angles[order],
        np.concatenate([found.major, np.ones(count, dtype=bool)])[order],
        np.concatenate([found.origin, np.full(count, -1)])[order],
        np.concatenate([found.doubt_deg, [doubt for _, doubt in added]])[order],
    )


def _even_gaps(majors_deg: Array) -> list[tuple[float, float]]:
    """Marks that an else even scale lacks: a coloured band may cover several in a row."""
    gaps = np.diff(majors_deg)
    pitch = float(np.median(gaps))
    steps = np.round((majors_deg - majors_deg[0]) / pitch)
    for _ in range(3):
        slope, start = np.polyfit(steps, majors_deg, 1)
        places = (majors_deg - start) / slope
        steps = np.round(places)
    single = int(np.sum(np.diff(steps) == 1))
    if np.abs(places - steps).max() > EVEN or single < FEWEST_EVEN or np.diff(steps).min() < 1:
        return []
    lacking = sorted(set(range(int(steps[0]), int(steps[-1]))) - set(steps.astype(int).tolist()))
    return [(float(start + slope * step), DOUBT * float(slope)) for step in lacking]


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
