"""Lives of weak points out of a shop's visits: what left sound is watched while its warranty lasts.

A cluster comes in because something failed, and one that is well never comes. What is seen at first
visits therefore tells how faults share the visits, not how long parts live (docs/decisions/0066).
What is watched begins with a visit at which a part was sound or was made new, and ends with its
failure or with the warranty: who is owed a repair comes back to where it is free.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise
from typing import Final

from needlewright.plans.catalogue.model import WeakPoint
from needlewright.plans.rebuild.age import DAYS_A_YEAR
from needlewright.plans.wear.fit import Lives

Key = tuple[str | None, str]
"""A dial, or None for the whole, and the id of a weak point."""
LEAST_DAYS: Final = 1
"""What comes back on the day it left had a day at least."""


@dataclass(frozen=True, slots=True)
class Visit:
    """One stay of a cluster in the house.

    Parameters
    ----------
    came, left
        The days; left None: it is here still.
    years_old
        On the day it came; None: when it was built is not known.
    km_in, km_out
        Its odometer on both days, in km; None: not known.
    failed
        By dial and weak point, whether the part was found at fault; what is not there is not known.
    renewed
        What was made as new.
    touched
        What was worked at, and is neither as it was nor new.
    """

    came: date
    left: date | None
    years_old: float | None
    km_in: float | None
    km_out: float | None
    failed: Mapping[Key, bool]
    renewed: frozenset[Key] = field(default_factory=frozenset)
    touched: frozenset[Key] = field(default_factory=frozenset)


@dataclass(frozen=True, slots=True)
class Watch:
    """How long clusters that left are watched.

    Parameters
    ----------
    until
        The last day that counts.
    warranty_years
        From the day they left.
    km_per_year
        Where an odometer was not read.
    """

    until: date
    warranty_years: float
    km_per_year: float


@dataclass(frozen=True, slots=True)
class _Spell:
    entered: float
    ended: float
    has_failed: bool


def lives_of(
    clusters: Sequence[Sequence[Visit]],
    points: Mapping[str, WeakPoint],
    dials: Sequence[str],
    watch: Watch,
) -> dict[str, Lives]:
    """Gather lives.

    Parameters
    ----------
    clusters
        The visits of each cluster.
    points
        Weak points by id.
    dials
        Of the family.
    watch
        How long.

    Returns
    -------
    dict
        By weak point, those of every place it is known of; without what was never watched.
    """
    found: dict[str, Lives] = {}
    for code, point in points.items():
        places = [None] if point.scope == "whole" else [*(point.dials or dials)]
        spells = [
            spell
            for visits in clusters
            for place in places
            for spell in _spells(sorted(visits, key=_came), point, (place, code), watch)
        ]
        failed = [one for one in spells if one.has_failed]
        sound = [one for one in spells if not one.has_failed]
        if spells:
            found[code] = Lives(
                failed=tuple(one.ended for one in failed),
                running=tuple(one.ended for one in sound),
                failed_from=tuple(one.entered for one in failed),
                running_from=tuple(one.entered for one in sound),
            )
    return found


def _came(visit: Visit) -> date:
    return visit.came


def _spells(visits: Sequence[Visit], point: WeakPoint, key: Key, watch: Watch) -> Iterator[_Spell]:
    begun: list[tuple[Visit, Visit | None]] = [*pairwise(visits)]
    begun += [(visits[-1], None)] if visits else []
    for visit, after in begun:
        spell = _spell(visit, after, point, key, watch)
        if spell is not None and spell.ended > spell.entered:
            yield spell


def _spell(
    visit: Visit, after: Visit | None, point: WeakPoint, key: Key, watch: Watch
) -> _Spell | None:
    """From one visit to the next; None: what was watched cannot be told."""
    left = visit.left
    if left is None or left > watch.until:
        return None
    is_new = key in visit.renewed
    if not is_new and (visit.failed.get(key) is not False or key in visit.touched):
        return None
    end = min(left + timedelta(days=watch.warranty_years * DAYS_A_YEAR), watch.until)
    if after is None or after.came > end:
        return _lived(_Stretch(visit, left, end, is_new), point, watch)
    if after.left is None or after.left > watch.until or key not in after.failed:
        return None  # it is back, and what it has is not known
    stretch = _Stretch(visit, left, after.came, is_new, after, after.failed[key])
    return _lived(stretch, point, watch)


@dataclass(frozen=True, slots=True)
class _Stretch:
    """From the day a cluster left to the day it is no more watched."""

    visit: Visit
    left: date
    end: date
    is_new: bool
    back: Visit | None = None
    has_failed: bool = False


def _lived(stretch: _Stretch, point: WeakPoint, watch: Watch) -> _Spell | None:
    """The same in what the law counts; None: the age on leaving is not known."""
    visit, back = stretch.visit, stretch.back
    years = max((stretch.end - stretch.left).days, 0 if back is None else LEAST_DAYS) / DAYS_A_YEAR
    if point.clock == "years":
        stay = (stretch.left - visit.came).days / DAYS_A_YEAR
        age = None if visit.years_old is None else visit.years_old + stay
        lived = years
    else:
        age = visit.km_in if visit.km_out is None else visit.km_out
        read = None if back is None else back.km_in
        lived = years * watch.km_per_year if read is None or age is None else read - age
    if stretch.is_new:
        return _Spell(0.0, lived, stretch.has_failed)
    return None if age is None else _Spell(age, age + lived, stretch.has_failed)
