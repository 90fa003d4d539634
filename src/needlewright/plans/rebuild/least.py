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

from needlewright.plans.rebuild.least_branches import Branches
from needlewright.plans.rebuild.losses import Losses
from needlewright.plans.rebuild.must_pass import left_of
from needlewright.plans.rebuild.risks import Thing
from needlewright.plans.rebuild.totals import total_of
from needlewright.plans.rebuild.work import Task

GroupKey = tuple[tuple[Task, ...], tuple[str, ...], frozenset[Task], Fraction | None]
Group = tuple[list[Task], list[Thing]]
NONE: Final = frozenset[Task]()


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
    _left: dict[frozenset[Task], Fraction] = field(default_factory=dict)

    def cost_of(self, tasks: frozenset[Task]) -> Fraction:
        """What any set costs: work, what it may spoil, what is lost afterwards."""
        return _cost_of(self.losses, tasks, self.things)

    def left(self, tasks: frozenset[Task]) -> Fraction:
        """The chance of a fault that any set leaves, of faults that an operation treats."""
        if tasks not in self._left:
            self._left[tasks] = left_of(self.things, tasks, self.losses.workshop)
        return self._left[tasks]

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

    def passing(
        self, able: frozenset[Task], one_of: frozenset[Task], most: Fraction
    ) -> Least | None:
        """The cheapest set that leaves no more than so much chance of a fault.

        Parameters
        ----------
        able
            As `least` takes it.
        one_of
            As `least` takes it.
        most
            That may be left, of faults that an operation treats.

        Returns
        -------
        Least or None
            None: all of them together leave more.

        Raises
        ------
        PlanError
            If the operations depend on one another in too many ways.
        """
        if self.left(able) > most:
            return None
        treating = one_of.union(*map(self.losses.treating, self.things))
        tasks = [task for task in self.tasks if task in able and task in treating]
        return self._of_group(tasks, list(self.things), one_of, most)

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
        self,
        tasks: list[Task],
        things: list[Thing],
        one_of: frozenset[Task] = NONE,
        most: Fraction | None = None,
    ) -> Least:
        if not tasks:
            return Least(_cost_of(self.losses, frozenset(), things), frozenset())
        key = (tuple(tasks), tuple(thing.name for thing in things), one_of, most)
        if key not in self._grouped:
            self._grouped[key] = self._look(tasks, things, one_of, most)
        return self._grouped[key]

    def _look(
        self,
        tasks: list[Task],
        things: list[Thing],
        one_of: frozenset[Task],
        most: Fraction | None,
    ) -> Least:
        order = sorted(
            tasks,
            key=lambda task: (
                task not in one_of,
                -sum(task in self.losses.treating(thing) for thing in things),
            ),
        )
        search = Branches(self.losses, order, things, most)
        number = {task: place for place, task in enumerate(self.tasks)}
        best: tuple[Fraction, int, list[int]] | None = None
        for chosen in search.walk(len(one_of)):
            some = frozenset(chosen)
            if most is not None and left_of(things, some, self.losses.workshop) > most:
                continue
            cost = _cost_of(self.losses, some, things)
            found = (cost, len(some), sorted(number[task] for task in some))
            if best is None or found < best:
                best = found
                search.limit = float(cost) + search.close
        assert best is not None  # the first way down that may be taken is never cut off
        return Least(best[0], frozenset(self.tasks[place] for place in best[2]))


def _together(some: Sequence[Least]) -> Least:
    """What has nothing to do with one another."""
    return Least(total_of(one.cost for one in some), NONE.union(*(one.tasks for one in some)))


def _cost_of(losses: Losses, tasks: frozenset[Task], things: Sequence[Thing]) -> Fraction:
    lost = [losses.cost(thing, tasks) for thing in things]
    return total_of([*map(losses.workshop.done, tasks), *lost])
