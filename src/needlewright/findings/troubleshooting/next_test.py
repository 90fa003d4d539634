"""What to do next: which test is worth its minutes, or that none is.

An option is worth the expected minutes of the whole search that begins with it. Looking ahead,
every test is followed by the better of trying remedies at once and one more test. Every answer is
taken into the exact belief.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from needlewright.findings.troubleshooting.belief import Belief
from needlewright.findings.troubleshooting.model import Answer, Finding, Remedy
from needlewright.findings.troubleshooting.planning import course_of

Stage = Literal["asking", "vehicle", "bench"]
"""Where the cluster is: the owner is still being asked, it is in the vehicle, or at the bench."""
Kind = Literal["test", "send", "run_as_found", "open", "outside", "sound"]
LOOKED_AHEAD: Final = 5
"""Tests of which one more step is looked ahead."""
FOLLOWING: Final = 10
"""Best tests now that may follow as that step."""
DETOUR: Final = 0.9
"""A test must spare this share of what it takes beside what follows it."""
LEAST_GAIN: Final = 0.5
"""Minutes a test must spare to be done."""
Question = tuple[Finding, str | None]
"""Something to find out, and of which dial."""
_PLACES: Final = {
    "asking": ("asked", "vehicle"),
    "vehicle": ("asked", "vehicle"),
    "bench": ("bench",),
}


@dataclass(frozen=True, slots=True)
class Option:
    """One thing that can be done next.

    Parameters
    ----------
    kind
        `test`: find something out; `send`: take the cluster out and bring it to the bench;
        `run_as_found`: take the run as found, and open it if that bears out what is believed;
        `open`: stop testing, open it; `outside`: do not send it, look in the vehicle; `sound`:
        stop, nothing is wrong that is worth looking for.
    id
        Of the finding or of the first remedy; None for `send` and `sound`.
    dial
        Of which dial, where it is of one.
    words
        For people.
    expected_minutes
        Of the whole search, when it begins with this.
    yes
        For a test: how likely the answer is yes.
    then
        Remedies in the order they would be tried, for `run_as_found`, `open` and `outside`.
    """

    kind: Kind
    id: str | None
    dial: str | None
    words: str
    expected_minutes: float
    yes: float | None = None
    then: tuple[str, ...] = ()


def next_options(
    belief: Belief, stage: Stage, steps: int = 2, *, is_measured: bool = True
) -> tuple[Option, ...]:
    """Everything that can be done next, the best first.

    Parameters
    ----------
    belief
        What is believed now.
    stage
        Where the cluster is.
    steps
        How many tests are looked ahead: 0, 1 or 2.
    is_measured
        Whether a run as found was taken: what is believed without one rests on what was said, and
        no part is fitted on words alone.

    Returns
    -------
    tuple of Option
        By expected minutes of the whole search. A test that spares nothing is not among them.
    """
    stop = _stop(belief, stage, is_measured=is_measured)
    options = [stop]
    if stage != "bench":
        options.append(_send(belief))
    if steps > 0:
        least = min(one.expected_minutes for one in options)
        tests = sorted(
            _tests(belief, stage, _open_findings(belief, stage)),
            key=lambda one: one.expected_minutes,
        )
        if steps > 1:
            following = [(_finding(belief, one), one.dial) for one in tests[:FOLLOWING]]
            ahead = [_looked_ahead(belief, stage, one, following) for one in tests[:LOOKED_AHEAD]]
            tests = [*ahead, *tests[LOOKED_AHEAD:]]
        options += [one for one in tests if one.expected_minutes < least - LEAST_GAIN]
        options = _without_detours(options, belief)
    return tuple(sorted(options, key=lambda one: one.expected_minutes))


def _without_detours(options: list[Option], belief: Belief) -> list[Option]:
    """Leave out tests that only stand before a better one and spare nothing themselves."""
    least = min(one.expected_minutes for one in options)

    def is_worth_it(one: Option) -> bool:
        if one.kind != "test":
            return True
        cost = _finding(belief, one).cost_minutes
        return one.expected_minutes < least + DETOUR * cost or one.expected_minutes == least

    return [one for one in options if is_worth_it(one)]


def _stop(belief: Belief, stage: Stage, *, is_measured: bool) -> Option:
    """No more tests: what would be tried first says what that is called."""
    course = course_of(belief, is_sent=stage == "bench")
    if not course.names:
        words = "stop: nothing is worth looking for"
        return Option("sound", None, None, words, course.expected_minutes)
    name, dial = _named(course.names[0])
    remedy = belief.knowledge.remedies[name]
    words = _words(remedy, dial)
    if remedy.inside and not is_measured:
        way = "" if stage == "bench" else "bring it to the bench, "
        said = f"{way}take the run as found; if it bears this out: {words}"
        least = course.expected_minutes
        return Option("run_as_found", name, dial, said, least, then=course.names)
    if remedy.inside:
        said = f"stop testing, open it: {words}"
        return Option("open", name, dial, said, course.expected_minutes, then=course.names)
    said = f"do not open it: {words}" if stage == "bench" else f"do not send it: {words}"
    return Option("outside", name, dial, said, course.expected_minutes, then=course.names)


def _send(belief: Belief) -> Option:
    """Bring it to the bench, where it is tested further."""
    send = belief.knowledge.work.send_minutes
    least = send + _least(belief, "bench", tuple(_open_findings(belief, "bench")))
    return Option("send", None, None, "take it out and test it at the bench", least)


def _tests(belief: Belief, stage: Stage, which: Iterable[Question]) -> Iterable[Option]:
    """Tests, each followed by the best course."""
    for finding, dial in which:
        yes = belief.probability(finding.id, dial)
        minutes = finding.cost_minutes
        for answer, chance in ((True, yes), (False, 1.0 - yes)):
            after = belief.told(Answer(finding.id, answer, dial))
            minutes += chance * _without_tests(after, stage)
        yield Option("test", finding.id, dial, _words(finding, dial), minutes, yes)


def _looked_ahead(
    belief: Belief, stage: Stage, test: Option, following: Sequence[Question]
) -> Option:
    """A test with one more after it, where that spares something."""
    finding = _finding(belief, test)
    others = [one for one in following if one != (finding, test.dial)]
    yes = test.yes or 0.0
    minutes = finding.cost_minutes
    for answer, chance in ((True, yes), (False, 1.0 - yes)):
        after = belief.told(Answer(finding.id, answer, test.dial))
        minutes += chance * _least(after, stage, others)
    return replace(test, expected_minutes=min(minutes, test.expected_minutes))


def _least(belief: Belief, stage: Stage, which: Iterable[Question]) -> float:
    """Minutes of the better of no test and one test."""
    least = _without_tests(belief, stage)
    return min([least, *(one.expected_minutes for one in _tests(belief, stage, which))])


def _finding(belief: Belief, test: Option) -> Finding:
    return belief.knowledge.findings[str(test.id)]


def _without_tests(belief: Belief, stage: Stage) -> float:
    return course_of(belief, is_sent=stage == "bench").expected_minutes


def _open_findings(belief: Belief, stage: Stage) -> Iterable[Question]:
    """What has not been answered and could be; of a dial nobody complains of, what opens."""
    done = {(answer.finding, answer.dial) for answer in belief.answers}
    done |= {(str(said.instead_of), said.dial) for said in belief.said}
    complained = {answer.dial for answer in belief.answers if answer.yes} | set(belief.innocent)
    complained |= {dial for (_, dial), ratio in belief.counting().items() if ratio > 1}
    for finding in belief.knowledge.findings.values():
        if finding.place not in _PLACES[stage]:
            continue
        dials: list[str | None] = [None] if finding.scope == "whole" else [*belief.dials]
        for dial in dials:
            is_due = dial is None or finding.opens or dial in complained
            if is_due and (finding.id, dial) not in done:
                yield finding, dial


def _named(name: str) -> tuple[str, str | None]:
    remedy, _, dial = name.partition(":")
    return remedy, dial or None


def _words(entry: Finding | Remedy, dial: str | None) -> str:
    return entry.words.replace("{dial}", dial or "the gauge")
