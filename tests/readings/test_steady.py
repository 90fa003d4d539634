"""When a needle counts as standing, and what a mean of looks is worth."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.readings.steady import FEWEST, HOLD_S, StillWatch, mean_of

RATE = 20.0
U_DEG = 0.05


def states(angles: list[float | None], u_deg: float = U_DEG, rate: float = RATE) -> list[str]:
    watch = StillWatch()
    return [watch.look(i / rate, angle, u_deg).state for i, angle in enumerate(angles)]


def noise(count: int, seed: int = 1) -> np.ndarray:
    return U_DEG * np.random.default_rng(seed).standard_normal(count)


def test_a_needle_that_stands_is_steady_after_the_time_to_hold():
    found = states(list(70.0 + noise(40)))
    assert found.index("steady") == round(HOLD_S * RATE)
    assert set(found[round(HOLD_S * RATE) :]) == {"steady"}


def test_a_needle_that_sweeps_is_never_steady():
    t_s = np.arange(200) / RATE
    assert "steady" not in states(list(20.0 * t_s + noise(200)))


@pytest.mark.parametrize("creep_deg_s", [0.5, 1.0, -1.0, 5.0])
def test_a_needle_that_creeps_is_never_steady(creep_deg_s: float):
    t_s = np.arange(200) / RATE
    assert "steady" not in states(list(creep_deg_s * t_s + noise(200)))


def test_a_step_begins_the_time_anew():
    angles = np.where(np.arange(80) < 40, 70.0, 72.0) + noise(80)
    found = states(list(angles))
    assert found[39] == "steady"
    assert found[40] == "moving"
    assert found[41:].index("steady") == round(HOLD_S * RATE) - 1


def test_a_needle_that_trembles_more_than_it_is_known_is_not_steady():
    t_s = np.arange(200) / RATE
    assert "steady" not in states(list(70 + 1.0 * np.sin(2 * np.pi * 3 * t_s)))


def test_a_needle_out_of_sight_is_unseen_and_begins_anew_after_a_gap():
    angles: list[float | None] = [70.0] * 30 + [None] * 25 + [70.0] * 30
    found = states(angles)
    assert found[29] == "steady"
    assert set(found[30:55]) == {"unseen"}
    assert found[55:].index("steady") == round(HOLD_S * RATE)


def test_few_frames_a_second_do_not_make_a_needle_steady():
    assert FEWEST > 4 * HOLD_S
    assert "steady" not in states([70.0] * 20, rate=3.0)


def test_what_was_seen_before_it_was_taken_counts_no_more():
    watch = StillWatch()
    for i in range(40):
        watch.look(i / RATE, 70.0, U_DEG)
    watch.forget()
    assert watch.look(41 / RATE, 70.0, U_DEG).state == "moving"
    with pytest.raises(ValueError, match="at least one look"):
        StillWatch().mean()


@given(st.floats(-170, 170), st.floats(0, 1000))
def test_neither_the_direction_nor_the_clock_changes_what_is_said(turn_deg: float, begun_s: float):
    angles = 70.0 + noise(30)
    t_s = np.arange(30) / RATE
    one = mean_of(t_s, angles, np.full(30, U_DEG))
    other = mean_of(t_s + begun_s, angles + turn_deg, np.full(30, U_DEG))
    assert other.angle_deg == pytest.approx(one.angle_deg + turn_deg, abs=1e-9)
    assert other.u_apart_deg == pytest.approx(one.u_apart_deg, abs=1e-9)
    assert other.u_movement_deg == pytest.approx(one.u_movement_deg, abs=1e-9)


def test_independent_looks_average_by_their_root():
    """The mean's standard deviation is s / sqrt(n): JCGM 100:2008, 4.2.3."""
    rng = np.random.default_rng(7)
    t_s = np.arange(25) / RATE
    means = [mean_of(t_s, U_DEG * rng.standard_normal(25), np.full(25, U_DEG)) for _ in range(600)]
    actual = np.std([one.angle_deg for one in means])
    stated = np.sqrt(np.mean([one.u_apart_deg**2 for one in means]))
    assert actual == pytest.approx(U_DEG / 5, rel=0.08)
    assert 1.0 <= stated / actual < 1.35  # the correlation seen in 25 looks is never below none


@pytest.mark.parametrize("correlation", [0.5, 0.8])
def test_looks_that_err_together_are_not_taken_for_independent_ones(correlation: float):
    """A camera that smooths over time: a series of first order, whose mean's spread is known.

    Variance of the mean of n looks, s^2 / n x (1 + r) / (1 - r) for large n: textbook result.
    """
    rng = np.random.default_rng(11)
    count, series = 60, []
    for _ in range(400):
        x = np.zeros(count + 50)
        for i in range(1, len(x)):
            fresh = np.sqrt(1 - correlation**2) * rng.standard_normal()
            x[i] = correlation * x[i - 1] + fresh
        series.append(U_DEG * x[50:])
    t_s = np.arange(count) / RATE
    means = [mean_of(t_s, one, np.full(count, U_DEG)) for one in series]
    actual = np.std([one.angle_deg for one in means])
    known = U_DEG * np.sqrt((1 + correlation) / (1 - correlation) / count)
    assert actual == pytest.approx(known, rel=0.12)
    stated = np.sqrt(np.mean([one.u_apart_deg**2 for one in means]))
    assert 0.85 < stated / actual < 1.3


def test_movement_too_slow_to_tell_is_stated():
    """A direction anywhere in the change seen, with equal chances: half of it over sqrt(3)."""
    t_s = np.arange(21) / RATE
    one = mean_of(t_s, 0.06 * t_s, np.full(21, U_DEG))
    assert one.u_movement_deg == pytest.approx(0.06 / 2 / np.sqrt(3), rel=1e-6)
