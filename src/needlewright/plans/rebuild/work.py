"""Work at a cluster: operations at their places, what must be open for them, and what it costs."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import combinations

from needlewright.plans.catalogue.model import Catalogue, Operation, Terms
from needlewright.plans.rebuild.findings import Place

Shape = tuple[Place, tuple[str, ...], tuple[tuple[str, str], ...]]
LevelAt = tuple[str, Place]
"""A level; with a dial, where there is one for every dial."""


@dataclass(frozen=True, slots=True)
class Task:
    """An operation done to a dial, or to the whole."""

    operation: Operation
    place: Place

    @property
    def name(self) -> str:
        """`replace_movement:speed`, `replace_lamps`."""
        return self.operation.id if self.place is None else f"{self.operation.id}:{self.place}"

    def treats(self, faults: Iterable[str], wear: Iterable[tuple[str, str]]) -> bool:
        """Whether it does anything about faults, or weak points and what those become."""
        one = self.operation
        return any(map(one.cures, faults)) or any(
            point in one.prevents or one.cures(state) for point, state in wear
        )


@dataclass(frozen=True, slots=True)
class Workshop:
    """A catalogue and the dials of one cluster."""

    catalogue: Catalogue
    dials: tuple[str, ...]
    names: Mapping[str, str] = field(default_factory=dict)
    """Of dials, for sentences; a dial without one goes by its id."""
    must_pass: frozenset[str] = frozenset()
    """Dials that get no certificate unless they pass the final check."""
    _opened: dict[Task, frozenset[LevelAt]] = field(default_factory=dict)
    _costs: dict[frozenset[LevelAt], Fraction] = field(default_factory=dict)
    _done: dict[Task, Fraction] = field(default_factory=dict)
    _mending: dict[tuple[Place, str], Fraction] = field(default_factory=dict)
    _treating: dict[Shape, frozenset[Task]] = field(default_factory=dict)
    _curable: dict[tuple[Place, str], bool] = field(default_factory=dict)
    _bases: list[frozenset[LevelAt]] = field(default_factory=list)

    def with_terms(self, terms: Terms) -> "Workshop":
        """The same with other terms, by which an hour costs what it did; what it knows stays."""
        if terms.hour != self.terms.hour:
            raise ValueError("another price of an hour: make a workshop of its own")
        return replace(self, catalogue=replace(self.catalogue, terms=terms))

    def named(self, words: str, place: Place) -> str:
        """Words of the catalogue with their dial put in."""
        return words if place is None else words.replace("{dial}", self.names.get(place, place))

    @property
    def terms(self) -> Terms:
        """Money and time."""
        return self.catalogue.terms

    @property
    def places(self) -> tuple[Place, ...]:
        """Every dial, and the whole."""
        return (*self.dials, None)

    def tasks_at(self, place: Place) -> tuple[Task, ...]:
        """Everything the catalogue knows to do there."""
        scope = "whole" if place is None else "dial"
        return tuple(
            Task(one, place) for one in self.catalogue.operations.values() if one.scope == scope
        )

    def opening(self, names: Iterable[str], place: Place) -> frozenset[LevelAt]:
        """What must be open, with everything that needs in turn.

        Parameters
        ----------
        names
            Levels.
        place
            For which dial; of the whole, or under a level of the whole, those of every dial count.

        Returns
        -------
        frozenset of LevelAt
            Closed under what levels need.
        """
        found: set[LevelAt] = set()
        waiting = [at for name in names for at in self._at(name, place)]
        while waiting:
            at = waiting.pop()
            if at in found:
                continue
            found.add(at)
            needs = self.catalogue.levels[at[0]].needs
            waiting += [below for name in needs for below in self._at(name, at[1])]
        return frozenset(found)

    def _at(self, name: str, place: Place) -> list[LevelAt]:
        if self.catalogue.levels[name].scope == "whole":
            return [(name, None)]
        return [(name, dial) for dial in (self.dials if place is None else (place,))]

    def open_for(self, tasks: Iterable[Task]) -> frozenset[LevelAt]:
        """What must be open for all of these tasks."""
        return frozenset().union(*(self._open_for(task) for task in tasks))

    def _open_for(self, task: Task) -> frozenset[LevelAt]:
        if task not in self._opened:
            self._opened[task] = self.opening(task.operation.open, task.place)
        return self._opened[task]

    def opening_minutes(self, levels: Iterable[LevelAt]) -> Fraction:
        """Expected minutes of the ways in and out, and of the checks that come with them."""
        known = self.catalogue.levels
        spreads = (one for name, _ in levels for one in known[name].spreads)
        return sum((one.mean for one in spreads), Fraction(0))

    def opening_cost(self, levels: frozenset[LevelAt]) -> Fraction:
        """What the ways in and out cost."""
        if levels not in self._costs:
            self._costs[levels] = self.terms.labour(self.opening_minutes(levels))
        return self._costs[levels]

    def price(self, task: Task) -> Fraction:
        """Expected labour, its checks included, and parts of a task, everything being open."""
        return self.terms.labour(task.operation.hands_on) + self.parts_price(task)

    def parts_price(self, task: Task) -> Fraction:
        """Its parts."""
        return sum((need.count * need.part.price for need in task.operation.needs), Fraction(0))

    def spoiling(self, task: Task) -> Fraction:
        """Expected cost of what it may spoil."""
        one = task.operation
        return one.spoil * (self.terms.labour(one.spoil_minutes) + one.spoil_cost)

    def done(self, task: Task) -> Fraction:
        """Its labour, parts and what it may spoil, everything being open."""
        if task not in self._done:
            self._done[task] = self.price(task) + self.spoiling(task)
        return self._done[task]

    def alone(self, task: Task) -> Fraction:
        """What a task costs by itself: opening, labour, parts, and what it may spoil."""
        return self.opening_cost(self.open_for([task])) + self.done(task)

    def mending(self, place: Place, state: str) -> Fraction:
        """What the cheapest repair of a fault costs by itself; 0 where no operation treats it."""
        key = (place, state)
        if key not in self._mending:
            able = (task for task in self.tasks_at(place) if task.operation.cures(state))
            self._mending[key] = min(map(self.alone, able), default=Fraction(0))
        return self._mending[key]

    def is_curable(self, place: Place, state: str) -> bool:
        """Whether some operation of the catalogue treats a fault."""
        key = (place, state)
        if key not in self._curable:
            able = (task.operation.cures(state) for task in self.tasks_at(place))
            self._curable[key] = any(able)
        return self._curable[key]

    def treating(
        self, place: Place, faults: tuple[str, ...], wear: tuple[tuple[str, str], ...]
    ) -> frozenset[Task]:
        """Every task there that does anything about faults, or weak points and their faults."""
        key = (place, faults, wear)
        if key not in self._treating:
            some = (task for task in self.tasks_at(place) if task.treats(faults, wear))
            self._treating[key] = frozenset(some)
        return self._treating[key]

    def bases(self) -> tuple[frozenset[LevelAt], ...]:
        """Every way the whole can stand open, the least open first."""
        if not self._bases:
            whole = [one.id for one in self.catalogue.levels.values() if one.scope == "whole"]
            found = {
                self.opening(some, None)
                for count in range(len(whole) + 1)
                for some in combinations(whole, count)
            }
            self._bases.extend(sorted(found, key=lambda some: (len(some), _sorted(some))))
        return tuple(self._bases)


def _sorted(levels: Iterable[LevelAt]) -> Sequence[tuple[str, str]]:
    return sorted((name, place or "") for name, place in levels)
