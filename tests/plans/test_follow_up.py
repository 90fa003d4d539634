"""Lives of weak points out of visits: what is watched, from when and until when."""

from dataclasses import replace
from datetime import date, timedelta
from math import exp, log

import numpy as np
import pytest

from needlewright.errors import PlanError
from needlewright.plans.catalogue.model import WeakPoint
from needlewright.plans.wear.fit import Lives, fit_scale, fit_weibull
from needlewright.plans.wear.follow_up import Visit, Watch, lives_of
from needlewright.plans.wear.interval import interval_of
from needlewright.plans.wear.weibull import Weibull

YEAR = 365.2425
MOVEMENT = WeakPoint(
    "worn", "dial", "movement", "lost_steps/movement", Weibull(2.5, 30), "years", "invented"
)
WATCH = Watch(until=date(2026, 1, 1), warranty_years=2.0, km_per_year=10_000)
SOUND, WORN = {("fuel", "worn"): False}, {("fuel", "worn"): True}


def visit(came, stay=10, years=12.0, failed=None, **more):
    day = date.fromisoformat(came)
    left = None if stay is None else day + timedelta(days=stay)
    said = {"km_in": 100_000.0, "km_out": None} | more
    return Visit(day, left, years, failed=SOUND if failed is None else failed, **said)


def watched(*visits, point=MOVEMENT, watch=WATCH):
    """The single life that comes of it: from, to, whether it failed; None: none."""
    lives = lives_of([visits], {"worn": point}, ["fuel"], watch).get("worn")
    if lives is None:
        return None
    ((entered, ended),) = [
        *zip(lives.failed_from, lives.failed, strict=True),
        *zip(lives.running_from, lives.running, strict=True),
    ]
    return round(entered * YEAR, 3), round(ended * YEAR, 3), bool(lives.failed)


DAYS = 12 * YEAR + 10
"""The age on leaving."""


def test_a_part_that_left_sound_is_watched_until_its_warranty_ends_or_the_day_comes():
    assert watched(visit("2022-03-01")) == (DAYS, DAYS + 730, False)
    assert watched(visit("2025-06-01")) == (DAYS, DAYS + 204, False)  # to the 1st of January


def test_what_comes_back_within_the_warranty_ends_it_and_later_it_counts_no_more():
    first = visit("2022-03-01")  # left on the 11th
    assert watched(first, visit("2023-03-11", failed=WORN)) == (DAYS, DAYS + 365, True)
    # the second visit, found sound, begins a life of its own, which is looked at elsewhere
    again = visit("2023-03-11", failed={})
    assert watched(first, again) is None  # what it had then is not known
    assert watched(first, visit("2023-03-11", stay=None, failed=WORN)) is None  # still here
    assert watched(first, visit("2024-03-11", failed=WORN)) == (DAYS, DAYS + 730, False)


def test_a_second_life_begins_where_it_was_sound_again():
    lives = lives_of(
        [[visit("2023-03-11", years=13.0), visit("2022-03-01")]],  # in whatever order
        {"worn": MOVEMENT},
        ["fuel"],
        WATCH,
    )["worn"]
    assert [round(age * YEAR) for age in lives.running_from] == [
        round(DAYS),
        round(13 * YEAR + 10),
    ]
    assert [round(age * YEAR) for age in lives.running] == [
        round(DAYS + 365),
        round(13 * YEAR + 10 + 730),
    ]


def test_what_is_watched_and_what_is_not():
    at_fault = visit("2022-03-01", failed=WORN)
    assert watched(at_fault) is None  # a first visit tells nothing of how long parts live
    new = frozenset({("fuel", "worn")})
    assert watched(replace(at_fault, renewed=new)) == (0.0, 730.0, False)
    assert watched(visit("2022-03-01", touched=new)) is None
    assert watched(visit("2022-03-01", years=None)) is None
    assert watched(visit("2022-03-01", years=None, renewed=new)) == (0.0, 730.0, False)
    assert watched(visit("2022-03-01", stay=None)) is None
    assert watched(visit("2025-12-30")) is None  # leaves after the last day that counts
    back = visit("2022-03-11", failed=WORN)  # on the day it left
    assert watched(visit("2022-03-01"), back) == (DAYS, DAYS + 1, True)


def test_mileage_is_read_or_taken_by_the_year():
    point = replace(MOVEMENT, clock="km")
    two_years = 100_000 + 10_000 * 730 / YEAR
    lives = lives_of([[visit("2022-03-01")]], {"worn": point}, ["fuel"], WATCH)["worn"]
    assert lives.running == (pytest.approx(two_years),)
    read = visit("2023-03-11", failed=WORN, km_in=131_000.0)
    lives = lives_of([[visit("2022-03-01"), read]], {"worn": point}, ["fuel"], WATCH)["worn"]
    assert (lives.failed_from, lives.failed) == ((100_000.0,), (131_000.0,))
    assert lives_of([[visit("2022-03-01", km_in=None)]], {"worn": point}, ["fuel"], WATCH) == {}


def test_every_dial_has_a_life_of_its_own():
    both = {("fuel", "worn"): False, ("temp", "worn"): False}
    found = lives_of(
        [[visit("2022-03-01", failed=both)]], {"worn": MOVEMENT}, ["fuel", "temp"], WATCH
    )
    assert len(found["worn"].running) == 2
    only = replace(MOVEMENT, dials=("temp",))
    found = lives_of([[visit("2022-03-01", failed=both)]], {"worn": only}, ["fuel", "temp"], WATCH)
    assert len(found["worn"].running) == 1


# --- a shop that is drawn ---------------------------------------------------------------------

TRUE = Weibull(2.5, 18.0)
NOW = date(2026, 1, 1)


def drawn_shop(rng, clusters, built=(0.0, 40.0), years_open=12.0):
    """Visits of clusters that come once something of them fails, and again under warranty.

    What else fails does so by Weibull 1.2 and 14 years. Built over forty years; the records begin
    twelve years ago, and what failed before went elsewhere. What came with a failed movement goes
    out with a new one that nobody wrote down.
    """
    made, first_visits = [], []
    ages = rng.uniform(*built, clusters)  # today
    movement = TRUE.scale * rng.exponential(size=clusters) ** (1 / TRUE.shape)
    others = 14.0 * rng.exponential(size=clusters) ** (1 / 1.2)
    for old, wears, other in zip(ages, movement, others, strict=True):
        came = min(wears, other)
        if not old - years_open < came < old:
            continue  # before the records began, or not yet
        has_failed = bool(wears <= other)
        first_visits.append((came, has_failed))
        first = _on(old, came, has_failed)
        visits = [first]
        left = came + 10 / YEAR
        if not has_failed and left < wears < min(left + 2, old):
            visits.append(_on(old, wears, True))
        made.append(visits)
    return made, first_visits


def _on(old, age, has_failed):
    came = NOW - timedelta(days=(old - age) * YEAR)
    return Visit(came, came + timedelta(days=10), age, None, None, WORN if has_failed else SOUND)


def law_of(visits):
    lives = lives_of(visits, {"worn": MOVEMENT}, ["fuel"], replace(WATCH, until=NOW))["worn"]
    fit = fit_weibull(lives)
    return lives, fit, interval_of(lives, fit)


def test_the_law_of_a_drawn_shop_lies_in_its_interval_nineteen_times_of_twenty():
    """Coverage of a 95 % interval: 60 shops, binomial; 52 or fewer come 1 time in 100."""
    rng = np.random.default_rng(20260302)
    shape = scale = 0
    chances, failures = [], []
    for _ in range(60):
        lives, fit, interval = law_of(drawn_shop(rng, 500)[0])
        shape += (interval.shape[0] or 0) <= TRUE.shape <= (interval.shape[1] or 1e9)
        scale += (interval.scale[0] or 0) <= TRUE.scale <= (interval.scale[1] or 1e9)
        chances.append(fit.law.fails_within(2.0, 12.0))
        failures.append(len(lives.failed))
    assert (shape, scale) >= (53, 53)
    assert 8 < np.mean(failures) < 30
    # what a plan asks: of a movement of twelve years that left sound, how many fail in two years
    assert np.mean(chances) == pytest.approx(TRUE.fails_within(2.0, 12.0), abs=0.012)


def test_first_visits_would_make_parts_live_too_short():
    """Why they do not count: of clusters built within twelve years, those that are well never came,
    and are missing among the sound; four times too many movements would be said to fail."""
    rng = np.random.default_rng(7)
    visits, seen = drawn_shop(rng, 20_000, built=(0.0, 12.0))
    failed = tuple(age for age, has_failed in seen if has_failed)
    sound = tuple(age for age, has_failed in seen if not has_failed)
    counted = fit_weibull(Lives(failed, sound)).law
    true = TRUE.fails_within(2.0, 8.0)
    assert counted.fails_within(2.0, 8.0) / true == pytest.approx(4.06, abs=0.1)
    lives, fit, _ = law_of(visits)
    assert len(lives.failed) == 197
    assert fit.law.fails_within(2.0, 8.0) == pytest.approx(true, rel=2 / 197**0.5)


def test_a_life_watched_from_an_age_by_hand():
    """One failure at 4 watched from 2, one at 5 still well watched from 3; shape 2: the scale is
    sqrt((16 - 4 + 25 - 9) / 1), from the likelihood f(4) / S(2) x S(5) / S(3)."""
    lives = Lives((4.0,), (5.0,), (2.0,), (3.0,))
    fit = fit_scale(lives, 2.0)
    assert fit.law.scale == pytest.approx(28**0.5)
    law = fit.law
    by_hand = log(2 / law.scale * 4 / law.scale) - 16 / 28 + 4 / 28 - 25 / 28 + 9 / 28
    assert fit.log_likelihood == pytest.approx(by_hand)
    assert exp(by_hand) > 0


def test_from_new_is_watched_from_nothing():
    ages = ((0.54, 1.87, 2.16, 2.40, 2.44), (5.0,))
    plain, zero = Lives(*ages), Lives(*ages, (0.0,) * 5, (0.0,))
    assert fit_weibull(zero).law == fit_weibull(plain).law


@pytest.mark.parametrize(
    ("lives", "words"),
    [
        (((4.0,), (), (4.0,)), "watched from an age of 4 to one of 4: it must come before"),
        (
            ((4.0,), (5.0, 6.0), (1.0,), (2.0,)),
            "2 ages and 1 of them with an age they were watched",
        ),
    ],
)
def test_what_is_no_life(lives, words):
    with pytest.raises(PlanError, match=words):
        Lives(*lives)


def test_failures_among_the_youngest_tell_no_shape():
    lives = Lives((2.1, 2.2, 2.3, 2.4, 2.5), (20.0,) * 40, (2.0,) * 5, (18.0,) * 40)
    with pytest.raises(PlanError, match="lie at lower ages than what was watched"):
        fit_weibull(lives)
