"""Rows completed by their dial: angle from value, value from angle, and what is refused."""

from dataclasses import replace
from math import degrees, hypot, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.errors import RunError
from needlewright.readings.complete import complete_row, complete_run, eye_uncertainty
from needlewright.readings.runs import Run, RunRow
from readings.drawn_runs import FAMILY, completed, drawn_run, truth_lines

SPEED = FAMILY.dial("speed")
FUEL = FAMILY.dial("fuel")
assert SPEED is not None
assert FUEL is not None
TYPED = RunRow("typed", "speed", "km/h", "up", 80.0, indicated=82.0)


def test_a_typed_value_gets_its_angle_and_the_eye_s_uncertainty() -> None:
    row = complete_row(TYPED, SPEED, 0.15)
    # 80..100 lie 20.807 degrees apart: 82 stands 2.0807 past -27.093.
    assert row.angle_deg == pytest.approx(-27.093 + 2.0807, abs=1e-9)
    # The family states no graduation: half of 20 km/h, rectangular.
    assert row.u_indicated == pytest.approx(10 / sqrt(3))
    assert row.u_angle_deg == pytest.approx(10 / sqrt(3) * 20.807 / 20, rel=1e-4)
    assert row.flags == ("u_by_graduation",)


def test_a_stated_graduation_is_the_one_that_counts() -> None:
    assert eye_uncertainty(replace(SPEED, graduation=2.0)) == pytest.approx(1 / sqrt(3))


def test_a_stated_uncertainty_stands() -> None:
    row = complete_row(replace(TYPED, u_indicated=0.5), SPEED, 0.15)
    assert row.u_indicated == 0.5
    assert row.u_angle_deg == pytest.approx(0.5 * 20.807 / 20, rel=1e-4)
    assert row.flags == ()


def test_an_angle_gets_its_value_with_the_eccentricity_in_its_uncertainty() -> None:
    row = complete_row(RunRow("r", "speed", "km/h", "up", 80.0, None, -27.093, 0.06), SPEED, 0.15)
    assert row.indicated == pytest.approx(80.0)
    seat_deg = degrees(0.15 / 45.09)
    assert row.u_indicated == pytest.approx(20 / 20.807 * hypot(0.06, seat_deg), rel=1e-4)
    assert row.u_angle_deg == 0.06
    assert row.flags == ()


def test_an_angle_of_another_turn_is_brought_onto_the_scale() -> None:
    row = complete_row(
        RunRow("r", "speed", "km/h", "up", 80.0, None, 360.0 - 27.093, 0.06), SPEED, 0.15
    )
    assert row.angle_deg == pytest.approx(-27.093)


def test_a_needle_beyond_the_scale_has_an_angle_and_no_value() -> None:
    row = complete_row(RunRow("r", "speed", "km/h", "up", 80.0, None, 170.0, 0.06), SPEED, 0.15)
    assert (row.angle_deg, row.indicated, row.flags) == (170.0, None, ("beyond_scale",))


def test_a_needle_that_was_not_read_stays_so() -> None:
    row = RunRow("r", "speed", "km/h", "up", 80.0, flags=("occluded",))
    assert complete_row(row, SPEED, 0.15) == row


def test_completing_twice_changes_nothing() -> None:
    run = completed(drawn_run("as-found"))
    assert completed(run) == run


@given(st.floats(0, 220), st.floats(0.01, 5))
def test_value_to_angle_and_back(value: float, u_value: float) -> None:
    there = complete_row(replace(TYPED, indicated=value, u_indicated=u_value), SPEED, 0.0)
    back = complete_row(replace(there, indicated=None, u_indicated=None), SPEED, 0.0)
    assert back.indicated == pytest.approx(value, abs=1e-9)
    assert back.u_indicated == pytest.approx(u_value, rel=1e-9)


def test_the_drawn_values_come_out_as_drawn() -> None:
    for name in ("as-found", "as-left"):
        run = completed(drawn_run(name))
        for row, line in zip(run.rows, truth_lines(name), strict=True):
            assert row.indicated == pytest.approx(float(line["true_indicated"]), abs=2e-4)


def test_the_wrong_speed_unit_is_refused_and_says_so() -> None:
    mph = replace(SPEED, unit="mph")
    with pytest.raises(RunError, match=r"row 3, column 'unit': given 'km/h', .* scaled in mph"):
        complete_row(TYPED, mph, 0.15, place=3)


def test_a_dial_the_family_has_not_is_refused() -> None:
    run = Run("typed", (TYPED, replace(TYPED, dial="boost")))
    with pytest.raises(RunError, match=r"row 2, column 'dial': given 'boost'; .* engine, speed"):
        complete_run(run, FAMILY)


def test_a_value_far_off_the_scale_is_refused() -> None:
    with pytest.raises(RunError, match=r"column 'indicated': dial 'speed': value 900 lies"):
        complete_row(replace(TYPED, indicated=900.0), SPEED, 0.15)


def test_value_and_angle_that_disagree_are_refused() -> None:
    row = replace(TYPED, angle_deg=-6.286, u_angle_deg=0.1)
    with pytest.raises(RunError, match=r"'indicated' says 82 km/h, but .* shows 100 on this scale"):
        complete_row(row, SPEED, 0.15)
    kept = complete_row(replace(row, indicated=101.0), SPEED, 0.15)
    assert kept.indicated == 101.0


def test_a_kind_value_does_not_outrank_the_angle_it_contradicts() -> None:
    """At 118.2 by its angle the needle reads low at 120; a typed 120.2 would have it conform."""
    row = RunRow("r", "speed", "km/h", "up", 120.0, None, 12.656, 0.05, 120.2, 0.19)
    with pytest.raises(RunError, match=r"says 120\.2 km/h, but .* 12\.656 shows 118\.2"):
        complete_row(row, SPEED, 0.15)
    # Without an uncertainty of its own the typed value stands, but only as far as they agree.
    kept = complete_row(replace(row, u_indicated=None), SPEED, 0.15)
    assert kept.indicated == 120.2
    assert kept.u_indicated == pytest.approx(hypot(2.0, 0.19), abs=0.02)


def test_a_speed_below_zero_is_refused_and_another_dial_s_is_not() -> None:
    with pytest.raises(RunError, match=r"row 2, column 'commanded': given -80 km/h; dial 'speed'"):
        complete_row(replace(TYPED, commanded=-80.0), SPEED, 0.15, place=2)
    below = replace(TYPED, dial="fuel", unit=FUEL.unit, commanded=-0.1, indicated=0.0)
    assert complete_row(below, FUEL, 0.15).commanded == -0.1
