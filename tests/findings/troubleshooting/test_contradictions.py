"""What does not go together, and what is only rare."""

from dataclasses import replace

import pyagrum
import pytest

from findings.troubleshooting.small_knowledge import knowledge_in, network_of
from needlewright.findings.evidence import Evidence
from needlewright.findings.troubleshooting.belief import belief_of
from needlewright.findings.troubleshooting.contradictions import contradictions, expected
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import Answer, Knowledge

DIALS = ("speed", "engine", "fuel", "temperature")
ONLY_FUEL = [Answer("reads_wrong", one == "fuel", one) for one in DIALS]


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Knowledge:
    return knowledge_in(tmp_path_factory.mktemp("known"))


def test_how_likely_an_answer_was_is_what_a_general_library_says(known: Knowledge) -> None:
    """Source: pyAgrum, with that answer left out."""
    answers = [
        Answer("wrong", False, "fuel"),
        Answer("dead", True, "fuel"),
        Answer("restarts", True),
    ]
    belief = belief_of(known, ("speed", "fuel"), answers)
    for answer in answers:
        inference = pyagrum.LazyPropagation(network_of(known, ("speed", "fuel")))
        for other in answers:
            if other != answer:
                name = other.finding if other.dial is None else f"{other.finding}:{other.dial}"
                inference.addEvidence(name, int(other.yes))
        name = answer.finding if answer.dial is None else f"{answer.finding}:{answer.dial}"
        likely = inference.posterior(name)[int(answer.yes)]
        assert expected(belief, answer) == pytest.approx(likely, abs=1e-12)


def test_what_is_only_rare_is_no_contradiction() -> None:
    """A dead fuel gauge among four is met in few clusters, and is told all the same."""
    answers = [*ONLY_FUEL, Answer("dead", True, "fuel"), Answer("lights_weak", True)]
    assert contradictions(belief_of(load_knowledge(), DIALS, answers)) == ()


def test_an_answer_against_all_others_names_the_one_it_stands_against_most() -> None:
    """The owner sees nothing wrong, and three tests do."""
    knowledge = load_knowledge()
    right = Answer("reads_wrong", False, "fuel")
    tests = [
        Answer(one, True, "fuel") for one in ("self_test_wrong", "bench_wrong", "port_is_right")
    ]
    found = contradictions(belief_of(knowledge, DIALS, [right, *tests]))
    against = [one for one in found if one.answer == right]
    assert [one.kind for one in against] == ["against the rest"]
    alone = {
        test: 1.0 - belief_of(knowledge, DIALS, [test]).probability("reads_wrong", "fuel")
        for test in tests
    }
    assert against[0].other == min(alone, key=lambda test: alone[test])
    rest = belief_of(knowledge, DIALS, tests).probability("reads_wrong", "fuel")
    assert against[0].probability == pytest.approx(1.0 - rest, rel=1e-9)
    assert against[0].words == (
        "'fuel: reads_wrong no' hardly goes with the other answers, above all beside 'fuel: "
        f"port_is_right yes': it was to be expected in {100 * (1.0 - rest):.2g} % of such cases; "
        "ask both again"
    )


def test_a_yes_that_no_cause_allows_is_said() -> None:
    """Everything else was denied, so that nothing is left that could have made it."""
    knowledge = load_knowledge()
    denied = [
        Answer(one.id, False, "fuel" if one.scope == "dial" else None)
        for one in knowledge.findings.values()
        if one.id != "reads_wrong"
    ]
    belief = belief_of(knowledge, DIALS, [Answer("reads_wrong", True, "fuel"), *denied])
    (found,) = contradictions(belief)
    assert found.kind == "unexplained"
    assert found.probability is not None
    assert found.probability > 0.8
    assert found.words.startswith(
        "no cause in the knowledge file explains 'fuel: reads_wrong yes' beside the other answers"
    )


def test_an_answer_against_a_measurement_and_two_looks_that_differ() -> None:
    look = Evidence("creeps_home", "fuel", 50.0, "crept 4 deg", "key-on test")
    again = replace(look, ratio=0.05, words="stayed", seen_in="second test")
    belief = belief_of(
        load_knowledge(), DIALS, [*ONLY_FUEL, Answer("creeps_home", False, "fuel")], [look]
    )
    (found,) = contradictions(belief)
    assert (found.kind, found.other) == ("against evidence", look)
    assert found.words == (
        "'fuel: creeps_home no' is not what key-on test shows (crept 4 deg); the answer counts, so "
        "take it back if it was a guess"
    )
    (found,) = contradictions(belief_of(load_knowledge(), DIALS, ONLY_FUEL, [look, again]))
    assert found.words == (
        "fuel: key-on test and second test differ on 'creeps_home' (crept 4 deg; stayed); look at "
        "both, and do one again"
    )
    weak = replace(again, ratio=0.5)
    assert contradictions(belief_of(load_knowledge(), DIALS, ONLY_FUEL, [look, weak])) == ()
