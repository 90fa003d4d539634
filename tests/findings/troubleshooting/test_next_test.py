"""What is advised next, against every plan there is for a small cluster."""

from dataclasses import replace
from functools import cache
from itertools import permutations
from pathlib import Path

import pytest

from findings.troubleshooting.small_knowledge import SMALL, knowledge_in
from needlewright.findings.troubleshooting.belief import Belief, belief_of
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import Answer, Knowledge, Remedy
from needlewright.findings.troubleshooting.next_test import Option, next_options
from needlewright.findings.troubleshooting.planning import course_of
from needlewright.findings.troubleshooting.responsible import responsible

COMPLAINT = (Answer("wrong", True, "fuel"),)


def alone(folder: Path) -> Knowledge:
    """One dial and no cause of the whole: one thing is wrong at most."""
    text = SMALL.replace("supply_joint = 0.6, battery = 0.3", "erratic = 0.8").replace(
        "sender = 0.9, erratic = 0.8, erratic = 0.8", "sender = 0.9, erratic = 0.8"
    )
    return knowledge_in(folder, text)


def least_of_all_orders(belief: Belief) -> float:
    """Every order of every selection of remedies, walked through cause by cause."""
    knowledge, work = belief.knowledge, belief.knowledge.work
    parts = responsible(belief).parts(belief.states)
    causes = {code if part is None else f"{code}/{part}": p for code, part, _, p in parts}
    remedies = [one for one in knowledge.remedies.values() if one.scope == "dial"]

    def takes(order: tuple[Remedy, ...]) -> float:
        left, total, is_open = dict(causes), 0.0, False
        for one in order:
            still = sum(left.values())
            lead = 0.0 if is_open or not one.inside else work.open_minutes
            is_open = is_open or one.inside
            total += still * (lead + one.minutes + work.check_minutes)
            left = {state: p * (1 - _cures(one, state)) for state, p in left.items()}
        return total + sum(left.values()) * work.give_up_minutes

    counts = range(len(remedies) + 1)
    return min(takes(order) for count in counts for order in permutations(remedies, count))


def _cures(remedy: Remedy, state: str) -> float:
    return remedy.cures.get(state, remedy.cures.get(state.partition("/")[0], 0.0))


def test_a_course_takes_what_walking_through_it_takes(tmp_path: Path) -> None:
    """Source: brute force over the orders of the remedies of one dial."""
    belief = belief_of(alone(tmp_path), ["fuel"], COMPLAINT)
    course = course_of(belief, is_sent=True)
    assert course.expected_minutes == pytest.approx(least_of_all_orders(belief), rel=1e-9)
    assert course.names == ("sender:fuel", "movement:fuel", "driver:fuel")


def test_two_causes_are_both_to_be_cured(tmp_path: Path) -> None:
    """Complaints of two gauges that have nothing to do with one another take about both."""
    knowledge = alone(tmp_path)
    one = course_of(belief_of(knowledge, ["fuel"], COMPLAINT), is_sent=True)
    both = course_of(
        belief_of(knowledge, ["fuel", "speed"], [*COMPLAINT, Answer("wrong", True, "speed")]),
        is_sent=True,
    )
    assert 1.5 * one.expected_minutes < both.expected_minutes < 2 * one.expected_minutes


def test_with_no_complaint_there_is_nothing_to_search(tmp_path: Path) -> None:
    belief = belief_of(knowledge_in(tmp_path), ["fuel"], [Answer("wrong", False, "fuel")])
    course = course_of(belief, is_sent=True)
    assert course.names == ()
    assert course.expected_minutes == pytest.approx(0.0, abs=1e-9)


def best_policy(knowledge: Knowledge, answers: tuple[Answer, ...]) -> float:
    """Every plan of tests there is, each ended by the best course: full recursion."""

    @cache
    def least(told: tuple[Answer, ...]) -> float:
        belief = belief_of(knowledge, ["fuel"], told)
        best = course_of(belief, is_sent=True).expected_minutes
        done = {one.finding for one in told}
        for finding in knowledge.findings.values():
            if finding.id in done or finding.place != "bench":
                continue
            dial = "fuel" if finding.scope == "dial" else None
            yes = belief.probability(finding.id, dial)
            minutes = finding.cost_minutes
            for answer, chance in ((True, yes), (False, 1 - yes)):
                minutes += chance * least((*told, Answer(finding.id, answer, dial)))
            best = min(best, minutes)
        return best

    return least(answers)


TESTS = """
[finding.sweep]
scope = "dial"
place = "bench"
words = "Is {dial} uneven?"
otherwise = 0.02
minutes = 8
shown_by = { stalled = 0.95, erratic = 0.5 }
source = "invented"
[finding.substitute]
scope = "dial"
place = "bench"
words = "Is {dial} wrong with a substitute?"
otherwise = 0.02
minutes = 12
shown_by = { stalled = 0.97, erratic = 0.7, supply_joint = 0.5 }
source = "invented"
"""


def test_two_steps_ahead_come_near_every_plan_there_is(tmp_path: Path) -> None:
    """Source: brute force over all plans of three tests."""
    knowledge = knowledge_in(tmp_path, SMALL + TESTS)
    belief = belief_of(knowledge, ["fuel"], COMPLAINT)
    options = next_options(belief, "bench")
    best = best_policy(knowledge, COMPLAINT)
    assert best - 1e-9 <= options[0].expected_minutes <= 1.01 * best
    assert options[0].kind == "test"


def test_looking_further_ahead_never_takes_more(tmp_path: Path) -> None:
    belief = belief_of(knowledge_in(tmp_path, SMALL + TESTS), ["fuel"], COMPLAINT)
    least = [next_options(belief, "bench", steps)[0].expected_minutes for steps in (0, 1, 2)]
    assert least[0] >= least[1] >= least[2]
    assert least[0] > least[2]


DIALS = ("speed", "engine", "fuel", "temperature")


def test_what_is_done_with_a_remedy_is_not_tried_after_it() -> None:
    """A movement cannot be replaced without pulling its needle and setting it anew."""
    knowledge = load_knowledge()
    answers = [
        Answer("reads_wrong", True, "speed"),
        Answer("sticks", True, "speed"),
        Answer("bench_wrong", True, "speed"),
    ]
    movement, needle = "replace_movement:speed", "set_needle:speed"
    course = course_of(belief_of(knowledge, ["speed", "fuel"], answers), is_sent=True)
    assert movement in course.names
    assert needle not in course.names[course.names.index(movement) :]
    by_itself = replace(knowledge.remedies["replace_movement"], includes=())
    apart = replace(knowledge, remedies={**knowledge.remedies, "replace_movement": by_itself})
    longer = course_of(belief_of(apart, ["speed", "fuel"], answers), is_sent=True)
    assert longer.expected_minutes > course.expected_minutes
    assert longer.names.index(needle) > longer.names.index(movement)


def advised(stage: str, *answers: Answer) -> Option:
    belief = belief_of(load_knowledge(), DIALS, answers)
    return next_options(belief, stage)[0]  # type: ignore[arg-type]


def only(dial: str) -> list[Answer]:
    return [Answer("reads_wrong", one == dial, one) for one in DIALS]


def test_a_needle_that_creeps_home_with_the_key_is_opened_for_its_movement() -> None:
    found = advised("bench", *only("speed"), Answer("key_helps", True, "speed"))
    assert (found.kind, found.id, found.dial) == ("open", "replace_movement", "speed")
    assert found.words == "stop testing, open it: replace speed's movement"


def test_no_part_is_fitted_on_words_alone() -> None:
    """What is to be opened is measured first; it costs what it cost, and is called otherwise."""
    answers = [*only("speed"), Answer("key_helps", True, "speed")]
    belief = belief_of(load_knowledge(), DIALS, answers)
    for stage, way in (("bench", ""), ("vehicle", "bring it to the bench, ")):
        told = next_options(belief, stage, 0, is_measured=False)  # type: ignore[arg-type]
        measured = next_options(belief, stage, 0)  # type: ignore[arg-type]
        (first,) = [one for one in told if one.kind == "run_as_found"]
        (opened,) = [one for one in measured if one.kind == "open"]
        assert (first.id, first.dial, first.then) == (opened.id, opened.dial, opened.then)
        assert first.expected_minutes == opened.expected_minutes
        expected = f"{way}take the run as found; if it bears this out: replace speed's movement"
        assert first.words == expected
        assert not [one for one in told if one.kind == "open"]


def test_a_gauge_that_only_the_vehicle_sees_wrong_is_not_sent() -> None:
    asked = [one for one in load_knowledge().findings.values() if one.place != "bench"]
    denied = [
        Answer(one.id, False, "fuel" if one.scope == "dial" else None)
        for one in asked
        if not one.opens
    ]
    found = advised("vehicle", *only("fuel"), *denied)
    assert (found.kind, found.id, found.dial) == ("outside", "test_sender", "fuel")
    assert found.words.startswith("do not send it: test fuel's sender")


def test_before_a_single_gauge_is_sent_it_is_tested_in_the_vehicle() -> None:
    found = advised("asking", *only("fuel"))
    assert (found.kind, found.dial) == ("test", "fuel")
    assert found.id in ("port_is_right", "self_test_wrong", "substitute_wrong")


def test_gauges_that_fail_together_lead_to_supply_and_ground_first() -> None:
    answers = [Answer("reads_wrong", True, one) for one in DIALS]
    found = advised("vehicle", *answers, Answer("all_at_once", True))
    assert found.id in ("ground_drop", "no_frames", "low_voltage")


def test_nothing_complained_of_is_nothing_to_look_for() -> None:
    found = advised("bench", *[Answer("reads_wrong", False, one) for one in DIALS])
    assert (found.kind, found.expected_minutes) == ("sound", pytest.approx(0.0, abs=1e-9))
