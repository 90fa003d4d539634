"""The set of operations with the least expected cost, ways in that count once included.

Once it is settled how far the whole stands open, the dials and the whole have nothing more to do
with one another: each takes the best of its own sets of operations that go with it. So every way of
standing open is tried, and what is found is the least of all sets. **Source**: derivation,
docs/plan.md.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import combinations, product

from needlewright.plans.rebuild.findings import Place
from needlewright.plans.rebuild.losses import Loss, Losses
from needlewright.plans.rebuild.risks import Thing
from needlewright.plans.rebuild.work import LevelAt, Task, Workshop

ZERO = Fraction(0)
Allowed = Callable[[frozenset[Task]], bool]


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
class _Set:
    """One set of operations at one place."""

    tasks: frozenset[Task]
    whole: frozenset[LevelAt]
    own: frozenset[LevelAt]
    """Levels of this dial alone."""
    cost: Fraction
    """Without any opening."""


@dataclass(frozen=True, slots=True)
class Best:
    """A set of operations, and its expected cost."""

    total: Fraction
    tasks: frozenset[Task]


@dataclass(frozen=True, slots=True)
class Search:
    """Everything that could be done to one cluster, set by set.

    Parameters
    ----------
    workshop
        Of the catalogue and the dials.
    things
        What may be wrong or fail.
    losses
        What that costs.
    sets
        By place, every set of operations that could pay there.
    idle
        By place, operations that cost more than all they could ever save.
    cheapest
        By place, once it was asked for: of the sets that open the same, the one that costs least.
    """

    workshop: Workshop
    things: tuple[Thing, ...]
    losses: Losses
    sets: Mapping[Place, tuple[_Set, ...]]
    idle: Mapping[Place, tuple[Task, ...]]
    cheapest: dict[Place, tuple[_Set, ...]] = field(default_factory=dict)

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
            labour=sum((shop.terms.labour(task.operation.minutes.mean) for task in tasks), ZERO),
            parts=sum((shop.parts_price(task) for task in tasks), ZERO),
            spoiling=sum((shop.spoiling(task) for task in tasks), ZERO),
            loss=sum((self.losses.least(one, tasks)[0] for one in self.things), Loss()),
        )

    def best(self, only: Mapping[Place, Allowed] | None = None) -> Best | None:
        """The set with the least expected cost.

        Parameters
        ----------
        only
            By place, which sets may be taken there; elsewhere every one.

        Returns
        -------
        Best or None
            None where no set is allowed at some place. Of sets that cost the same, the one with the
            fewest operations.
        """
        sets = {}
        for place, every in self.sets.items():
            allowed = (only or {}).get(place)
            if allowed is not None:
                sets[place] = _cheapest(one for one in every if allowed(one.tasks))
                continue
            if place not in self.cheapest:
                self.cheapest[place] = _cheapest(every)
            sets[place] = self.cheapest[place]
        best: Best | None = None
        for base in self.workshop.bases():
            found = self._with(base, sets.values())
            if found is not None and (
                best is None or (found.total, len(found.tasks)) < (best.total, len(best.tasks))
            ):
                best = found
        return best

    def with_every_task(self, thing: Thing) -> "Search":
        """The same with what does not pay beside it, as far as it treats a thing.

        One operation that does not pay is enough to ask what it would cost: a second would only
        cost more.
        """
        sets = self.sets[thing.place]
        added = [
            self._set_of(thing.place, one.tasks | {task})
            for task in self.idle[thing.place]
            if thing.treated_by(task)
            for one in sets
        ]
        return self._with_sets(thing.place, (*sets, *added))

    def with_sets(self, place: Place, able: Sequence[Sequence[Task]]) -> "Search":
        """The same with one place's sets: of each of these groups of operations, one is taken."""
        sets = {frozenset(some) for some in product(*able)}
        made = tuple(self._set_of(place, some) for some in sorted(sets, key=_names))
        return self._with_sets(place, made)

    def _with_sets(self, place: Place, sets: tuple[_Set, ...]) -> "Search":
        cheapest = {other: some for other, some in self.cheapest.items() if other != place}
        return replace(self, sets={**self.sets, place: sets}, cheapest=cheapest)

    def _set_of(self, place: Place, tasks: frozenset[Task]) -> _Set:
        things = [thing for thing in self.things if thing.place == place]
        return _set_of(self.losses, tasks, things)

    def _with(self, base: frozenset[LevelAt], places: Iterable[Sequence[_Set]]) -> Best | None:
        """The best with the whole standing open so far."""
        total = self.workshop.opening_cost(base)
        tasks: frozenset[Task] = frozenset()
        for sets in places:
            fitting = [
                (one.cost + self.workshop.opening_cost(one.own - base), len(one.tasks), number)
                for number, one in enumerate(sets)
                if one.whole <= base
            ]
            if not fitting:
                return None
            cost, _, number = min(fitting)
            total, tasks = total + cost, tasks | sets[number].tasks
        return Best(total, tasks)


def search_of(workshop: Workshop, things: Sequence[Thing]) -> Search:
    """Work out every set of operations that could pay.

    Parameters
    ----------
    workshop
        Of the catalogue and the dials.
    things
        What may be wrong or fail.

    Returns
    -------
    Search
        An operation that costs more than all it could ever save is in no set: leaving it out never
        costs more.
    """
    losses = Losses(workshop)
    sets, idle = {}, {}
    for place in workshop.places:
        own = [thing for thing in things if thing.place == place]
        tasks = workshop.tasks_at(place)
        paying = [task for task in tasks if _could_pay(losses, task, own)]
        idle[place] = tuple(task for task in tasks if task not in paying)
        sets[place] = tuple(
            _set_of(losses, frozenset(chosen), own)
            for count in range(len(paying) + 1)
            for chosen in combinations(paying, count)
        )
    return Search(workshop, tuple(things), losses, sets, idle)


def _could_pay(losses: Losses, task: Task, things: Sequence[Thing]) -> bool:
    saved = sum((losses.at_most(thing) for thing in things if thing.treated_by(task)), ZERO)
    return losses.workshop.price(task) + losses.workshop.spoiling(task) < saved


def _set_of(losses: Losses, tasks: frozenset[Task], things: Sequence[Thing]) -> _Set:
    shop = losses.workshop
    levels = shop.open_for(tasks)
    cost = sum((shop.price(task) + shop.spoiling(task) for task in tasks), ZERO)
    cost += sum((losses.least(thing, tasks)[0].cost for thing in things), ZERO)
    whole = frozenset(at for at in levels if at[1] is None)
    return _Set(tasks, whole, levels - whole, cost)


def _cheapest(sets: Iterable[_Set]) -> tuple[_Set, ...]:
    """Of the sets that open the same, the one that costs least, and of those the smallest."""
    found: dict[tuple[frozenset[LevelAt], frozenset[LevelAt]], _Set] = {}
    for one in sets:
        key = (one.whole, one.own)
        other = found.get(key)
        if other is None or (one.cost, len(one.tasks)) < (other.cost, len(other.tasks)):
            found[key] = one
    return tuple(found.values())


def _names(tasks: frozenset[Task]) -> list[str]:
    return sorted(task.name for task in tasks)
