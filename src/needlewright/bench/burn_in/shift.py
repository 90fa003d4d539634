"""Whether a needle reads otherwise at a check point than it did before, look for look.

A drift is told by the trend of all looks, at the end. A change that comes at once is told here as
it comes: against the middle of the looks before, in two visits, by more than those looks scatter.
"""

from collections.abc import Iterable, Mapping
from typing import Final

import numpy as np

from needlewright.bench.burn_in.journal import Line, Looked
from needlewright.bench.burn_in.noticed import Noticed
from needlewright.bench.burn_in.plan import BurnInPlan

FEWEST: Final = 3
"""Looks before which nothing is compared."""
LEAST_DEG: Final = 0.1
"""Less is never told (common practice, no source)."""
SCATTERS: Final = 5.0
"""So many standard deviations of the looks before; with two visits no scatter makes it."""
ALIKE_DEGC: Final = 5.0
"""Looks at temperatures further apart are not compared."""
Point = tuple[str, float]


class ShiftWatch:
    """Watches what the needles read at the check points.

    Parameters
    ----------
    plan
        Of the burn-in: only looks that are not come to from above are compared, for friction and
        play make those stand otherwise.
    lines
        Of the journal so far: a burn-in that is gone on with knows what came before.
    """

    def __init__(self, plan: BurnInPlan, lines: Iterable[Line] = ()) -> None:
        self._above = plan.steps_from_above
        self._before: dict[Point, list[float]] = {}
        self._off: dict[Point, list[float]] = {}
        self._first_degc: float | None = None
        self._seen: set[tuple[str, float, int]] = set()
        visits: dict[int, list[Looked]] = {}
        for line in lines:
            if isinstance(line, Looked):
                visits.setdefault(line.visit, []).append(line)
        for looks in visits.values():
            self.look(looks)

    def look(self, looks: Iterable[Looked]) -> list[Noticed]:
        """Take a visit in.

        Parameters
        ----------
        looks
            Of all check points.

        Returns
        -------
        list of Noticed
            `shifted` for each needle that reads otherwise since two visits, or one for the cluster
            where all of them do at once.
        """
        found: dict[str, tuple[float, float]] = {}
        dials = set()
        for one in looks:
            place = (one.dial, one.value, one.visit)
            if one.angle_deg is None or (one.dial, one.step) in self._above:
                continue
            if place in self._seen or not self._is_alike(one):
                continue
            self._seen.add(place)
            dials.add(one.dial)
            by = self._compared((one.dial, one.value), one.angle_deg)
            if by is not None and abs(by) > abs(found.get(one.dial, (0.0, 0.0))[1]):
                found[one.dial] = (one.value, by)
        return _said(found, len(dials))

    def _compared(self, point: Point, angle_deg: float) -> float | None:
        """By how much a needle stands off since two looks; None: it does not."""
        before, off = self._before.setdefault(point, []), self._off.setdefault(point, [])
        if len(before) < FEWEST:
            before.append(angle_deg)
            return None
        by = angle_deg - float(np.median(before))
        # the median deviation, by its ratio to a normal scatter: one of the looks may be bad
        scatter = 1.4826 * float(np.median(np.abs(np.array(before) - np.median(before))))
        if abs(by) <= max(LEAST_DEG, SCATTERS * scatter):
            off.clear()  # it was one bad look
            before.append(angle_deg)
            return None
        if off and off[-1] * by < 0:
            off.clear()
        off.append(by)
        if len(off) < 2:
            return None
        self._before[point], self._off[point] = [angle_deg], []
        return by

    def _is_alike(self, one: Looked) -> bool:
        if one.temperature_c is None:
            return self._first_degc is None
        if self._first_degc is None:
            self._first_degc = one.temperature_c
        return abs(one.temperature_c - self._first_degc) <= ALIKE_DEGC


def _said(found: Mapping[str, tuple[float, float]], dials: int) -> list[Noticed]:
    if len(found) == dials > 1:
        words = "all needles read otherwise than before: the camera or the cluster was moved"
        return [Noticed("shifted", "cluster", words)]
    return [
        Noticed(
            "shifted",
            dial,
            f"told {value:g}, the needle stands {by:+.2f} deg from where it stood in the visits "
            "before",
            by,
        )
        for dial, (value, by) in found.items()
    ]
