"""Beliefs against a general-purpose library of networks, and what must always hold."""

from itertools import permutations
from pathlib import Path

import numpy as np
import pyagrum
import pytest
from numpy.typing import NDArray

from findings.troubleshooting.small_knowledge import by_label, knowledge_in, network_of
from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.belief import Belief, belief_of
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import Answer, Weighed
from needlewright.findings.troubleshooting.responsible import responsible

DIALS = ("speed", "fuel")
ANSWERS = [
    Answer("wrong", True, "fuel"),
    Answer("wrong", False, "speed"),
    Answer("dead", True, "fuel"),
    Answer("restarts", True),
    Answer("dead", False, "speed"),
]


@pytest.mark.parametrize("count", range(len(ANSWERS) + 1))
def test_posteriors_are_those_of_a_general_library(tmp_path: Path, count: int) -> None:
    """Source: pyAgrum's exact inference (LazyPropagation) on tables written from the same file."""
    knowledge = knowledge_in(tmp_path)
    belief = belief_of(knowledge, DIALS, ANSWERS[:count])
    inference = pyagrum.LazyPropagation(network_of(knowledge, DIALS))
    inference.setEvidence(
        {
            one.finding if one.dial is None else f"{one.finding}:{one.dial}": int(one.yes)
            for one in ANSWERS[:count]
        }
    )
    for dial in DIALS:
        assert belief.states_of(dial) == pytest.approx(by_label(inference, dial), abs=1e-12)
    for code, probability in belief.of_whole().items():
        assert probability == pytest.approx(inference.posterior(code)[1], abs=1e-12)
    for finding, dial in (("restarts", None), ("dead", "fuel"), ("wrong", "speed")):
        name = finding if dial is None else f"{finding}:{dial}"
        if Answer(finding, True, dial) in ANSWERS[:count] or (count > 1 and dial == "speed"):
            continue
        expected_yes = inference.posterior(name)[1]
        assert belief.probability(finding, dial) == pytest.approx(expected_yes, abs=1e-12)


def test_the_shipped_file_gives_the_same_posteriors_too() -> None:
    """Source: pyAgrum, as above; one dial, so that its tables stay small."""
    knowledge = load_knowledge()
    asked = [
        Answer("reads_wrong", True, "fuel"),
        Answer("worse_cold", True, "fuel"),
        Answer("all_at_once", False),
        Answer("bench_wrong", False, "fuel"),
        Answer("tapping_helps", True, "fuel"),
        Answer("got_wet", True),
    ]
    belief = belief_of(knowledge, ["fuel"], asked)
    inference = pyagrum.LazyPropagation(network_of(knowledge, ("fuel",)))
    inference.setEvidence(
        {a.finding if a.dial is None else f"{a.finding}:{a.dial}": int(a.yes) for a in asked}
    )
    assert belief.states_of("fuel") == pytest.approx(by_label(inference, "fuel"), abs=1e-12)
    assert belief.of_whole()["corrosion"] == pytest.approx(
        inference.posterior("corrosion")[1], abs=1e-12
    )


def test_the_order_of_answers_does_not_matter(tmp_path: Path) -> None:
    knowledge = knowledge_in(tmp_path)
    first = belief_of(knowledge, DIALS, ANSWERS)
    for order in permutations(ANSWERS):
        other = belief_of(knowledge, DIALS, order)
        assert other.dial("fuel") == pytest.approx(first.dial("fuel"), abs=1e-12)
        assert other.of_whole() == pytest.approx(first.of_whole(), abs=1e-12)


def test_what_an_answer_is_worth_is_its_probability(tmp_path: Path) -> None:
    """The mean of the beliefs after yes and after no is the belief before."""
    before = belief_of(knowledge_in(tmp_path), DIALS, ANSWERS[:2])
    yes = before.probability("dead", "fuel")
    after = [before.told(Answer("dead", answer, "fuel")) for answer in (True, False)]
    for code, probability in before.dial("fuel").items():
        mean = yes * after[0].dial("fuel")[code] + (1 - yes) * after[1].dial("fuel")[code]
        assert mean == pytest.approx(probability, abs=1e-12)


def test_an_analysis_weighs_as_its_likelihoods_say(tmp_path: Path) -> None:
    before = belief_of(knowledge_in(tmp_path), DIALS)
    said = Weighed("fuel", {"sound": 0.1, "stalled": 0.9, "erratic": 0.5}, "run")
    prior, after = before.dial("fuel"), before.weighed(said).dial("fuel")
    likelihood = {"sound": 0.1, "stalled": 0.9, "erratic": 0.5, "sender": 0.5}
    total = sum(prior[code] * likelihood[code] for code in prior)
    for code in prior:
        assert after[code] == pytest.approx(prior[code] * likelihood[code] / total, abs=1e-12)


def test_one_dial_is_analysed_once(tmp_path: Path) -> None:
    said = Weighed("fuel", {"sound": 0.1, "stalled": 0.9}, "run.csv")
    belief = belief_of(knowledge_in(tmp_path), DIALS).weighed(said)
    with pytest.raises(KnowledgeError, match=r"run\.csv: a run of dial 'fuel' was weighed already"):
        belief.weighed(said)


def test_dead_lamps_are_not_responsible_for_a_fuel_gauge() -> None:
    knowledge = load_knowledge()
    belief = belief_of(knowledge, DIALS, [Answer("reads_wrong", True, "fuel")])
    found = {(code, dial): p for code, dial, p in responsible(belief).causes(belief.states)}
    assert belief.of_whole()["lamp_out"] > 0.05
    assert ("lamp_out", None) not in found
    assert found[("lost_steps", "fuel")] <= belief.dial("fuel")["lost_steps"]
    assert all(dial == "fuel" or dial is None for _, dial in found)


def test_who_is_responsible_is_counted_by_brute_force(tmp_path: Path) -> None:
    """Source: definition; causes act each for itself, drawn 400,000 times."""
    knowledge = knowledge_in(tmp_path)
    asked = [Answer("wrong", True, "fuel"), Answer("restarts", True)]
    belief = belief_of(knowledge, ["fuel"], asked)
    rng, n = np.random.default_rng(5), 400_000
    corrosion = rng.random(n) < 0.1
    joint = rng.random(n) < 1 - 0.95 * np.where(corrosion, 0.6, 1.0)
    battery = rng.random(n) < 0.15
    state = _drawn_states(rng, corrosion, joint)
    wrong = {
        "supply_joint": joint & (rng.random(n) < 0.6),
        "battery": battery & (rng.random(n) < 0.3),
        "stalled": (state == 1) & (rng.random(n) < 0.95),
        "sender": (state == 2) & (rng.random(n) < 0.9),
        "erratic": (state == 3) & (rng.random(n) < 0.8),
    }
    restarts = {
        "supply_joint": joint & (rng.random(n) < 0.8),
        "battery": battery & (rng.random(n) < 0.5),
    }
    said_wrong = np.any([*wrong.values(), rng.random(n) < 0.05], axis=0)
    said_restarts = np.any([*restarts.values(), rng.random(n) < 0.03], axis=0)
    kept = said_wrong & said_restarts
    found = {code: p for code, _, p in responsible(belief).causes(belief.states)}
    for code, made in wrong.items():
        guilty = made | restarts.get(code, np.zeros(n, bool))
        share = float(guilty[kept].mean())
        spread = (share * (1 - share) / kept.sum()) ** 0.5
        assert found[code] == pytest.approx(share, abs=4 * spread), code


def _drawn_states(
    rng: np.random.Generator, corrosion: NDArray[np.bool_], joint: NDArray[np.bool_]
) -> NDArray[np.int_]:
    n = len(corrosion)
    stalled = 1 - 0.9 * np.where(corrosion, 0.7, 1.0)
    erratic = 1 - 0.95 * np.where(joint, 0.75, 1.0)
    weights = np.stack(
        [
            np.full(n, 0.65),
            stalled * 0.9 / (1 - stalled),
            np.full(n, 0.2),
            erratic * 0.95 / (1 - erratic),
        ],
        axis=1,
    )
    edges = np.cumsum(weights / weights.sum(axis=1, keepdims=True), axis=1)
    return (rng.random(n)[:, None] > edges).sum(axis=1)


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ([Answer("dead", True, "fuel"), Answer("dead", False, "fuel")], "with yes and with no"),
        ([Answer("dead", True, "fuel"), Answer("dead", True, "fuel")], "answered already"),
        ([Answer("smells", True)], "no question or test 'smells'; known: dead, restarts, wrong"),
        ([Answer("dead", True, "oil")], "no dial 'oil'; known: speed, fuel"),
        ([Answer("dead", True)], "'dead' is of one dial; name it: speed, fuel"),
        ([Answer("restarts", True, "fuel")], "of the whole cluster; leave dial 'fuel' out"),
    ],
)
def test_answers_that_do_not_fit_are_said(tmp_path: Path, answers: list[Answer], said: str) -> None:
    with pytest.raises(KnowledgeError, match=said):
        belief_of(knowledge_in(tmp_path), DIALS, answers)


@pytest.mark.parametrize("likelihood", [{}, {"sound": 0.0}, {"sound": -1.0, "sender": 2.0}])
def test_an_analysis_without_likelihoods_is_refused(
    tmp_path: Path, likelihood: dict[str, float]
) -> None:
    belief: Belief = belief_of(knowledge_in(tmp_path), DIALS)
    with pytest.raises(KnowledgeError, match=r"run\.csv: its likelihoods for dial 'fuel'"):
        belief.weighed(Weighed("fuel", likelihood, "run.csv"))
