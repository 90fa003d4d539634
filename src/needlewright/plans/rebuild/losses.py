"""What is expected to be lost after the work: repairs that did not take, returns, later failures.

A fault that is there and left comes back within the warranty. One that was treated and did not take
is found by the final check, and mended in the house, or comes back. Of a weak point the first
failure counts. Bringing the next repair about costs what its cheapest operation takes by itself.
"""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction

from needlewright.plans.rebuild.findings import Place
from needlewright.plans.rebuild.risks import FaultNow, Thing, Wear
from needlewright.plans.rebuild.work import Task, Workshop

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Loss:
    """Expected cost, by what it is for, and how many returns under warranty are expected.

    Parameters
    ----------
    rework
        Repairs that did not take, found in the house.
    returns
        Clusters that come back under warranty: both ways, the work again, goodwill.
    later
        Failures after the warranty, until the customer's horizon.
    watching
        Telling the customer what to look for.
    expected_returns
        A number, not money.
    """

    rework: Fraction = ZERO
    returns: Fraction = ZERO
    later: Fraction = ZERO
    watching: Fraction = ZERO
    expected_returns: Fraction = ZERO

    def __add__(self, other: "Loss") -> "Loss":
        return Loss(
            _plus(self.rework, other.rework),
            _plus(self.returns, other.returns),
            _plus(self.later, other.later),
            _plus(self.watching, other.watching),
            _plus(self.expected_returns, other.expected_returns),
        )

    @property
    def cost(self) -> Fraction:
        """All of it that is money."""
        return _plus(_plus(self.rework, self.returns), _plus(self.later, self.watching))


def _plus(one: Fraction, other: Fraction) -> Fraction:
    """Their sum; most of a loss is nothing, and adding that to a fraction takes its time too."""
    if not other:
        return one
    return one + other if one else other


@dataclass(frozen=True, slots=True)
class Losses:
    """Works out losses, and remembers what was asked before.

    Parameters
    ----------
    workshop
        Of the catalogue and the dials.
    """

    workshop: Workshop
    _back: dict[tuple[Place, str, bool], Fraction] = field(default_factory=dict)
    _most: dict[str, Fraction] = field(default_factory=dict)
    _treating: dict[str, frozenset[Task]] = field(default_factory=dict)
    _least: dict[tuple[str, frozenset[Task]], tuple[Loss, bool]] = field(default_factory=dict)
    _cost: dict[tuple[str, frozenset[Task]], Fraction] = field(default_factory=dict)

    def treating(self, thing: Thing) -> frozenset[Task]:
        """Every task that does anything about a thing."""
        if thing.name not in self._treating:
            self._treating[thing.name] = self.workshop.treating(
                thing.place,
                tuple(fault.state for fault in thing.faults),
                tuple((wear.point.id, wear.state) for wear in thing.wear),
            )
        return self._treating[thing.name]

    def mending(self, place: Place, state: str) -> Fraction:
        """What the next repair of a fault costs by itself; 0 where no operation treats it."""
        return self.workshop.mending(place, state)

    def coming_back(self, place: Place, state: str, *, told: bool = False) -> Fraction:
        """What a return under warranty costs; less goodwill where the customer was told."""
        key = (place, state, told)
        if key not in self._back:
            terms = self.workshop.terms
            goodwill = terms.goodwill * (1 - terms.goodwill_told if told else 1)
            self._back[key] = 2 * terms.ship_one_way + self.mending(place, state) + goodwill
        return self._back[key]

    def failing_later(self, place: Place, state: str) -> Fraction:
        """What a failure after the warranty costs."""
        return 2 * self.workshop.terms.ship_one_way + self.mending(place, state)

    def of_fault(self, fault: FaultNow, tasks: Iterable[Task], *, told: bool = False) -> Loss:
        """What a fault costs that may be there, after these tasks."""
        miss, is_treated = _missed(fault.place, fault.state, tasks)
        back = self.coming_back(fault.place, fault.state, told=told)
        if not is_treated:
            return Loss(returns=fault.chance * back, expected_returns=fault.chance)
        caught = self.workshop.terms.check_catches
        left = fault.chance * miss
        return Loss(
            rework=left * caught * self.mending(fault.place, fault.state),
            returns=left * (1 - caught) * back,
            expected_returns=left * (1 - caught),
        )

    def of_wear(
        self, thing: Thing, wear: Wear, tasks: Iterable[Task], *, told: bool = False
    ) -> Loss:
        """What a weak point costs that may fail, after these tasks."""
        age_left, treated = Fraction(1), False
        for task in tasks:
            if task.place == wear.place:
                age_left *= 1 - task.operation.prevents.get(wear.point.id, ZERO)
                treated = treated or task.operation.cures(wear.state) > 0
        early, late = wear.chances(age_left)
        # what is at fault already cannot fail once more, unless it is mended
        at_fault = sum((f.chance for f in thing.faults if f.state == wear.state), ZERO)
        alive = Fraction(1) if treated else 1 - at_fault
        return Loss(
            returns=alive * early * self.coming_back(wear.place, wear.state, told=told),
            later=alive * late * self.failing_later(wear.place, wear.state),
            expected_returns=alive * early,
        )

    def of_thing(self, thing: Thing, tasks: Iterable[Task], *, told: bool = False) -> Loss:
        """What a thing costs after these tasks.

        Parameters
        ----------
        thing
            A part or system.
        tasks
            That are done; those elsewhere do nothing to it.
        told
            Whether the customer is told what to look for.

        Returns
        -------
        Loss
            Of its faults and weak points together.
        """
        total = Loss()
        if told:
            terms = self.workshop.terms
            total = Loss(watching=terms.labour(terms.watch_minutes))
        for fault in thing.faults:
            total += self.of_fault(fault, tasks, told=told)
        for wear in thing.wear:
            total += self.of_wear(thing, wear, tasks, told=told)
        return total

    def least(self, thing: Thing, tasks: frozenset[Task]) -> tuple[Loss, bool]:
        """What a thing costs, and whether watching it is what makes it so.

        Only what nothing is done about is watched.
        """
        key = (thing.name, tasks & self.treating(thing))
        if key not in self._least:
            self._least[key] = self._least_of(thing, key[1])
        return self._least[key]

    def cost(self, thing: Thing, tasks: frozenset[Task]) -> Fraction:
        """The money of `least`."""
        key = (thing.name, tasks & self.treating(thing))
        if key not in self._cost:
            self._cost[key] = self.least(thing, tasks)[0].cost
        return self._cost[key]

    def _least_of(self, thing: Thing, own: frozenset[Task]) -> tuple[Loss, bool]:
        plain = self.of_thing(thing, own)
        if own or not thing.counts:
            return plain, False
        terms = self.workshop.terms
        watching = terms.labour(terms.watch_minutes)
        saved = terms.goodwill * terms.goodwill_told * plain.expected_returns
        if watching >= saved:
            return plain, False
        return replace(plain, returns=plain.returns - saved, watching=watching), True

    def at_most(self, thing: Thing) -> Fraction:
        """More than this a thing never costs, whatever is done: what saves less is idle."""
        if thing.name not in self._most:
            self._most[thing.name] = self._most_of(thing)
        return self._most[thing.name]

    def forgetting(self, names: Collection[str]) -> "Losses":
        """The same for things of which these are others now; what was asked of the rest stays."""
        return replace(
            self,
            _most={name: most for name, most in self._most.items() if name not in names},
            _treating={name: some for name, some in self._treating.items() if name not in names},
            _least={key: one for key, one in self._least.items() if key[0] not in names},
            _cost={key: one for key, one in self._cost.items() if key[0] not in names},
        )

    def _most_of(self, thing: Thing) -> Fraction:
        total = ZERO
        for fault in thing.faults:
            total += fault.chance * self.coming_back(fault.place, fault.state)
        for wear in thing.wear:
            # the chance of failing at all rises or falls with age throughout: an end has the most
            ends = [sum(wear.chances(age_left), ZERO) for age_left in (Fraction(1), ZERO)]
            total += max(ends) * self.coming_back(wear.place, wear.state)
        return total


def _missed(place: Place, state: str, tasks: Iterable[Task]) -> tuple[Fraction, bool]:
    """Probability that none of these tasks takes a fault away; whether any of them could."""
    miss, is_treated = Fraction(1), False
    for task in tasks:
        cure = task.operation.cures(state) if task.place == place else ZERO
        if cure:
            miss, is_treated = miss * (1 - cure), True
    return miss, is_treated
