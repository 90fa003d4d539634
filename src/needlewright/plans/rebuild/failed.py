"""The least work that mends what failed, and everything that could be renewed."""

from collections.abc import Iterable, Mapping
from fractions import Fraction
from typing import Final

from needlewright.errors import PlanError
from needlewright.plans.rebuild.findings import Findings, Place
from needlewright.plans.rebuild.search import Search
from needlewright.plans.rebuild.work import LevelAt, Task

FAILED: Final = Fraction(1, 2)
"""Probability of being at fault from which a dial or system counts as failed."""
SENSIBLE: Final = Fraction(1, 2)
"""Probability of curing a fault from which an operation counts as mending it."""
MOST_STATES: Final = 12
"""Failed systems of the whole, whose every combination is looked at."""
Way = tuple[Fraction, Fraction, frozenset[Task]]
"""What work costs now, what it is expected to cost with all that follows, and the work."""


def failed_places(findings: Findings) -> dict[Place, tuple[str, ...]]:
    """What counts as failed: the most probable fault of a dial, and faults of the whole."""
    failed: dict[Place, tuple[str, ...]] = {}
    for place in dict.fromkeys(place for place, _ in findings.states):
        states = findings.of_place(place)
        if place is None:
            some = tuple(state for state, p in states.items() if p >= FAILED)
            if some:
                failed[place] = some
        elif sum(states.values()) >= FAILED:
            failed[place] = (max(states, key=lambda state: states[state]),)
    if not failed and findings.states:
        place, state = max(findings.states, key=lambda at: findings.states[at])
        if findings.states[place, state] >= max(findings.vehicle.values(), default=0):
            failed[place] = (state,)
    return failed


def least_work(search: Search, findings: Findings) -> frozenset[Task]:
    """What mends the failed faults for the least money now.

    Parameters
    ----------
    search
        Of the cluster.
    findings
        What may be wrong.

    Returns
    -------
    frozenset of Task
        For every failed fault one that cures it at least as often as not, or where none does, any
        that may; of a dial that must pass as many faults, the most probable first, as leave it
        sound enough; ways in and out counted once. Of work that costs the same now, what is
        expected to cost least in the end. What it saves later or does along counts for nothing
        else: it is the work a customer asked for who wants no more than that.

    Raises
    ------
    PlanError
        If more than `MOST_STATES` systems of the whole failed at once.
    """
    failed = failed_places(findings)
    while True:
        tasks = _least_for(search, failed)
        more = _more(search, findings, failed, tasks)
        if more is None:
            return tasks
        place, state = more
        failed[place] = (*failed.get(place, ()), state)


def _more(
    search: Search,
    findings: Findings,
    failed: Mapping[Place, tuple[str, ...]],
    tasks: frozenset[Task],
) -> tuple[str, str] | None:
    """Of a dial that must pass and would not yet, the fault to mend next; None: there is none."""
    for dial in search.workshop.must_pass:
        if search.leaves(dial, tasks) > search.may_leave(dial):
            states = findings.of_place(dial)
            rest = [state for state in states if state not in failed.get(dial, ())]
            if rest:
                return dial, max(rest, key=lambda state: states[state])
    return None


def _least_for(search: Search, failed: Mapping[Place, tuple[str, ...]]) -> frozenset[Task]:
    """What mends these faults for the least money now."""
    if len(failed.get(None, ())) > MOST_STATES:
        raise PlanError(
            f"{len(failed[None])} faults of the whole are more likely there than not; every "
            f"combination of what mends them is looked at, so at most {MOST_STATES} can be: say "
            "which of them are there"
        )
    found: list[Way] = []
    for base in search.workshop.bases():
        ways = [_at_place(search, place, states, base) for place, states in failed.items()]
        work = [way for way in ways if way is not None]
        if len(work) == len(ways):
            tasks = frozenset[Task]().union(*(way[2] for way in work))
            price = search.workshop.opening_cost(base) + sum((way[0] for way in work), Fraction(0))
            found.append((price, sum((way[1] for way in work), price), tasks))
    return min(found, key=_order)[2]


def everything(search: Search) -> frozenset[Task]:
    """What the catalogue names for replacing everything; else what renews all that wears.

    An operation that keeps weak points from failing is named for nothing where the cluster has
    none of these.
    """
    shop = search.workshop
    known = shop.catalogue
    every = [task for place in shop.places for task in shop.tasks_at(place)]
    named = [task for task in every if task.operation.in_everything]
    if not named:
        named = [task for task in every if task.operation.prevents]
    return frozenset(
        task
        for task in named
        if not task.operation.prevents or known.weak_points.keys() & task.operation.prevents.keys()
    )


def _at_place(
    search: Search, place: Place, states: tuple[str, ...], base: frozenset[LevelAt]
) -> Way | None:
    """The least work at a place with the whole standing open so far; None: it needs more open."""
    shop, costs = search.workshop, search.places[place]
    ways: dict[frozenset[str], Way] = {frozenset(): (Fraction(0), Fraction(0), frozenset())}
    for state in states:
        every = [task for task in shop.tasks_at(place) if task.operation.cures(state)]
        able = [task for task in every if task.operation.cures(state) >= SENSIBLE] or every
        within = [t for t in able if all(at[1] for at in shop.open_for([t]) - base)]
        if able and not within:
            return None
        if not able:
            continue
        more: dict[frozenset[str], Way] = {}
        for cured, (_, _, done) in ways.items():
            tried = [done] if state in cured else [done | {task} for task in within]
            for tasks in tried:
                price = shop.opening_cost(shop.open_for(tasks) - base)
                price += sum(map(shop.price, tasks), Fraction(0))
                way = (price, costs.cost_of(tasks), tasks)
                covers = frozenset(one for one in states if _mends(search, tasks, one))
                if covers not in more or _order(way) < _order(more[covers]):
                    more[covers] = way
        ways = more
    return min(ways.values(), key=_order)


def _mends(search: Search, tasks: Iterable[Task], state: str) -> bool:
    """Whether one of these cures a fault often enough to count."""
    return any(task.operation.cures(state) >= SENSIBLE for task in tasks)


def _order(way: Way) -> tuple[Fraction, Fraction, int, list[str]]:
    price, expected, tasks = way
    return price, expected, len(tasks), sorted(task.name for task in tasks)
