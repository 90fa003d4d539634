"""The three options a customer is shown, each with what it costs now and is expected to cost."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from math import sqrt
from typing import Final, Literal

from needlewright.families.model import Family
from needlewright.findings.troubleshooting.model import Knowledge
from needlewright.plans.rebuild.choices import READING_LOW, percent
from needlewright.plans.rebuild.findings import LEAST, Findings, Place
from needlewright.plans.rebuild.search import Costs, Rule, Search
from needlewright.plans.rebuild.work import Task

OptionId = Literal["recommended", "only_failed", "everything"]
TITLES: Final[Mapping[OptionId, str]] = {
    "recommended": "recommended",
    "only_failed": "only what failed",
    "everything": "replace everything",
}
FAILED: Final = Fraction(1, 2)
"""Probability of being at fault from which a dial or system counts as failed."""


@dataclass(frozen=True, slots=True)
class Option:
    """One of them.

    Parameters
    ----------
    id
        Which.
    costs
        What it costs now, and is expected to cost.
    minutes, u_minutes, u_together
        Expected minutes of the work, and their standard deviation where each piece varies by
        itself, and where all vary together (correlation 1), which is the most it can be.
    cautions
        What must be said with it.
    left
        Names of the things nothing is done about.
    """

    id: OptionId
    costs: Costs
    minutes: Fraction
    u_minutes: float
    u_together: float
    cautions: tuple[str, ...]
    left: tuple[str, ...]


def options_of(
    search: Search, findings: Findings, family: Family, knowledge: Knowledge
) -> tuple[Option, Option, Option]:
    """Work out the three options.

    Parameters
    ----------
    search
        Of the cluster.
    findings
        What may be wrong.
    family
        Which of its dials are speedometers.
    knowledge
        Words for causes.

    Returns
    -------
    tuple of three Option
        Recommended: the least expected cost of all. Only what failed: for every dial or system
        that is more likely at fault than not (the most likely one, where none is and the vehicle is
        not likelier), what mends its most probable fault, and nothing else. Replace everything:
        what failed, and everything that can be replaced and is known to wear or may be at fault.
    """
    best = search.best()
    assert best is not None  # the empty set is always there
    recommended = best.tasks
    failed = _failed_only(search, findings)
    everything = failed | _replaceable(search)

    def said(tasks: frozenset[Task]) -> tuple[str, ...]:
        names = search.workshop.names
        return speedometer_cautions(tasks, findings, family, knowledge, names)

    return (
        _option("recommended", search, recommended, said(recommended)),
        _option("only_failed", search, failed, said(failed)),
        _option("everything", search, everything, said(everything)),
    )


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


def _failed_only(search: Search, findings: Findings) -> frozenset[Task]:
    """What mends it: of the operations that could, those that cost least in the end."""
    only = {place: Rule(exactly=(frozenset(),)) for place in search.workshop.places}
    for place, states in failed_places(findings).items():
        able = [
            [task for task in search.workshop.tasks_at(place) if task.operation.cures(state)]
            for state in states
        ]
        sets = {frozenset(some) for some in product(*(some for some in able if some))}
        only[place] = Rule(exactly=tuple(sorted(sets, key=_names)))
    found = search.best(only)
    assert found is not None  # the sets were made for it
    return found.tasks


def _names(tasks: frozenset[Task]) -> list[str]:
    return sorted(task.name for task in tasks)


def _replaceable(search: Search) -> frozenset[Task]:
    return frozenset(
        task
        for place in search.workshop.places
        for task in search.workshop.tasks_at(place)
        if task.operation.kind == "replace"
        and any(
            any(wear.point.id in task.operation.prevents for wear in thing.wear)
            or any(
                fault.chance >= LEAST and task.operation.cures(fault.state)
                for fault in thing.faults
            )
            for thing in search.things
            if thing.place == place
        )
    )


def _option(
    which: OptionId, search: Search, tasks: frozenset[Task], cautions: tuple[str, ...]
) -> Option:
    costs, known = search.costs(tasks), search.workshop.catalogue.levels
    spreads = [task.operation.minutes for task in tasks]
    for name, _ in costs.levels:
        spreads += [known[name].way_in.minutes, known[name].way_out.minutes]
    return Option(
        id=which,
        costs=costs,
        minutes=sum((one.mean for one in spreads), Fraction(0)),
        u_minutes=sqrt(float(sum((one.variance for one in spreads), Fraction(0)))),
        u_together=sum(sqrt(float(one.variance)) for one in spreads),
        cautions=cautions,
        left=tuple(
            thing.name
            for thing in search.things
            if thing.counts and not any(map(thing.treated_by, tasks))
        ),
    )


def speedometer_cautions(
    tasks: frozenset[Task],
    findings: Findings,
    family: Family,
    knowledge: Knowledge,
    names: Mapping[str, str],
) -> tuple[str, ...]:
    """What must be said where a speedometer may be left with a fault.

    Parameters
    ----------
    tasks
        That are done.
    findings
        What may be wrong.
    family
        Of the dials.
    knowledge
        Words for causes.
    names
        Of dials, for sentences.

    Returns
    -------
    tuple of str
        One sentence for every such speedometer.
    """
    said = []
    for dial in family.dials:
        if not dial.is_speedometer:
            continue
        left = {
            state: p
            for state, p in findings.of_place(dial.id).items()
            if not any(task.place == dial.id and task.operation.cures(state) for task in tasks)
        }
        chance = sum(left.values(), Fraction(0))
        if chance >= LEAST:
            code = max(left, key=lambda state: left[state]).partition("/")[0]
            name = names.get(dial.id, dial.id)
            said.append(
                f"{name}: this speedometer is left with a chance of {percent(chance)} that it "
                f"is at fault (above all: {knowledge.causes[code].words}). {READING_LOW}"
            )
    return tuple(said)
