"""Lost steps: the needle falls back against its motion by whole cycles and goes on as before.

Cumulative sums say where to look (`innovations`). There a step between two smooth pieces of the
same motion is measured in windows of many sizes, and taken for a slip only when

- the motion with the step fits as well as noise allows, and without it much worse, even with one
  more degree of freedom;
- the needle moves the same way before and after, and the step is against it;
- the step is a whole number of the movement's cycles within its uncertainty, and this is small
  enough for that to mean something.

A found slip is taken out of the motion and the rest looked at again, because two slips close to
each other hide one another.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.findings.innovations import departures
from needlewright.findings.motion import Motion, hardest_deg_s2
from needlewright.findings.slip_kernel import LIMIT, scan

_ROUNDS: Final = 6
_NEAR: Final = 12


@dataclass(frozen=True, slots=True)
class Slip:
    """A fall-back between two frames; degrees above the stop, negative where the value falls."""

    last: int
    """Frame before it."""
    first: int
    """Frame after it; frames between them belong to neither side."""
    t_s: float
    cycles: int
    step_deg: float
    u_step_deg: float


def slips(motion: Motion) -> list[Slip]:
    """Find lost steps in a needle's way, its command unknown.

    Parameters
    ----------
    motion
        The way.

    Returns
    -------
    list[Slip]
        In time order.
    """
    t_s, angle_deg, u_deg = motion.t_s, motion.angle_deg.copy(), motion.u_deg.copy()
    cycle_deg = motion.dial.movement.cycle_deg
    found: list[Slip] = []
    if len(t_s) < 8:
        return found
    gaps = departures(t_s, angle_deg, u_deg)
    rows = np.zeros((len(gaps), 4))
    scan(t_s, angle_deg, u_deg, gaps, cycle_deg, np.inf, LIMIT, rows)
    most = hardest_deg_s2(motion, rows[:, 0] > 0.0)
    for _ in range(_ROUNDS):
        rows = np.zeros((len(gaps), 4))
        scan(t_s, angle_deg, u_deg, gaps, cycle_deg, most, LIMIT, rows)
        new = _best(t_s, rows, cycle_deg, found)
        if not new:
            break
        found += new
        gaps = np.zeros_like(gaps)
        for slip in new:
            angle_deg[slip.first :] -= slip.cycles * cycle_deg
            # what lies between belongs to neither side: it says nothing any more
            u_deg[slip.last + 1 : slip.first] = 1e3
            gaps[max(0, slip.last - _NEAR) : slip.first + _NEAR] = True
            gaps[slip.last : slip.first] = False
    return sorted(found, key=lambda slip: slip.t_s)


def _best(
    t_s: NDArray[np.float64], rows: NDArray[np.float64], cycle_deg: float, known: list[Slip]
) -> list[Slip]:
    """Of gaps near each other the most significant one."""
    chosen: list[Slip] = []
    left = rows[:, 0].copy()
    for slip in known:
        left[max(0, slip.last - 1) : slip.first + 1] = 0.0
    while left.size and left.max() > 0.0:
        last = int(np.argmax(left))
        first, step, u = int(rows[last, 1]), float(rows[last, 2]), float(rows[last, 3])
        chosen.append(
            Slip(last, first, float(t_s[last] + t_s[first]) / 2, round(step / cycle_deg), step, u)
        )
        left[max(0, last - _NEAR) : first + _NEAR] = 0.0
    return chosen
