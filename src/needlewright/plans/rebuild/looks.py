"""What to look at before a plan is quoted: a test nobody made that is expected to save more.

The value of information: what is expected to be spent after the answer, whichever it is, against
what is expected without it. Causes of the whole are there or not each by itself, and any of them
makes the answer yes by itself (noisy or); of a dial's causes one is there at most. A cost is a sum
over single faults, so the probability of each after an answer is all that is needed of it.
**Source**: expected value of sample information (Raiffa and Schlaifer, from memory); derivation,
docs/plan.md.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import combinations, product
from typing import Final

from needlewright.findings.troubleshooting.model import Finding, Knowledge, code_of
from needlewright.plans.money import for_people
from needlewright.plans.rebuild.choices import Decision
from needlewright.plans.rebuild.findings import Findings, Place, exact
from needlewright.plans.rebuild.risks import Thing
from needlewright.plans.rebuild.search import Search, with_things_at

SETTLES: Final = Fraction(1, 2)
"""How often a fault shows in a test, from which that settles it."""
MOST_TESTS: Final = 5
"""The quickest tests of a place, of which each and each two are tried."""
Chances = Mapping[str, Fraction]
"""By state of one place."""


@dataclass(frozen=True, slots=True)
class Unseen:
    """What nobody looked at.

    Parameters
    ----------
    causes
        Place and code of causes that are believed as often as they are there beforehand.
    tests
        Id of a finding and its place, of those that can still be made where the cluster is.
    """

    causes: frozenset[tuple[Place, str]] = field(default_factory=frozenset)
    tests: tuple[tuple[str, Place], ...] = ()


ALL_SEEN = Unseen()


@dataclass(frozen=True, slots=True)
class Look:
    """What is to be looked at first.

    Parameters
    ----------
    tests
        One test, or two that say more together; those of the knowledge file.
    place
        The dial; None: of the whole.
    words
        Their questions.
    minutes
        What they take and may spoil.
    saves
        Money it is expected to save, what it takes counted.
    things
        Names of what is worked at, and is settled by it.
    """

    tests: tuple[str, ...]
    place: Place
    words: tuple[str, ...]
    minutes: float
    saves: Fraction
    things: tuple[str, ...]


def looks_of(
    search: Search,
    findings: Findings,
    knowledge: Knowledge,
    decisions: Sequence[Decision],
    unseen: Unseen,
) -> tuple[Look, ...]:
    """The tests that are worth their minutes before work is quoted that rests on no look.

    Parameters
    ----------
    search
        Of the cluster.
    findings
        What is believed, also of the vehicle.
    knowledge
        Of tests.
    decisions
        As recommended.
    unseen
        What nobody looked at, and what can be made.

    Returns
    -------
    tuple of Look
        Of each place the one or two tests that save most, and further ones for what those do not
        settle. Each look saves so much by itself.
    """
    best = search.best()
    assert best is not None  # the empty set is always there
    found = []
    for place in search.workshop.places:
        waiting = {
            one.thing.name: one.thing
            for one in decisions
            if one.thing.place == place and (is_unseen(one, unseen) or is_forced(one))
        }
        tests = [knowledge.findings[name] for name, at in unseen.tests if at == place]
        known: dict[tuple[str, ...], Fraction] = {}
        while waiting:
            own = [one for one in tests if any(settles(one, thing) for thing in waiting.values())]
            own = sorted(own, key=lambda one: one.cost_minutes)[:MOST_TESTS]
            sets = [some for n in (1, 2) for some in combinations(own, n)]
            for some in sets:
                ids = tuple(one.id for one in some)
                if ids not in known:
                    known[ids] = best.total - _spent(search, findings, some, place)
            looks = [_look(search, some, waiting.values(), known) for some in sets]
            look = max(looks, key=lambda one: one.saves, default=None)
            if look is None or look.saves <= 0:
                break
            found.append(look)
            waiting = {name: one for name, one in waiting.items() if name not in look.things}
    return tuple(found)


def is_unseen(one: Decision, unseen: Unseen) -> bool:
    """Whether work at a thing rests on what is so beforehand and on no look."""
    codes = {(one.thing.place, code_of(fault.state)) for fault in one.thing.faults if fault.chance}
    return not one.is_left and bool(codes) and codes <= unseen.causes


def is_forced(one: Decision) -> bool:
    """Whether work at a thing costs more than to leave it, and is done since a dial must pass."""
    return any(one.totals[choice] < one.totals[one.choice] for choice in one.barred)


def settles(test: Finding, thing: Thing) -> bool:
    """Whether a fault of a thing shows in a test at least as often as not."""
    return any(shown(test, fault.state) >= SETTLES for fault in thing.faults)


def with_looks(
    decisions: Sequence[Decision], looks: Sequence[Look], unseen: Unseen
) -> tuple[Decision, ...]:
    """Say with every thing that is settled by a look which one, and that it was not made yet."""
    by_thing = {name: look.tests for look in looks for name in look.things}
    made = []
    for one in decisions:
        tests = by_thing.get(one.thing.name, ())
        first = "not looked at yet; " if tests and is_unseen(one, unseen) else ""
        made.append(replace(one, looks=tests, reason=first + one.reason))
    return tuple(made)


def look_words(look: Look, search: Search, decisions: Sequence[Decision]) -> str:
    """A look as the step before the quote, in one clause."""
    currency = search.workshop.terms.currency
    things = ", ".join(one.words for one in decisions if one.thing.name in look.things)
    spares = for_people(look.saves, currency)
    whose = "" if look.place is None else f" of {search.workshop.named('{dial}', look.place)}"
    return (
        f"before the quote, look: {' '.join(look.words)} It takes {look.minutes:.0f} min, is "
        f"expected to save {spares}, and says whether work is needed at: {things}{whose}"
    )


def shown(test: Finding, state: str) -> Fraction:
    """How often a fault alone makes the answer yes."""
    return exact(test.shown_by.get(state, test.shown_by.get(code_of(state), 0.0)))


def _look(
    search: Search,
    tests: Sequence[Finding],
    waiting: Iterable[Thing],
    saves: Mapping[tuple[str, ...], Fraction],
) -> Look:
    """Tests of one place, with what they settle of what is still to be settled."""
    things = [one for one in waiting if any(settles(test, one) for test in tests)]
    place, ids = things[0].place, tuple(one.id for one in tests)
    return Look(
        tests=ids,
        place=place,
        words=tuple(search.workshop.named(one.words, place) for one in tests),
        minutes=sum(one.cost_minutes for one in tests),
        saves=saves[ids],
        things=tuple(one.name for one in things),
    )


def _spent(search: Search, findings: Findings, tests: Sequence[Finding], place: Place) -> Fraction:
    """What is expected to be spent in all where tests of a place are made first."""
    outside = {code: p for (at, code), p in findings.vehicle.items() if at == place}
    before = {**findings.of_place(place), **outside}
    minutes = exact(sum(one.cost_minutes for one in tests))
    later = (
        chance * _total_with(search, place, after)
        for chance, after in answers(tests, before, place)
    )
    return sum(later, search.workshop.terms.labour(minutes))


def answers(
    tests: Sequence[Finding], before: Chances, place: Place
) -> Iterator[tuple[Fraction, Chances]]:
    """All ways tests can be answered.

    Parameters
    ----------
    tests
        Of one place; given what is wrong, each is answered by itself.
    before
        Probability of each fault of the place.
    place
        Of a dial one fault is there at most; of the whole each is or is not by itself.

    Yields
    ------
    tuple of Fraction and mapping
        Probability of these answers, and of each fault after them.
    """
    told = [state for state in before if any(shown(test, state) for test in tests)]
    truths = _exclusive(before, told) if place is not None else _free(before, told)
    for said in product((False, True), repeat=len(tests)):
        weights = []
        for chance, there in truths:
            weight = chance
            for test, is_yes in zip(tests, said, strict=True):
                silent = 1 - exact(test.otherwise)
                for state in there:
                    silent *= 1 - shown(test, state)
                weight *= 1 - silent if is_yes else silent
            weights.append((weight, there))
        chance = sum((weight for weight, _ in weights), Fraction(0))
        if not chance:
            continue
        # what no test tells of shares in what is left of a dial, and stays as it was of the whole
        rest = sum((weight for weight, there in weights if not there), Fraction(0)) / chance
        quiet = sum((one for one, there in truths if not there), Fraction(0))
        after = {
            state: p if place is None else (p * rest / quiet if quiet else Fraction(0))
            for state, p in before.items()
        }
        for state in told:
            after[state] = sum((w for w, there in weights if state in there), Fraction(0)) / chance
        yield chance, after


Truths = list[tuple[Fraction, tuple[str, ...]]]
"""Everything that can be true, of what tests tell of, with its probability."""


def _exclusive(before: Chances, told: Sequence[str]) -> Truths:
    some: Truths = [(before[state], (state,)) for state in told]
    return [*some, (1 - sum((p for p, _ in some), Fraction(0)), ())]


def _free(before: Chances, told: Sequence[str]) -> Truths:
    truths: Truths = [(Fraction(1), ())]
    for state in told:
        p = before[state]
        truths = [
            way
            for chance, there in truths
            for way in ((chance * p, (*there, state)), (chance * (1 - p), there))
        ]
    return truths


def _total_with(search: Search, place: Place, chances: Chances) -> Fraction:
    def changed(thing: Thing) -> Thing:
        faults = (replace(one, chance=chances[one.state]) for one in thing.faults)
        return replace(thing, faults=tuple(faults))

    own = map(changed, search.places[place].things)
    best = with_things_at(search, place, sorted(own, key=lambda one: -one.chance_now)).best()
    assert best is not None  # the empty set is always there
    return best.total
