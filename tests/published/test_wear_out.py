"""Wear-out against a handbook's example, a published optimum, and a general-purpose library."""

from collections.abc import Callable
from math import exp

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, optimize, stats

from needlewright.errors import PlanError
from needlewright.plans.wear.fit import Lives, fit_scale, fit_weibull, learned_law
from needlewright.plans.wear.interval import interval_of, interval_words
from needlewright.plans.wear.replacement import age_replacement, cost_rate
from needlewright.plans.wear.weibull import Weibull

# NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3: hours, ten more running at 500
HANDBOOK = Lives((54, 187, 216, 240, 244, 335, 361, 373, 375, 386), (500,) * 10)


def test_the_handbooks_example():
    fit = fit_weibull(HANDBOOK)
    # printed 606.5280, where the search of the handbook's program stopped: 0.7e-6 off the top,
    # as the steepness of the likelihood there shows (its derivative to the scale vanishes at ours)
    assert fit.law.scale == pytest.approx(606.5280, rel=1e-6)
    ages = np.array([*HANDBOOK.failed, *HANDBOOK.running])
    power_mean = float((ages**fit.law.shape).sum() / 10) ** (1 / fit.law.shape)
    assert fit.law.scale == pytest.approx(power_mean, rel=1e-12)
    assert fit.law.shape == pytest.approx(1.7208, abs=5e-5)
    assert fit.log_likelihood == pytest.approx(-75.135, abs=5e-4)
    # the handbook's printed mean and deviation are of unrounded estimates
    assert fit.law.mean == pytest.approx(540.737, abs=5e-4)
    assert fit.law.deviation == pytest.approx(323.806, abs=5e-4)


@pytest.mark.parametrize(("shape", "scale", "stops"), [(0.7, 4.0, 5.0), (3.2, 2e5, 1.8e5)])
def test_the_same_as_a_library_fits_to_censored_lives(shape: float, scale: float, stops: float):
    drawn = scale * np.random.default_rng(8).weibull(shape, 80)
    failed, running = drawn[drawn <= stops], np.full(int((drawn > stops).sum()), stops)
    ours = fit_weibull(Lives(tuple(failed), tuple(running))).law
    # SciPy, scipy.stats.weibull_min.fit of scipy.stats.CensoredData, by a general search
    theirs = stats.weibull_min.fit(
        stats.CensoredData(uncensored=failed / scale, right=running / scale), floc=0
    )
    assert ours.shape == pytest.approx(theirs[0], rel=2e-4)
    assert ours.scale / scale == pytest.approx(theirs[2], rel=2e-4)


@given(
    st.lists(st.floats(0.5, 30), min_size=2, max_size=12, unique=True),
    st.lists(st.floats(0.5, 30), max_size=6),
    st.floats(0.1, 1000),
)
def test_another_unit_of_age_changes_the_scale_alone(
    failed: list[float], running: list[float], factor: float
):
    try:
        one = fit_weibull(Lives(tuple(failed), tuple(running))).law
    except PlanError as error:
        assert "too close together" in str(error)  # noqa: PT017 - the only way it may refuse
        return
    other = fit_weibull(
        Lives(tuple(factor * age for age in failed), tuple(factor * age for age in running))
    ).law
    assert other.shape == pytest.approx(one.shape, rel=1e-6)
    assert other.scale == pytest.approx(factor * one.scale, rel=1e-6)


def test_few_failures_teach_the_scale_and_none_teach_nothing():
    stated = Weibull(2.0, 10.0)
    assert learned_law(stated, Lives((), (3.0, 5.0))) is None
    taught = learned_law(stated, Lives((6.0,), (8.0,)))
    assert taught is not None
    assert (taught.law.shape, taught.is_shape_fitted) == (2.0, False)
    assert taught.law.scale == pytest.approx(10.0)  # sqrt(6^2 + 8^2)
    assert fit_scale(HANDBOOK, 1.7208).law.scale == pytest.approx(606.5280, rel=1e-4)


@pytest.mark.parametrize(
    ("failed", "running", "said"),
    [
        ((4.0,), (5.0,), "needs at least two failures, found 1"),
        ((4.0, 4.0), (4.0,), "all 3 lives are 4 long"),
        ((4.0, 4.0001, 4.0), (), "too close together"),
        ((4.0, -1.0), (), "an age of -1 cannot be used"),
        ((4.0, float("nan")), (), "an age of nan cannot be used"),
    ],
)
def test_lives_that_tell_no_law(failed: tuple[float, ...], running: tuple[float, ...], said: str):
    with pytest.raises(PlanError, match=said):
        fit_weibull(Lives(failed, running))


@given(st.floats(0.4, 5), st.floats(0.1, 3), st.floats(0.01, 2))
def test_failing_from_an_age_on_as_a_library_has_it(shape: float, age: float, ahead: float):
    # SciPy, scipy.stats.weibull_min: 1 - sf(age + ahead) / sf(age), by logarithms
    life = stats.weibull_min(shape)
    theirs = 1 - exp(float(life.logsf(age + ahead) - life.logsf(age)))
    assert Weibull(shape, 1.0).fails_within(ahead, age) == pytest.approx(theirs, abs=1e-12)


def test_the_published_optimum_of_replacing_at_an_age():
    # Weibull 2.5, 1000 h, planned 1, unplanned 5: a published worked example of age replacement
    law = Weibull(2.5, 1000.0)
    best = age_replacement(law, 1.0, 5.0)
    assert best.age == pytest.approx(493.047, abs=5e-4)
    assert best.rate == pytest.approx(0.00346204, abs=5e-9)
    assert best.run_to_failure == pytest.approx(0.0056353, abs=5e-8)


@pytest.mark.parametrize(
    ("shape", "scale", "planned", "unplanned"),
    [(1.3, 20.0, 80.0, 260.0), (2.5, 1000.0, 1.0, 5.0), (6.0, 1.8e5, 3.0, 4.0)],
)
def test_the_optimum_by_a_plain_search(
    shape: float, scale: float, planned: float, unplanned: float
):
    law = Weibull(shape, scale)

    def rate(age: float) -> float:  # nothing of ours: survival integrated by quadrature
        lived = integrate.quad(lambda t: exp(-((t / scale) ** shape)), 0, age)[0]
        failed = 1 - exp(-((age / scale) ** shape))
        return float((planned * (1 - failed) + unplanned * failed) / lived)

    best = age_replacement(law, planned, unplanned)
    found = optimize.minimize_scalar(rate, bounds=(1e-3 * scale, 3 * scale), method="bounded")
    assert best.age == pytest.approx(found.x, rel=2e-3)
    assert best.rate == pytest.approx(found.fun, rel=1e-8)
    assert cost_rate(law, 0.7 * scale, planned, unplanned) == pytest.approx(rate(0.7 * scale))


@pytest.mark.parametrize(
    ("shape", "planned", "unplanned", "said"),
    [
        (1.0, 1.0, 5.0, "the wear-out shape 1 is not above 1"),
        (0.6, 1.0, 5.0, "the wear-out shape 0.6 is not above 1"),
        (2.5, 5.0, 5.0, "a failure costs 5 and a planned replacement 5"),
        (1.001, 1.0, 1.01, "where nothing lives to"),
    ],
)
def test_without_a_best_age_one_sentence_says_why(
    shape: float, planned: float, unplanned: float, said: str
):
    best = age_replacement(Weibull(shape, 1000.0), planned, unplanned)
    assert (best.age, best.rate) == (None, None)
    assert best.words.startswith("no best age to replace it: ")
    assert said in best.words
    assert best.words.endswith("replace it when it fails")


def test_costs_must_be_above_nothing():
    with pytest.raises(PlanError, match="needs costs above 0, found 0 planned"):
        age_replacement(Weibull(2.0, 10.0), 0.0, 5.0)


def test_the_interval_of_a_known_shape_is_the_handbooks():
    # NIST/SEMATECH e-Handbook 8.4.5.1: 800 h and 2 failures, 90 %: a mean life of 127 to 2251 h
    # (numbers from memory, computed); a shape of 1 has the mean as its scale.
    lives = Lives((200.0, 300.0), (300.0,))
    found = interval_of(lives, fit_scale(lives, 1.0), 0.9)
    assert found.shape is None
    assert found.scale == pytest.approx((127, 2251), rel=1e-3)
    # with another shape the powers of the ages take the place of the hours
    wide = interval_of(lives, fit_scale(lives, 2.0), 0.9)
    total = 200**2 + 300**2 + 300**2
    assert wide.scale == pytest.approx(
        ((2 * total / 12.592) ** 0.5, (2 * total / 0.71072) ** 0.5), rel=1e-4
    )


def test_the_interval_of_shape_and_scale_by_a_librarys_likelihoods():
    # the handbook's example once more (8.4.1.3), with scipy's logarithms of density and survival,
    # and its own search for the largest with one of the two held
    found = interval_of(HANDBOOK, fit_weibull(HANDBOOK))

    def likelihood(shape: float, scale: float) -> float:
        density = stats.weibull_min.logpdf(HANDBOOK.failed, shape, scale=scale).sum()
        return float(density + 10 * stats.weibull_min.logsf(500.0, shape, scale=scale))

    def held(of_one: Callable[[float], float], between: tuple[float, float]) -> float:
        return -optimize.minimize_scalar(lambda x: -of_one(x), bounds=between, method="bounded").fun

    most = -75.135  # as printed
    assert found.shape is not None
    for shape in found.shape:
        assert shape is not None
        best = held(lambda scale, b=shape: likelihood(b, scale), (100, 1e4))
        assert 2 * (most - best) == pytest.approx(stats.chi2.ppf(0.95, 1), abs=2e-3)
    for scale in found.scale:
        assert scale is not None
        best = held(lambda shape, eta=scale: likelihood(shape, eta), (0.1, 10))
        assert 2 * (most - best) == pytest.approx(stats.chi2.ppf(0.95, 1), abs=2e-3)
    assert found.shape[0] < 1.7208 < found.shape[1]
    assert found.may_not_wear is (found.shape[0] <= 1)
    assert "the shape is 0.9" in interval_words(found, "years")
    assert "not ruled out" in interval_words(found, "years")


def test_how_often_the_interval_holds_what_made_the_lives():
    # drawn lives of a known law, ten a shop, those beyond 14 years still running; of 300 shops
    # 95 % are 285 +- 3.8: at least 275 allows three deviations, and small samples' shortfall
    rng = np.random.default_rng(7)
    drawn = 12.0 * rng.weibull(2.5, (300, 10))
    holds = np.zeros(2)
    for ages in drawn:
        failed, running = ages[ages < 14], np.minimum(ages[ages >= 14], 14)
        lives = Lives(tuple(failed), tuple(running))
        found = interval_of(lives, fit_weibull(lives))
        assert found.shape is not None
        for i, (ends, true) in enumerate(((found.shape, 2.5), (found.scale, 12.0))):
            low, high = ends
            holds[i] += (low is None or low <= true) and (high is None or true <= high)
    assert (holds >= 275).all()


def test_a_confidence_that_cannot_be():
    lives = Lives((200.0, 300.0))
    with pytest.raises(PlanError, match="confidence of 1 cannot be"):
        interval_of(lives, fit_scale(lives, 1.0), 1.0)
