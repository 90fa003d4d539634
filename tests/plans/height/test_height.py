"""Needle heights: sums by hand, windows by search, refusals."""

from dataclasses import replace
from math import hypot, sqrt
from statistics import NormalDist

import pytest

from needlewright.errors import PlanError
from needlewright.plans.height.clearances import Clearance
from needlewright.plans.height.height import NeedleHeight, needle_height, with_measured
from needlewright.plans.height.stack import HeightLimits, Stack, Toleranced

STACK = Stack(
    shaft=Toleranced(6.0, 0.1),
    bore=Toleranced(5.0, 0.05),
    hub=Toleranced(6.5, 0.05),
    thickness=Toleranced(0.8, 0.05),
    face=Toleranced(1.0, 0.05),
    blade=Toleranced(0.4, 0.05),
    droop=Toleranced(0.2, 0.1),
    lens=Toleranced(9.0, 0.3),
)
LIMITS = HeightLimits()


def by_name(found: NeedleHeight) -> dict[str, Clearance]:
    return {one.name: one for one in found.clearances}


def test_every_clearance_of_a_gauge_is_the_sum_done_by_hand():
    one = by_name(needle_height(STACK, LIMITS, set_to=Toleranced(0.7, 0.05)))
    nominal = {name: each.nominal_mm for name, each in one.items()}
    assert nominal == pytest.approx(
        {
            "hub to face": 0.7,
            "needle to face": 0.7 + 0.4 - 0.2,
            "halo": 0.7,
            "lens": 9.0 - 0.7 - 6.5,
            "grip": 6.0 - 1.0 - 0.7,
            "bore left": 5.0 - 4.3,
        }
    )
    assert one["needle to face"].worst_mm == pytest.approx(0.9 - 0.05 - 0.05 - 0.1)
    assert one["halo"].worst_mm == pytest.approx(0.75)
    assert one["lens"].worst_mm == pytest.approx(1.8 - 0.3 - 0.05 - 0.05)
    expected_u = sqrt(0.05**2 + 0.05**2 + 0.1**2) / sqrt(3)
    assert one["needle to face"].u_mm == pytest.approx(expected_u, rel=0.01)
    shares = {part.length: part.share for part in one["needle to face"].sensitivities}
    assert shares == pytest.approx({"droop": 2 / 3, "blade": 1 / 6, "set_to": 1 / 6})


def test_a_depth_brings_shaft_and_face_into_the_gap_and_a_gauge_keeps_them_out():
    depth = by_name(needle_height(STACK, LIMITS, setting="depth", set_to=Toleranced(4.3, 0.05)))
    gauge = by_name(needle_height(STACK, LIMITS, set_to=Toleranced(0.7, 0.05)))
    assert depth["hub to face"].nominal_mm == pytest.approx(gauge["hub to face"].nominal_mm)
    assert depth["hub to face"].worst_mm == pytest.approx(0.7 - 0.1 - 0.05 - 0.05)
    assert gauge["hub to face"].worst_mm == pytest.approx(0.65)


def test_one_rectangular_length_has_its_chance_and_interval_in_closed_form():
    """A gap of 0.5 +- 0.4 mm misses 0.3 with (0.3 - 0.1) / 0.8 (JCGM 101:2008, 6.4.2)."""
    bare = Stack(Toleranced(6.0), Toleranced(5.5), Toleranced(6.5), Toleranced(0.8))
    one = by_name(needle_height(bare, LIMITS, set_to=Toleranced(0.5, 0.4)))["hub to face"]
    assert one.chance_outside == pytest.approx(0.25, abs=0.006)
    assert one.interval_mm == pytest.approx((0.1 + 0.025 * 0.8, 0.9 - 0.025 * 0.8), abs=0.005)
    assert one.u_mm == pytest.approx(0.4 / sqrt(3), rel=0.01)


@pytest.mark.parametrize("droop", [0.0, 0.6, 1.2])
def test_the_gauges_that_keep_every_limit_are_those_a_search_finds(droop):
    stack = replace(STACK, droop=Toleranced(droop, 0.1), lens=Toleranced(8.4, 0.3))
    least, most = needle_height(stack, LIMITS, set_to=Toleranced(0.7, 0.05)).window_mm
    for mm in (least - 0.02, least + 0.02, 0.5, most - 0.02, most + 0.02, 1.6):
        found = needle_height(stack, LIMITS, set_to=Toleranced(float(mm), 0.05))
        if mm >= 0:
            assert found.keeps_worst_case == (least < mm < most), f"{mm} of {least} to {most}"


def test_the_chosen_gauge_keeps_every_limit_and_is_one_of_a_set():
    found = needle_height(STACK, LIMITS, gauge_tolerance_mm=0.05)
    assert found.is_chosen
    assert found.keeps_worst_case
    assert found.set_to.mm == pytest.approx(0.75)
    assert found.window_mm == pytest.approx((0.35, 1.15))
    assert found.chance_outside == 0.0
    tall = needle_height(STACK, replace(LIMITS, halo_mm=0.35), gauge_tolerance_mm=0.05)
    assert tall.window_mm[0] > tall.window_mm[1]
    assert not tall.keeps_worst_case


def test_a_measured_height_is_set_beside_the_stack():
    found = needle_height(STACK, LIMITS, set_to=Toleranced(0.7, 0.05))
    assert found.top_mm == pytest.approx(0.7 + 0.4 + 0.8)
    near = with_measured(found, 1.95, 0.08).measured
    far = with_measured(found, 2.5, 0.08).measured
    assert near is not None
    assert far is not None
    assert (near.agrees, far.agrees) == (True, False)
    assert near.clear_mm == pytest.approx(1.95 - 0.8 - 0.2)
    assert near.u_clear_mm == pytest.approx(sqrt(0.08**2 + (0.05**2 + 0.1**2) / 3))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"thickness": Toleranced(-0.8)}, "thickness: given -0.8 mm; a length here is 0 or more"),
        ({"bore": Toleranced(7.0)}, "bore: 7 mm is deeper than the hub, which is 6.5 mm high"),
        ({"face": Toleranced(6.5)}, "nothing stands out to press onto"),
        ({"shaft": Toleranced(600.0)}, "no instrument is that deep"),
        ({"hub": Toleranced(float("nan"))}, "hub: is no finite number"),
        ({"thickness": Toleranced(0.0)}, "thickness: is 0 mm"),
        ({"droop": Toleranced(0.1, -0.2)}, "droop, tolerance: given -0.2 mm"),
    ],
)
def test_what_is_no_stack_is_refused(change, says):
    with pytest.raises(PlanError, match=says.replace("(", r"\(")):
        replace(STACK, **change)


def test_a_setting_that_cannot_be_is_refused():
    with pytest.raises(PlanError, match=r"press: 5\.2 mm is deeper than the bore"):
        needle_height(STACK, LIMITS, setting="depth", set_to=Toleranced(5.2))
    with pytest.raises(PlanError, match="a depth is not chosen here"):
        needle_height(STACK, LIMITS, setting="depth")
    with pytest.raises(PlanError, match=r"gauge: 5\.5 mm is higher than the shaft stands out"):
        needle_height(STACK, LIMITS, set_to=Toleranced(5.5))
    with pytest.raises(PlanError, match="no hub does both"):
        HeightLimits(contact_mm=1.0, halo_mm=0.8)
    with pytest.raises(PlanError, match="both must be above 0"):
        with_measured(needle_height(STACK, LIMITS), -1.0, 0.1)


@pytest.mark.parametrize("setting", ["gauge", "depth"])
@pytest.mark.parametrize("shape", ["rectangular", "normal"])
def test_trials_propagation_and_worst_case_agree_as_they_must(setting, shape):
    """Of sums of lengths: u by trials is the root sum of squares (JCGM 100:2008, 5.1.2).

    Of normal lengths the interval is 1.96 u and the chance that of the normal distribution; of
    rectangular ones nothing lies beyond the worst case, and 95 % lies within 2 u of several.
    """
    stack = Stack(
        **{
            name: Toleranced(mm, tolerance, shape)
            for name, (mm, tolerance) in {
                "shaft": (6.0, 0.1), "bore": (5.2, 0.08), "hub": (6.5, 0.05),
                "thickness": (0.8, 0.05), "face": (1.0, 0.05), "blade": (0.4, 0.05),
                "droop": (0.2, 0.1), "lens": (9.0, 0.3),
            }.items()
        }
    )  # fmt: skip
    set_to = Toleranced(0.5 if setting == "gauge" else 4.4, 0.06, shape)
    found = needle_height(stack, LIMITS, setting=setting, set_to=set_to)
    for one in found.clearances:
        # JCGM 100:2008, 5.1.2: root of the sum of the squared parts. That to the lens is a sum of
        # lengths only while either hub or bar is the higher for every unit, as here.
        u_analytic_mm = hypot(*(part.u_mm for part in one.sensitivities))
        assert one.u_mm == pytest.approx(u_analytic_mm, rel=0.01)
        away = abs(one.worst_mm - one.nominal_mm)
        # the worst case is the sum of tolerances: between one and root n times their root sum
        per_u = 2.0 if shape == "normal" else sqrt(3)
        parts = len(one.sensitivities)
        assert u_analytic_mm * per_u <= away * (1 + 1e-9)
        assert away <= sqrt(parts) * u_analytic_mm * per_u * (1 + 1e-9)
        low, high = one.interval_mm
        if shape == "normal":
            half = 1.96 * u_analytic_mm
            ends = (one.nominal_mm - half, one.nominal_mm + half)
            assert (low, high) == pytest.approx(ends, abs=0.02 * half)
            off = (one.limit_mm - one.nominal_mm) / u_analytic_mm
            sign = 1 if one.side == "at_least" else -1
            assert one.chance_outside == pytest.approx(NormalDist().cdf(sign * off), abs=0.005)
        else:
            assert one.nominal_mm - away <= low
            assert high <= one.nominal_mm + away
            assert (high - low) / 2 <= 2 * u_analytic_mm
