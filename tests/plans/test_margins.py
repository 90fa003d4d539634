"""Margins under a turn, and the turn that makes the smallest largest, against brute force."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from needlewright.plans.margins import best_turn, ruled_rows, smallest_margin, value_beyond
from needlewright.plans.seat import fit_seat, seat_rows
from needlewright.proofs.verdicts import rule_of
from plans.made_runs import made_rows
from readings.drawn_runs import FAMILY

DIALS = {dial.id: dial for dial in FAMILY.dials}
ECC_MM = FAMILY.eccentricity_mm
ERRORS = st.lists(st.floats(-3, 3), min_size=11, max_size=11)


def ruled(dial, errors):
    rows = made_rows(dial, lambda i, told, approach: errors[i])
    return ruled_rows(dial, seat_rows(dial, rows, ECC_MM), rule_of(dial))


@pytest.mark.parametrize("dial", DIALS.values(), ids=list(DIALS))
@given(errors=ERRORS)
@settings(max_examples=40, deadline=None)
def test_no_turn_leaves_a_larger_smallest_margin(dial, errors) -> None:
    rows = ruled(dial, errors)
    best = best_turn(dial, rows)
    top = smallest_margin(dial, rows, best).size
    around = np.concatenate([np.linspace(-20, 20, 161), best + np.linspace(-0.5, 0.5, 101)])
    assert all(smallest_margin(dial, rows, turn).size <= top + 1e-8 for turn in around)
    assert smallest_margin(dial, rows, best + 0.01).size < top
    assert smallest_margin(dial, rows, best - 0.01).size < top


def test_margins_of_r39_by_hand() -> None:
    speed = DIALS["speed"]
    rows = ruled(speed, [0.0] * 11)
    # Told 39.6: shown 1.02 x 39.6 + 1.5 = 41.892 (points of the programme: 1.0199914).
    now = smallest_margin(speed, rows)
    assert (now.at.row.told, now.side) == (pytest.approx(39.6), "lower")
    assert now.size == pytest.approx(speed.programme.shown_at(39.6) - 39.6)
    # 6 degrees up, the upper limit at 39.6 is the near one: 0.1 x 39.6 + 4 + 39.6 = 47.56.
    up = smallest_margin(speed, rows, 6.0)
    assert up.side == "upper"
    assert up.size == pytest.approx(
        47.56 - speed.programme.shown_at(39.6) - 6.0 * 20 / 20.807, abs=1e-4
    )


def test_zero_is_left_to_the_rest_limit() -> None:
    assert all(r.row.told > 0 for r in ruled(DIALS["speed"], [0.0] * 11))
    assert all(r.row.told > 40 for r in ruled(DIALS["temp"], [0.0] * 11))
    assert len(ruled(DIALS["temp"], [0.0] * 11)) == 9


def test_limits_of_one_side_have_no_best_turn() -> None:
    rows = ruled(DIALS["engine"], [0.0] * 11)
    low_only = [replace(r, limits=replace(r.limits, upper=None)) for r in rows]
    assert best_turn(DIALS["engine"], low_only) is None
    assert best_turn(DIALS["engine"], []) is None


def test_a_needle_on_a_stop_has_no_upper_margin_and_is_not_turned_through_a_pin() -> None:
    fuel = DIALS["fuel"]
    (row, *_) = ruled(fuel, [0.0] * 11)
    stopped = replace(row, row=replace(row.row, on_stop=True))
    now = smallest_margin(fuel, [stopped])
    assert now.side == "lower"
    assert now.size == pytest.approx(0.01)
    assert smallest_margin(fuel, [stopped], 5.0).size == pytest.approx(now.size)
    assert smallest_margin(fuel, [stopped], -5.0).size > now.size


def test_values_go_on_beyond_the_scale() -> None:
    scale = DIALS["temp"].scale
    assert value_beyond(scale, 98.586) == pytest.approx(80.0)
    assert value_beyond(scale, 132.928 + 14.596) == pytest.approx(20.0)
    assert value_beyond(scale, 47.072 - 2 * 24.04) == pytest.approx(160.0)


@pytest.mark.parametrize("dial", ["engine", "temp"])
@given(errors=ERRORS, stopped=st.sets(st.integers(0, 10), max_size=6))
@settings(max_examples=60, deadline=None)
def test_the_seat_is_the_least_of_the_one_sided_sum(dial, errors, stopped) -> None:
    found = DIALS[dial]
    rows = [
        replace(row, on_stop=i in stopped)
        for i, row in enumerate(
            seat_rows(found, made_rows(found, lambda i, told, approach: errors[i]), ECC_MM)
        )
    ]
    sense = found.scale.sense

    def cost(seat: float) -> float:
        total = 0.0
        for row in rows:
            off = sense * (seat - row.error_deg)
            total += (max(off, 0.0) if row.on_stop else off) ** 2
        return total

    fit = fit_seat(found, rows)
    best = minimize_scalar(cost, bounds=(-10, 10), method="bounded", options={"xatol": 1e-9})
    assert cost(fit.seat_deg) <= best.fun + 1e-9
    assert sum(fit.weights) == pytest.approx(1.0)
