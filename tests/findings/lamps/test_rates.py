"""What evidence of light may claim, held against the counts of the drawn cases."""

import json
from pathlib import Path

import pytest
from scipy.stats import beta

from needlewright.findings.lamps.rates import MOST

FIGURES = json.loads(
    (Path(__file__).parents[3] / "docs/measured/light.json").read_text(encoding="utf-8")
)
TABLES = {one["title"]: {row[0]: row[1:] for row in one["rows"]} for one in FIGURES["tables"]}
SUPPORTED = {kind: tuple(map(float, row)) for kind, row in TABLES["ratios of likelihoods"].items()}
COUNTED = {
    "segment": ("displays with a dark bar", "whole displays called dark in part"),
    "fading": ("fading displays", "steady displays called fading"),
}


def bound(errors: int, count: int) -> float:
    """Of C. J. Clopper and E. S. Pearson, 1934 (from memory): 95 %, one-sided."""
    return float(beta.ppf(0.95, errors + 1, count - errors))


@pytest.mark.parametrize("kind", MOST)
def test_nothing_is_claimed_beyond_what_was_measured(kind: str) -> None:
    assert set(SUPPORTED) == set(MOST)
    assert MOST[kind][0] <= SUPPORTED[kind][0]
    assert MOST[kind][1] <= SUPPORTED[kind][1]


@pytest.mark.parametrize("kind", COUNTED)
def test_what_was_measured_is_that_of_its_counts(kind: str) -> None:
    signs = TABLES["signs, hubs, displays"]
    (yes, yes_unseen, hits, _), (no, no_unseen, false, _) = (
        [float(cell) for cell in signs[name]] for name in COUNTED[kind]
    )
    yes, no = yes - yes_unseen, no - no_unseen
    missed = yes - hits
    assert SUPPORTED[kind][0] == pytest.approx(hits / yes / bound(false, no), abs=0.05)
    assert SUPPORTED[kind][1] == pytest.approx((1 - false / no) / bound(missed, yes), abs=0.05)
