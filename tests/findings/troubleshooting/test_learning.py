"""Priors from a shop's own finished jobs."""

from pathlib import Path

import pytest
from scipy import stats

from findings.troubleshooting.small_knowledge import knowledge_in
from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.belief import belief_of
from needlewright.findings.troubleshooting.learning import Case, learned


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
        (Case(1, ("battery",)), "'battery' as a cause of one dial"),
        (Case(1, (), ("stalled",)), "'stalled' as a cause of the whole"),
        (Case(1, ("stalled", "sender")), "2 faulty dials of 1"),
    ],
)
def test_a_job_that_cannot_be_is_refused(tmp_path: Path, case: Case, said: str) -> None:
    with pytest.raises(KnowledgeError, match=said):
        learned(knowledge_in(tmp_path), [case])
