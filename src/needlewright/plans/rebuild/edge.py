"""The least of many straight lines, and where it leaves the one that is least at a place.

With the operations and what is watched held fixed, the expected cost is a straight line over the
price of a return, and over the probability of a fault. The least of all is then the lower edge of
these lines. Where it leaves one of them is found by Newton's way: the line that is least at the far
end is crossed with this one, what is least at the crossing takes its place, until nothing is less.
Every crossing is an exact fraction. Where a dial must pass, the chance of its fault decides as well
which lines there are: one begins or ends where it leaves just as much as may be left, an exact
fraction too, and the least of all may jump there. **Source**: derivation, docs/plan.md.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from needlewright.plans.rebuild.must_pass import most_left
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
            bar = self._bar(here.tasks, x, end)
            beaten = self._beaten(here, x, end if bar is None else bar)
            if beaten is None and bar is None:
                return None
            if beaten is None and bar is not None:
                beaten = bar, self.best(bar + (end - bar) * BESIDE)
            assert beaten is not None
            x, here = beaten
            if here.tasks != self.best(start).tasks:
                return x, here.tasks
            # only what is watched has changed
        return None

    def _beaten(self, here: Policy, x: Fraction, end: Fraction) -> tuple[Fraction, Policy] | None:
        """Where something becomes cheaper than what is best at x, and what; None: nowhere."""
        at, last = end, None
        other = self.best(at)
        while self.cost(other, at) < self.cost(here, at):
            last = other
            bar = self._bar(other.tasks, x, at)
            begins = x if bar is None else bar
            if self.cost(other, begins) >= self.cost(here, begins):
                at = self._crossing(here, other, begins, at)
                other = self.best(at)
                continue
            # cheaper as soon as it may be done; so may be another one, just before
            before = begins + (x - begins) * BESIDE
            other = self.best(before)
            if self.cost(other, before) >= self.cost(here, before):
                return begins, last
            at = before
        return None if last is None else (at, last)

    def _bar(self, tasks: frozenset[Task], x: Fraction, end: Fraction) -> Fraction | None:
        """Where work begins, or ceases, to leave too much of a fault; None: nowhere between."""
        near, far = self.at(x), self.at(end)
        for dial in near.workshop.must_pass:
            left = [search.leaves(dial, tasks) for search in (near, far)]
            least = [search.leaves(dial, search.places[dial].tasks) for search in (near, far)]
            over = [one - most_left(near.workshop.terms) for one in left]
            if left != least and (over[0] <= 0) != (over[1] <= 0):
                return x + (end - x) * over[0] / (over[0] - over[1])
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
