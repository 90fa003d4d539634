"""What the whole is expected to cost with one thing treated this way or that."""

from fractions import Fraction
from typing import Literal

from needlewright.plans.rebuild.risks import Thing
from needlewright.plans.rebuild.search import Rule, Search
from needlewright.plans.rebuild.work import Task

Choice = Literal["repair now", "replace now", "watch", "leave"]


def replaces(task: Task, thing: Thing) -> bool:
    """Whether a task fits a new one: its part is the thing's, or both are of the whole."""
    one = task.operation
    if one.kind != "replace" or not thing.treated_by(task):
        return False
    return thing.place is None or thing.part in {need.part.id for need in one.needs}


def totals_of(
    search: Search, thing: Thing, kept: frozenset[Task] = frozenset()
) -> tuple[dict[Choice, Fraction], tuple[Choice, ...]]:
    """What the whole costs with a thing treated each way, the rest being as is best then.

    Parameters
    ----------
    search
        Of the cluster.
    thing
        Which is treated so.
    kept
        Operations that are done for other things and do something about this one as well: they may
        stay, and what is done for this thing itself comes on top of them.

    Returns
    -------
    dict
        By choice; one that no operation offers is missing, and watching where something is kept.
    tuple of Choice
        Those of them after which a dial that must pass is left with more of a fault than may be:
        what they cost is reckoned without asking that.
    """
    treating = search.losses.treating(thing) - kept
    fitting_new = frozenset(task for task in treating if replaces(task, thing))
    ways: tuple[tuple[Choice, Rule], ...] = (
        ("repair now", Rule(without=fitting_new, one_of=treating - fitting_new)),
        ("replace now", Rule(one_of=fitting_new)),
        ("leave", Rule(without=treating)),
    )
    totals: dict[Choice, Fraction] = {}
    barred: list[Choice] = []
    for choice, rule in ways:
        if choice != "leave" and not rule.one_of:
            continue
        total, is_barred = _with(search, thing, rule)
        if total is not None:
            totals[choice] = total
            if is_barred:
                barred.append(choice)
    losses = search.losses
    if not kept:
        at_least = losses.least(thing, frozenset())[0].cost
        plain = totals["leave"] - at_least
        totals["watch"] = plain + losses.of_thing(thing, (), told=True).cost
        totals["leave"] = plain + losses.of_thing(thing, ()).cost
        if "leave" in barred:
            barred.append("watch")
    return totals, tuple(barred)


def _with(search: Search, thing: Thing, rule: Rule) -> tuple[Fraction | None, bool]:
    """The least of all under a rule; where that leaves too much of a fault, so it says."""
    best = search.best({thing.place: rule})
    if best is not None:
        return best.total, False
    waived = Rule(without=rule.without, one_of=rule.one_of, waived=True)
    best = search.best({thing.place: waived})
    return (None, False) if best is None else (best.total, True)
