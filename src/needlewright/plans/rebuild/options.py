"""The three options a customer is shown, each with what it costs now and is expected to cost."""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import sqrt
from typing import Final, Literal

from needlewright.families.model import Family
from needlewright.findings.troubleshooting.model import Knowledge
from needlewright.plans.rebuild.cautions import NO_COMPLAINT, Complaint, cautions_of
from needlewright.plans.rebuild.coming_back import any_return
from needlewright.plans.rebuild.failed import everything, least_work
from needlewright.plans.rebuild.findings import Findings
from needlewright.plans.rebuild.search import Costs, Search
from needlewright.plans.rebuild.work import Task

OptionId = Literal["recommended", "only_failed", "everything"]
TITLES: Final[Mapping[OptionId, str]] = {
    "recommended": "recommended",
    "only_failed": "only what failed",
    "everything": "replace everything",
}


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
    any_return
        Probability of at least one return under warranty.
    unfinished
        Dials that must pass and are left with more chance of a fault than may be.
    """

    id: OptionId
    costs: Costs
    minutes: Fraction
    u_minutes: float
    u_together: float
    cautions: tuple[str, ...]
    left: tuple[str, ...]
    any_return: Fraction
    unfinished: tuple[str, ...]


def options_of(
    search: Search,
    findings: Findings,
    family: Family,
    knowledge: Knowledge,
    *,
    complaint: Complaint = NO_COMPLAINT,
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
    complaint
        What the owner complained of.

    Returns
    -------
    tuple of three Option
        Recommended: the least expected cost of all. Only what failed: for every dial or system
        that is more likely at fault than not (the most likely one, where none is and the vehicle is
        not likelier), the least work now that mends its most probable fault (of a dial that must
        pass as many of them as get it there), and nothing else.
        Replace everything: what failed, and everything the catalogue names for it.
    """
    best = search.best()
    assert best is not None  # the empty set is always there
    recommended = best.tasks
    failed = least_work(search, findings)

    def said(tasks: frozenset[Task]) -> tuple[str, ...]:
        return cautions_of(tasks, findings, family, knowledge, search.workshop, complaint=complaint)

    every = failed | everything(search)
    return (
        _option("recommended", search, recommended, said(recommended)),
        _option("only_failed", search, failed, said(failed)),
        _option("everything", search, every, said(every)),
    )


def _option(
    which: OptionId, search: Search, tasks: frozenset[Task], cautions: tuple[str, ...]
) -> Option:
    costs, known = search.costs(tasks), search.workshop.catalogue.levels
    spreads = [one for task in tasks for one in task.operation.spreads]
    spreads += [one for name, _ in costs.levels for one in known[name].spreads]
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
        any_return=any_return(search.losses, search.things, tasks),
        unfinished=search.unfinished(tasks),
    )
