"""What to look at before the quote: probabilities and savings against all that can be true."""

from dataclasses import replace
from fractions import Fraction
from itertools import product
from pathlib import Path

import pytest

from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import Finding
from needlewright.plans.catalogue.load import load_catalogue
from needlewright.plans.rebuild.findings import exact, findings_from
from needlewright.plans.rebuild.looks import ALL_SEEN, Unseen, answers
from needlewright.plans.rebuild.plan import Plan, plan_of
from needlewright.plans.rebuild.risks import Life, things_of
from needlewright.plans.rebuild.search import search_of
from needlewright.plans.rebuild.work import Workshop

FAMILY = load_family(Path(__file__).parents[2] / "src/needlewright/demo_data/family")
KNOWN = load_knowledge(None)
CATALOGUE = load_catalogue(KNOWN, FAMILY)
LAMPS = {("fuel", "lost_steps"): 0.95, ("whole", "lamp_out"): 0.2, ("whole", "lamp_dim"): 0.15}
UNSEEN = Unseen(
    frozenset({(None, "lamp_out"), (None, "lamp_dim")}),
    (("lamp_check_dark", None), ("lamp_check_dim", None), ("board_corroded", None)),
)


def plan(shares: dict[tuple[str, str], float], unseen: Unseen = ALL_SEEN) -> Plan:
    found = findings_from(shares, KNOWN, FAMILY)
    return plan_of(found, CATALOGUE, FAMILY, KNOWN, Life(), unseen=unseen)


def best_cost(p_out: Fraction, p_dim: Fraction) -> Fraction:
    """The least of all with other probabilities of the lamps."""
    found = findings_from({("fuel", "lost_steps"): 0.95}, KNOWN, FAMILY)
    states = {**found.states, (None, "lamp_out"): p_out, (None, "lamp_dim"): p_dim}
    shop = Workshop(CATALOGUE, tuple(dial.id for dial in FAMILY.dials))
    best = search_of(shop, things_of(replace(found, states=states), shop, Life())[0]).best()
    assert best is not None
    return best.total


def test_a_look_saves_what_every_answer_and_every_truth_say_together():
    (look,) = plan(LAMPS, UNSEEN).looks
    assert (look.place, look.minutes) == (None, 8)
    assert look.tests == ("lamp_check_dark", "lamp_check_dim")
    dark, dim = (KNOWN.findings[name] for name in look.tests)
    p_out, p_dim = exact(0.2), exact(0.15)

    def yes(test: Finding, is_out: bool, is_dim: bool) -> Fraction:
        silent = 1 - exact(test.otherwise)
        silent *= 1 - exact(test.shown_by["lamp_out"]) if is_out else 1
        return 1 - silent * (1 - exact(test.shown_by["lamp_dim"]) if is_dim else 1)

    spent = Fraction(0)
    for said_dark, said_dim in product((False, True), repeat=2):
        weights = {}
        for is_out, is_dim in product((False, True), repeat=2):
            weight = (p_out if is_out else 1 - p_out) * (p_dim if is_dim else 1 - p_dim)
            for test, said in ((dark, said_dark), (dim, said_dim)):
                chance = yes(test, is_out, is_dim)
                weight *= chance if said else 1 - chance
            weights[is_out, is_dim] = weight
        whole = sum(weights.values(), Fraction(0))
        spent += whole * best_cost(
            (weights[True, True] + weights[True, False]) / whole,
            (weights[True, True] + weights[False, True]) / whole,
        )
    assert look.saves == best_cost(p_out, p_dim) - spent - 8  # minutes, at 60 EUR an hour
    assert look.saves > 1


def test_it_stands_before_the_quote_and_beside_what_it_settles():
    made = plan(LAMPS, UNSEEN)
    (look,) = made.looks
    assert made.notes[0] == (
        "before the quote, look: In the lamp check: is a zone dark? In the lamp check: is the "
        "light low or uneven? It takes 8 min, is expected to save 2.47 EUR, and says whether work "
        "is needed at: backlight lamp dead, backlight lamps aged"
    )
    plain = {one.thing.name: one.reason for one in plan(LAMPS).decisions}
    for one in made.decisions:
        is_settled = one.thing.name in look.things
        assert one.looks == (look.tests if is_settled else ())
        first = "not looked at yet; " if is_settled else ""
        assert one.reason == first + plain[one.thing.name]
    assert set(look.things) == {"lamp_out", "lamp_dim"}
    assert plan(LAMPS).looks == ()


@pytest.mark.parametrize(
    ("shares", "unseen"),
    [
        (LAMPS, replace(UNSEEN, tests=())),  # all tests were made
        (LAMPS, replace(UNSEEN, tests=(("board_corroded", None),))),  # says nothing of lamps
        ({**LAMPS, ("whole", "lamp_out"): 1.0}, UNSEEN),  # certain: no answer changes anything
    ],
)
def test_what_nothing_settles_is_not_to_be_looked_at(
    shares: dict[tuple[str, str], float], unseen: Unseen
):
    assert plan(shares, unseen).looks == ()


def test_a_speedometer_that_is_opened_since_it_must_pass_is_tested_first():
    shares = {("speed", "lost_steps"): 0.4}
    tests = (("reads_wrong", "speed"), ("self_test_wrong", "speed"), ("sweep_uneven", "speed"))
    made = plan(shares, Unseen(frozenset(), tests))
    (look,) = made.looks
    assert look.place == "speed"
    assert look.saves > 10
    movement = next(one for one in made.decisions if one.thing.name == "speed:movement")
    assert movement.looks == look.tests
    assert not movement.reason.startswith("not looked at yet")  # it was asked about, say


def test_of_a_dial_one_fault_is_there_at_most():
    before = {"lost_steps/movement": exact(0.3), "wrong_face/face": exact(0.1)}
    test = KNOWN.findings["self_test_wrong"]
    assert "lost_steps" in test.shown_by
    told = exact(test.shown_by["lost_steps"])
    quiet = 1 - exact(test.otherwise)
    (no, after_no), (yes, after_yes) = answers((test,), before, "speed")
    other = exact(test.shown_by.get("wrong_face", 0.0))
    # by Bayes, each fault and a sound dial with what it answers
    truths = ((exact(0.6), Fraction(0)), (exact(0.3), told), (exact(0.1), other))
    assert no == sum(p * quiet * (1 - shows) for p, shows in truths)
    assert yes == 1 - no
    assert after_no["lost_steps/movement"] == exact(0.3) * quiet * (1 - told) / no
    assert after_yes["lost_steps/movement"] == exact(0.3) * (1 - quiet * (1 - told)) / yes
    assert after_yes["wrong_face/face"] == exact(0.1) * (1 - quiet * (1 - other)) / yes
    for after, chance in ((after_no, no), (after_yes, yes)):
        assert set(after) == set(before)
        assert 0 < sum(after.values()) < 1
        assert 0 < chance < 1
