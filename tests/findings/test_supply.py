"""Currents against the family's range, and what fails all at once."""

import pytest
from scipy.stats import norm

from needlewright.findings.event import Event
from needlewright.findings.supply import (
    Drawn,
    current_evidence,
    fails_together,
    judge_current,
    together_evidence,
)

RANGE_A = (0.15, 0.35)


def current(*amperes: float, u: float | None = None):
    drawn = [Drawn(a, f"after {n} key-ons", u) for n, a in enumerate(amperes)]
    return judge_current("rest", drawn, RANGE_A)


@pytest.mark.parametrize(
    ("amperes", "side"),
    [(0.25, "within"), (0.05, "below"), (0.6, "above"), (0.357, "unsure"), (4.9, "above")],
)
def test_a_current_lies_within_its_range_or_not(amperes, side):
    found = current(amperes, amperes + 0.001)
    assert found.side == side
    assert (found.ratio > 1) == (side in ("below", "above")) or side == "unsure"
    (evidence,) = current_evidence([found], "run 'a'")
    assert (evidence.finding, evidence.unit, evidence.dial) == ("current_off", "A", None)
    assert "range of 0.15 to 0.35 A" in evidence.words


def test_the_ratio_is_that_of_the_normal_laws():
    """Reference: scipy.stats.norm, a uniform current inside (0.2 A) and outside (4.8 A) of it."""
    found = current(0.36, u=0.02)
    law = norm(0.36, 0.02)
    inside = (law.cdf(0.35) - law.cdf(0.15)) / 0.2
    outside = (law.cdf(0.15) - law.cdf(0) + law.cdf(5) - law.cdf(0.35)) / 4.8
    assert found.ratio == pytest.approx(outside / inside, rel=1e-9)


def test_without_a_range_or_a_reading_nothing_is_said():
    assert judge_current("rest", [Drawn(0.2, "x")], None) is None
    assert judge_current("sweep", [], RANGE_A) is None
    assert current_evidence([], "x") == ()


def lost(dial: str, *times: float) -> list[Event]:
    return [Event(t, dial, "lost_steps", -2.0, 0.1) for t in times]


def test_needles_that_fail_in_the_same_instant_are_of_one_supply():
    found = fails_together([*lost("speed", 1.0, 5.0), *lost("fuel", 1.05, 5.02)], 16.0)
    assert found.instants_s == pytest.approx((1.025, 5.01))
    assert found.dials == ("speed", "fuel")
    assert found.chance == pytest.approx(4 * 0.24 / 16)
    (evidence,) = together_evidence(found, 4, "sweep.mp4")
    assert (evidence.finding, evidence.part) == ("all_at_once", "supply")
    assert evidence.ratio == 100.0
    (knocked,) = together_evidence(found, 4, "sweep.mp4", knocked=True)
    assert knocked.finding == "knocking"


def test_one_instant_among_many_failures_may_be_chance():
    busy = [*lost("speed", *range(1, 15)), *lost("fuel", *(t + 0.5 for t in range(1, 14)), 14.04)]
    found = fails_together(busy, 16.0)
    assert len(found.instants_s) == 1
    (evidence,) = together_evidence(found, 2, "x")
    assert 1.0 <= evidence.ratio < 2.0


def test_failures_apart_and_a_quiet_sweep_say_little():
    found = fails_together([*lost("speed", 1.0), *lost("fuel", 3.0)], 16.0)
    assert found.instants_s == ()
    (evidence,) = together_evidence(found, 2, "x")
    assert evidence.ratio == 0.5
    assert together_evidence(found, 1, "x") == ()


def test_a_current_that_drops_between_key_ons_is_told():
    drawn = [
        Drawn(0.3, "after 1 key-on"),
        Drawn(0.12, "after 3 key-ons"),
        Drawn(0.3, "after 5 key-ons"),
    ]
    found = fails_together([], 16.0, drawn)
    assert [round(change, 2) for change, _ in found.drops] == [-0.18, 0.18]
    assert "the current changes by −0.180 A after 3 key-ons" in found.words
    (evidence,) = together_evidence(found, 1, "x")
    assert evidence.ratio == pytest.approx(50.0)


def test_needles_that_never_move_begin_so_with_their_command():
    dead = [Event(1.0, dial, "stalled", -120.0, 0.1) for dial in ("speed", "fuel")]
    assert fails_together(dead, 16.0).instants_s == ()
