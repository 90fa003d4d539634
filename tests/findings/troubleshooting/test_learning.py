"""Priors from a shop's own finished jobs."""

from pathlib import Path

import pytest
from scipy import stats

from findings.troubleshooting.small_knowledge import knowledge_in
from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.belief import belief_of
from needlewright.findings.troubleshooting.learned_findings import (
    Counts,
    counts_of,
    learned_findings,
)
from needlewright.findings.troubleshooting.learning import Case, learned
from needlewright.findings.troubleshooting.model import Answer
from needlewright.findings.troubleshooting.past_opinions import Opinion


def decided(*codes: str, dial: str | None = "fuel", **said: float) -> Opinion:
    return Opinion(codes, said, "opened it and looked", dial)


def test_a_prior_is_the_mean_of_its_beta_distribution(tmp_path: Path) -> None:
    """Source: SciPy's beta distribution; 7 of 30 jobs against 10 x 0.1 beforehand."""
    cases = [Case(2, (), ("corrosion",))] * 7 + [Case(2)] * 23
    prior = learned(knowledge_in(tmp_path), cases).causes["corrosion"].prior
    assert prior == pytest.approx(float(stats.beta(10 * 0.1 + 7, 10 * 0.9 + 23).mean()), abs=1e-12)


def test_priors_of_a_dial_are_the_means_of_a_dirichlet_distribution(tmp_path: Path) -> None:
    """Source: SciPy's Dirichlet distribution over sound and three causes, 40 dials seen."""
    cases = [Case(4, ("stalled", "sender"))] * 3 + [Case(4, ("sender",))] * 2 + [Case(4)] * 5
    knowledge = learned(knowledge_in(tmp_path), cases)
    before = {"stalled": 0.1, "sender": 0.2, "erratic": 0.05}
    found = {"stalled": 3, "sender": 5, "erratic": 0}
    alpha = [10 * 0.65 + 32, *(10 * before[code] + found[code] for code in before)]
    expected = stats.dirichlet(alpha).mean()[1:]
    assert [knowledge.causes[code].prior for code in before] == pytest.approx(list(expected))


def test_many_jobs_outweigh_the_file_and_stay_probabilities(tmp_path: Path) -> None:
    knowledge = learned(knowledge_in(tmp_path), [Case(1, ("stalled",))] * 10_000)
    belief = belief_of(knowledge, ["fuel"])
    assert knowledge.causes["stalled"].prior > 0.999
    assert sum(belief.dial("fuel").values()) == pytest.approx(1.0)


def test_what_another_cause_may_have_brought_is_not_counted(tmp_path: Path) -> None:
    """Corrosion brings dead movements and cracked joints here, but no dead senders."""
    case = Case(3, ("stalled", "sender"), ("corrosion", "supply_joint"))
    causes = learned(knowledge_in(tmp_path), [case] * 5).causes
    assert causes["stalled"].prior == pytest.approx(10 * 0.1 / (10 + 15))
    assert causes["supply_joint"].prior == pytest.approx(10 * 0.05 / (10 + 5))
    assert causes["sender"].prior == pytest.approx((10 * 0.2 + 5) / (10 + 15))
    assert causes["corrosion"].prior == pytest.approx((10 * 0.1 + 5) / (10 + 5))


def test_no_jobs_leave_the_file_as_it_is(tmp_path: Path) -> None:
    knowledge = knowledge_in(tmp_path)
    assert learned(knowledge, []) == knowledge


@pytest.mark.parametrize(
    ("case", "said"),
    [
        (Case(1, ("stalled/lens",)), "a part 'lens' of 'stalled'; its parts: movement, driver"),
        (Case(2, (), (), (decided("battery"),)), "'battery' as a cause of one dial"),
        (Case(2, (), (), (decided("sender"), decided())), "2 opinions on dial 'fuel'"),
        (Case(1, ("battery",)), "'battery' as a cause of one dial"),
        (Case(1, (), ("stalled",)), "'stalled' as a cause of the whole"),
        (Case(1, ("stalled", "sender")), "2 faulty dials of 1"),
    ],
)
def test_a_job_that_cannot_be_is_refused(tmp_path: Path, case: Case, said: str) -> None:
    with pytest.raises(KnowledgeError, match=said):
        learned(knowledge_in(tmp_path), [case])


def test_what_the_person_decided_teaches_and_not_what_was_said(tmp_path: Path) -> None:
    """Overruled: the program held the movement for dead, the person found the sender."""
    knowledge = knowledge_in(tmp_path)
    overruled = decided("sender", stalled=0.9, sender=0.08, sound=0.02)
    assert overruled.is_overruled
    cases = [Case(3, (), (), (overruled,))] * 4
    plain = learned(knowledge, [Case(3, ("sender",))] * 4).causes
    assert learned(knowledge, cases).causes == plain
    assert plain["sender"].prior == pytest.approx((10 * 0.2 + 4) / (10 + 12))
    assert plain["stalled"].prior == pytest.approx(10 * 0.1 / (10 + 12))


def test_opinions_of_the_whole_count_once(tmp_path: Path) -> None:
    case = Case(1, (), ("battery",), (decided("battery", "corrosion", dial=None),))
    causes = learned(knowledge_in(tmp_path), [case]).causes
    assert causes["battery"].prior == pytest.approx((10 * 0.15 + 1) / 11)
    assert causes["corrosion"].prior == pytest.approx((10 * 0.1 + 1) / 11)


def test_shares_of_parts_are_the_means_of_a_dirichlet_distribution(tmp_path: Path) -> None:
    """Source: SciPy's Dirichlet distribution; 5 drivers and 1 movement against 10 x (0.7, 0.3)."""
    cases = [Case(2, ("stalled/driver",))] * 5 + [Case(2, ("stalled/movement", "stalled"))]
    cause = learned(knowledge_in(tmp_path), cases).causes["stalled"]
    expected = stats.dirichlet([10 * 0.7 + 1, 10 * 0.3 + 5]).mean()
    assert [cause.parts["movement"], cause.parts["driver"]] == pytest.approx(list(expected))
    assert cause.prior == pytest.approx((10 * 0.1 + 7) / (10 + 12))


def job(code: str | None, yes: bool, *whole: str) -> Case:
    opinion = decided(*([] if code is None else [code]))
    return Case(2, (), whole, (opinion,), (Answer("dead", yes, "fuel"),))


def test_likelihoods_are_the_means_of_beta_distributions(tmp_path: Path) -> None:
    """Source: SciPy's beta distribution, and the noisy or solved for its link. A movement is a yes
    in 1 of 6, a driver in 3 of 4, and a dial without any cause in 2 of 20."""
    cases = [job("stalled/movement", True)] + [job("stalled/movement", False)] * 5
    cases += [job("stalled/driver", True)] * 3 + [job("stalled/driver", False)]
    cases += [job(None, True)] * 2 + [job(None, False)] * 18
    knowledge = knowledge_in(tmp_path)
    before, after = (
        known.findings["dead"] for known in (knowledge, learned_findings(knowledge, cases))
    )

    def yes(finding_otherwise: float, link: float) -> float:
        return 1 - (1 - finding_otherwise) * (1 - link)

    assert before.otherwise == 0.02
    expected = float(stats.beta(10 * 0.02 + 2, 10 * 0.98 + 18).mean())
    assert after.otherwise == pytest.approx(expected, abs=1e-12)
    for entry, held, failed in (("stalled", 1, 5), ("stalled/driver", 3, 1)):
        p = yes(0.02, before.shown_by[entry])
        expected = float(stats.beta(10 * p + held, 10 * (1 - p) + failed).mean())
        assert yes(after.otherwise, after.shown_by[entry]) == pytest.approx(expected, abs=1e-12)
    assert after.shown_by["sender"] == before.shown_by["sender"]


def test_answers_that_several_causes_could_have_made_are_not_counted(tmp_path: Path) -> None:
    knowledge = knowledge_in(tmp_path)
    asked = (Answer("wrong", True, "fuel"), Answer("wrong", False, "speed"))
    both = Case(2, (), ("battery",), (decided("sender"),), asked)
    assert counts_of(knowledge, [both]) == {}
    alone = Case(2, (), ("corrosion",), (decided("sender"),), (*asked, Answer("restarts", False)))
    assert counts_of(knowledge, [alone] * 3) == {
        ("wrong", "sender"): Counts(yes=3),
        ("restarts", None): Counts(no=3),
    }


def test_a_link_that_jobs_speak_against_stays_a_probability(tmp_path: Path) -> None:
    cases = [job("sender", False)] * 10_000 + [job(None, True)] * 10_000
    knowledge = learned_findings(knowledge_in(tmp_path), cases)
    assert knowledge.findings["dead"].shown_by["sender"] == 1e-3
    belief = belief_of(knowledge, ["fuel"], [Answer("dead", True, "fuel")])
    assert sum(belief.dial("fuel").values()) == pytest.approx(1.0)


def test_no_jobs_leave_the_findings_as_they_are(tmp_path: Path) -> None:
    knowledge = knowledge_in(tmp_path)
    assert learned_findings(knowledge, []) == knowledge
