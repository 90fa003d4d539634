"""What a search for the causes of a complaint takes from here on, without more tests."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from needlewright.findings.troubleshooting.belief import Belief
from needlewright.findings.troubleshooting.model import Remedy, of_state
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
    # what was spent is never had back: beyond the best there is nothing to come to
    while left > LEAST and total < best:
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
class _Try:
    remedy: Remedy
    dial: str | None
    row: int
    """Of its scope's table of cures."""

    @property
    def name(self) -> str:
        return self.remedy.id if self.dial is None else f"{self.remedy.id}:{self.dial}"


class _Search:
    """What is left to cure, remedy by remedy."""

    def __init__(self, belief: Belief, found: Responsible) -> None:
        self._found = found
        # a dial nobody complains of has nothing to be cured
        shares = {dial: found.joint @ own for dial, own in found.of_dial.items()}
        dials: list[str | None] = [dial for dial, own in shares.items() if own.sum() > LEAST]
        self._share: dict[str | None, Array] = {None: found.joint @ found.whole}
        self._share.update(shares)
        self._left: dict[str | None, Array] = {
            dial: np.ones(len(self._share[dial])) for dial in (None, *dials)
        }
        self._solved = {dial: self._solved_of(dial) for dial in self._left}
        remedies = belief.knowledge.remedies.values()
        of_whole = [one for one in remedies if one.scope == "whole"]
        of_dial = [one for one in remedies if one.scope == "dial"]
        self._cures: dict[str | None, Array] = dict.fromkeys(
            self._left, _table(of_dial, belief.states)
        )
        self._cures[None] = _table(of_whole, found.codes)
        self._tries = [
            _Try(remedy, dial, row)
            for dial in self._left
            for row, remedy in enumerate(of_whole if dial is None else of_dial)
        ]
        self._row = {one.remedy.id: one.row for one in self._tries}
        self._minutes = np.array([one.remedy.minutes for one in self._tries])
        self._inside = np.array([one.remedy.inside for one in self._tries], dtype=bool)
        self._helps = np.concatenate([self._helps_of(dial) for dial in self._left])

    def left(self) -> float:
        """Probability that something responsible is not cured yet."""
        return self._unsolved(self._solved)

    def left_of(self, dial: str | None) -> float:
        """Probability that something is not cured that shows at a dial; None: anything."""
        return self.left() if dial is None else self._unsolved((None, dial))

    def _unsolved(self, dials: Iterable[str | None]) -> float:
        solved = self._found.joint
        for dial in dials:
            solved = solved * self._solved[dial]
        return max(1.0 - float(solved.sum()), 0.0)

    def first(self, lead_minutes: float, check_minutes: float) -> _Try | None:
        """What to try next; None: nothing that is left could help."""
        if self._helps.max(initial=0.0) <= 0:
            return None
        minutes = self._minutes + check_minutes
        return self._tries[first_of(self._helps, minutes, self._inside, lead_minutes)]

    def cure(self, one: _Try) -> None:
        """Try it and what is done with it, and neither again."""
        self._left[one.dial] = self._left[one.dial] * (1.0 - self._cures[one.dial][one.row])
        self._solved[one.dial] = self._solved_of(one.dial)
        table = self._cures[one.dial].copy()
        for done in (one.remedy.id, *one.remedy.includes):
            table[self._row[done]] = 0.0
        self._cures[one.dial] = table
        begin = next(i for i, other in enumerate(self._tries) if other.dial == one.dial)
        self._helps[begin : begin + len(table)] = self._helps_of(one.dial)

    def _helps_of(self, dial: str | None) -> Array:
        return np.asarray(self._cures[dial] @ (self._share[dial] * self._left[dial]))

    def _solved_of(self, dial: str | None) -> Array:
        """Probability by combination that nothing is left of a dial, or of the whole."""
        if dial is None:
            return np.asarray((1.0 - self._found.whole * self._left[None]).prod(axis=1))
        return np.asarray(1.0 - self._found.of_dial[dial] @ self._left[dial])


def _table(remedies: Sequence[Remedy], names: tuple[str, ...]) -> Array:
    """Remedies x causes of the whole, or states of a dial: what each cures."""
    if not remedies:
        return np.zeros((0, len(names)))
    own = {one.id: _cured(tuple(one.cures.items()), names) for one in remedies}
    return np.stack(
        [np.max([own[one.id], *(own[other] for other in one.includes)], axis=0) for one in remedies]
    )


@lru_cache(512)
def _cured(cures: tuple[tuple[str, float], ...], names: tuple[str, ...]) -> Array:
    return np.array([of_state(dict(cures), name) for name in names])
