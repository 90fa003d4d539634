"""The least of many straight lines, and where it leaves the one that is least at a place.

With the operations and what is watched held fixed, the expected cost is a straight line over the
price of a return, and over the probability of a fault. The least of all is then the lower edge of
these lines. Where it leaves one of them is found by Newton's way: the line that is least at the far
end is crossed with this one, what is least at the crossing takes its place, until nothing is less.
Every crossing is an exact fraction. **Source**: derivation, docs/plan.md.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from needlewright.plans.rebuild.risks import Thing
from needlewright.plans.rebuild.search import Search
from needlewright.plans.rebuild.totals import total_of
from needlewright.plans.rebuild.work import Task

MOST_STEPS: Final = 100
BESIDE: Final = Fraction(1, 10**9)
"""Share by which both sides of a crossing are looked at once more."""


@dataclass(frozen=True, slots=True)
class Policy:
    """Operations, and the names of what is watched: its cost is a straight line."""

    tasks: frozenset[Task]
    watched: frozenset[str]


@dataclass(frozen=True, slots=True)
class Edge:
    """The least of all lines over one assumption.

    Parameters
    ----------
    search_at
        The search with the assumption at a value.
    """

    search_at: Callable[[Fraction], Search]
    _searches: dict[Fraction, Search] = field(default_factory=dict)
    _best: dict[Fraction, Policy] = field(default_factory=dict)

    def at(self, x: Fraction) -> Search:
        """The search there."""
        if x not in self._searches:
            self._searches[x] = self.search_at(x)
        return self._searches[x]

    def best(self, x: Fraction) -> Policy:
        """What costs least there."""
        if x not in self._best:
            search = self.at(x)
            found = search.best()
            assert found is not None  # the empty set is always there
            watched = [t.name for t in search.things if search.losses.least(t, found.tasks)[1]]
            self._best[x] = Policy(found.tasks, frozenset(watched))
        return self._best[x]

    def cost(self, policy: Policy, x: Fraction) -> Fraction:
        """What a policy costs there, whether it is best or not."""
        search = self.at(x)
        shop, losses, tasks = search.workshop, search.losses, policy.tasks

        def lost_of(thing: Thing) -> Fraction:
            is_watched = losses.least(thing, tasks)[1]
            if is_watched == (thing.name in policy.watched):
                return losses.cost(thing, tasks)
            return losses.of_thing(thing, tasks, told=not is_watched).cost

        opening = shop.opening_cost(shop.open_for(tasks))
        return total_of([opening, *map(shop.done, tasks), *map(lost_of, search.things)])

    def leaves(self, start: Fraction, end: Fraction) -> tuple[Fraction, frozenset[Task]] | None:
        """Where other operations become best on the way to an end, and which; None: nowhere."""
        here, x = self.best(start), start
        for _ in range(MOST_STEPS):
            at, other = end, self.best(end)
            if self.cost(other, end) >= self.cost(here, end):
                return None
            while self.cost(other, at) < self.cost(here, at):
                last, at = other, self._crossing(here, other, x, at)
                other = self.best(at)
            if last.tasks != self.best(start).tasks:
                return at, last.tasks
            here, x = last, at  # only what is watched has changed
        return None

    def _crossing(self, here: Policy, other: Policy, x: Fraction, at: Fraction) -> Fraction:
        near = self.cost(here, x) - self.cost(other, x)
        far = self.cost(here, at) - self.cost(other, at)
        return x + (at - x) * -near / (far - near)

    def switch(self, start: Fraction, end: Fraction) -> tuple[Fraction, frozenset[Task]] | None:
        """The same, looked at once more on both sides; None also where it does not hold there.

        What counts as a thing at all changes the lines where a probability becomes small: a
        crossing that was worked out across such a place would be wrong.
        """
        left = None if start == end else self.leaves(start, end)
        if left is None:
            return None
        at = left[0]
        near, far = at + (start - at) * BESIDE, at + (end - at) * BESIDE
        holds = self.best(near).tasks == self.best(start).tasks and self.best(far).tasks == left[1]
        return left if holds else None
