"""What a search for the causes of a complaint takes from here on, without more tests."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from needlewright.findings.troubleshooting.belief import Belief
from needlewright.findings.troubleshooting.model import Remedy
from needlewright.findings.troubleshooting.ordering import Course, first_of
from needlewright.findings.troubleshooting.responsible import Responsible, responsible
from needlewright.findings.troubleshooting.tables import Array

LEAST: Final = 1e-4
"""Probability of something being left below which nothing more is tried."""


def course_of(belief: Belief, *, is_sent: bool) -> Course:
    """The remedies worth trying, in the order of least expected minutes.

    Parameters
    ----------
    belief
        What is believed.
    is_sent
        Whether the cluster is at the bench already; else the way to its inside is longer.

    Returns
    -------
    Course
        Names are `remedy` or `remedy:dial`. The search ends when every cause that is responsible
        for a yes is cured; with nothing worth trying, what is left costs as a search given up.

    Notes
    -----
    The order is by probability over minutes, the way to the inside counted once (`first_of`), each
    try chosen anew after those before it; a dial that reads right by then is left alone. What it
    takes is exact for several causes at once, when each is responsible by itself.
    """
    work = belief.knowledge.work
    lead = work.open_minutes + (0.0 if is_sent else work.send_minutes)
    search = _Search(belief, responsible(belief))
    left, total = search.left(), 0.0
    best, order, kept = left * work.give_up_minutes, list[str](), 0
    while left > LEAST and search.remedies:
        one = search.first(lead, work.check_minutes)
        if one is None:
            break
        if one.remedy.inside:
            total, lead = total + left * lead, 0.0
        total += search.left_of(one.dial) * (one.remedy.minutes + work.check_minutes)
        search.cure(one)
        left = search.left()
        order.append(one.name)
        if total + left * work.give_up_minutes < best:
            best, kept = total + left * work.give_up_minutes, len(order)
    return Course(tuple(order[:kept]), best)


@dataclass(frozen=True, slots=True)
class _Remedy:
    remedy: Remedy
    dial: str | None
    cures: Array
    """By cause of the whole, or by state of the dial."""

    @property
    def name(self) -> str:
        return self.remedy.id if self.dial is None else f"{self.remedy.id}:{self.dial}"


class _Search:
    """What is left to cure, remedy by remedy."""

    def __init__(self, belief: Belief, found: Responsible) -> None:
        self._found = found
        self._left_whole = np.ones(len(found.codes))
        self._whole = found.joint @ found.whole
        self._of_dial = {dial: found.joint @ own for dial, own in found.of_dial.items()}
        # a dial nobody complains of has nothing to be cured
        dials = [dial for dial, own in self._of_dial.items() if own.sum() > LEAST]
        self._left_of_dial = {dial: np.ones(len(belief.states)) for dial in dials}
        self.remedies: list[_Remedy] = []
        for remedy in belief.knowledge.remedies.values():
            codes = found.codes if remedy.scope == "whole" else belief.states
            cures = np.array([remedy.cures.get(code, 0.0) for code in codes])
            of: list[str | None] = [None] if remedy.scope == "whole" else [*dials]
            if cures.any():
                self.remedies += [_Remedy(remedy, dial, cures) for dial in of]

    def left(self) -> float:
        """Probability that something responsible is not cured yet."""
        return self._left(self._left_of_dial)

    def left_of(self, dial: str | None) -> float:
        """Probability that something is not cured that shows at a dial; None: anything."""
        return self.left() if dial is None else self._left((dial,))

    def _left(self, dials: Iterable[str]) -> float:
        found = self._found
        solved = found.joint * (1.0 - found.whole * self._left_whole).prod(axis=1)
        for dial in dials:
            solved = solved * (1.0 - found.of_dial[dial] @ self._left_of_dial[dial])
        return max(1.0 - float(solved.sum()), 0.0)

    def first(self, lead_minutes: float, check_minutes: float) -> _Remedy | None:
        """What to try next; None: nothing that is left could help."""
        helps = np.array([self._share(one) @ one.cures for one in self.remedies])
        if helps.max(initial=0.0) <= 0:
            return None
        minutes = np.array([one.remedy.minutes + check_minutes for one in self.remedies])
        inside = np.array([one.remedy.inside for one in self.remedies])
        return self.remedies[first_of(helps, minutes, inside, lead_minutes)]

    def cure(self, one: _Remedy) -> None:
        """Try it."""
        self.remedies.remove(one)
        if one.dial is None:
            self._left_whole *= 1.0 - one.cures
        else:
            self._left_of_dial[one.dial] *= 1.0 - one.cures

    def _share(self, one: _Remedy) -> Array:
        if one.dial is None:
            return self._whole * self._left_whole
        return self._of_dial[one.dial] * self._left_of_dial[one.dial]
