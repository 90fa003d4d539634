"""What was there from the first look on: what is found, in doubt, alike, or never judged."""

import pytest

from needlewright.errors import PlanError
from needlewright.plans.burn_in.from_the_start import reversals, stands_off


def test_a_needle_that_lags_both_ways_differs_and_a_sound_one_is_alike():
    found = reversals({40.0: [0.20, 0.21, 0.19], 100.0: [0.05, 0.04, 0.06]}, 0.15, 8)
    far, near = found[40.0], found[100.0]
    assert (far.code, near.code) == ("differs", "alike")
    assert (far.visits, far.freedom) == (3, 4)
    assert far.reversal_deg == pytest.approx(0.20)
    # both points scatter by 0.01 about their own means, with 4 degrees of freedom
    assert far.u_deg == pytest.approx(0.01 / 3**0.5)


def test_what_lies_within_the_guard_is_in_doubt_and_says_from_where_on_it_is_told():
    one = reversals({40.0: [0.14, 0.16, 0.18]}, 0.15)[40.0]
    assert one.code == "open"
    assert one.guard_deg is not None
    assert one.told_from_deg is not None
    assert one.told_from_deg > 0.15 + one.guard_deg


def test_a_needle_that_loses_steps_on_its_way_differs_with_either_sign():
    assert reversals({40.0: [-3.2, -3.21, -3.19]}, 0.15)[40.0].code == "differs"


def test_one_visit_and_a_movement_nothing_is_known_of_are_not_judged():
    once = reversals({40.0: [3.0], 100.0: [0.0]}, 0.15)
    assert {one.code for one in once.values()} == {"not_judged"}
    assert once[40.0].reversal_deg == 3.0
    creeping = reversals({40.0: [3.0, 3.1]}, None)[40.0]
    assert (creeping.code, creeping.reversal_deg) == ("not_judged", pytest.approx(3.05))
    nothing = reversals({40.0: []}, 0.15)[40.0]
    assert (nothing.code, nothing.reversal_deg, nothing.visits) == ("not_judged", None, 0)


def test_readings_that_agree_to_the_last_place_are_not_known_without_end():
    one = reversals({40.0: [0.152] * 2}, 0.15)[40.0]
    # 0.007 deg at least, in two visits, with one degree of freedom: 12.706 (any table of t)
    assert one.guard_deg == pytest.approx(12.706 * 0.007 / 2**0.5, rel=1e-4)
    assert one.code == "open"


def test_more_check_points_share_the_risk_and_ask_for_more():
    alone, shared = (reversals({40.0: [0.2, 0.21, 0.19]}, 0.15, n)[40.0] for n in (1, 12))
    assert alone.guard_deg is not None
    assert shared.guard_deg is not None
    assert shared.guard_deg > alone.guard_deg


def test_a_first_look_off_by_more_than_is_known_of_it_stands_off():
    told = stands_off(20.0, 20.5, (0.04, 0.15))
    assert told.off_deg == -0.5
    assert told.u_deg == pytest.approx((0.04**2 + 0.15**2) ** 0.5)
    assert told.is_off
    assert not stands_off(20.0, 20.5, (0.04, 0.15), 12 * 10**6).is_off
    assert not stands_off(20.0, 20.1, (0.04, 0.15)).is_off


@pytest.mark.parametrize(
    ("asked", "wrong"),
    [
        (lambda: reversals({1.0: [0.1]}, -0.1), "allowed reversal: must be 0 deg or more"),
        (lambda: reversals({1.0: [0.1]}, float("nan")), "allowed reversal: must be 0 deg or more"),
        (lambda: reversals({1.0: [float("inf")]}, 0.1), "must be a finite number of deg"),
        (lambda: stands_off(float("nan"), 0.0, (0.1,)), "must be finite"),
        (lambda: stands_off(0.0, 0.0, (0.0,)), "the last above 0 deg"),
    ],
)
def test_numbers_that_cannot_be_are_refused(asked, wrong: str):
    with pytest.raises(PlanError) as refused:
        asked()
    assert wrong in str(refused.value)
