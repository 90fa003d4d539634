"""Lost steps: the error jumps by whole cycles and stays until the movement is homed again."""

from math import log
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from needlewright.findings.signatures.knowledge import Members
from needlewright.findings.signatures.noise import log_sum
from needlewright.findings.signatures.rows import Array
from needlewright.findings.signatures.steady import completed
from needlewright.findings.signatures.weighed import (
    Size,
    Weighed,
)
from needlewright.findings.signatures.weighing import Weigher

SECOND: Final = 0.12
"""Weight of a second slip in the same run (common practice, no source)."""
_MOST_CYCLES: Final = 200
_NEXT: Final = 4
_ALONE: Final = 50.0
"""A slip that a single row speaks for is so much less likely than the row being wild."""
_BLOCK: Final = 2**18
"""Numbers in one array of hypotheses x rows: 2 MB, of which a dozen are held at a time."""


def lost_steps(weigher: Weigher, law: str = "", others: Members = ()) -> Weighed | None:
    """Weigh slips before every row, of the numbers of cycles the rows allow.

    Parameters
    ----------
    weigher
        The rows.
    law
        Of what is left.
    others
        The other members.

    Returns
    -------
    Weighed or None
        None where no two rows follow each other without a homing between.
    """
    slips = _one_slip(weigher)
    if slips is None:
        return None
    twice = None if law else _two_slips(weigher)
    if twice is not None:
        slips = _Slips(*(np.concatenate(both) for both in zip(slips, twice, strict=True)))
    mass = slips.log_weights + _evidence(weigher, slips, law)
    best = int(np.argmax(mass))
    evidence = float(log_sum(mass))
    share = np.exp(mass - evidence)
    u = float(np.sqrt(share @ (slips.after - slips.after[best]) ** 2))
    shift = _means(weigher, slips, slice(best, best + 1))[0]
    return completed(
        weigher, ("lost_steps", *others), evidence, shift, law,
        sizes={"lost_steps": Size(float(slips.after[best]), u)},
        effects_deg={"lost_steps": float(np.max(np.abs(shift)))},
    )  # fmt: skip


class _Slips(NamedTuple):
    """Hypotheses, one an element: rows from `starts` to `turns`, and on to `ends`, stand off."""

    starts: NDArray[np.int_]
    turns: NDArray[np.int_]
    ends: NDArray[np.int_]
    between: Array
    """Cycles off between `starts` and `turns`."""
    after: Array
    """Between `turns` and `ends`."""
    log_weights: Array
    """Prior."""


def _means(weigher: Weigher, slips: _Slips, which: slice) -> Array:
    """Hypotheses x rows, degrees."""
    starts, turns, ends, between, after, _ = (part[which, np.newaxis] for part in slips)
    at = np.arange(weigher.count)
    middle, last = (at >= starts) & (at < turns), (at >= turns) & (at < ends)
    return np.asarray(weigher.rows.dial.movement.cycle_deg * (between * middle + after * last))


def _evidence(weigher: Weigher, slips: _Slips, law: str) -> Array:
    """Of every hypothesis, in blocks: pairs times rows grow with the third power of the rows."""
    step = max(_BLOCK // weigher.count, 1)
    blocks = [slice(at, at + step) for at in range(0, len(slips.after), step)]
    return np.concatenate([weigher.evidence(_means(weigher, slips, one), law) for one in blocks])


def _one_slip(weigher: Weigher) -> _Slips | None:
    """One slip before every row that a homing does not precede."""
    rows, cycle = weigher.rows, weigher.rows.dial.movement.cycle_deg
    left = weigher.error_deg
    gaps = [i for i in range(1, weigher.count) if rows.homed[i] == rows.homed[i - 1]]
    if not gaps:
        return None
    ends = _ends(weigher)
    found: list[tuple[int, int, int, float, float, float]] = []
    for gap in gaps:
        after = np.zeros(weigher.count, dtype=np.bool_)
        after[gap : ends[gap]] = True
        seen, held = left[after & rows.free], left[~after & rows.free]
        if not len(seen):
            continue
        # the level may be left again by a second slip, so the next few rows speak for themselves
        levels = {_middle(seen), _middle(seen[:_NEXT])}
        levels |= {level - _middle(held) for level in levels} if len(held) else set()
        wanted = {round(one / cycle) + step for one in levels for step in (-1, 0, 1)}
        for number in wanted:
            if number == 0 or abs(number) > _MOST_CYCLES:
                continue
            against = number * rows.way[gap] < 0
            prior = _prior(number, against, weigher.knowledge.sizes.against_motion)
            prior -= (log(_ALONE) if len(seen) < 2 else 0.0) + log(len(gaps))
            found.append((gap, gap, int(ends[gap]), 0.0, float(number), prior))
    return _Slips(*map(np.array, zip(*found, strict=True))) if found else None


def _two_slips(weigher: Weigher) -> _Slips | None:
    """Two slips between the same homings, each at its rows' mean level."""
    rows, cycle = weigher.rows, weigher.rows.dial.movement.cycle_deg
    first, second = np.triu_indices(weigher.count, 1)
    same = (first > 0) & (rows.homed[first - 1] == rows.homed[second])
    first, second = first[same], second[same]
    if not len(first):
        return None
    ends = _ends(weigher)[second]
    summed = np.concatenate([[0.0], np.cumsum(np.where(rows.free, weigher.error_deg, 0.0))])
    seen = np.concatenate([[0], np.cumsum(rows.free)])

    def level(start: NDArray[np.int_], end: NDArray[np.int_]) -> Array:
        number = np.maximum(seen[end] - seen[start], 1)
        return np.asarray(np.round((summed[end] - summed[start]) / number / cycle))

    between, after = level(first, second), level(second, ends)
    steps = np.stack([between, after - between])
    kept = (steps != 0).all(axis=0) & (np.abs(steps) <= _MOST_CYCLES).all(axis=0)
    if not kept.any():
        return None
    count = len(first)
    first, second, steps = first[kept], second[kept], steps[:, kept]
    against = np.stack([steps[0] * rows.way[first], steps[1] * rows.way[second]]) < 0
    share = weigher.knowledge.sizes.against_motion
    number = np.abs(steps)
    weights = np.where(against, log(share), log(1.0 - share)) - np.log(number * (number + 1))
    prior = weights.sum(axis=0) - log(count) + log(SECOND)
    return _Slips(first, second, ends[kept], between[kept], after[kept], prior)


def _ends(weigher: Weigher) -> NDArray[np.int_]:
    """For every row the one that the next homing precedes, or the number of rows."""
    homed = weigher.rows.homed
    return np.asarray(np.searchsorted(homed, homed, side="right"))


def _middle(values: Array) -> float:
    """The median; NumPy's own takes five times as long for a few numbers."""
    rising, half = np.sort(values), len(values) // 2
    return float(rising[half] if len(values) % 2 else (rising[half - 1] + rising[half]) / 2)


def _prior(cycles: int, against: bool, share: float) -> float:
    """A needle falls back against its motion more often than it is thrown forward."""
    number = abs(cycles)
    return log(share if against else 1.0 - share) - log(number * (number + 1))
