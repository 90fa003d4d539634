"""Thing by thing: repair now, replace now, watch, or leave, and the reason for it."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from needlewright.amounts import grouped
from needlewright.findings.troubleshooting.model import Knowledge, code_of
from needlewright.plans.money import difference, for_people
from needlewright.plans.rebuild.choice_totals import Choice, replaces, totals_of
from needlewright.plans.rebuild.findings import LEAST, Place
from needlewright.plans.rebuild.risks import Thing, words_of
from needlewright.plans.rebuild.search import Costs, Search
from needlewright.plans.rebuild.work import Task
from needlewright.plans.wear.replacement import age_replacement

Decided = Mapping[tuple[Place, str], str]
NOBODY: Final[Decided] = {}
READING_LOW: Final = (
    "a speedometer that reads low is dangerous and in many places unlawful: one that fails the "
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
        as is best then; choices that no operation offers are missing. What is done for another
        thing and does something about this one too may stay.
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
    looks
        Ids of the findings that would settle it and were not looked for yet; empty: there are none.
    barred
        Choices after which a dial that must pass is left with more of a fault than may be.
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
    barred: tuple[Choice, ...] = ()
    looks: tuple[str, ...] = ()

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


def _choice(search: Search, thing: Thing, tasks: frozenset[Task]) -> Choice:
    own = [task for task in tasks if thing.treated_by(task)]
    if own:
        return "replace now" if any(replaces(task, thing) for task in own) else "repair now"
    return "watch" if search.losses.least(thing, frozenset())[1] else "leave"


def _decision(
    search: Search, chosen: Costs, thing: Thing, knowledge: Knowledge, decided: Decided
) -> Decision:
    choice = _choice(search, thing, chosen.tasks)
    by = [task for task in sorted(chosen.tasks, key=lambda t: t.name) if thing.treated_by(task)]
    early, ever = _chances(thing)
    own = [task for task in by if _done_for(search, task, chosen.tasks) is thing]
    kept = frozenset(by).difference(own) if own else frozenset[Task]()
    totals, barred = totals_of(search, thing, kept)
    totals[choice] = chosen.total
    along = (
        None if own else max(by, key=lambda t: _saved(search, t, thing, chosen.tasks), default=None)
    )
    known = _known(search, thing, ever, decided)
    one = Decision(
        thing=thing,
        words=words_of(thing, knowledge),
        choice=choice,
        by=tuple(task.name for task in by),
        chance_now=thing.chance_now,
        chance_warranty=early,
        chance_horizon=ever,
        totals=totals,
        reason="",
        along_with="" if along is None else along.name,
        own=tuple(task.name for task in own),
        barred=barred,
    )
    if along is not None:
        return replace(one, reason=f"{known}; comes along with: {_named(search, along)}")
    reason = _reason(search, one, known)
    if choice == "watch":
        reason += f"; look for: {_signs(thing, knowledge)}"
    return replace(one, reason=reason, due=_due(search, thing) if one.is_left else "")


def _done_for(search: Search, task: Task, tasks: frozenset[Task]) -> Thing:
    """The thing an operation is done for: that of which it saves most."""
    treated = [one for one in search.things if one.treated_by(task)]
    return max(treated, key=lambda one: (one.counts, _saved(search, task, one, tasks)))


def _saved(search: Search, task: Task, thing: Thing, tasks: frozenset[Task]) -> Fraction:
    """What an operation spares of a thing, beside all the others."""
    return search.losses.cost(thing, tasks - {task}) - search.losses.cost(thing, tasks)


def _named(search: Search, task: Task) -> str:
    return search.workshop.named(task.operation.words, task.place)


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


def _reason(search: Search, one: Decision, known: str) -> str:
    """What speaks for a choice: the next best one, and what must not be though it costs less."""
    currency, totals = search.workshop.terms.currency, one.totals
    others = {other: total for other, total in totals.items() if other != one.choice}
    if one.is_left:
        others = {o: t for o, t in others.items() if o not in ("watch", "leave")}
    if not others:
        return f"{known}; no operation of the catalogue treats it"
    said = {
        "repair now": "repairing it now",
        "replace now": "replacing it now",
        "watch": "leaving it and watching",
        "leave": "leaving it" if set(one.by) <= set(one.own) else "leaving it to the other work",
    }
    must: list[str] = []
    cheaper = [o for o in others if o in one.barred and others[o] < totals[one.choice]]
    if cheaper:
        other = min(cheaper, key=lambda way: (others[way], CHOICES.index(way)))
        less = for_people(difference(totals[one.choice], others[other], currency), currency)
        most = percent(search.may_leave(one.thing.place))
        must.append(
            f"{said[other]} is expected to cost {less} less, but this dial must pass the final "
            f"check and would be at fault with more than {most}"
        )
        others = {o: t for o, t in others.items() if o not in cheaper}
    if others:
        other = min(others, key=lambda way: (others[way], CHOICES.index(way)))
        more = for_people(difference(others[other], totals[one.choice], currency), currency)
        must.append(f"{said[other]} is expected to cost {more} more")
    return "; ".join(part for part in (known, *must) if part)


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
        at = f"{best.age:.{places}f} years" if by_years else f"{grouped(round(best.age, -3))} km"
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
