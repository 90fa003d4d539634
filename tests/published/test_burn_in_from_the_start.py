"""Reversal and standing off, against a published example and general-purpose libraries."""

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from needlewright.plans.burn_in.from_the_start import (
    ALPHA,
    LEAST_SCATTER_DEG,
    reversals,
    stands_off,
)

HOURS = (1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4)
"""Student, The probable error of a mean, Biometrika 6 (1908) 1: paired differences of the sleep of
ten patients (from memory; mean 1.58 and t 4.06 as textbooks print them since)."""


def test_students_paired_differences():
    one = reversals({0.0: HOURS}, 0.0)[0.0]
    assert one.reversal_deg == pytest.approx(1.58)
    assert one.u_deg is not None
    assert 1.58 / one.u_deg == pytest.approx(4.0621, abs=5e-5)
    assert (one.visits, one.freedom, one.code) == (10, 9, "differs")
    theirs = stats.ttest_1samp(HOURS, 0.0).confidence_interval(1 - ALPHA)
    assert one.expanded_deg == one.guard_deg == pytest.approx((theirs.high - theirs.low) / 2)


def test_the_scatter_of_a_dial_is_the_residual_of_one_mean_for_each_point():
    rng = np.random.default_rng(5)
    rows = {40.0: [*rng.normal(0.3, 0.05, 4)], 80.0: [*rng.normal(0.1, 0.05, 7)]}
    found = reversals(rows, 0.15, 6)
    place = np.repeat([0, 1], [4, 7])
    # statsmodels' least squares with a column for each point
    theirs = sm.OLS(np.concatenate(list(rows.values())), np.eye(2)[place]).fit()
    assert [one.reversal_deg for one in found.values()] == pytest.approx(list(theirs.params))
    assert [one.u_deg for one in found.values()] == pytest.approx(list(theirs.bse))
    tests = theirs.t_test((np.eye(2), [0.15, 0.15]))
    for one, t in zip(found.values(), np.ravel(tests.tvalue), strict=True):
        p = stats.t.sf(t, theirs.df_resid)
        assert (one.code == "differs") == (p < ALPHA / 2 / 6)
        assert (one.code == "alike") == (1 - p < ALPHA / 2 / 6)


def test_at_the_limit_a_sound_unit_is_said_to_differ_no_oftener_than_stated():
    # drawn: four dials with two check points each, all of them exactly at what is allowed
    rng = np.random.default_rng(11)
    units, false = 2000, 0
    for _ in range(units):
        codes = [
            one.code
            for _ in range(4)
            for one in reversals(
                {v: list(0.15 + rng.normal(0, 0.05, 5)) for v in (40.0, 80.0)}, 0.15, 8
            ).values()
        ]
        false += "differs" in codes
    # scipy.stats.binom: 2000 units at 5 % come to no more than this but once in a thousand
    # half of the risk is that of the other side, where no truth lies at once
    assert 0.01 * units < false <= stats.binom.isf(1e-3, units, ALPHA)


def test_a_true_reversal_that_is_said_to_be_told_is_told_about_nine_times_of_ten():
    rng = np.random.default_rng(13)
    told = 0
    for _ in range(1500):
        noise = rng.normal(0, 0.05, 12)
        # with many visits the scatter is known, so the promise can be drawn for
        promised = 0.15 + (stats.t.isf(ALPHA / 2, 11) + stats.t.isf(0.1, 11)) * 0.05 / 12**0.5
        told += reversals({1.0: list(promised + noise)}, 0.15)[1.0].code == "differs"
    assert 0.86 < told / 1500 < 0.94


@given(st.floats(-1.0, 1.0), st.floats(0.01, 0.5), st.integers(1, 30))
def test_standing_off_is_the_normal_distributions(off: float, u: float, shared: int):
    one = stands_off(10.0 + off, 10.0, (u * 0.6, u * 0.8), shared)
    p = 2 * stats.norm.sf(abs(one.off_deg) / u)  # scipy.stats.norm
    assert one.p == pytest.approx(p, abs=1e-12)
    if abs(p - ALPHA / shared) > 1e-9:
        assert one.is_off == (p < ALPHA / shared)


def test_the_least_scatter_is_of_two_readings():
    # 0.005 deg each, as the least of a line in `findings.drift`: JCGM 100, 5.1.2
    assert pytest.approx(0.005 * 2**0.5, abs=1e-4) == LEAST_SCATTER_DEG


@pytest.mark.parametrize("times", [0.0, 1.0, 1.96, 8.0, 10.0, 30.0])
def test_the_chance_of_a_first_look_is_the_normal_distributions_however_far_it_is(times: float):
    # the reference library's survival function; beyond some 8 u 1 - erf has no digit left
    assert stands_off(0.2 * times, 0.0, (0.2,)).p == pytest.approx(
        2 * stats.norm.sf(times), rel=1e-9, abs=0
    )
