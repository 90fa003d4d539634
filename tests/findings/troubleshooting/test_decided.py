"""What is believed once a person has decided."""

import pytest

from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.belief import belief_of
from needlewright.findings.troubleshooting.decided import causes_decided, dial_decided
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import Answer, Weighed
from needlewright.findings.troubleshooting.responsible import responsible

KNOWN = load_knowledge(None)
DIALS = ("fuel", "speed")


@pytest.fixture(scope="module")
def belief():
    return belief_of(KNOWN, DIALS, [Answer("reads_wrong", True, "fuel"), Answer("got_wet", True)])


def test_a_decided_dial_has_that_cause_for_certain_and_it_is_responsible(belief):
    after = dial_decided(belief, "fuel", "blocked")
    assert after.dial("fuel")["blocked"] == pytest.approx(1.0)
    causes = {(c, d): p for c, d, p in responsible(after).causes(after.states)}
    assert causes["blocked", "fuel"] == pytest.approx(1.0)
    assert belief.dial("fuel")["blocked"] < 0.2  # the one given is left as it was


def test_a_sound_dial_is_sound_and_nothing_of_it_is_responsible(belief):
    after = dial_decided(belief, "fuel", "sound")
    assert after.dial("fuel")["sound"] == pytest.approx(1.0)
    assert [d for _, d, p in responsible(after).causes(after.states) if d == "fuel" and p] == []


def test_a_decision_is_the_posterior_given_that_cause(belief):
    """Bayes' rule: P(dial, whole) = P(whole | dial) P(dial), summed over the dial's causes."""
    own = belief.dial("speed")
    summed = dict.fromkeys(belief.whole, 0.0)
    for code, share in own.items():
        given = dial_decided(belief, "speed", code).of_whole()
        for cause, p in given.items():
            summed[cause] += share * p
    for cause, p in belief.of_whole().items():
        assert summed[cause] == pytest.approx(p, abs=1e-12)


def test_decided_causes_of_the_whole_are_there_or_not(belief):
    after = causes_decided(belief, ["corrosion"], ["supply_joint", "lamp_out"])
    found = after.of_whole()
    assert found["corrosion"] == pytest.approx(1.0)
    assert max(found["supply_joint"], found["lamp_out"]) < 1e-9
    # what corrosion brings is likelier now: noisy or, the other states in their own proportion
    odds = {cause.code: cause.prior for cause in KNOWN.of_scope("dial")}
    odds["sound"] = 1.0 - sum(odds.values())
    for code, link in KNOWN.causes["corrosion"].brings.items():
        if code in odds:
            brought = 1.0 - (1.0 - odds[code]) * (1.0 - link)
            odds[code] = brought * (1.0 - odds[code]) / (1.0 - brought)
    stalled = odds["stalled"] / sum(odds.values())
    assert after.dial("speed")["stalled"] == pytest.approx(stalled)
    assert stalled > 2 * belief.dial("speed")["stalled"]
    causes = responsible(after).causes(after.states)
    assert all(0 <= p <= 1 for _, _, p in causes)


def test_what_an_analysis_held_for_impossible_can_be_decided():
    impossible = Weighed("fuel", {"sound": 1.0, "blocked": 0.0}, "a run")
    after = dial_decided(belief_of(KNOWN, DIALS, said=[impossible]), "fuel", "blocked")
    assert after.dial("fuel")["blocked"] == pytest.approx(1.0)


def test_what_cannot_be_decided_is_one_sentence(belief):
    with pytest.raises(KnowledgeError, match="there is no dial 'oil'"):
        dial_decided(belief, "oil", "blocked")
    with pytest.raises(KnowledgeError, match="'lamp_out' is no cause of a dial; known: sound, "):
        dial_decided(belief, "fuel", "lamp_out")
    with pytest.raises(KnowledgeError, match="'blocked' is no cause of the whole"):
        causes_decided(belief, ["blocked"], [])
    with pytest.raises(KnowledgeError, match="cannot be there and not be there"):
        causes_decided(belief, ["bus"], ["bus"])
