"""What a burn-in sees of slow changes, by the benchmark, and its page shows the figures."""

import runpy
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import linregress

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from benchmarks.burn_in import by_line, smallest  # noqa: E402

from needlewright.findings.drift import trend_p  # noqa: E402


def test_the_page_shows_the_figures_that_were_measured():
    made = runpy.run_path(str(ROOT / "docs" / "make_burn_in.py"))["filled"]
    text = (ROOT / "docs" / "burn-in.md").read_text(encoding="utf-8")
    assert made(text) == text, "run docs/make_burn_in.py"


def test_ranks_lose_little_against_the_line_once_there_are_looks_for_a_day():
    values = np.random.default_rng(3).normal(size=25) + np.linspace(0, 1, 25)
    theirs = linregress(np.arange(25.0), values).pvalue  # scipy's own
    assert by_line(values) == pytest.approx(theirs, rel=1e-9)
    ranks, line = (smallest(25, one, 60, np.random.default_rng(5)) for one in (trend_p, by_line))
    # Kendall's rank test of a trend needs some 1.5 % more than the line's own, for many looks with
    # normal scatter (asymptotic relative efficiency 0.98, from memory)
    assert 1.0 <= ranks / line < 1.25
    assert 2.0 < line < 4.0
