"""Of all sets of operations at one place, the one that costs least once everything is open.

Branch and bound. A cost is a sum of the operations' prices and, thing by thing, of what is expected
to be lost after those that treat it. An operation that treats several things is what ties those
together; its price is split among them, and then every thing may choose for itself. What that comes
to is never more than the true least cost, since a sum of minima is never more than the minimum of
a sum: so what it shows to be too dear can be left out unseen, and what is found is the least of all
sets, not only a good one. **Source**: derivation, docs/plan.md.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import PlanError
from needlewright.plans.rebuild.losses import Losses
from needlewright.plans.rebuild.risks import Thing, Wear
from needlewright.plans.rebuild.totals import total_of
from needlewright.plans.rebuild.work import Task

Floats = NDArray[np.float64]
GroupKey = tuple[tuple[Task, ...], tuple[str, ...], Task | None]
MOST_TREATING: Final = 20
"""Operations that treat one thing: a table of all sets of these is made."""
MOST_LOOKED_AT: Final = 2_000_000
"""Branches after which it is said that nobody waits for this."""
CLOSE: Final = 1e-8
"""Share of what everything costs that comes back once, within which bounds decide nothing: chances
are exact to nine decimal places, and bounds are worked out without that rounding."""


@dataclass(frozen=True, slots=True)
class Least:
    """A set of operations, and what it costs without any opening."""

    cost: Fraction
    tasks: frozenset[Task]


@dataclass(frozen=True, slots=True)
class PlaceCosts:
    """Looks for the cheapest sets at one place, and remembers what was asked before.

    Parameters
    ----------
    losses
        What is expected afterwards.
    tasks
        Of the place, in the catalogue's order.
    things
        Of the place.
    """

    losses: Losses
    tasks: tuple[Task, ...]
    things: tuple[Thing, ...]
    _found: dict[tuple[frozenset[Task], Task | None], Least] = field(default_factory=dict)
    _grouped: dict[GroupKey, Least] = field(default_factory=dict)

    def cost_of(self, tasks: frozenset[Task]) -> Fraction:
        """What any set costs: work, what it may spoil, what is lost afterwards."""
        return _cost_of(self.losses, tasks, self.things)

    def least(self, able: frozenset[Task], must: Task | None = None) -> Least:
        """The cheapest set.

        Parameters
        ----------
        able
            Operations it may take.
        must
            One of them that it does take.

        Returns
        -------
        Least
            Of sets that cost the same, the one with the fewest operations, then that which is
            first in the catalogue's order.

        Raises
        ------
        PlanError
            If more than `MOST_TREATING` operations treat one thing, or the operations depend on
            one another in too many ways.
        """
        key = (able, must)
        if key not in self._found:
            groups = self._groups(able)
            found = [self._of_group(group, things, must) for group, things in groups]
            tasks = frozenset[Task]().union(*(one.tasks for one in found))
            self._found[key] = Least(total_of(one.cost for one in found), tasks)
        return self._found[key]

    def _groups(self, able: frozenset[Task]) -> Iterator[tuple[list[Task], list[Thing]]]:
        """What has nothing to do with one another: operations that share no thing."""
        left = [(thing, able & self.losses.treating(thing)) for thing in self.things]
        while left:
            thing, tasks = left.pop()
            group, grown = [thing], True
            while grown:
                joined = [one for one in left if one[1] & tasks]
                left = [one for one in left if not one[1] & tasks]
                group += [thing for thing, _ in joined]
                tasks = tasks.union(*(some for _, some in joined))
                grown = bool(joined)
            yield [task for task in self.tasks if task in tasks], group

    def _of_group(self, tasks: list[Task], things: list[Thing], must: Task | None) -> Least:
        if not tasks:
            return Least(_cost_of(self.losses, frozenset(), things), frozenset())
        key = (tuple(tasks), tuple(thing.name for thing in things), must if must in tasks else None)
        if key not in self._grouped:
            self._grouped[key] = self._look(tasks, things, key[2])
        return self._grouped[key]

    def _look(self, tasks: list[Task], things: list[Thing], must: Task | None) -> Least:
        order = sorted(
            tasks,
            key=lambda task: (
                task is not must,
                -sum(task in self.losses.treating(thing) for thing in things),
            ),
        )
        search = _Branches(self.losses, order, things)
        number = {task: place for place, task in enumerate(self.tasks)}
        best: tuple[Fraction, int, list[int]] | None = None
        for chosen in search.walk(is_first_in=must is not None):
            some = frozenset(chosen)
            cost = _cost_of(self.losses, some, things)
            found = (cost, len(some), sorted(number[task] for task in some))
            if best is None or found < best:
                best = found
                search.limit = float(cost) + search.close
        assert best is not None  # the first way down is never cut off
        return Least(best[0], frozenset(self.tasks[place] for place in best[2]))


def _cost_of(losses: Losses, tasks: frozenset[Task], things: Sequence[Thing]) -> Fraction:
    lost = [losses.cost(thing, tasks) for thing in things]
    return total_of([*map(losses.workshop.done, tasks), *lost])


class _Branches:
    """Sets of operations, decided on one after the other, with a bound for what is still open."""

    def __init__(self, losses: Losses, order: Sequence[Task], things: Sequence[Thing]) -> None:
        self.order = order
        self.prices = [float(losses.workshop.done(task)) for task in order]
        self.close = CLOSE * (1.0 + _returning_once(losses, things))
        self.limit = float("inf")
        treating = [losses.treating(thing) for thing in things]
        able = [[i for i, t in enumerate(order) if t in some] for some in treating]
        for thing, some in zip(things, able, strict=True):
            if len(some) > MOST_TREATING:
                raise PlanError(
                    f"{thing.name}: {len(some)} operations of the catalogue treat it, and every "
                    f"combination of those is looked at; let it have at most {MOST_TREATING}"
                )
        lost = [
            _lost_by_set(losses, thing, [order[i] for i in some])
            for thing, some in zip(things, able, strict=True)
        ]
        shares = _split(self.prices, able, lost)
        self.bounds = [
            _bounds(table, [shares[i, t] for t in some])
            for i, (table, some) in enumerate(zip(lost, able, strict=True))
        ]
        self.touched = [
            [(i, some.index(t)) for i, some in enumerate(able) if t in some]
            for t in range(len(order))
        ]

    def walk(self, *, is_first_in: bool) -> Iterator[list[Task]]:
        """Every set that may still cost less than `limit`, which the caller lowers."""
        start = sum(float(bounds[0][0]) for bounds in self.bounds)
        stack = [(start, 0, (0,) * len(self.bounds), 0)]
        looked_at = 0
        while stack:
            bound, depth, masks, chosen = stack.pop()
            if bound > self.limit:
                continue
            looked_at += 1
            if looked_at > MOST_LOOKED_AT:
                raise PlanError(
                    f"the {len(self.order)} operations of one place depend on one another in too "
                    "many ways to find the cheapest set; let fewer of them treat the same faults"
                )
            if depth == len(self.order):
                yield [task for i, task in enumerate(self.order) if chosen >> i & 1]
                continue
            left, taken = bound, bound + self.prices[depth]
            marked = list(masks)
            for i, bit in self.touched[depth]:
                here, after = self.bounds[i][bit], self.bounds[i][bit + 1]
                marked[i] |= 1 << bit
                left += after[masks[i]] - here[masks[i]]
                taken += after[marked[i]] - here[masks[i]]
            ways = [(taken, depth + 1, tuple(marked), chosen | 1 << depth)]
            if depth or not is_first_in:
                ways.append((left, depth + 1, masks, chosen))
            ways.sort(key=lambda way: -way[0])  # the cheaper one is looked at first
            stack += ways


def _returning_once(losses: Losses, things: Sequence[Thing]) -> float:
    """What it costs if everything comes back once: chances are rounded to a share of this."""
    states = {
        (thing.place, state)
        for thing in things
        for state in (*(one.state for one in thing.faults), *(one.state for one in thing.wear))
    }
    back = (losses.coming_back(place, state) for place, state in states)
    return float(sum(back, Fraction(0)))


def _split(
    prices: Sequence[float], able: Sequence[Sequence[int]], lost: Sequence[Floats]
) -> dict[tuple[int, int], float]:
    """The price of every operation, split among its things by what it saves each by itself."""
    saved = {
        (i, task): max(float(table[0] - table[1 << bit]), 0.0)
        for i, (table, some) in enumerate(zip(lost, able, strict=True))
        for bit, task in enumerate(some)
    }
    totals = [0.0] * len(prices)
    counts = [0] * len(prices)
    for (_, task), one in saved.items():
        totals[task] += one
        counts[task] += 1
    return {
        (i, task): prices[task] * (one / totals[task] if totals[task] else 1 / counts[task])
        for (i, task), one in saved.items()
    }


def _bounds(table: Floats, shares: Sequence[float]) -> list[Floats | list[float]]:
    """By how many of a thing's operations are decided on, and which are taken: the least of it."""
    tables = [table]
    for share in reversed(shares):
        half = len(tables[0]) // 2
        tables.insert(0, np.minimum(tables[0][:half], tables[0][half:] + share))
    return [one.tolist() if len(one) <= 2**14 else one for one in tables]


def _lost_by_set(losses: Losses, thing: Thing, tasks: Sequence[Task]) -> Floats:
    """What is lost of a thing, by the set of operations that treat it: bit n for the nth."""
    total = np.zeros(2 ** len(tasks))
    terms = losses.workshop.terms
    caught = float(terms.check_catches)
    for fault in thing.faults:
        cures = [float(task.operation.cures(fault.state)) for task in tasks]
        miss = _products([1 - cure for cure in cures])
        is_treated = _products([0.0 if cure else 1.0 for cure in cures]) == 0
        back = float(losses.coming_back(fault.place, fault.state))
        mend = float(losses.mending(fault.place, fault.state))
        after = np.where(is_treated, miss * (caught * mend + (1 - caught) * back), back)
        total += float(fault.chance) * after
    for wear in thing.wear:
        total += _worn_by_set(losses, thing, wear, tasks)
    total[0] = float(losses.least(thing, frozenset())[0].cost)  # it may be watched
    return total


def _worn_by_set(losses: Losses, thing: Thing, wear: Wear, tasks: Sequence[Task]) -> Floats:
    ages = wear.age * _products(
        [1 - float(task.operation.prevents.get(wear.point.id, 0)) for task in tasks]
    )
    early, ever = (
        -np.expm1(_hazard(wear, ages) - _hazard(wear, ages + ahead))
        for ahead in (wear.warranty, wear.horizon)
    )
    cures = [task.operation.cures(wear.state) > 0 for task in tasks]
    is_treated = _products([0.0 if cure else 1.0 for cure in cures]) == 0
    at_fault = float(sum(fault.chance for fault in thing.faults if fault.state == wear.state))
    alive = np.where(is_treated, 1.0, 1 - at_fault)
    back = float(losses.coming_back(wear.place, wear.state))
    later = float(losses.failing_later(wear.place, wear.state))
    return np.asarray(alive * (early * back + (ever - early) * later))


def _hazard(wear: Wear, ages: Floats) -> Floats:
    return np.asarray((ages / wear.point.law.scale) ** wear.point.law.shape)


def _products(factors: Sequence[float]) -> Floats:
    """Of every set of factors, their product."""
    found = np.ones(1)
    for factor in factors:
        found = np.concatenate((found, found * factor))
    return found
