"""Resistors, decade boxes, thermistors, tyres: arithmetic against slower or independent ways."""

from itertools import combinations_with_replacement

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from needlewright.errors import SignalError
from needlewright.signals.decade_box import Switch, switches_for
from needlewright.signals.preferred import best_substitute, nearest, values_of
from needlewright.signals.thermistor import SteinhartHart
from needlewright.signals.tyres import Tyre, constant_from_road, pulses_a_km, pulses_a_mile

NTC = SteinhartHart(1.1041591e-3, 2.3891795e-4, 6.9316265e-8)


@settings(max_examples=12, deadline=None)
@given(st.floats(0.6, 1e6), st.just("E24"))
def test_the_best_substitute_is_the_best_of_all_pairs(ohm, series):
    best = best_substitute(ohm, series)
    values = values_of(series)
    closest = min(abs(value - ohm) for value in values)
    for a, b in combinations_with_replacement(values, 2):
        closest = min(closest, abs(a + b - ohm), abs(a * b / (a + b) - ohm))
    assert abs(best.error_ohm) == pytest.approx(closest, abs=ohm * 1e-9)
    assert best.error_ohm == pytest.approx(best.ohm - ohm)


@given(st.floats(1, 1e6))
def test_a_finer_series_is_seldom_worse_and_two_never_worse_than_one(ohm):
    for series in ("E24", "E96"):
        assert abs(best_substitute(ohm, series).error_ohm) <= abs(nearest(ohm, series) - ohm)


def test_substitutes_by_hand():
    single = best_substitute(330.0, "E24")
    assert (single.joined, single.resistors, single.error_ohm) == ("single", (330.0,), 0.0)
    # limits of 5 % of one resistor are a rectangular distribution
    assert single.u_ohm == pytest.approx(330 * 0.05 / 3**0.5)
    pair = best_substitute(240.0 / 2, "E96")
    assert pair.error_ohm == pytest.approx(0.0, abs=1e-9)
    # two equal in parallel: each counts a quarter
    equal = best_substitute(50.0, "E24")
    assert (equal.joined, equal.resistors) == ("parallel", (100.0, 100.0))
    assert equal.u_ohm == pytest.approx((2 * (100 * 0.05 / 4) ** 2) ** 0.5 / 3**0.5)
    for outside in (0.2, 3e7):
        with pytest.raises(SignalError, match="cannot be made of resistors"):
            best_substitute(outside, "E24")


@given(st.integers(0, 10_000_000))
def test_the_switches_add_up(tenths):
    ohm = tenths / 10
    switches = switches_for(ohm)
    assert sum(each.of_ohm * each.position for each in switches) == pytest.approx(ohm)
    assert all(1 <= each.position <= 9 for each in switches)


def test_switches_of_a_coarse_box():
    assert switches_for(136.5, 1.0) == (Switch(100, 1), Switch(10, 3), Switch(1, 6))
    assert switches_for(0.0) == ()


@given(st.floats(-55, 200))
def test_the_thermistor_comes_back(celsius):
    assert NTC.celsius_at(NTC.ohm_at(celsius)) == pytest.approx(celsius, abs=1e-9)


@given(st.floats(-55, 200))
def test_the_thermistors_slope(celsius):
    ohm = NTC.ohm_at(celsius)
    slope = (NTC.celsius_at(ohm * 0.9999) - NTC.celsius_at(ohm * 1.0001)) / (ohm * 2e-4)
    assert NTC.kelvin_an_ohm(ohm) == pytest.approx(slope, rel=1e-5)


def test_a_thermistor_of_two_coefficients():
    simple = SteinhartHart(1.1e-3, 2.5e-4, 0.0)
    assert simple.celsius_at(simple.ohm_at(80.0)) == pytest.approx(80.0)


@pytest.mark.parametrize(
    "points",
    [
        ((0.0, 100.0), (10.0, 50.0)),
        ((0.0, 100.0), (0.0, 50.0), (10.0, 20.0)),
        ((0.0, 100.0), (5.0, 0.0), (10.0, 20.0)),
        ((-300.0, 100.0), (5.0, 50.0), (10.0, 20.0)),
    ],
)
def test_points_that_are_no_thermistors(points):
    with pytest.raises(SignalError, match="thermistor"):
        SteinhartHart.through(points)


def test_tyres():
    # 15 x 25.4 + 2 x 195 x 0.65 = 634.5 mm: arithmetic of the size marking (ETRTO, from memory)
    tyre = Tyre.parse("195/65 R15")
    assert tyre.diameter_mm == pytest.approx(634.5)
    assert tyre.standing_mm == pytest.approx(1993.34, abs=0.01)
    assert tyre.rolling_mm == pytest.approx(1935.225)
    assert Tyre.parse("315/80R22.5").diameter_mm == pytest.approx(1075.5)
    assert pulses_a_km(tyre, 48) == pytest.approx(48e6 / 1935.225)
    assert pulses_a_mile(1000.0) == pytest.approx(1609.344)
    for wrong in ("", "195/65", "195-65 R15", "wide"):
        with pytest.raises(SignalError, match="no tyre size"):
            Tyre.parse(wrong)
    for pulses, ratio in ((0, 1), (8, -1), (float("inf"), 1)):
        with pytest.raises(SignalError, match="give a number above 0"):
            pulses_a_km(tyre, pulses, ratio)


def test_the_constant_from_one_comparison_on_the_road():
    # set to 4000, shows 88 at a true 80: the vehicle gives 4400 pulses a km
    assert constant_from_road(4000.0, shown=88.0, true=80.0) == pytest.approx(4400.0)
    with pytest.raises(SignalError, match="above 0"):
        constant_from_road(4000.0, 88.0, 0.0)
