"""Thing by thing: repair now, replace now, watch, or leave, and the reason for it."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final, Literal

from needlewright.findings.troubleshooting.model import Knowledge, code_of
from needlewright.plans.money import difference, for_people
from needlewright.plans.rebuild.findings import LEAST, Place
from needlewright.plans.rebuild.risks import Thing, words_of
from needlewright.plans.rebuild.search import Costs, Rule, Search
from needlewright.plans.rebuild.work import Task
from needlewright.plans.wear.replacement import age_replacement

Choice = Literal["repair now", "replace now", "watch", "leave"]
Decided = Mapping[tuple[Place, str], str]
NOBODY: Final[Decided] = {}
READING_LOW: Final = (
    "A speedometer that reads low is dangerous and in many places unlawful: one that fails the "
    "final check gets no passing certificate"
)
CHOICES: Final[tuple[Choice, ...]] = ("repair now", "replace now", "watch", "leave")


@dataclass(frozen=True, slots=True)
class Decision:
    """What becomes of a thing.

    Parameters
    ----------
    thing
        A part of a dial, or a system.
    words
        What it is, for people.
    choice
        What is recommended.
    by
        Names of the operations that do it; empty where it is left or watched.
    chance_now
        Probability that it is at fault now.
    chance_warranty, chance_horizon
        Probability that, nothing being done, it is at fault now or fails within the warranty, and
        within the horizon.
    totals
        By choice, what the whole is expected to cost with this thing treated so, and all the rest
        as is best then; choices that no operation offers are missing.
    reason
        One sentence.
    due
        Where it is left: when it would be replaced for its age alone, or why there is no such age;
        empty where nothing is known of its wear.
    caution
        What must be said where a speedometer's fault is left; empty: nothing.
    along_with
        Name of the operation that is done for something else and does this along; empty: what is
        done is done for this thing.
    own
        Names of the operations that are done for it above all.
    """

    thing: Thing
    words: str
    choice: Choice
    by: tuple[str, ...]
    chance_now: Fraction
    chance_warranty: Fraction
    chance_horizon: Fraction
    totals: dict[Choice, Fraction]
    reason: str
    due: str = ""
    caution: str = ""
    along_with: str = ""
    own: tuple[str, ...] = ()

    @property
    def is_left(self) -> bool:
        """Whether nothing is done about it now."""
        return self.choice in ("watch", "leave")


def decisions_of(
    search: Search,
    chosen: Costs,
    knowledge: Knowledge,
    speedometers: Collection[str],
    decided: Decided = NOBODY,
) -> tuple[Decision, ...]:
    """Say of every thing what becomes of it.

    Parameters
    ----------
    search
        Of the cluster.
    chosen
        The set with the least expected cost.
    knowledge
        Words for causes and parts.
    speedometers
        Dials whose faults are not left without a caution.
    decided
        By place and code, of faults that a person decided: by whom and when, in words.

    Returns
    -------
    tuple of Decision
        Of the things worth a line, in their order.
    """
    made = [_decision(search, chosen, t, knowledge, decided) for t in search.things if t.counts]
    return tuple(
        replace(one, caution=READING_LOW)
        if one.is_left and one.thing.place in speedometers and one.chance_now >= LEAST
        else one
        for one in made
    )


def replaces(task: Task, thing: Thing) -> bool:
    """Whether a task fits a new one: its part is the thing's, or both are of the whole."""
    one = task.operation
    if one.kind != "replace" or not thing.treated_by(task):
        return False
    return thing.place is None or thing.part in {need.part.id for need in one.needs}


def _choice(search: Search, thing: Thing, tasks: frozenset[Task]) -> Choice:
    own = [task for task in tasks if thing.treated_by(task)]
    if own:
        return "replace now" if any(replaces(task, thing) for task in own) else "repair now"
    return "watch" if search.losses.least(thing, frozenset())[1] else "leave"


def _decision(
    search: Search, chosen: Costs, thing: Thing, knowledge: Knowledge, decided: Decided
) -> Decision:
    choice = _choice(search, thing, chosen.tasks)
    totals = _totals(search, thing)
    by = [task for task in sorted(chosen.tasks, key=lambda t: t.name) if thing.treated_by(task)]
    early, ever = _chances(thing)
    own = [task for task in by if _done_for(search, task, chosen.tasks) is thing]
    along = (
        None if own else max(by, key=lambda t: _saved(search, t, thing, chosen.tasks), default=None)
    )
    known = _known(search, thing, ever, decided)
    reason = (
        _reason(search, choice, totals, known)
        if along is None
        else f"{known}; comes along with: {_named(search, along)}"
    )
    one = Decision(
        thing=thing,
        words=words_of(thing, knowledge),
        choice=choice,
        by=tuple(task.name for task in by),
        chance_now=thing.chance_now,
        chance_warranty=early,
        chance_horizon=ever,
        totals=totals,
        reason=reason + (f"; look for: {_signs(thing, knowledge)}" if choice == "watch" else ""),
        along_with="" if along is None else along.name,
        own=tuple(task.name for task in own),
    )
    if not one.is_left:
        return one
    return replace(one, due=_due(search, thing))


def _done_for(search: Search, task: Task, tasks: frozenset[Task]) -> Thing:
    """The thing an operation is done for: that of which it saves most."""
    treated = [one for one in search.things if one.treated_by(task)]
    return max(treated, key=lambda one: (one.counts, _saved(search, task, one, tasks)))


def _saved(search: Search, task: Task, thing: Thing, tasks: frozenset[Task]) -> Fraction:
    """What an operation spares of a thing, beside all the others."""
    return search.losses.cost(thing, tasks - {task}) - search.losses.cost(thing, tasks)


def _named(search: Search, task: Task) -> str:
    return search.workshop.named(task.operation.words, task.place)


def _totals(search: Search, thing: Thing) -> dict[Choice, Fraction]:
    """What the whole costs with this thing treated each way, the rest being as is best then."""
    treating = search.losses.treating(thing)
    fitting_new = frozenset(task for task in treating if replaces(task, thing))

    ways: tuple[tuple[Choice, Rule], ...] = (
        ("repair now", Rule(without=fitting_new, one_of=treating - fitting_new)),
        ("replace now", Rule(one_of=fitting_new)),
    )
    totals: dict[Choice, Fraction] = {}
    for choice, rule in ways:
        best = search.best({thing.place: rule}) if rule.one_of else None
        if best is not None:
            totals[choice] = best.total
    left = search.best({thing.place: Rule(without=treating)})
    assert left is not None  # the empty set is always there
    total, losses = left.total, search.losses
    at_least = losses.least(thing, frozenset())[0].cost
    totals["watch"] = total - at_least + losses.of_thing(thing, (), told=True).cost
    totals["leave"] = total - at_least + losses.of_thing(thing, ()).cost
    return totals


def _signs(thing: Thing, knowledge: Knowledge) -> str:
    """What a thing shows once it is at fault, in words."""
    states = [fault.state for fault in thing.faults if fault.chance >= LEAST]
    states += [wear.state for wear in thing.wear]
    return ", ".join(dict.fromkeys(knowledge.causes[code_of(state)].words for state in states))


def _chances(thing: Thing) -> tuple[Fraction, Fraction]:
    """Of being at fault now or failing within the warranty, and within the horizon."""
    kept = [Fraction(1), Fraction(1)]
    for wear in thing.wear:
        early, late = wear.chances()
        kept = [kept[0] * (1 - early), kept[1] * (1 - early - late)]
    now = thing.chance_now
    return 1 - (1 - now) * kept[0], 1 - (1 - now) * kept[1]


def _reason(search: Search, choice: Choice, totals: dict[Choice, Fraction], known: str) -> str:
    currency = search.workshop.terms.currency
    others = {other: total for other, total in totals.items() if other != choice}
    if choice in ("watch", "leave"):
        others = {o: t for o, t in others.items() if o not in ("watch", "leave")}
    if not others:
        return f"{known}; no operation of the catalogue treats it"
    other = min(others, key=lambda one: (others[one], CHOICES.index(one)))
    more = for_people(difference(others[other], totals[choice], currency), currency)
    said = {
        "repair now": "repairing it now",
        "replace now": "replacing it now",
        "watch": "leaving it and watching",
        "leave": "leaving it",
    }[other]
    return f"{known}; {said} is expected to cost {more} more"


def _known(search: Search, thing: Thing, ever: Fraction, decided: Decided) -> str:
    """How likely a thing is at fault, or who decided that, and how likely it will be."""
    years = float(max(search.workshop.terms.horizon_years, search.workshop.terms.warranty_years))
    now = f"at fault now with {percent(thing.chance_now)}" if thing.chance_now >= LEAST else ""
    certain = [fault for fault in thing.faults if fault.chance >= LEAST]
    who = [decided[at] for at in ((f.place, code_of(f.state)) for f in certain) if at in decided]
    if who and thing.chance_now == 1:
        now = f"at fault now: {who[0]}"
    elif who:
        now += f" (the fault itself was {who[0]})"
    fails = f"{percent(ever)} to be at fault or fail within {years:g} years" if thing.wear else ""
    return "; ".join(part for part in (now, fails) if part)


def _due(search: Search, thing: Thing) -> str:
    """When a thing would be replaced for its age alone."""
    said = []
    for wear in thing.wear:
        planned = search.losses.failing_later(wear.place, wear.state)
        unplanned = search.losses.coming_back(wear.place, wear.state)
        if search.losses.mending(wear.place, wear.state) == 0 or planned == 0:
            continue
        best = age_replacement(wear.point.law, float(planned), float(unplanned))
        if best.age is None:
            said.append(best.words)
            continue
        by_years = wear.point.clock == "years"
        of = "age" if by_years else "mileage"
        places = 0 if best.age >= 10 else 1
        at = f"{best.age:.{places}f} years" if by_years else f"{round(best.age, -3):,.0f} km"
        is_due = best.age <= wear.age + wear.horizon
        said.append(f"due for its {of} at {at}" if is_due else f"not due for its {of} before {at}")
    return "; ".join(dict.fromkeys(said))


def percent(chance: Fraction) -> str:
    """A probability in words: `3.1 %`, `below 0.1 %`."""
    share = 100 * float(chance)
    if 0 < share < 0.1:
        return "below 0.1 %"
    if 99.9 < share < 100:
        return "more than 99.9 %"
    return f"{share:.2g} %" if share < 99 else f"{share:.3g} %"
