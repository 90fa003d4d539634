"""Lost steps: the error jumps by whole cycles and stays until the movement is homed again."""

from math import log
from typing import Final

import numpy as np

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
    first = _slips(weigher)
    if first is None:
        return None
    means, cycles, weights = first
    found = [(weights + weigher.evidence(means, law), means, cycles)]
    twice = None if law else _two_slips(weigher)
    if twice is not None:
        means, cycles, weights = twice
        found.append((weights + log(SECOND) + weigher.evidence(means, law), means, cycles))
    log_masses, all_means, all_cycles = ([one[i] for one in found] for i in range(3))
    mass = np.concatenate(log_masses)
    shifts, lost = np.concatenate(all_means), np.concatenate(all_cycles)
    best = int(np.argmax(mass))
    evidence = float(log_sum(mass))
    share = np.exp(mass - evidence)
    u = float(np.sqrt(share @ (lost - lost[best]) ** 2))
    effect = float(np.max(np.abs(shifts[best])))
    return completed(
        weigher, ("lost_steps", *others), evidence, shifts[best], law,
        sizes={"lost_steps": Size(float(lost[best]), u)}, effects_deg={"lost_steps": effect},
    )  # fmt: skip


def _slips(weigher: Weigher) -> tuple[Array, Array, Array] | None:
    """Means, cycles and prior weights of one slip."""
    rows, cycle = weigher.rows, weigher.rows.dial.movement.cycle_deg
    left = weigher.error_deg
    gaps = [i for i in range(1, weigher.count) if rows.homed[i] == rows.homed[i - 1]]
    if not gaps:
        return None
    means, lost, weights = [], [], []
    for gap in gaps:
        after = (np.arange(weigher.count) >= gap) & (rows.homed == rows.homed[gap])
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
            means.append(np.where(after, number * cycle, 0.0))
            lost.append(number)
            against = number * rows.way[gap] < 0
            prior = _prior(number, against, weigher.knowledge.sizes.against_motion)
            weights.append(prior - (log(_ALONE) if len(seen) < 2 else 0.0))
    if not means:
        return None
    return (
        np.array(means),
        np.array(lost, dtype=np.float64),
        np.array(weights) - log(len(gaps)),
    )


def _two_slips(weigher: Weigher) -> tuple[Array, Array, Array] | None:
    """Means, cycles in the end and prior weights of two slips, each at its rows' mean level."""
    rows, cycle = weigher.rows, weigher.rows.dial.movement.cycle_deg
    count = weigher.count
    pairs = [
        (i, j)
        for i in range(1, count)
        for j in range(i + 1, count)
        if rows.homed[i - 1] == rows.homed[j]
    ]
    if not pairs:
        return None
    first, second = np.array(pairs).T
    ends = np.array([np.flatnonzero(rows.homed == rows.homed[j])[-1] + 1 for j in second])
    summed = np.concatenate([[0.0], np.cumsum(np.where(rows.free, weigher.error_deg, 0.0))])
    seen = np.concatenate([[0], np.cumsum(rows.free)])

    def level(start: Array, end: Array) -> Array:
        number = np.maximum(seen[end] - seen[start], 1)
        return np.asarray(np.round((summed[end] - summed[start]) / number / cycle))

    between, after = level(first, second), level(second, ends)
    steps = np.stack([between, after - between])
    at = np.arange(count)
    middle = (at >= first[:, np.newaxis]) & (at < second[:, np.newaxis])
    last = (at >= second[:, np.newaxis]) & (at < ends[:, np.newaxis])
    means = cycle * (between[:, np.newaxis] * middle + after[:, np.newaxis] * last)
    against = np.stack([between * rows.way[first], steps[1] * rows.way[second]]) < 0
    share = weigher.knowledge.sizes.against_motion
    number = np.maximum(np.abs(steps), 1)
    weights = np.where(against, log(share), log(1.0 - share)) - np.log(number * (number + 1))
    kept = (steps != 0).all(axis=0) & (number <= _MOST_CYCLES).all(axis=0)
    if not kept.any():
        return None
    return means[kept], after[kept], weights.sum(axis=0)[kept] - log(len(pairs))


def _middle(values: Array) -> float:
    """The median; NumPy's own takes five times as long for a few numbers."""
    rising, half = np.sort(values), len(values) // 2
    return float(rising[half] if len(values) % 2 else (rising[half - 1] + rising[half]) / 2)


def _prior(cycles: int, against: bool, share: float) -> float:
    """A needle falls back against its motion more often than it is thrown forward."""
    number = abs(cycles)
    return log(share if against else 1.0 - share) - log(number * (number + 1))
