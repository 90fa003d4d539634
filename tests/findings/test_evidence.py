"""Evidence never claims more than an analysis can know."""

import pytest

from needlewright.errors import KnowledgeError
from needlewright.findings.evidence import MOST_RATIO, Evidence, ratio_within


def test_a_ratio_is_kept_within_what_may_be_claimed() -> None:
    assert ratio_within(0.9, 0.3) == pytest.approx(3.0)
    assert ratio_within(1.0, 0.0) == MOST_RATIO
    assert ratio_within(0.0, 1.0) == 1 / MOST_RATIO


@pytest.mark.parametrize(("yes", "no"), [(0.0, 0.0), (-1.0, 1.0), (float("nan"), 1.0)])
def test_what_is_no_likelihood_is_refused(yes: float, no: float) -> None:
    with pytest.raises(KnowledgeError, match="likelihoods must be 0 or more"):
        ratio_within(yes, no)


def test_a_ratio_beyond_the_limit_is_refused() -> None:
    with pytest.raises(KnowledgeError, match=r"'creeps_home' in run\.csv: a ratio"):
        Evidence("creeps_home", "speed", 1e9, "It creeps.", "run.csv")
