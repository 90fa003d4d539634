"""What must be said with an option: what it leaves that matters most."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from needlewright.families.model import Family
from needlewright.findings.troubleshooting.model import Knowledge, code_of, part_of
from needlewright.plans.rebuild.choices import READING_LOW, percent
from needlewright.plans.rebuild.findings import LEAST, Findings, Place
from needlewright.plans.rebuild.must_pass import most_left
from needlewright.plans.rebuild.work import Task, Workshop

ESTABLISHED: Final = Fraction(9, 10)
"""Probability from which a cause is taken as established."""


@dataclass(frozen=True, slots=True)
class Complaint:
    """What the owner complained of.

    Parameters
    ----------
    places
        Dials with no codes: anything of them. None for the whole, with the codes of the causes that
        the complaint speaks of.
    has_run
        Whether there is a run as found.
    """

    places: Mapping[Place, tuple[str, ...]] = field(default_factory=dict)
    has_run: bool = True


NO_COMPLAINT: Final = Complaint()
FROM_COMPLAINT: Final = (
    "made from the complaint alone: there is no run as found; what it says may change with one"
)


def cautions_of(
    tasks: frozenset[Task],
    findings: Findings,
    family: Family,
    knowledge: Knowledge,
    workshop: Workshop,
    *,
    complaint: Complaint = NO_COMPLAINT,
) -> tuple[str, ...]:
    """What must be said with a set of operations.

    Parameters
    ----------
    tasks
        That are done.
    findings
        What may be wrong.
    family
        Of the dials.
    knowledge
        Words for causes and parts.
    workshop
        Of the operations, with names of dials.
    complaint
        What the owner complained of.

    Returns
    -------
    tuple of str
        First what was complained of and is not treated, then every speedometer that may be left
        with a fault.
    """
    return (
        *_not_treated(tasks, findings, workshop, complaint),
        *_speedometers(tasks, findings, family, knowledge, workshop),
    )


def _not_treated(
    tasks: Iterable[Task], findings: Findings, workshop: Workshop, complaint: Complaint
) -> Iterable[str]:
    """What was complained of, and no operation treats; a cause in the vehicle is said elsewhere."""
    done = frozenset(tasks)
    left = []
    for place, codes in complaint.places.items():
        outside = [p for (at, _), p in findings.vehicle.items() if at == place]
        if max(outside, default=0) >= ESTABLISHED:
            continue
        states = [one for one in findings.of_place(place) if not codes or code_of(one) in codes]
        if not any(t.place == place and any(map(t.operation.cures, states)) for t in done):
            left.append("the whole" if place is None else workshop.names.get(place, place))
    if left:
        then = (
            "test on before quoting"
            if complaint.has_run
            else "take the run as found before quoting"
        )
        yield (
            f"What was complained of ({', '.join(left)}) is not treated: not established yet; "
            f"{then}"
        )


def _speedometers(
    tasks: frozenset[Task],
    findings: Findings,
    family: Family,
    knowledge: Knowledge,
    workshop: Workshop,
) -> Iterable[str]:
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
            state = max(left, key=lambda one: left[one])
            name = workshop.names.get(dial.id, dial.id)
            yield (
                f"{name}: this speedometer is left with a chance of {percent(chance)} that it "
                f"is at fault (above all: {_left(state, knowledge)})"
                f"{_settled(workshop, dial.id, state)}. "
                f"{_unfinished(workshop, chance)}{READING_LOW[0].upper()}{READING_LOW[1:]}"
            )


def _unfinished(workshop: Workshop, chance: Fraction) -> str:
    """That more is left than a dial may have which must pass; empty: it is not."""
    most = most_left(workshop.terms)
    if chance <= most:
        return ""
    return (
        f"That is more than the {percent(most)} with which such a rebuild can be called finished: "
        "settle it first, or have it treated. "
    )


def _left(state: str, knowledge: Knowledge) -> str:
    """A fault with its part: `its driver, by which movement slips`."""
    part = part_of(state)
    words = knowledge.causes[state.partition("/")[0]].words
    if part is None or part not in knowledge.parts:
        return words
    return f"its {knowledge.parts[part].partition(':')[0]}; shows as: {words}"


def _settled(workshop: Workshop, dial: str, state: str) -> str:
    """The check that tells whether it is there; empty: none of the catalogue says that it does.

    One that names its part goes before one of the fault in any, and one that is made with
    everything closed before one for which it is opened.
    """
    levels = [one for one in workshop.catalogue.levels.values() if one.scope == "dial"]
    every = [check for one in levels for check in one.checks]
    every += [check for task in workshop.tasks_at(dial) for check in task.operation.checks]
    able = [check for check in every if check.names(state)]
    if not able:
        return ""
    check = min(able, key=lambda one: (state not in one.settles, one.at is not None))
    return f"; settled by: {workshop.named(check.words, dial)}"
