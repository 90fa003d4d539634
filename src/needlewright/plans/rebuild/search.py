"""The set of operations with the least expected cost, ways in that count once included.

Once it is settled how far the whole stands open, the dials and the whole have nothing more to do
with one another: each takes the cheapest of its own sets of operations that go with it (`least`).
So every way of standing open is tried, and what is found is the least of all sets. A dial that must
pass the final check takes the cheapest of those sets that leave it sound enough. **Source**:
derivation, docs/plan.md.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from needlewright.plans.rebuild.findings import Place
from needlewright.plans.rebuild.least import PlaceCosts
from needlewright.plans.rebuild.losses import Loss, Losses
from needlewright.plans.rebuild.must_pass import left_of, most_left
from needlewright.plans.rebuild.risks import Thing
from needlewright.plans.rebuild.totals import total_of
from needlewright.plans.rebuild.work import LevelAt, Task, Workshop

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Rule:
    """Which sets of operations may be taken at a place.

    Parameters
    ----------
    without
        Operations that are not taken.
    one_of
        At least one of these is; empty: none is asked for.
    waived
        Whether a dial that must pass may be left with any fault.
    """

    without: frozenset[Task] = frozenset()
    one_of: frozenset[Task] = frozenset()
    waived: bool = False


ANY: Final = Rule()


@dataclass(frozen=True, slots=True)
class Costs:
    """What a set of operations costs, and is expected to cost.

    Parameters
    ----------
    tasks
        The operations.
    levels
        What is opened for them.
    opening, labour, parts
        The work now: ways in and out, hands-on, parts.
    spoiling
        Expected cost of what the work may spoil.
    loss
        What is expected afterwards.
    """

    tasks: frozenset[Task]
    levels: frozenset[LevelAt]
    opening: Fraction
    labour: Fraction
    parts: Fraction
    spoiling: Fraction
    loss: Loss

    @property
    def price(self) -> Fraction:
        """Of the work now."""
        return self.opening + self.labour + self.parts

    @property
    def total(self) -> Fraction:
        """Expected cost over warranty and horizon, the work included."""
        return self.price + self.spoiling + self.loss.cost


@dataclass(frozen=True, slots=True)
class Best:
    """A set of operations, and its expected cost."""

    total: Fraction
    tasks: frozenset[Task]


@dataclass(frozen=True, slots=True)
class Search:
    """Everything that could be done to one cluster.

    Parameters
    ----------
    workshop
        Of the catalogue and the dials.
    things
        What may be wrong or fail.
    losses
        What that costs.
    places
        By place, what sets of operations cost there.
    paying
        By place, operations that could save more than they cost; no best set has another.
    freely
        By place and how far the whole stands open, the best set there where any may be taken, as
        far as it was asked for.
    """

    workshop: Workshop
    things: tuple[Thing, ...]
    losses: Losses
    places: Mapping[Place, PlaceCosts]
    paying: Mapping[Place, frozenset[Task]]
    freely: Mapping[Place, dict[frozenset[LevelAt], Best]]

    def costs(self, tasks: frozenset[Task]) -> Costs:
        """What any set of operations costs.

        Parameters
        ----------
        tasks
            Any, also such that do not pay.

        Returns
        -------
        Costs
            By what they are for.
        """
        shop = self.workshop
        levels = shop.open_for(tasks)
        return Costs(
            tasks=tasks,
            levels=levels,
            opening=shop.opening_cost(levels),
            labour=sum((shop.terms.labour(task.operation.hands_on) for task in tasks), ZERO),
            parts=sum((shop.parts_price(task) for task in tasks), ZERO),
            spoiling=sum((shop.spoiling(task) for task in tasks), ZERO),
            loss=sum((self.losses.least(one, tasks)[0] for one in self.things), Loss()),
        )

    def may_leave(self, place: Place) -> Fraction:
        """The chance of a fault that work may leave at a place; 1 where nothing must pass.

        Where no work of the catalogue gets a dial that must pass so far, what all of it leaves.
        """
        if place not in self.workshop.must_pass:
            return Fraction(1)
        return max(most_left(self.workshop.terms), self.leaves(place, self.places[place].tasks))

    def leaves(self, place: Place, tasks: Iterable[Task]) -> Fraction:
        """The chance of a fault at a place after some work, of faults that anything treats."""
        costs = self.places[place]
        return costs.left(frozenset(costs.tasks).intersection(tasks))

    def unfinished(self, tasks: Iterable[Task]) -> tuple[str, ...]:
        """The dials that must pass and are left with more of a fault than a rebuild may leave.

        Also with faults that no operation of the catalogue treats.
        """
        done, shop = list(tasks), self.workshop
        return tuple(
            dial
            for dial in shop.dials
            if dial in shop.must_pass
            and left_of(self.places[dial].things, done) > most_left(shop.terms)
        )

    def best(self, only: Mapping[Place, Rule] | None = None) -> Best | None:
        """The set with the least expected cost.

        Parameters
        ----------
        only
            By place, which sets may be taken there; elsewhere every one.

        Returns
        -------
        Best or None
            None where no set is allowed at some place. Of sets that cost the same, the one with the
            fewest operations. A dial that must pass is left with no more than `may_leave`.

        Raises
        ------
        PlanError
            If the operations of a place depend on one another in too many ways.
        """
        rules = {place: (only or {}).get(place, ANY) for place in self.places}
        best: Best | None = None
        for base in self.workshop.bases():
            found = self._with(base, rules)
            if found is not None and (
                best is None or (found.total, len(found.tasks)) < (best.total, len(best.tasks))
            ):
                best = found
        return best

    def _with(self, base: frozenset[LevelAt], rules: Mapping[Place, Rule]) -> Best | None:
        """The best with the whole standing open so far."""
        total = self.workshop.opening_cost(base)
        tasks: frozenset[Task] = frozenset()
        for place, rule in rules.items():
            best = self._cheapest(place, rule, base)
            if best is None:
                return None
            total, tasks = total + best.total, tasks | best.tasks
        return Best(total, tasks)

    def _cheapest(self, place: Place, rule: Rule, base: frozenset[LevelAt]) -> Best | None:
        """Of a place; what is best of all its sets is asked for again and again."""
        known = self.freely[place]
        if rule is ANY and base in known:
            return known[base]
        best = min(self._open(place, rule, base), key=_order, default=None)
        if not rule.waived and place in self.workshop.must_pass:
            most = self.may_leave(place)
            if best is None or self.leaves(place, best.tasks) > most:
                best = min(self._open(place, rule, base, most), key=_order, default=None)
        if rule is ANY and best is not None:
            known[base] = best
        return best

    def _open(
        self, place: Place, rule: Rule, base: frozenset[LevelAt], most: Fraction | None = None
    ) -> Iterator[Best]:
        """By how far a place stands open beyond the whole, the cheapest set there.

        Where only so much of a fault may be left, also with operations that save too little to pay.
        """
        shop, costs = self.workshop, self.places[place]
        able = self.paying[place] if most is None else frozenset(costs.tasks)
        able = (able | rule.one_of) - rule.without
        beyond = {task: shop.open_for([task]) - base for task in able}
        within = {task: own for task, own in beyond.items() if all(at[1] for at in own)}
        for own in _unions(within.values()):
            some = frozenset(task for task, levels in within.items() if levels <= own)
            one_of = rule.one_of & some
            if rule.one_of and not one_of:
                continue
            found = costs.least(some, one_of) if most is None else costs.passing(some, one_of, most)
            if found is not None:
                yield Best(shop.opening_cost(own) + found.cost, found.tasks)


def _order(way: Best) -> tuple[Fraction, int]:
    return way.total, len(way.tasks)


def _unions(some: Iterable[frozenset[LevelAt]]) -> Sequence[frozenset[LevelAt]]:
    """Nothing, and everything that some of these make together, the fewest first."""
    found = {frozenset[LevelAt]()}
    for one in set(some):
        found |= {other | one for other in found}
    return sorted(found, key=lambda levels: (len(levels), sorted(map(str, levels))))


def search_of(workshop: Workshop, things: Sequence[Thing]) -> Search:
    """Make ready to look for the cheapest sets of operations.

    Parameters
    ----------
    workshop
        Of the catalogue and the dials.
    things
        What may be wrong or fail.

    Returns
    -------
    Search
        An operation that costs more than all it could ever save is in no best set: leaving it out
        never costs more.
    """
    losses = Losses(workshop)
    places, paying = {}, {}
    for place in workshop.places:
        own = tuple(thing for thing in things if thing.place == place)
        tasks = workshop.tasks_at(place)
        places[place] = PlaceCosts(losses, tasks, own)
        paying[place] = frozenset(task for task in tasks if _could_pay(losses, task, own))
    freely = {place: dict[frozenset[LevelAt], Best]() for place in places}
    return Search(workshop, tuple(things), losses, places, paying, freely)


def with_things_at(search: Search, place: Place, things: Sequence[Thing]) -> Search:
    """The same search with other things at one place; all that was found elsewhere stays.

    Parameters
    ----------
    search
        As it was.
    place
        Where something is otherwise.
    things
        Of that place now.

    Returns
    -------
    Search
        As `search_of` would make it of all things together.
    """
    names = {thing.name for thing in (*search.places[place].things, *things)}
    losses, tasks = search.losses.forgetting(names), search.places[place].tasks
    every: list[Thing] = []
    for at, costs in search.places.items():
        every += things if at == place else costs.things
    paying = frozenset(task for task in tasks if _could_pay(losses, task, things))
    return Search(
        search.workshop,
        tuple(every),
        losses,
        {**search.places, place: PlaceCosts(losses, tasks, tuple(things))},
        {**search.paying, place: paying},
        {**search.freely, place: {}},
    )


def _could_pay(losses: Losses, task: Task, things: Sequence[Thing]) -> bool:
    saved = (losses.at_most(thing) for thing in things if task in losses.treating(thing))
    return losses.workshop.done(task) < total_of(saved)
