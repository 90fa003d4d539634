"""Solder, reflow and ageing against figures printed elsewhere; each names its source."""

from math import exp

import numpy as np
import pytest

from needlewright.errors import SumError
from needlewright.plans.sums.arrhenius import arrhenius_factor
from needlewright.plans.sums.reflow_limits import LIMITS, thermocouple_limit_k
from needlewright.plans.sums.solder import ALLOYS, BOARD_PPM_K, CERAMIC_PPM_K, MIXED_SOLIDUS_C
from needlewright.plans.sums.solder_life import CONSTANTS, OTHER_SAC, Cycle, solder_life


def test_solidus_and_liquidus():
    # A public table of solder alloys (seen): 183/183, 183/191, 217/220, and 179/179 of
    # Sn62.5Pb36.1Ag1.4. Other tables have 188 for the liquidus of Sn60Pb40: 190 lies between.
    assert MIXED_SOLIDUS_C == 179
    assert 188 <= ALLOYS["Sn60Pb40"].liquidus_c <= 191
    # NIST, Moon and Boettinger, JOM 56 (2004), abstract (seen): tin, silver and copper, 217.2 degC,
    # U 0.2 K; makers round it.
    assert abs(ALLOYS["SAC305"].solidus_c - 217.2) <= 0.2 + 1e-9
    assert {name: (one.solidus_c, one.liquidus_c) for name, one in ALLOYS.items()} == {
        "Sn63Pb37": (183, 183),
        "Sn60Pb40": (183, 190),
        "SAC305": (217, 220),
    }


def test_how_board_and_part_grow():
    # Hollomon, Surface-Mount Technology for PC Board Design, as the archive of IPC's forum quotes
    # it on 27 March 1996 (seen): 15; IEC TR 62380, ceramic package, as open code has it (seen):
    # 6.5.
    assert (BOARD_PPM_K, CERAMIC_PPM_K) == (15.0, 6.5)


def test_limits_of_a_profile():
    # J-STD-020, classification reflow profiles, as makers of parts print its table (seen): tin-lead
    # by revision C, lead-free by D.
    free, leaded = LIMITS["lead-free"], LIMITS["tin-lead"]
    assert (free.soak_c, free.soak_s) == ((150, 200), (60, 120))
    assert (free.liquidus_c, free.above_s) == (217, (60, 150))
    assert (leaded.soak_c, leaded.soak_s) == ((100, 150), (60, 120))
    assert (leaded.liquidus_c, leaded.above_s) == (183, (60, 150))
    for one in (free, leaded):
        assert (one.ramp_k_s, one.cool_k_s) == (3, 6)
    # from 25 degC to the peak at most 8 minutes; of tin-lead 6 (the same)
    assert (free.rise_s, leaded.rise_s) == (480, 360)


@pytest.mark.parametrize(
    ("kind", "celsius", "kelvins"),
    [
        ("K-2", 217, 2.5),
        ("K-2", 400, 3.0),
        ("K-1", 217, 1.5),
        ("T-2", 217, 1.6275),
        ("T-1", 100, 0.5),
        ("J-2", 100, 2.5),
        # where the share takes over: 375, 333, 125 and 133 degC
        ("K-1", 375, 1.5),
        ("K-2", 333.5, 2.50125),
        ("T-1", 125, 0.5),
        ("T-2", 133.5, 1.00125),
    ],
)
def test_classes_of_thermocouples(kind, celsius, kelvins):
    # IEC 60584-1:2013 (before it 60584-2), tolerance classes 1 and 2, as makers print them (seen).
    assert thermocouple_limit_k(kind, celsius) == pytest.approx(kelvins, rel=1e-9)


def test_arrhenius():
    # Published and computed: 0.5 eV from 25 to 125 degC.
    assert round(arrhenius_factor(0.5, 25.0, 125.0), 1) == 132.7
    # The documentation of the open package `reliability` (seen): 1.2 eV from 60 to 100 degC.
    assert arrhenius_factor(1.2, 60.0, 100.0) == pytest.approx(88.29574588463338, rel=1e-6)


def test_a_worked_example_of_norris_and_landzberg_and_its_sign():
    # A semiconductor maker's public example (seen): -55 to 125 degC at 48 a day, 25 to 75 at one
    # a day, tin-lead. It prints 11.4 for the swing and 3.6 for the frequency, which is the sign
    # that is not used here (it takes 0.33 for a third).
    life = solder_life(Cycle(25.0, 75.0, 1.0), Cycle(-55.0, 125.0, 48.0), 1.0)
    assert round(life.swing_share, 1) == 11.4
    assert round(1 / life.rate_share, 1) == 3.6
    # 1414 K between 75 and 125 degC (computed).
    assert life.warmth_share == pytest.approx(1.665, abs=5e-4)
    assert life.factor_other_sign / life.factor == pytest.approx(48 ** (2 / 3), rel=1e-12)


def test_lives_measured_at_several_frequencies_grow_with_it():
    # Yang, Life Cycle Reliability Engineering (2007), example 7.2: cycles lived, highest degC,
    # swing K, frequency; it prints ln L = 9.517 - 2.0635 ln dT + 0.3452 ln f + 2006.4 / T (seen
    # second-hand). So lives grow with the frequency, by about a third.
    rows = np.array([
        (208, 80, 120, 1), (225, 80, 120, 2), (308, 80, 120, 3), (142, 100, 140, 2),
        (108, 120, 160, 2), (169, 100, 120, 2), (131, 120, 120, 2), (1300, 80, 50, 2),
        (650, 100, 70, 2), (258, 120, 90, 2), (6231, 30, 50, 2), (1450, 30, 70, 2),
    ], dtype=float)  # fmt: skip
    lives, high_c, swing, rate = rows.T
    columns = (np.ones(12), np.log(swing), np.log(rate), 1 / (high_c + 273.15))
    fitted = np.linalg.lstsq(np.column_stack(columns), np.log(lives), rcond=None)[0]
    assert fitted == pytest.approx([9.517, -2.0635, 0.3452, 2006.4], rel=2e-3)
    assert abs(fitted[2] - CONSTANTS["tin-lead"].rate) < 0.02

    def share(a_day: float) -> float:
        return solder_life(Cycle(0, 60, a_day), Cycle(0, 60, 1.0), 1.0).factor

    assert share(8.0) == pytest.approx(2.0, rel=1e-12)


def test_tin_lead_as_a_handbook_for_space_has_it():
    # reliability.space, thermo-mechanical stress (seen): cycles a day x (min(hours a cycle, 2) /
    # 2)^0.33 x (swing / reference)^1.9 x exp(11604 x 0.122 (1 / (273 + T0) - 1 / (273 + T))), the
    # more the longer a cycle lasts: the sign used here. Hourly cycles in the test, half-hourly in
    # use, so that both are shorter than the two hours.
    def damage(hours: float, swing: float, high: float) -> float:
        warm = exp(11604 * 0.122 * (1 / 313 - 1 / (273 + high)))
        return float((min(hours, 2.0) / 2.0) ** 0.33 * (swing / 20) ** 1.9 * warm)

    life = solder_life(Cycle(20, 60, 48), Cycle(-20, 80, 24), 1.0)
    wanted = damage(1.0, 100, 80) / damage(0.5, 40, 60)
    assert life.factor == pytest.approx(wanted, rel=5e-3)  # it rounds 1/3 and 0 degC
    assert life.factor_creep_done is None
    # A day against half an hour: by the handbook the day counts as two hours.
    life = solder_life(Cycle(20, 60, 1), Cycle(-20, 80, 48), 1.0)
    assert life.factor_creep_done == pytest.approx(
        damage(0.5, 100, 80) / damage(24.0, 40, 60), rel=6e-3
    )
    assert life.factor_creep_done == pytest.approx(life.factor * 12 ** (1 / 3), rel=1e-12)


def test_lead_free_joints_by_two_published_fits():
    # constants of Pan and others (SMTA International 2005; 2.65 and 0.136 seen in an open
    # collection of acceleration factors, 2185 K from memory) and of Lall and others (Journal of
    # Electronic Packaging 134, 2012; the same collection has 2.3, 0.3 and 0.4 eV): 0 to 100 degC
    # twice an hour in the test, 10 to 60 degC twice a day in use, by hand with logarithms:
    # 2.65 ln 2 + 0.136 ln(2/48) + 2185 (1/333.15 - 1/373.15) = 2.1077
    # 2.3 ln 2 + 0.3 ln(2/48) + 4562 (1/333.15 - 1/373.15) = 2.1087
    life = solder_life(Cycle(10, 60, 2), Cycle(0, 100, 48), 1000, "SAC")
    assert life.factor == pytest.approx(exp(2.1077), rel=2e-4)
    assert life.other_fit is not None
    assert life.other_fit.factor == pytest.approx(exp(2.1087), rel=2e-4)
    assert OTHER_SAC.warmth_k * 8.617333e-5 == pytest.approx(0.4, abs=0.01)
    # by tin-lead's numbers it would be another life, and none is carried from one to the other
    assert solder_life(Cycle(10, 60, 2), Cycle(0, 100, 48), 1000).factor == pytest.approx(
        2**1.9 * 24 ** (-1 / 3) * exp(1414 * (1 / 333.15 - 1 / 373.15)), rel=1e-12
    )
    said = "Joint in the test: it is tin-lead and the joint in use SAC"
    with pytest.raises(SumError, match=said):
        solder_life(Cycle(10, 60, 2), Cycle(0, 100, 48), 1000, "SAC", "tin-lead")
