"""How warm a cluster is while it is read, and how well that is known."""

from dataclasses import replace
from math import exp, hypot, log, sqrt

import numpy as np
import pytest
from scipy.optimize import least_squares

from bench.cold import BAG
from needlewright.bench.soak import (
    in_order,
    opened_after_s,
    refuse_out_of_reach,
    time_constant_from,
)
from needlewright.bench.stays import Cooling
from needlewright.bench.thermometer import Reading, corrected
from needlewright.bench.warming import Known, Warming
from needlewright.errors import RunError

OUT = Warming(Known(-25.0, 0.7), Known(21.0, 0.8), Known(900.0, 90.0), 1.0)
"""A bag out of a freezer, its time constant known within 10 %."""


@pytest.mark.parametrize("seconds", [0.0, 60.0, 300.0, 900.0, 3600.0])
def test_the_stated_uncertainty_is_that_of_a_monte_carlo(seconds: float):
    # JCGM 101: the same quantities drawn, each normal, and the curve worked out for every draw
    rng, draws = np.random.default_rng(11), 200_000
    start, around, tau = (
        rng.normal(one.value, one.u, draws)
        for one in (OUT.start, OUT.surroundings, OUT.time_constant_s)
    )
    degc = around + (start - around) * np.exp(-seconds / tau) + rng.normal(0.0, 1.0, draws)
    stated = OUT.at(seconds)
    assert stated.u_degc == pytest.approx(float(np.std(degc)), rel=0.03)
    assert stated.degc == pytest.approx(float(np.mean(degc)), abs=0.1 * stated.u_degc)


def test_the_parts_are_sensitivity_times_uncertainty_and_add_in_squares():
    seconds, step = 300.0, 1e-4
    now = OUT.at(seconds)
    parts = dict(now.parts_degc)
    moved = {
        "start": replace(OUT, start=Known(-25.0 + step, 0.7)),
        "surroundings": replace(OUT, surroundings=Known(21.0 + step, 0.8)),
        "time_constant": replace(OUT, time_constant_s=Known(900.0 + step, 90.0)),
    }
    for (name, warming), u in zip(moved.items(), (0.7, 0.8, 90.0), strict=True):
        slope = (warming.degc_at(seconds) - OUT.degc_at(seconds)) / step
        assert parts[name] == pytest.approx(slope * u, rel=1e-4)
    assert parts["thermometer"] == 1.0
    assert now.u_degc == pytest.approx(sqrt(sum(part**2 for part in parts.values())))


def test_times_are_those_of_the_curve():
    for degc in (-20.0, -10.0, 0.0, 20.0):
        seconds = OUT.seconds_until(degc)
        assert seconds is not None
        assert OUT.degc_at(seconds) == pytest.approx(degc)
    assert OUT.seconds_until(-30.0) == 0.0
    assert OUT.seconds_until(21.0) is None
    assert OUT.seconds_until(25.0) is None
    assert OUT.near(1.0) == pytest.approx(900.0 * log(46.0))


def test_a_time_constant_of_none_is_refused():
    with pytest.raises(RunError, match="a time constant of 0 s is none"):
        replace(OUT, time_constant_s=Known(0.0, 1.0))


def test_readings_correct_the_curve_as_least_squares_with_prior_knowledge_does():
    readings = [Reading(200.0, -15.0, 0.5), Reading(500.0, -7.5, 0.5), Reading(900.0, 2.0, 0.5)]
    u_log = OUT.time_constant_s.u / OUT.time_constant_s.value

    def residuals(at: np.ndarray) -> np.ndarray:
        prior = [(at[0] + 25.0) / 0.7, (at[1] - 21.0) / 0.8, (at[2] - log(900.0)) / u_log]
        model = [at[1] + (at[0] - at[1]) * exp(-one.seconds / exp(at[2])) for one in readings]
        off = [(m - one.degc) / one.u_degc for m, one in zip(model, readings, strict=True)]
        return np.array(prior + off)

    oracle = least_squares(residuals, [-25.0, 21.0, log(900.0)], xtol=1e-12)
    covariance = np.linalg.inv(oracle.jac.T @ oracle.jac)
    now = corrected(OUT, readings)
    assert now.start.value == pytest.approx(oracle.x[0], abs=1e-4)
    assert now.surroundings.value == pytest.approx(oracle.x[1], abs=1e-4)
    assert now.time_constant_s.value == pytest.approx(exp(oracle.x[2]), rel=1e-5)
    assert now.u_parameters() == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-3)
    slopes = now.slopes_at(500.0)
    expected = sqrt(float(slopes @ covariance @ slopes) + 1.0)
    assert now.at(500.0).u_degc == pytest.approx(expected, rel=1e-4)


def test_a_reading_helps_where_it_was_taken_and_never_beyond_the_thermometer_itself():
    before = OUT.at(600.0).u_degc
    now = corrected(OUT, [Reading(600.0, OUT.degc_at(600.0), 0.5)])
    assert now.degc_at(600.0) == pytest.approx(OUT.degc_at(600.0))
    assert 1.0 < now.at(600.0).u_degc < 0.75 * before
    many = corrected(OUT, [Reading(600.0, OUT.degc_at(600.0), 0.5)] * 200)
    assert many.at(600.0).u_degc == pytest.approx(1.0, abs=0.01)


def test_what_is_corrected_covers_the_truth_as_often_as_it_says():
    rng, normed = np.random.default_rng(5), []
    for _ in range(400):
        truth = Warming(
            Known(rng.normal(-25.0, 0.7), 0.0),
            Known(rng.normal(21.0, 0.8), 0.0),
            Known(900.0 * exp(rng.normal(0.0, 0.1)), 0.0),
            1.0,
        )
        place = rng.normal(0.0, 1.0)
        read = [Reading(s, truth.degc_at(s) + rng.normal(0.0, 0.5), 0.5) for s in (150.0, 450.0)]
        said = corrected(OUT, read).at(300.0)
        normed.append((truth.degc_at(300.0) + place - said.degc) / said.u_degc)
    # the standard deviation of 400 draws of a standard normal is 1 within 0.035 (k = 1)
    assert float(np.std(normed)) == pytest.approx(1.0, abs=0.1)
    assert float(np.mean(normed)) == pytest.approx(0.0, abs=0.15)


def test_a_reading_that_cannot_be_is_a_slip():
    with pytest.raises(RunError, match=r"thermometer: 12 degC 5.0 min after the start, where -12"):
        corrected(OUT, [Reading(300.0, 12.0, 0.5)])


def test_a_bag_soaks_by_a_time_constant_that_may_be_longer():
    cooling = Cooling(-20.0, BAG, BAG.room)
    assert cooling.soak_min == 64  # 990 s x ln 46 = 63.2 min
    assert cooling.stay.degc_at(0.0) == pytest.approx(-25.0 + 46.0 * exp(-64.0 / 15.0))
    # it is begun a third of what is allowed below -20, and warms towards the room there
    assert cooling.stay.degc_at(cooling.begins_s) == pytest.approx(-21.0)
    assert cooling.warms_degc_min == pytest.approx(60.0 * 42.0 / 900.0)


def test_the_words_name_minutes_dew_point_and_what_the_temperature_is_worth():
    words = " ".join(Cooling(-20.0, BAG, BAG.room).words())
    assert "into the freezer (-25 degC), sealed in its bag, for 64 min" in words
    assert "-21.0 ± 2.5 degC (k = 2), warms by 2.8 degC a minute" in words
    assert "the room's dew point is 10.2 degC: the bag stays shut until" in words


def test_a_bag_is_opened_when_its_cluster_is_surely_above_the_dew_point():
    stay = Cooling(-20.0, BAG, BAG.room).stay
    opened_s = opened_after_s(stay, BAG.dew_point_degc)
    assert opened_s is not None
    there = stay.at(opened_s)
    assert there.degc - 2.0 * there.u_degc >= BAG.dew_point_degc + 2.0
    sooner = stay.at(opened_s - 60.0)
    assert sooner.degc - 2.0 * sooner.u_degc < BAG.dew_point_degc + 2.0
    assert opened_after_s(stay, replace(BAG, humidity=0.95).dew_point_degc) is None


def test_a_bag_warms_through_all_temperatures_and_a_chamber_stays_dry_on_the_way_down():
    assert in_order((0.0, -20.0, 23.0), "freezer-bag") == (-20.0, 0.0, 23.0)
    assert in_order((0.0, -20.0, 23.0), "chamber") == (23.0, 0.0, -20.0)


@pytest.mark.parametrize(
    ("at", "words"),
    [
        (-30.0, "-30 degC is colder than the freezer, -25 degC"),
        (40.0, "40 degC is warmer than the room, 21 degC"),
    ],
)
def test_what_a_bag_cannot_reach_is_told(at: float, words: str):
    with pytest.raises(RunError, match=words):
        refuse_out_of_reach((0.0, at), BAG)
    refuse_out_of_reach((0.0, at), replace(BAG, way="chamber"))


def test_a_time_constant_is_worked_out_of_mass_and_size():
    # m c / (h A): 1 kg x 1300 J/(kg K) over 8 W/(m2 K) and the box of 300 x 150 x 80 mm, 0.162 m2
    found = time_constant_from(1.0, (300.0, 150.0), "freezer-bag")
    assert found.seconds.value == pytest.approx(1300.0 / (8.0 * 0.162))
    assert found.seconds.u == pytest.approx(0.30 * found.seconds.value)
    assert "common practice, no source" in found.source
    moved = time_constant_from(1.0, (300.0, 150.0), "chamber")
    assert moved.seconds.value == pytest.approx(found.seconds.value * 8.0 / 20.0)
    with pytest.raises(RunError, match="a cluster of 90 kg"):
        time_constant_from(90.0, (300.0, 150.0), "chamber")


def test_the_uncertainty_of_a_start_is_what_the_soak_left_of_it():
    cooling = Cooling(-20.0, BAG, BAG.room)
    soak = Warming(BAG.room, BAG.cold, BAG.time_constant.seconds, 0.0).at(64.0 * 60.0)
    assert cooling.stay.start.u == pytest.approx(soak.u_degc)
    assert cooling.stay.at(0.0).u_degc == pytest.approx(hypot(soak.u_degc, 1.0))
