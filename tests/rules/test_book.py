import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.errors import RuleError, UnitError
from needlewright.rules.book import rule_codes, rule_for
from needlewright.rules.model import Rule
from needlewright.units import MILE_KM, convert

SPEAKS_KMH = {
    "un-r39": (0.5, 260.0),
    "us-393.82": (79.01, 80.99),
    "jp-148": (30.01, 49.99),
    "jp-148-before-2007": (30.01, 49.99),
}


def within(code: str, share: float) -> float:
    """A true speed at which the rule speaks, km/h."""
    low, high = SPEAKS_KMH[code]
    return low + share * (high - low)


def bound(spec, unit: str = "km/h", last: float = 220.0, **more) -> Rule:
    return rule_for(spec, unit=unit, scale_values=(0.0, last), graduation=10.0, **more)


@given(share=st.floats(0.0, 1.0), off_kmh=st.floats(-12.0, 40.0))
@pytest.mark.parametrize("code", ["un-r39", "jp-148", "jp-148-before-2007"])
def test_kmh_and_mph_agree_after_conversion(code, share, off_kmh):
    true_kmh = within(code, share)
    shown_kmh = true_kmh + off_kmh
    kmh = bound(code).limits(true_kmh)
    mph = bound(code, "mph", 140.0).limits(convert(true_kmh, "km/h", "mph"))
    margin_mph = mph.margin(convert(shown_kmh, "km/h", "mph"))
    assert margin_mph * MILE_KM == pytest.approx(kmh.margin(shown_kmh), abs=1e-9)


@given(share=st.floats(0.0, 1.0))
@pytest.mark.parametrize("code", rule_codes())
def test_slopes_are_those_of_the_limits(code, share):
    rule, true_value = bound(code), within(code, share)
    here, there = rule.limits(true_value), rule.limits(true_value + 1e-3)
    assert (there.lower - here.lower) / 1e-3 == pytest.approx(here.lower_slope, abs=1e-6)
    assert (there.upper - here.upper) / 1e-3 == pytest.approx(here.upper_slope, abs=1e-6)


@given(true_kmh=st.floats(0.0, 260.0).filter(lambda v: min(abs(v - 30), abs(v - 50)) > 1e-6))
def test_jp_148_is_silent_at_the_same_speeds_in_both_units(true_kmh):
    kmh = bound("jp-148").limits(true_kmh)
    mph = bound("jp-148", "mph", 140.0).limits(convert(true_kmh, "km/h", "mph"))
    assert (kmh is None) is (mph is None) is not (30.0 < true_kmh < 50.0)


def test_r39_never_allows_reading_low_and_is_silent_at_standstill():
    rule = bound("un-r39")
    assert rule.limits(0.0) is None
    assert rule.limits(0.1).margin(0.09) < 0
    assert not rule.allows_reading_low
    assert all(bound(code).allows_reading_low for code in rule_codes() if code != "un-r39")


def test_check_points_follow_the_dial_and_the_stated_design_speed():
    assert bound("un-r39").check_points() == (40.0, 80.0, 120.0)
    assert bound("un-r39", max_speed=125.0).check_points() == (40.0, 80.0, 100.0)
    mph = bound("un-r39", "mph", 140.0).check_points()
    assert mph == pytest.approx((24.8548, 49.7097, 74.5645), abs=5e-5)
    assert bound("us-393.82").check_points() == (80.0,)
    assert bound("us-393.82", "mph", 140.0).check_points() == (50.0,)
    assert bound("jp-148").check_points() == (40.0,)
    assert bound({"house": {"of_span": 0.01}}).check_points() == ()


@pytest.mark.parametrize(
    ("unit", "commanded", "stands"),
    [
        ("km/h", 81.0, True),
        ("km/h", 79.0, True),
        ("km/h", 81.1, False),
        ("mph", 50.0, True),
        ("mph", 49.0, False),
    ],
)
def test_a_commanded_speed_stands_for_a_point_within_one_kmh(unit, commanded, stands):
    rule = bound("un-r39", unit, 220.0 if unit == "km/h" else 140.0)
    assert rule.covers(rule.check_points()[1], commanded, commanded) is stands


def test_round_mph_speeds_visit_every_r39_point():
    rule = bound("un-r39", "mph", 140.0)
    for point, commanded in zip(rule.check_points(), (25.0, 50.0, 75.0), strict=True):
        assert rule.covers(point, commanded, commanded)


def test_jp_148_point_is_a_displayed_one():
    rule = bound("jp-148")
    assert rule.covers(40.0, 40.0, 42.3)
    assert rule.covers(40.0, 37.5, 40.2)  # told whatever makes it show 40
    assert not rule.covers(40.0, 37.5, 38.9)
    assert not rule.covers(40.0, 60.0, 40.0)  # the window's end: the rule is silent there


def test_jp_148_neighbours_of_a_ten_kmh_grid_are_left_alone():
    rule = bound("jp-148")
    assert rule.limits(30.0) is None
    assert rule.limits(50.0) is None
    assert rule.limits(45.0).margin(40.0) == pytest.approx(-2.3, abs=1e-9)


def test_us_393_82_window():
    rule = bound("us-393.82")
    assert rule.limits(81.0).upper == 89.0
    assert rule.limits(81.01) is None


@pytest.mark.parametrize(
    ("spec", "tolerance"),
    [({"house": {"of_span": 0.01}}, 0.8), ({"house": {"of_graduation": 0.5}}, 10.0)],
)
def test_house_rules(spec, tolerance):
    rule = rule_for(spec, unit="degC", scale_values=(40.0, 120.0), graduation=20.0)
    limits = rule.limits(88.0)
    assert limits.lower == pytest.approx(88.0 - tolerance, abs=1e-12)
    assert limits.upper == pytest.approx(88.0 + tolerance, abs=1e-12)
    assert rule.code == "house"
    assert rule.unit == "degC"


@pytest.mark.parametrize(
    ("spec", "words"),
    [
        ("un-r40", "'un-r40' is not known; use one of un-r39"),
        ({"shop": {"of_span": 0.01}}, "must be"),
        ({"house": {}}, "exactly one share"),
        ({"house": {"of_span": 0.01, "of_graduation": 1}}, "exactly one share"),
        ({"house": 0.01}, "exactly one share"),
        ({"house": {"of_span": 0}}, "'of_span' must be above zero; given: 0"),
        ({"house": {"of_span": float("nan")}}, "must be a number above zero"),
        ({"house": {"of_span": True}}, "must be a number above zero"),
        ({"house": {"of_span": "1 %"}}, "must be a number above zero"),
        ({"house": {"of_height": 1}}, "'of_height' is not known"),
    ],
)
def test_bad_rules_are_one_sentence(spec, words):
    with pytest.raises(RuleError) as caught:
        bound(spec)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_rules_that_do_not_fit_the_dial():
    for code in rule_codes():
        with pytest.raises(RuleError, match=f"rule '{code}' is for speedometers"):
            bound(code, "degC")
    with pytest.raises(UnitError, match="'knots' is not known"):
        bound({"house": {"of_span": 0.01}}, "knots")
    with pytest.raises(RuleError, match="maximum design speed must be above zero, in km/h"):
        bound("un-r39", max_speed=0.0)
    with pytest.raises(RuleError, match="needs the dial's graduation"):
        rule_for(
            {"house": {"of_graduation": 0.5}}, unit="V", scale_values=(8.0, 16.0), graduation=None
        )
