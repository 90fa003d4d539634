"""Where failing begins: against statsmodels, against drawn truth, and where it cannot be said."""

import numpy as np
import pytest
import statsmodels.api as sm

from needlewright.findings.cold.law import Prior, log_likelihood
from needlewright.findings.cold.moves import Move
from needlewright.findings.cold.onset import Onset, onset_of

FLAT = Prior(width_c=3.0, width_ln=2.0, misread=0.0)
"""So little known beforehand that the moves alone decide."""


def moves(degc, failed, **parts: float) -> list[Move]:
    return [
        Move("cold", float(t), "slipped" if f else "held", 100.0, -6.0 * f, parts)
        for t, f in zip(degc, failed, strict=True)
    ]


def drawn(rng: np.random.Generator, t50: float, width: float, count: int):
    degc = rng.uniform(-25.0, 10.0, count)
    return degc, rng.random(count) < 1 / (1 + np.exp((degc - t50) / width))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_without_errors_and_with_many_moves_it_is_the_logistic_fit_of_statsmodels(seed):
    """Reference: statsmodels Logit, its covariance by the delta method (GUM, JCGM 100, 5.1.2)."""
    degc, failed = drawn(np.random.default_rng(seed), -9.0, 2.5, 300)
    fit = sm.Logit(failed.astype(float), sm.add_constant(degc)).fit(disp=0)
    a, b = fit.params
    slopes = np.array([-1 / b, a / b**2])
    u = float(np.sqrt(slopes @ fit.cov_params() @ slopes))
    found = onset_of(moves(degc, failed), FLAT)
    assert found.at_c == pytest.approx(-a / b, abs=0.15 * u)
    assert found.u_c == pytest.approx(u, rel=0.1)
    assert found.low_c == pytest.approx(-a / b - 1.96 * u, abs=0.3 * u)
    assert found.high_c == pytest.approx(-a / b + 1.96 * u, abs=0.3 * u)
    assert found.width_c == pytest.approx(-1 / b, rel=0.15)


def test_the_likelihood_is_that_of_statsmodels():
    degc, failed = drawn(np.random.default_rng(5), -9.0, 2.5, 60)
    model = sm.Logit(failed.astype(float), sm.add_constant(degc))
    t50, width = -7.0, 3.0
    ours = log_likelihood(moves(degc, failed), np.array([t50]), np.array([width]), 0.0)
    assert ours[0, 0] == pytest.approx(model.loglike([t50 / width, -1 / width]), abs=1e-9)


def test_an_error_common_to_all_temperatures_is_one_of_the_onset():
    degc = np.linspace(-20.0, 20.0, 81)
    sharp = onset_of(moves(degc, degc < -8.1))
    apart = onset_of(moves(degc, degc < -8.1, thermometer=1.5))
    assert sharp.at_c == pytest.approx(-8.25, abs=0.3)
    assert apart.at_c == pytest.approx(sharp.at_c, abs=0.2)
    assert apart.u_c == pytest.approx(float(np.hypot(sharp.u_c, 1.5)), rel=0.08)


def test_cold_and_warm_that_part_wholly_leave_the_bracket():
    found = onset_of(moves([-20, -20, -12, -12, -4, -4, 21], [1, 1, 1, 1, 0, 0, 0]))
    assert found.where == "found"
    assert -12.0 < found.at_c < -4.0
    assert -14.5 < found.low_c < -10.0
    assert -6.0 < found.high_c < -1.5


def test_one_misread_move_in_the_warm_moves_little():
    degc = np.linspace(-20.0, 20.0, 41)
    failed = degc < -8.1
    failed[-3] = True
    assert onset_of(moves(degc, failed)).at_c == pytest.approx(-8.3, abs=0.7)


@pytest.mark.parametrize("parts", [{}, {"thermometer": 1.0}])
def test_one_failure_at_the_coldest_is_no_onset_beyond_what_was_tried(parts):
    """27 moves at 22, 0 and -15 degC, one of them failed: T50 and its prior's edge stay unsaid."""
    found = onset_of(moves(np.repeat([22.0, 0.0, -15.0], 9), [0] * 18 + [1] + [0] * 8, **parts))
    assert (found.where, found.at_c, found.low_c, found.u_c) == ("beyond_cold", None, None, None)
    assert found.at_end == (1, 9)
    # with half failing, one or none of nine have a probability of 2 %: it lies below
    assert -16.5 < found.high_c < -14.5
    assert found.where_fails(0.1) is None


def test_one_end_of_the_interval_beyond_the_moves_is_left_open_too():
    cold = onset_of(moves(np.repeat([22.0, 0.0, -15.0], 9), [0] * 18 + [1] * 6 + [0] * 3))
    assert (cold.where, cold.at_end, cold.low_c) == ("beyond_cold", (6, 9), None)
    assert -15.0 < cold.high_c < -8.0
    warm = onset_of(moves(np.repeat([-15.0, 0.0, 22.0], 9), [1] * 18 + [1] * 4 + [0] * 5))
    assert (warm.where, warm.at_end, warm.high_c) == ("beyond_warm", (4, 9), None)
    assert 15.0 < warm.low_c < 22.0


@pytest.mark.parametrize("seed", [1, 2])
def test_where_one_in_ten_fails_is_that_of_statsmodels(seed):
    """Reference: statsmodels Logit; logit(0.1) = -ln 9, any textbook."""
    degc, failed = drawn(np.random.default_rng(seed), -9.0, 2.5, 300)
    fit = sm.Logit(failed.astype(float), sm.add_constant(degc)).fit(disp=0)
    a, b = fit.params
    low, tenth, high = onset_of(moves(degc, failed), FLAT).where_fails(0.1)
    assert tenth == pytest.approx((-np.log(9) - a) / b, abs=0.3)
    slopes = np.array([-1 / b, (np.log(9) + a) / b**2])
    u = float(np.sqrt(slopes @ fit.cov_params() @ slopes))
    assert (high - low) / 3.92 == pytest.approx(u, rel=0.15)


def test_nothing_failed_is_said_one_sidedly():
    found = onset_of(moves(np.repeat([-20.0, -10.0, 0.0], 6), np.zeros(18)))
    assert (found.where, found.at_c, found.low_c) == ("below", None, None)
    # six moves that hold 95 % of the time taken together: 1 - 0.05 ** (1 / 6) fail
    assert -20.5 < found.high_c < -18.0
    few = onset_of(moves([-20.0], [0]))
    assert few.high_c > found.high_c
    unsure = onset_of(moves(np.repeat([-20.0, -10.0, 0.0], 6), np.zeros(18), thermometer=2.0))
    assert unsure.high_c > found.high_c + 1.0


def test_everything_failed_is_said_one_sidedly():
    found = onset_of(moves(np.repeat([-20.0, -10.0, 0.0], 6), np.ones(18)))
    assert (found.where, found.at_c, found.high_c) == ("above", None, None)
    assert -2.0 < found.low_c < 0.5


def test_failures_of_all_temperatures_are_not_of_the_cold():
    degc = np.tile(np.linspace(-20.0, 20.0, 10), 3)
    failed = np.arange(30) % 3 == 0
    assert onset_of(moves(degc, failed)).where == "regardless"
    warm = onset_of(moves(degc, degc > 0))
    assert warm.where == "regardless"


def test_one_temperature_says_nothing_of_where():
    assert onset_of(moves([-20.0, -19.0, -20.0], [1, 0, 1])).where == "one_temperature"
    with pytest.raises(ValueError, match="no move says"):
        onset_of([])


def test_the_interval_holds_the_truth_as_often_as_it_says():
    """Series of 5 temperatures, 4 moves each, all warmer or colder than stated by one error."""
    rng = np.random.default_rng(11)
    held = bracketed = 0
    found: Onset
    for _ in range(40):
        t50, width, off = rng.uniform(-17, 0), float(np.exp(rng.normal(0, 0.8))), rng.normal()
        degc = np.repeat([-20.0, -14.0, -8.0, -2.0, 21.0], 4) + rng.uniform(0, 2, 20)
        failed = rng.random(20) < 1 / (1 + np.exp((degc + 1.2 * off - t50) / width))
        found = onset_of(moves(degc, failed, thermometer=1.2))
        assert found.where in ("found", "beyond_cold")
        low = -np.inf if found.low_c is None else found.low_c
        held += low <= t50 <= found.high_c
        bracketed += found.where == "found"
    assert bracketed >= 20
    assert held >= 35  # 95 % of 40 is 38; 34 or fewer in one of seventy (binomial)
