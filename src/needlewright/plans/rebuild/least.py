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

from needlewright.errors import PlanError
from needlewright.plans.rebuild.least_bounds import ThingLoss, bounds_of
from needlewright.plans.rebuild.losses import Losses
from needlewright.plans.rebuild.risks import Thing
from needlewright.plans.rebuild.totals import total_of
from needlewright.plans.rebuild.work import Task

GroupKey = tuple[tuple[Task, ...], tuple[str, ...], frozenset[Task]]
Group = tuple[list[Task], list[Thing]]
NONE: Final = frozenset[Task]()
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
    _found: dict[tuple[frozenset[Task], frozenset[Task]], Least] = field(default_factory=dict)
    _grouped: dict[GroupKey, Least] = field(default_factory=dict)

    def cost_of(self, tasks: frozenset[Task]) -> Fraction:
        """What any set costs: work, what it may spoil, what is lost afterwards."""
        return _cost_of(self.losses, tasks, self.things)

    def least(self, able: frozenset[Task], one_of: frozenset[Task] = NONE) -> Least:
        """The cheapest set.

        Parameters
        ----------
        able
            Operations it may take.
        one_of
            Some of them, at least one of which it does take; empty: none is asked for.

        Returns
        -------
        Least
            Of sets that cost the same, the one with the fewest operations, then that which is
            first in the catalogue's order.

        Raises
        ------
        PlanError
            If the operations depend on one another in too many ways.
        """
        key = (able, one_of)
        if key not in self._found:
            groups = list(self._groups(able))
            free = [self._of_group(group, things) for group, things in groups]
            if one_of and not any(one_of & one.tasks for one in free):
                free = min(self._made_to(groups, free, one_of), key=self._rank)
            self._found[key] = _together(free)
        return self._found[key]

    def _made_to(
        self, groups: Sequence[Group], free: Sequence[Least], one_of: frozenset[Task]
    ) -> Iterator[list[Least]]:
        """The best of every group but one, which is made to take one of these."""
        idle = one_of
        for i, (group, things) in enumerate(groups):
            own = one_of & frozenset(group)
            if own:
                yield [*free[:i], self._of_group(group, things, own), *free[i + 1 :]]
            idle -= own
        for task in idle:  # it treats nothing here
            yield [*free, Least(self.losses.workshop.done(task), frozenset({task}))]

    def _rank(self, some: Sequence[Least]) -> tuple[Fraction, int, list[int]]:
        one = _together(some)
        return one.cost, len(one.tasks), [i for i, t in enumerate(self.tasks) if t in one.tasks]

    def _groups(self, able: frozenset[Task]) -> Iterator[Group]:
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

    def _of_group(
        self, tasks: list[Task], things: list[Thing], one_of: frozenset[Task] = NONE
    ) -> Least:
        if not tasks:
            return Least(_cost_of(self.losses, frozenset(), things), frozenset())
        key = (tuple(tasks), tuple(thing.name for thing in things), one_of)
        if key not in self._grouped:
            self._grouped[key] = self._look(tasks, things, one_of)
        return self._grouped[key]

    def _look(self, tasks: list[Task], things: list[Thing], one_of: frozenset[Task]) -> Least:
        order = sorted(
            tasks,
            key=lambda task: (
                task not in one_of,
                -sum(task in self.losses.treating(thing) for thing in things),
            ),
        )
        search = _Branches(self.losses, order, things)
        number = {task: place for place, task in enumerate(self.tasks)}
        best: tuple[Fraction, int, list[int]] | None = None
        for chosen in search.walk(len(one_of)):
            some = frozenset(chosen)
            cost = _cost_of(self.losses, some, things)
            found = (cost, len(some), sorted(number[task] for task in some))
            if best is None or found < best:
                best = found
                search.limit = float(cost) + search.close
        assert best is not None  # the first way down is never cut off
        return Least(best[0], frozenset(self.tasks[place] for place in best[2]))


def _together(some: Sequence[Least]) -> Least:
    """What has nothing to do with one another."""
    return Least(total_of(one.cost for one in some), NONE.union(*(one.tasks for one in some)))


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
        lost = [
            ThingLoss(losses, thing, [order[i] for i in some])
            for thing, some in zip(things, able, strict=True)
        ]
        shares = _split(self.prices, able, lost)
        self.bounds = [
            bounds_of(loss, [shares[i, t] for t in some], self.close)
            for i, (loss, some) in enumerate(zip(lost, able, strict=True))
        ]
        self.touched = [
            [(i, some.index(t)) for i, some in enumerate(able) if t in some]
            for t in range(len(order))
        ]

    def walk(self, asked: int) -> Iterator[list[Task]]:
        """Every set that may still cost less than `limit`, which the caller lowers.

        At least one of the first `asked` operations is taken, where that is more than none.
        """
        start = sum(bounds[0][0] for bounds in self.bounds)
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
            if depth + 1 != asked or chosen:
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
    prices: Sequence[float], able: Sequence[Sequence[int]], lost: Sequence[ThingLoss]
) -> dict[tuple[int, int], float]:
    """The price of every operation, split among its things by what it saves each by itself."""
    saved = {
        (i, task): max(loss.untouched - float(loss.of(loss.singles[bit])[0]), 0.0)
        for i, (loss, some) in enumerate(zip(lost, able, strict=True))
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
