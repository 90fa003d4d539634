"""Burn-in against a handbook's numbers, and against general-purpose libraries."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from needlewright.plans.burn_in.early import EarlyLaw, expected
from needlewright.plans.burn_in.one_unit import (
    mean_between,
    shown_by,
    success_run,
    zero_failure_hours,
)
from needlewright.plans.burn_in.paying import Costs, best_hours, cost_of
from needlewright.plans.wear.weibull import Weibull


def test_the_handbooks_limits_of_the_mean_between_failures():
    # NIST/SEMATECH e-Handbook, 8.4.5.1 (formula), its example of 800 h and 2 failures at 90 %
    # (numbers from memory, recomputed)
    low, high = mean_between(800.0, 2, 0.90)
    assert (round(low), round(high)) == (127, 2251)


def test_no_failure_at_95_percent_is_three_means_but_a_little():
    # NIST/SEMATECH e-Handbook, 8.4.5.1: factor 2.996 for no failure at 95 %
    assert zero_failure_hours(1.0) == pytest.approx(2.996, abs=5e-4)
    assert shown_by(24.0).rate * 24.0 == pytest.approx(2.996, abs=5e-4)
    assert shown_by(24.0).mean == pytest.approx(8.011, abs=5e-4)


@pytest.mark.parametrize(
    ("reliability", "confidence", "units"),
    [(0.90, 0.95, 29), (0.95, 0.95, 59), (0.90, 0.90, 22), (0.999, 0.95, 2995)],
)
def test_success_run(reliability: float, confidence: float, units: int):
    # n = ln(1 - C) / ln R, rounded up: tables of quality handbooks (cross-read)
    assert success_run(reliability, confidence) == units
    # exact binomial, scipy.stats.binom: with one unit fewer it is not shown
    assert stats.binom.pmf(0, units, 1 - reliability) <= 1 - confidence
    assert stats.binom.pmf(0, units - 1, 1 - reliability) > 1 - confidence


@given(st.integers(0, 30), st.floats(0.5, 0.999), st.floats(1e-2, 1e6))
def test_the_bound_is_where_so_few_failures_are_as_rare_as_stated(
    failures: int, confidence: float, lived: float
):
    # Poisson, scipy.stats.poisson: at the upper rate no more failures come with 1 - confidence
    rate = shown_by(lived, failures, confidence).rate
    assert stats.poisson.cdf(failures, rate * lived) == pytest.approx(1 - confidence, abs=1e-9)


@given(st.floats(0.3, 3.0), st.floats(0.0, 5.0), st.floats(0.05, 3.0))
def test_what_is_left_after_a_burn_in_is_the_conditional_probability(
    shape: float, done: float, warranty: float
):
    # scipy.stats.weibull_min
    law = stats.weibull_min(shape)
    left = expected(EarlyLaw("hours", Weibull(shape, 1.0)), done, warranty).after
    assert left == pytest.approx(1 - law.sf(done + warranty) / law.sf(done), abs=1e-9)


@given(st.floats(0.2, 0.95), st.floats(0.1, 30.0), st.floats(5.0, 5000.0), st.floats(0.0, 0.9))
def test_the_best_hours_cost_least(shape: float, scale: float, back: float, share: float):
    # scipy.optimize.minimize_scalar over the logarithm of the hours
    law, costs = Weibull(shape, 1000.0 * scale), Costs(1.0, back, share * back)
    found = best_hours(law, 500.0, costs)
    assert found.hours is not None
    ours = cost_of(law, found.hours, 500.0, costs)
    logs = np.linspace(np.log(found.hours) - 6, np.log(found.hours) + 6, 201)
    grid = [cost_of(law, float(np.exp(one)), 500.0, costs) for one in logs]
    theirs = optimize.minimize_scalar(
        lambda one: cost_of(law, float(np.exp(one)), 500.0, costs),
        bounds=(logs[max(int(np.argmin(grid)) - 1, 0)], logs[min(int(np.argmin(grid)) + 1, 200)]),
        method="bounded",
        options={"xatol": 1e-10},
    )
    assert ours == pytest.approx(theirs.fun, rel=1e-9)
    assert found.saved == pytest.approx(cost_of(law, 0.0, 500.0, costs) - ours)


@pytest.mark.parametrize(
    ("failures", "factors"),
    [
        (0, (0.693, 0.916, 1.39, 1.61, 2.30, 3.00)),
        (1, (1.68, 2.02, 2.69, 2.99, 3.89, 4.74)),
        (2, (2.67, 3.11, 3.92, 4.28, 5.32, 6.30)),
        (3, (3.67, 4.18, 5.11, 5.52, 6.68, 7.75)),
        (4, (4.67, 5.24, 6.27, 6.72, 7.99, 9.15)),
    ],
)
def test_the_handbooks_table_of_test_lengths(failures: int, factors: tuple[float, ...]):
    # NIST/SEMATECH e-Handbook, 8.3.1.1, test length guide: hours over the mean to be shown, at 50,
    # 60, 75, 80, 90 and 95 % (from memory); the same factors follow from MIL-HDBK-781A's limit of
    # a time-terminated test, 2 T / chi-square with 2 r + 2 degrees of freedom (from memory)
    for confidence, factor in zip((0.5, 0.6, 0.75, 0.8, 0.9, 0.95), factors, strict=True):
        one = shown_by(factor, failures, confidence)
        assert one.mean == pytest.approx(1.0, rel=0.004)
        limit = 2 * factor / stats.chi2.ppf(confidence, 2 * failures + 2)  # scipy.stats.chi2
        assert one.mean == pytest.approx(limit, rel=1e-9)
