"""Decisions against published rules and figures; each check names its source."""

import pytest

from needlewright.rules.book import rule_for
from needlewright.rules.decision import decide
from needlewright.rules.model import Limits


def test_jcgm_106_two_sided_probability():
    # JCGM 106:2012, clause 7.4: inputs 13.6, u 1.8, limits 12.5..16.3
    # (inputs seen, value computed).
    decision = decide(Limits(12.5, 16.3), 13.6, 1.8)
    assert decision.probability == pytest.approx(0.6626, abs=5e-5)


def test_bench_case_r39_at_100_displayed_113():
    # UN R39 at true 100 km/h (upper limit 114), displayed 113, U 1.0 (k = 2): Phi(2) = 0.9772.
    rule = rule_for("un-r39", unit="km/h", scale_values=(0, 220), graduation=None)
    limits = rule.limits(100.0)
    assert limits is not None
    decision = decide(limits, 113.0, 0.5)
    assert decision.probability == pytest.approx(0.9772, abs=5e-5)
    assert decision.code == "pass"
    assert decision.expanded == 1.0
    assert decision.margin == 1.0


@pytest.mark.parametrize(
    ("measured", "code"),
    [
        (7.9, "pass"),  # below AL = TL - w
        (8.1, "conditional_pass"),  # in [TL - w, TL]
        (10.0, "conditional_pass"),
        (10.1, "conditional_fail"),  # in [TL, TL + w]
        (12.0, "conditional_fail"),
        (12.1, "fail"),  # above TL + w
    ],
)
def test_ilac_g8_non_binary_statement(measured, code):
    # ILAC-G8:09/2019, 4.2.3 and figure 5: upper tolerance limit TL, guard band w = U.
    assert decide(Limits(None, 10.0), measured, 1.0).code == code


@pytest.mark.parametrize(("measured", "accepted"), [(9.9, True), (10.0, True), (10.1, False)])
def test_ilac_g8_simple_acceptance(measured, accepted):
    # ILAC-G8:09/2019, 4.2.1: w = 0, pass below the tolerance limit.
    assert decide(Limits(None, 10.0), measured, 1.0).accepted is accepted


def test_guard_band_of_u_leaves_two_and_a_half_per_cent():
    # ILAC-G8:09/2019, table 1: w = U, probability of false acceptance < 2.5 % (from memory).
    decision = decide(Limits(None, 10.0), 8.0, 1.0)
    assert decision.code == "pass"
    assert decision.probability is not None
    assert 1.0 - decision.probability == pytest.approx(0.02275, abs=5e-6)
