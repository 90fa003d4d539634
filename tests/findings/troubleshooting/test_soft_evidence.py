"""Evidence that is neither yes nor no: against a general-purpose library, and what must hold."""

from dataclasses import replace
from typing import Any

import numpy as np
import pyagrum
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from findings.troubleshooting.small_knowledge import by_label, knowledge_in, network_of
from needlewright.errors import KnowledgeError
from needlewright.findings.evidence import MOST_RATIO, Evidence
from needlewright.findings.troubleshooting.belief import Belief, belief_of
from needlewright.findings.troubleshooting.decided import causes_decided
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import Answer, Knowledge, Weighed
from needlewright.findings.troubleshooting.next_test import next_options
from needlewright.findings.troubleshooting.planning import course_of
from needlewright.findings.troubleshooting.responsible import responsible

DIALS = ("speed", "fuel")


def saw(
    finding: str, dial: str | None, ratio: float, analysis: str | None = "sweep", seen: str = "run"
) -> Evidence:
    return Evidence(finding, dial, ratio, "what was seen", seen, analysis=analysis)


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Knowledge:
    return knowledge_in(tmp_path_factory.mktemp("known"))


def assert_same(belief: Belief, inference: pyagrum.LazyPropagation, names: list[str]) -> None:
    for dial in belief.dials:
        assert belief.states_of(dial) == pytest.approx(by_label(inference, dial), abs=1e-12)
    for code, probability in belief.of_whole().items():
        assert probability == pytest.approx(inference.posterior(code)[1], abs=1e-12)
    for name in names:
        finding, _, dial = name.partition(":")
        expected_yes = inference.posterior(name)[1]
        assert belief.probability(finding, dial or None) == pytest.approx(expected_yes, abs=1e-12)


def test_posteriors_are_those_of_a_general_library_with_likelihood_vectors(
    known: Knowledge,
) -> None:
    """Source: pyAgrum's exact inference with virtual evidence (a vector of likelihoods)."""
    belief = belief_of(
        known,
        DIALS,
        [Answer("wrong", True, "fuel")],
        [saw("dead", "fuel", 7.0), saw("restarts", None, 0.2), saw("wrong", "speed", 30.0)],
    )
    inference = pyagrum.LazyPropagation(network_of(known, DIALS))
    inference.addEvidence("wrong:fuel", 1)
    inference.addEvidence("dead:fuel", [1.0, 7.0])
    inference.addEvidence("restarts", [1.0, 0.2])
    inference.addEvidence("wrong:speed", [1.0, 30.0])
    assert_same(belief, inference, ["dead:fuel", "restarts", "wrong:speed", "dead:speed"])


def test_the_shipped_file_gives_the_same_posteriors_with_evidence_too() -> None:
    """Source: pyAgrum, as above; one dial, so that its tables stay small."""
    knowledge = load_knowledge()
    evidence = [saw("creeps_home", "fuel", 40.0), saw("ground_drop", None, 0.05)]
    belief = belief_of(knowledge, ["fuel"], [Answer("reads_wrong", True, "fuel")], evidence)
    inference = pyagrum.LazyPropagation(network_of(knowledge, ("fuel",)))
    inference.addEvidence("reads_wrong:fuel", 1)
    inference.addEvidence("creeps_home:fuel", [1.0, 40.0])
    inference.addEvidence("ground_drop", [1.0, 0.05])
    assert_same(belief, inference, ["creeps_home:fuel", "ground_drop", "sweep_uneven:fuel"])


def pointing(part: str | None, ratio: float = 40.0) -> Evidence:
    return replace(saw("dead", "fuel", ratio), part=part)


def with_alarm(known: Knowledge) -> Any:
    """The network with evidence that points at the driver, as a variable of its own."""
    net = network_of(known, DIALS)
    net.add(pyagrum.LabelizedVariable("alarm", "", ["no", "yes"]))
    net.addArc("dead:fuel", "alarm")
    net.addArc("fuel", "alarm")
    for state in net.variable("fuel").labels():
        for yes, likely in ((0, 0.02), (1, 0.8 if state == "stalled/driver" else 0.2)):
            net.cpt("alarm")[{"dead:fuel": yes, "fuel": state}] = [1 - likely, likely]
    return net


def test_evidence_that_points_at_a_part_shifts_parts_as_a_general_library_says(
    known: Knowledge,
) -> None:
    """Source: pyAgrum; an alarm under finding and dial, 40 times as likely with a yes of the driver
    and 10 times with any other yes, as the file lets pointing count for 4."""
    belief = belief_of(known, DIALS, [Answer("wrong", True, "fuel")], [pointing("driver")])
    inference = pyagrum.LazyPropagation(with_alarm(known))
    inference.setEvidence({"wrong:fuel": 1, "alarm": 1})
    assert_same(belief, inference, ["dead:fuel", "dead:speed", "restarts"])
    assert belief.parts("fuel") == pytest.approx(
        {part: by_label(inference, "fuel")[f"stalled/{part}"] for part in ("movement", "driver")},
        abs=1e-12,
    )


@pytest.mark.parametrize("answer", [True, False])
def test_what_points_at_a_part_still_does_once_a_person_answered_yes(
    known: Knowledge, answer: bool
) -> None:
    """Source: pyAgrum, the alarm and the answer both given. After a no it says nothing."""
    told = [Answer("wrong", True, "fuel"), Answer("dead", answer, "fuel")]
    belief = belief_of(known, DIALS, told, [pointing("driver")])
    inference = pyagrum.LazyPropagation(with_alarm(known))
    inference.setEvidence({"wrong:fuel": 1, "dead:fuel": int(answer), "alarm": 1})
    assert_same(belief, inference, ["dead:speed", "restarts"])
    before = belief_of(known, DIALS, told[:1], [pointing("driver")])
    assert before.told(told[1]).dial("fuel") == pytest.approx(belief.dial("fuel"), abs=1e-12)
    if not answer:
        plain = belief_of(known, DIALS, told)
        assert belief.parts("fuel") == pytest.approx(plain.parts("fuel"), abs=1e-12)


def test_a_test_that_was_measured_already_is_hardly_worth_doing_again() -> None:
    """A sweep that all but proves a yes leaves nothing to ask."""
    knowledge = load_knowledge()
    seen = replace(saw("sweep_uneven", "fuel", 400.0), part="driver")
    answers = [Answer("reads_wrong", True, "fuel"), Answer("dead", True, "fuel")]
    belief = belief_of(knowledge, DIALS, answers, [seen])
    options = next_options(belief, "bench")
    assert ("sweep_uneven", "fuel") not in {(one.id, one.dial) for one in options}


def test_how_far_a_part_is_pointed_at_goes_by_the_ratio(known: Knowledge) -> None:
    """The file lets pointing count for 4, never for more than the evidence itself."""

    def driver(part: str | None, ratio: float) -> float:
        parts = belief_of(known, DIALS, (), [pointing(part, ratio)]).parts("fuel")
        return parts["driver"] / parts["movement"]

    plain = 0.3 / 0.7
    assert driver("driver", 1.0) == pytest.approx(plain, rel=1e-12)
    assert driver("driver", 0.1) == pytest.approx(driver(None, 0.1), rel=1e-12)
    for ratio, worth in ((1.5, 1.0), (400.0, 100.0)):
        # how often a dead driver and a dead movement are a yes, with what comes anyhow
        yes = {"driver": 1 - 0.98 * 0.4, "movement": 1 - 0.98 * 0.1}
        expected = plain * (yes["driver"] * (ratio - 1) + 1) / (yes["movement"] * (worth - 1) + 1)
        assert driver("driver", ratio) == pytest.approx(expected, rel=1e-9)
    assert driver("lens", 400.0) == pytest.approx(driver(None, 400.0), rel=1e-12)


def test_a_part_that_was_found_decides_the_remedy() -> None:
    """A dead dial is a movement, unless what was seen points at its driver again and again."""
    knowledge, asked = load_knowledge(), [Answer("self_test_wrong", True, "fuel")]
    first = {}
    for part in ("movement", "driver"):
        seen = [
            replace(saw(finding, "fuel", 900.0, finding), part=part)
            for finding in ("dead", "sweep_uneven")
        ]
        belief = belief_of(knowledge, DIALS, asked, seen)
        first[part] = course_of(belief, is_sent=True).names[0]
        shares = belief.states_of("fuel")
        assert (shares["stalled/driver"] > shares["stalled/movement"]) == (part == "driver")
    assert first == {"movement": "replace_movement:fuel", "driver": "replace_driver:fuel"}


def test_a_persons_answer_stands_in_for_what_an_analysis_saw(known: Knowledge) -> None:
    plain = belief_of(known, DIALS, [Answer("dead", False, "fuel")])
    both = belief_of(known, DIALS, (), [saw("dead", "fuel", 500.0)])
    assert both.dial("fuel")["stalled"] > 20 * plain.dial("fuel")["stalled"]
    told = both.told(Answer("dead", False, "fuel"))
    assert told.dial("fuel") == pytest.approx(plain.dial("fuel"), abs=1e-12)
    assert told.stood_in_for() == (saw("dead", "fuel", 500.0),)
    undone = told.without(Answer("dead", False, "fuel"))
    assert undone.dial("fuel") == pytest.approx(both.dial("fuel"), abs=1e-12)
    assert undone.stood_in_for() == ()


def test_what_an_answer_would_be_worth_after_evidence_is_its_probability(known: Knowledge) -> None:
    """The mean of the beliefs after yes and after no is the belief before."""
    before = belief_of(known, DIALS, [Answer("wrong", True, "fuel")], [saw("dead", "fuel", 12.0)])
    yes = before.probability("dead", "fuel")
    after = [before.told(Answer("dead", answer, "fuel")) for answer in (True, False)]
    for code, probability in before.dial("fuel").items():
        mean = yes * after[0].dial("fuel")[code] + (1 - yes) * after[1].dial("fuel")[code]
        assert mean == pytest.approx(probability, abs=1e-12)


@pytest.mark.parametrize(
    ("pieces", "expected"),
    [
        ([("sweep", 8.0), ("sweep", 8.0)], 8.0),
        ([("sweep", 8.0), ("sweep", 3.0)], 8.0),
        ([("sweep", 8.0), ("sweep", 1 / 8)], 1.0),
        ([("sweep", 8.0), ("cold", 3.0)], 24.0),
        ([(None, 8.0), (None, 3.0), ("cold", 0.5)], 4.0),
        ([("sweep", 5000.0), ("cold", 5000.0)], MOST_RATIO),
    ],
)
def test_one_analysis_speaks_once_and_two_multiply(
    known: Knowledge, pieces: list[tuple[str | None, float]], expected: float
) -> None:
    """Source: derivation, docs/decisions/0055."""
    evidence = [saw("dead", "fuel", ratio, by, str(i)) for i, (by, ratio) in enumerate(pieces)]
    belief = belief_of(known, DIALS, (), evidence)
    assert belief.ratio("dead", "fuel") == pytest.approx(expected, rel=1e-12)
    one = belief_of(known, DIALS, (), [saw("dead", "fuel", expected)])
    assert belief.dial("fuel") == pytest.approx(one.dial("fuel"), abs=1e-12)


SAYINGS = [
    Answer("wrong", True, "fuel"),
    Answer("dead", False, "fuel"),
    Answer("restarts", True),
    saw("dead", "fuel", 9.0),
    saw("dead", "fuel", 0.5, "cold"),
    replace(saw("dead", "fuel", 20.0, "sweep", "another run"), part="driver"),
    saw("restarts", None, 0.3),
    saw("wrong", "speed", 6.0),
    Weighed("speed", {"sound": 0.1, "stalled": 0.9, "erratic": 0.5}, "run.csv"),
]


@settings(max_examples=40, deadline=None)
@given(st.permutations(SAYINGS), st.integers(0, len(SAYINGS)), st.data())
def test_no_order_and_no_undoing_shows_in_what_is_believed(
    known: Knowledge, order: list[Answer | Evidence | Weighed], count: int, data: st.DataObject
) -> None:
    belief, kept = belief_of(known, DIALS), order[:count]
    for one in kept:
        belief = _said(belief, one)
    for one in data.draw(st.lists(st.sampled_from(kept), unique_by=id) if kept else st.just([])):
        belief, kept = belief.without(one), [other for other in kept if other is not one]
    again = belief_of(
        known,
        DIALS,
        [one for one in reversed(kept) if isinstance(one, Answer)],
        [one for one in reversed(kept) if isinstance(one, Evidence)],
        [one for one in reversed(kept) if isinstance(one, Weighed)],
    )
    for dial in DIALS:
        assert belief.dial(dial) == pytest.approx(again.dial(dial), rel=1e-9, abs=1e-15)
    assert belief.of_whole() == pytest.approx(again.of_whole(), rel=1e-9, abs=1e-15)
    mine, others = (dict(_causes(one)) for one in (belief, again))
    assert mine == pytest.approx(others, rel=1e-9, abs=1e-12)


def _said(belief: Belief, one: Answer | Evidence | Weighed) -> Belief:
    if isinstance(one, Answer):
        return belief.told(one)
    return belief.seen(one) if isinstance(one, Evidence) else belief.weighed(one)


def _causes(belief: Belief) -> list[tuple[tuple[str, str | None], float]]:
    found = responsible(belief).causes(belief.states)
    return [((code, dial), p) for code, dial, p in found]


def test_who_is_responsible_for_what_an_analysis_saw_is_counted_by_brute_force(
    known: Knowledge,
) -> None:
    """Source: definition. An alarm comes anyhow in 1 of 20, and in 8 of 20 more from a yes."""
    knowledge = replace(
        known,
        causes={
            code: replace(cause, brings={})
            for code, cause in known.causes.items()
            if code != "corrosion"
        },
    )
    belief = belief_of(knowledge, ["fuel"], (), [saw("wrong", "fuel", 9.0)])
    rng, n = np.random.default_rng(7), 600_000
    joint, battery = rng.random(n) < 0.05, rng.random(n) < 0.15
    state = rng.choice(4, size=n, p=[0.65, 0.1, 0.2, 0.05])
    made = {
        "supply_joint": joint & (rng.random(n) < 0.6),
        "battery": battery & (rng.random(n) < 0.3),
        "stalled": (state == 1) & (rng.random(n) < 0.95),
        "sender": (state == 2) & (rng.random(n) < 0.9),
        "erratic": (state == 3) & (rng.random(n) < 0.8),
    }
    yes = np.any([*made.values(), rng.random(n) < 0.05], axis=0)
    comes = rng.random(n)
    anyhow, by_yes = comes < 0.05, yes & (comes >= 0.05) & (comes < 0.45)
    kept = anyhow | by_yes
    found = {code: p for (code, _), p in _causes(belief)}
    for code, of in made.items():
        share = float((of & by_yes)[kept].mean())
        spread = (share * (1 - share) / kept.sum()) ** 0.5
        assert found[code] == pytest.approx(share, abs=4 * spread), code


def test_sure_evidence_is_as_an_answer_and_none_is_as_nothing(known: Knowledge) -> None:
    answered = dict(_causes(belief_of(known, DIALS, [Answer("wrong", True, "fuel")])))
    sure = dict(_causes(belief_of(known, DIALS, (), [saw("wrong", "fuel", MOST_RATIO)])))
    assert sure == pytest.approx(answered, abs=1e-3)
    for ratio in (1.0, 0.1):
        assert _causes(belief_of(known, DIALS, (), [saw("wrong", "fuel", ratio)])) == []


def test_evidence_alone_is_worth_a_search_and_evidence_against_is_not() -> None:
    knowledge = load_knowledge()
    seen = belief_of(knowledge, DIALS, (), [saw("bench_wrong", "fuel", 2000.0)])
    best = next_options(seen, "bench", 1)[0]
    assert best.kind == "test"
    assert best.expected_minutes > 60
    against = belief_of(knowledge, DIALS, (), [saw("bench_wrong", "fuel", 0.5)])
    best = next_options(against, "bench", 1)[0]
    assert (best.kind, best.expected_minutes) == ("sound", pytest.approx(0.0, abs=1e-9))


@pytest.mark.parametrize(
    ("piece", "said"),
    [
        (saw("smells", "fuel", 3.0), "evidence of run: there is no question or test 'smells'"),
        (saw("dead", "oil", 3.0), "evidence of run: there is no dial 'oil'; known: speed, fuel"),
        (saw("dead", None, 3.0), "evidence of run: 'dead' is of one dial; name it"),
        (saw("restarts", "fuel", 3.0), "evidence of run: 'restarts' is of the whole cluster"),
    ],
)
def test_evidence_that_does_not_fit_is_said(known: Knowledge, piece: Evidence, said: str) -> None:
    with pytest.raises(KnowledgeError, match=said):
        belief_of(known, DIALS, (), [piece])


def test_what_a_run_says_is_not_said_twice(known: Knowledge) -> None:
    run = Weighed("fuel", {"sound": 0.1, "stalled": 0.9}, "run.csv", "wrong")
    answer, piece = Answer("wrong", True, "fuel"), saw("wrong", "fuel", 3.0)
    with pytest.raises(KnowledgeError, match=r"run\.csv: 'wrong' of dial 'fuel' is answered"):
        belief_of(known, DIALS, [answer]).weighed(run)
    with pytest.raises(KnowledgeError, match=r"run\.csv: says of dial 'fuel' already"):
        belief_of(known, DIALS, (), [piece]).weighed(run)
    with pytest.raises(KnowledgeError, match=r"run\.csv: says of dial 'fuel' already"):
        belief_of(known, DIALS, [answer], (), [run])
    with pytest.raises(KnowledgeError, match=r"run\.csv: says of dial 'fuel' already"):
        belief_of(known, DIALS, (), [piece], [run])


def test_what_was_not_said_cannot_be_taken_back(known: Knowledge) -> None:
    with pytest.raises(KnowledgeError, match="was not said, so it cannot be taken back"):
        belief_of(known, DIALS).without(Answer("wrong", True, "fuel"))


def test_causes_that_a_person_ruled_out_leave_probabilities() -> None:
    """Combinations that cannot be have no share, and are not divided by."""
    belief = belief_of(
        load_knowledge(), DIALS, [Answer("reads_wrong", True, "fuel")], [saw("dead", "fuel", 9.0)]
    )
    found = dict(_causes(causes_decided(belief, ["ground"], ["bus", "battery"])))
    assert found[("ground", None)] > 0.3
    assert found.get(("bus", None), 0.0) < 1e-9
    assert all(0 < p <= 1 for p in found.values())
