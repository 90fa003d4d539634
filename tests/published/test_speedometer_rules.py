"""Speedometer rules against figures printed elsewhere; each check names its source."""

import pytest

from needlewright.rules.book import rule_for
from needlewright.rules.jp_148 import DISPLAYED_KMH
from needlewright.rules.model import Rule
from needlewright.rules.un_r39 import required_speeds_kmh
from needlewright.units import convert


def bound(code: str, unit: str = "km/h", last: float = 220.0) -> Rule:
    return rule_for(code, unit=unit, scale_values=(0.0, last), graduation=10.0)


@pytest.mark.parametrize(
    ("true_kmh", "highest_kmh"),
    [(50, 59), (70, 81), (80, 92), (90, 103), (100, 114), (110, 125), (130, 147)],
)
def test_r39_published_maxima(true_kmh, highest_kmh):
    # UN Regulation No. 39, paragraph 5.3 (5.4 in revision 2); maxima as public tables print them.
    limits = bound("un-r39").limits(true_kmh)
    assert limits is not None
    assert limits.lower == true_kmh
    assert limits.upper == pytest.approx(highest_kmh, abs=1e-9)


def test_r39_inverse_displayed_100():
    # UN Regulation No. 39, paragraph 5.3, solved for V2: (100 - 4) / 1.1 = 87.27..100 km/h.
    # One published table prints 86 for the lower end, which the formula contradicts.
    rule = bound("un-r39")
    limits = rule.limits(96.0 / 1.1)
    assert limits is not None
    assert round(96.0 / 1.1, 2) == 87.27
    assert limits.upper == pytest.approx(100.0, abs=1e-9)
    at_86 = rule.limits(86.0)
    assert at_86 is not None
    assert at_86.upper == pytest.approx(98.6, abs=1e-9)  # 100 shown at true 86 is not allowed
    at_100 = rule.limits(100.0)
    assert at_100 is not None
    assert at_100.lower == 100.0


@pytest.mark.parametrize(
    ("design_kmh", "points_kmh"),
    [
        (25, (20,)),
        (45, (36,)),
        (50, (40,)),  # 80 % of 50 is 40, below 55
        (68, (40,)),  # 54.4
        (68.75, (40, 55)),
        (100, (40, 80)),
        (110, (40, 80)),  # 88
        (125, (40, 80, 100)),
        (150, (40, 80, 120)),
        (151, (40, 80, 120)),
        (220, (40, 80, 120)),
    ],
)
def test_r39_test_speeds_by_design_speed(design_kmh, points_kmh):
    # UN Regulation No. 39, paragraph 5.2.5, from memory.
    assert required_speeds_kmh(design_kmh) == pytest.approx(points_kmh, abs=1e-9)


def test_us_393_82_in_both_units_of_its_text():
    # 49 CFR 393.82 (70 FR 48054): +/- 8 km/h (5 mph) at 80 km/h (50 mph).
    kmh, mph = bound("us-393.82").limits(80.0), bound("us-393.82", "mph", 140.0).limits(50.0)
    assert kmh is not None
    assert mph is not None
    assert (kmh.lower, kmh.upper) == (72.0, 88.0)
    assert (mph.lower, mph.upper) == (45.0, 55.0)
    assert bound("us-393.82").limits(100.0) is None


@pytest.mark.parametrize(
    ("code", "slowest_kmh", "fastest_kmh"),
    [("jp-148", 30.909, 42.553), ("jp-148-before-2007", 30.909, 44.444)],
)
def test_jp_148_true_speeds_at_a_displayed_40(code, slowest_kmh, fastest_kmh):
    # Japan, notice on details of safety standards, Article 148:
    # 10 (V1 - 6) / 11 <= V2 <= 100 V1 / 94 (built 2007 on), 100 V1 / 90 (before), V1 = 40 km/h.
    rule = bound(code)
    for true_kmh, inside in (
        (slowest_kmh + 0.001, True),
        (slowest_kmh - 0.001, False),
        (fastest_kmh - 0.001, True),
        (fastest_kmh + 0.001, False),
    ):
        limits = rule.limits(true_kmh)
        assert limits is not None
        assert (limits.margin(DISPLAYED_KMH) >= 0) is inside


def test_mile_is_the_exact_one():
    # International yard and pound agreement, 1959: 1 mile = 1.609344 km.
    limits = bound("un-r39", "mph", 140.0).limits(50.0)
    assert limits is not None
    assert limits.upper == pytest.approx(50.0 + 5.0 + 4.0 / 1.609344, abs=1e-12)
    assert convert(limits.upper or 0.0, "mph", "km/h") == pytest.approx(92.51392, abs=1e-9)
