"""Lamps and currents as left, held against the same things as found.

What the work did to each: mended, still so, new. What was wrong and was not looked at again is told
as such, and what is wrong now is told whether or not anybody looked before.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Final, Literal, get_args

from needlewright.findings.lamps.looked import HOW_BAD, Looked, LookedKind

Outcome = Literal[
    "new",
    "worse",
    "wrong",
    "still",
    "better",
    "not_seen",
    "right_not_seen",
    "mended",
    "right",
    "not_known",
]
ORDER: Final[tuple[Outcome, ...]] = get_args(Outcome)
"""What is read first: in the order they are named."""
CHANGED: Final = 2.0
"""Standard uncertainties of a difference from which something changed (k = 2)."""
WORSE: Final[frozenset[Outcome]] = frozenset({"new", "worse"})
WRONG: Final[frozenset[Outcome]] = frozenset({"new", "worse", "wrong", "still", "better"})
UNSEEN: Final[frozenset[Outcome]] = frozenset({"not_seen", "right_not_seen", "not_known"})


@dataclass(frozen=True, slots=True)
class Compared:
    """One thing, in both looks.

    Parameters
    ----------
    kind, id, of
        Which.
    outcome
        `new`: right as found and wrong as left; `worse`, `better`: wrong both times, and more or
        less so; `still`: as wrong as before, or not measurably otherwise; `mended`: wrong as found
        and right as left; `right`: right as left, and not known to have been wrong; `wrong`: wrong
        as left and not seen as found; `not_seen`: wrong as found and not seen as left;
        `right_not_seen`: right as found and not seen as left; `not_known`: seen neither time.
    found, left
        What each look saw; None: it was not looked at.
    """

    kind: LookedKind
    id: str
    of: str | None
    outcome: Outcome
    found: Looked | None
    left: Looked | None

    @property
    def is_worse(self) -> bool:
        """Whether it left worse than it came."""
        return self.outcome in WORSE

    @property
    def is_wrong(self) -> bool:
        """Whether it is wrong as left."""
        return self.outcome in WRONG

    @property
    def is_unseen(self) -> bool:
        """Whether it was not seen as left, so that nobody can say it is right."""
        return self.outcome in UNSEEN


def after_work(found: Sequence[Looked], left: Sequence[Looked]) -> tuple[Compared, ...]:
    """Compare two looks.

    Parameters
    ----------
    found
        Before the work.
    left
        After it.

    Returns
    -------
    tuple of Compared
        Everything that either look holds; what got worse first.
    """
    before = {one.name: one for one in found}
    after = {one.name: one for one in left}
    compared = [_compared(before.get(name), after.get(name)) for name in {**after, **before}]
    return tuple(sorted(compared, key=lambda one: ORDER.index(one.outcome)))


def _compared(found: Looked | None, left: Looked | None) -> Compared:
    one = left or found
    assert one is not None  # it is named by one of the two
    return Compared(one.kind, one.id, one.of, outcome_of(found, left), found, left)


def outcome_of(found: Looked | None, left: Looked | None) -> Outcome:
    """What became of one thing.

    Parameters
    ----------
    found
        Before the work; None: not looked at.
    left
        After it.

    Returns
    -------
    Outcome
        By the most probable condition of each look. Where these differ and what was measured does
        not, by more than `CHANGED` standard uncertainties, no work is credited or blamed that was
        not measured: the surer of the two looks says what it was both times, `still` wrong or
        `right`. One that only the later and less sure look calls wrong stays `new` all the same: a
        doubt is no reason to hide it.
    """
    before = None if found is None or found.condition is None else HOW_BAD[found.condition]
    now = None if left is None or left.condition is None else HOW_BAD[left.condition]
    if now is None:
        return "not_known" if before is None else "not_seen" if before else "right_not_seen"
    if before is None:
        return "wrong" if now else "right"
    assert found is not None  # both were seen
    assert left is not None
    if now == before or is_changed(found, left):
        return _of_two(before, now)
    if now and before:
        return "still"
    surer = max((found, left), key=lambda one: one.probability or 0.0)
    if surer.condition != "right":
        return "still"
    return "new" if now else "right"


def _of_two(before: int, now: int) -> Outcome:
    """By how bad each look calls it."""
    if not now:
        return "mended" if before else "right"
    if not before:
        return "new"
    return "still" if now == before else "worse" if now > before else "better"


def is_changed(found: Looked, left: Looked) -> bool:
    """Whether what two looks measured differs by more than its uncertainty.

    Parameters
    ----------
    found
        The thing before the work.
    left
        The same after it.

    Returns
    -------
    bool
        By `CHANGED`; true where it was not measured both times, so that each is taken at its word.
    """
    if found.size is None or left.size is None:
        return True
    apart = abs(left.size - found.size)
    return apart > CHANGED * hypot(found.u_size or 0.0, left.u_size or 0.0)
