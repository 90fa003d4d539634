"""Drift of a check point against general-purpose libraries, and what too few looks cannot say."""

import numpy as np
import pytest
from scipy import stats

from needlewright.findings.drift import LookAgain, drift_of, fewest_looks, trend_p


def looks(angles, temperature_c=None) -> list[LookAgain]:
    return [LookAgain(float(n), float(a), temperature_c) for n, a in enumerate(angles)]


@pytest.mark.parametrize("n", [3, 5, 8, 13, 30])
def test_the_trend_is_that_of_a_library(n: int):
    # scipy.stats.kendalltau of time and value, method="exact": the test by Mann and Kendall
    values = np.random.default_rng(n).normal(0.03 * np.arange(n), 0.2)
    theirs = stats.kendalltau(np.arange(n), values, method="exact").pvalue
    assert trend_p(values) == pytest.approx(theirs, rel=1e-9)


def test_ties_go_by_the_normal_approximation():
    # scipy.stats.kendalltau, method="asymptotic", leaves the continuity correction out: ours says
    # no more of a trend than theirs, and much the same
    values = np.round(np.random.default_rng(4).normal(0.02 * np.arange(80), 0.5), 1)
    theirs = stats.kendalltau(np.arange(80), values, method="asymptotic").pvalue
    assert theirs < trend_p(values) < theirs + 0.03
    assert trend_p(np.ones(9)) == 1.0


def test_the_line_is_that_of_a_library():
    # scipy.stats.linregress
    angles = np.random.default_rng(1).normal(10 + 0.05 * np.arange(24), 0.1)
    found, theirs = drift_of(looks(angles)), stats.linregress(np.arange(24), angles)
    assert found.rate_deg_h == pytest.approx(theirs.slope, rel=1e-9)
    assert found.u_rate_deg_h == pytest.approx(theirs.stderr, rel=1e-9)
    assert found.change_deg == pytest.approx(23 * theirs.slope)
    assert (found.hours, found.drifts) == (23.0, True)


def test_sound_check_points_are_said_to_drift_no_more_often_than_stated():
    rng = np.random.default_rng(7)
    units = 400
    wrong = sum(
        any(drift_of(looks(rng.normal(0, 0.05, 12)), 8).drifts for _ in range(8))
        for _ in range(units)
    )
    # 5 % of 400 units, binomial: no more than 30 with 99 % (scipy.stats.binom.ppf)
    assert wrong <= stats.binom.ppf(0.99, units, 0.05)


def test_too_few_looks_say_nothing():
    assert drift_of(looks([1.0, 1.1])).rate_deg_h is None
    rising = looks([1.0, 1.1, 1.2, 1.3])
    assert (drift_of(rising).p, drift_of(rising).drifts) == (pytest.approx(2 / 24), None)
    assert fewest_looks(1) == 5
    assert fewest_looks(12) == 6
    assert drift_of(looks([1.0, 1.1, 1.2, 1.3, 1.4])).drifts is True
    assert drift_of(looks([1.0, 1.1, 1.2, 1.3, 1.4]), 12).drifts is None


def test_looks_in_the_cold_are_not_compared_with_warm_ones():
    mixed = [*looks([1.0, 1.01, 1.0], 23.0), *looks([5.0, 5.0, 5.0], -20.0)]
    found = drift_of(mixed)
    assert (found.looks, found.left_out) == (3, 3)
    assert found.scatter_deg == pytest.approx(0.00816, abs=1e-5)
