"""Solder on solder, joints in two cycles, ageing: what must hold whatever the numbers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.errors import SumError
from needlewright.plans.sums.arrhenius import aging, arrhenius_factor
from needlewright.plans.sums.catalogue import sum_named
from needlewright.plans.sums.solder import ALLOYS, choose_solder
from needlewright.plans.sums.solder_life import Cycle, solder_life
from needlewright.plans.sums.typed import work_out

WARM = st.floats(-40.0, 140.0)


def chosen(new: str, old: str, **more: float):
    return choose_solder(new, old, coldest_c=-30.0, hottest_c=85.0, part_mm=6.3, **more)


@pytest.mark.parametrize("new", list(ALLOYS))
@pytest.mark.parametrize("old", list(ALLOYS))
def test_only_lead_and_lead_free_are_said_to_mix_badly(new, old):
    choice = chosen(new, old)
    mixed = ALLOYS[new].leaded != ALLOYS[old].leaded
    assert choice.mixes is mixed
    assert choice.solidus_c == (179.0 if mixed else ALLOYS[new].solidus_c)
    told = work_out(sum_named("solder"), {"new": new, "old": old}).told
    assert told.judged[0].result == ("bad" if mixed else "good")


def test_an_unknown_solder_is_taken_for_leaded():
    assert chosen("SAC305", "unknown").solidus_c == 179.0
    told = work_out(sum_named("solder"), {"new": "SAC305", "old": "unknown"}).told
    assert "treat it as leaded" in told.judged[0].words


def test_what_the_joint_sees():
    choice = chosen("Sn63Pb37", "Sn63Pb37")
    assert choice.margin_k == 98.0
    assert choice.homologous == pytest.approx(358.15 / 456.15, rel=1e-12)
    assert choice.shear_um == pytest.approx(8.5e-6 * 115 * 3150, rel=1e-12)
    with pytest.raises(SumError, match="80 °C is not above the coldest, 80 °C"):
        choose_solder("SAC305", "SAC305", coldest_c=80.0, hottest_c=80.0, part_mm=1.0)


def test_a_hot_place_that_comes_near_melting_is_not_good():
    told = work_out(sum_named("solder"), {"old": "Sn63Pb37", "hottest": "160"}).told
    assert (told.judged[1].result, "within 23 K" in told.judged[1].words) == ("bad", True)
    told = work_out(sum_named("solder"), {"old": "Sn63Pb37", "hottest": "190"}).told
    assert told.judged[1].words == "The vehicle melts it."


CYCLES = st.builds(
    lambda low, swing, rate: Cycle(low, low + swing, rate),
    st.floats(-60, 60), st.floats(5, 80), st.floats(0.1, 100),
)  # fmt: skip


@given(CYCLES, CYCLES)
def test_two_cycles_turned_round_give_the_inverse(one, other):
    there, back = solder_life(one, other, 1.0), solder_life(other, one, 1.0)
    assert there.factor * back.factor == pytest.approx(1.0, rel=1e-9)
    assert there.factor_other_sign * back.factor_other_sign == pytest.approx(1.0, rel=1e-9)
    assert solder_life(one, one, 500.0).use_cycles == pytest.approx(500.0, rel=1e-12)


@given(CYCLES, CYCLES, CYCLES)
def test_a_chain_of_cycles_is_their_product(a, b, c):
    through = solder_life(a, b, 1.0).factor * solder_life(b, c, 1.0).factor
    assert solder_life(a, c, 1.0).factor == pytest.approx(through, rel=1e-9)


def test_both_signs_are_said_and_a_cycle_without_swing_is_refused():
    told = work_out(sum_named("solder-life"), {}).told
    said = {one.name: one.value for one in told.figures}
    assert said["factor_other_sign"] / said["factor"] == pytest.approx(24 ** (2 / 3), rel=1e-12)
    assert "disagree on the sign" in told.notes[0]
    same = work_out(sum_named("solder-life"), {"use-rate": "48"}).told
    assert "both signs agree" in same.notes[0]
    with pytest.raises(SumError, match="In use: hottest: 10 °C is not above the coldest, 10 °C"):
        work_out(sum_named("solder-life"), {"use-high": "10"})


@given(WARM, WARM, WARM, st.floats(0.1, 1.5))
def test_ageing_goes_by_steps(a, b, c, energy):
    steps = arrhenius_factor(energy, a, b) * arrhenius_factor(energy, b, c)
    assert arrhenius_factor(energy, a, c) == pytest.approx(steps, rel=1e-9)
    assert (arrhenius_factor(energy, a, b) > 1) == (b > a) or a == pytest.approx(b, abs=1e-9)


@given(WARM, WARM, st.floats(0.05, 1.5), st.floats(0.0, 0.5))
def test_the_factor_lies_in_the_range_of_its_barrier(use, test, energy, within):
    aged = aging(energy, within, use, test, 10.0)
    low, high = aged.factor_range
    assert low * (1 - 1e-12) <= aged.factor <= high * (1 + 1e-12)
    assert aged.use_h == pytest.approx(10 * aged.factor, rel=1e-12)
