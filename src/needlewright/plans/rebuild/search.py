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
    """

    workshop: Workshop
    things: tuple[Thing, ...]
    losses: Losses
    sets: Mapping[Place, tuple[_Set, ...]]
    idle: Mapping[Place, tuple[Task, ...]]

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
            loss=sum((self.losses.least(one, _ordered(tasks))[0] for one in self.things), Loss()),
        )

    def best(self, only: Mapping[Place, Allowed] | None = None) -> frozenset[Task] | None:
        """The set with the least expected cost.

        Parameters
        ----------
        only
            By place, which sets may be taken there; elsewhere every one.

        Returns
        -------
        frozenset of Task or None
            None where no set is allowed at some place. Of sets that cost the same, the one with the
            fewest operations.
        """
        best: tuple[Fraction, int, frozenset[Task]] | None = None
        for base in self.workshop.bases():
            found = self._with(base, only or {})
            if found is not None and (best is None or found[:2] < best[:2]):
                best = found
        return None if best is None else best[2]

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
        return replace(self, sets={**self.sets, thing.place: (*sets, *added)})

    def with_sets(self, place: Place, able: Sequence[Sequence[Task]]) -> "Search":
        """The same with one place's sets: of each of these groups of operations, one is taken."""
        sets = {frozenset(some) for some in product(*able)}
        made = tuple(self._set_of(place, some) for some in sorted(sets, key=_names))
        return replace(self, sets={**self.sets, place: made})

    def _set_of(self, place: Place, tasks: frozenset[Task]) -> _Set:
        things = [thing for thing in self.things if thing.place == place]
        return _set_of(self.workshop, _ordered(tasks), things, _Remembered(self.losses))

    def _with(
        self, base: frozenset[LevelAt], only: Mapping[Place, Allowed]
    ) -> tuple[Fraction, int, frozenset[Task]] | None:
        """The best with the whole standing open so far."""
        total = self.workshop.opening_cost(base)
        tasks: frozenset[Task] = frozenset()
        for place, sets in self.sets.items():
            allowed = only.get(place)
            fitting = [
                (one.cost + self.workshop.opening_cost(one.own - base), len(one.tasks), number)
                for number, one in enumerate(sets)
                if one.whole <= base and (allowed is None or allowed(one.tasks))
            ]
            if not fitting:
                return None
            cost, _, number = min(fitting)
            total, tasks = total + cost, tasks | sets[number].tasks
        return total, len(tasks), tasks


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
        remembered = _Remembered(losses)
        sets[place] = tuple(
            _set_of(workshop, chosen, own, remembered)
            for count in range(len(paying) + 1)
            for chosen in combinations(paying, count)
        )
    return Search(workshop, tuple(things), losses, sets, idle)


def _could_pay(losses: Losses, task: Task, things: Sequence[Thing]) -> bool:
    saved = sum((losses.at_most(thing) for thing in things if thing.treated_by(task)), ZERO)
    return losses.workshop.price(task) + losses.workshop.spoiling(task) < saved


@dataclass(frozen=True, slots=True)
class _Remembered:
    """What things cost after the tasks that treat them, each worked out once."""

    losses: Losses
    known: dict[tuple[str, frozenset[Task]], Fraction] = field(default_factory=dict)

    def cost(self, thing: Thing, tasks: Sequence[Task]) -> Fraction:
        own = tuple(task for task in tasks if thing.treated_by(task))
        key = (thing.name, frozenset(own))
        if key not in self.known:
            self.known[key] = self.losses.least(thing, own)[0].cost
        return self.known[key]


def _set_of(
    workshop: Workshop, tasks: Sequence[Task], things: Sequence[Thing], known: _Remembered
) -> _Set:
    levels = workshop.open_for(tasks)
    cost = sum((workshop.price(task) + workshop.spoiling(task) for task in tasks), ZERO)
    cost += sum((known.cost(thing, tasks) for thing in things), ZERO)
    whole = frozenset(at for at in levels if at[1] is None)
    return _Set(frozenset(tasks), whole, levels - whole, cost)


def _ordered(tasks: Iterable[Task]) -> tuple[Task, ...]:
    return tuple(sorted(tasks, key=lambda task: task.name))


def _names(tasks: frozenset[Task]) -> list[str]:
    return sorted(task.name for task in tasks)
