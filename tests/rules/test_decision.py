from math import erf, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.errors import RuleError
from needlewright.rules.decision import NOT_READ, WORDS, decide, people_words
from needlewright.rules.model import Limits

RANK = {"fail": 0, "conditional_fail": 1, "conditional_pass": 2, "pass": 3}
values = st.floats(-50.0, 150.0)
spreads = st.floats(0.01, 10.0)


@given(a=values, b=values, u=spreads)
def test_more_room_below_never_makes_it_worse(a, b, u):
    low, high = sorted((a, b))
    worse, better = decide(Limits(0.0, None), low, u), decide(Limits(0.0, None), high, u)
    assert RANK[worse.code] <= RANK[better.code]
    assert worse.probability <= better.probability


@given(shown=st.floats(20.0, 30.0), u=spreads, widen=st.floats(0.0, 20.0))
def test_wider_limits_never_make_it_worse(shown, u, widen):
    narrow = decide(Limits(20.0, 30.0), shown, u)
    wide = decide(Limits(20.0 - widen, 30.0 + widen), shown, u)
    assert RANK[narrow.code] <= RANK[wide.code]
    assert narrow.probability <= wide.probability + 1e-12


@given(shown=values, lower=values, width=st.floats(0.5, 60.0), u=spreads, u_true=spreads)
def test_swapping_the_sides_changes_nothing(shown, lower, width, u, u_true):
    upper = lower + width
    straight = decide(Limits(lower, upper, 1.0, 1.1), shown, u, u_true)
    mirrored = decide(Limits(-upper, -lower, 1.1, 1.0), -shown, u, u_true)
    assert straight.code == mirrored.code
    assert straight.margin == mirrored.margin
    assert straight.probability == pytest.approx(mirrored.probability, abs=1e-12)
    assert (straight.lower_margin, straight.u_lower) == (mirrored.upper_margin, mirrored.u_upper)


@given(shown=st.floats(10.0, 40.0), u=spreads)
def test_probability_is_the_area_between_the_limits(shown, u):
    def below(x: float) -> float:
        return 0.5 * (1 + erf((x - shown) / (u * sqrt(2))))

    decision = decide(Limits(20.0, 30.0), shown, u)
    assert decision.probability == pytest.approx(below(30.0) - below(20.0), abs=1e-12)


@given(shown=values, u=spreads)
def test_pass_means_at_least_95_per_cent_and_fail_at_most_2_3(shown, u):
    decision = decide(Limits(20.0, 30.0), shown, u)
    if decision.code == "pass":
        assert decision.probability >= 0.954
    if decision.code == "fail":
        assert decision.probability <= 0.0228


def test_stimulus_enters_through_the_slope_of_each_limit():
    # R39 at 100 km/h: lower limit 100 with slope 1, upper 114 with slope 1.1
    decision = decide(Limits(100.0, 114.0, 1.0, 1.1), 103.0, 0.3, 0.4)
    assert decision.u_lower == pytest.approx(0.5, abs=1e-12)
    assert decision.u_upper == pytest.approx(sqrt(0.09 + 0.1936), abs=1e-12)
    assert decision.expanded == pytest.approx(1.0, abs=1e-12)  # of the nearer, lower, limit
    assert decision.code == "pass"


def test_stimulus_can_cost_a_plain_pass():
    limits = Limits(100.0, 114.0, 1.0, 1.1)
    assert decide(limits, 100.7, 0.3).code == "pass"
    assert decide(limits, 100.7, 0.3, 0.4).code == "conditional_pass"


def test_reading_low_needs_the_whole_guard_band_for_a_plain_pass():
    limits = Limits(80.0, 92.0)
    assert decide(limits, 81.0, 0.5).code == "pass"  # lower margin = U
    assert decide(limits, 80.999, 0.5).code == "conditional_pass"
    assert decide(limits, 80.0, 0.5).code == "conditional_pass"
    assert decide(limits, 79.999, 0.5).code == "conditional_fail"
    assert decide(limits, 79.0, 0.5).code == "conditional_fail"
    assert decide(limits, 78.999, 0.5).code == "fail"


def test_both_sides_count_when_the_band_is_narrower_than_the_guard():
    decision = decide(Limits(9.0, 11.0), 10.0, 1.0)
    assert decision.code == "conditional_pass"
    assert decision.probability == pytest.approx(0.6827, abs=5e-5)


def test_unknown_uncertainty_gives_only_the_codes_in_doubt():
    inside, outside = decide(Limits(80, 92), 85.0, None), decide(Limits(80, 92), 40.0, None)
    assert (inside.code, inside.accepted, inside.probability) == ("conditional_pass", True, None)
    assert (outside.code, outside.accepted, outside.probability) == (
        "conditional_fail",
        False,
        None,
    )
    assert inside.expanded is None
    assert inside.margin == 5.0


def test_zero_uncertainty_is_by_definition_and_leaves_no_doubt():
    assert decide(Limits(80, 92), 80.0, 0.0).code == "pass"
    assert decide(Limits(80, 92), 79.999, 0.0).code == "fail"
    assert decide(Limits(80, 92), 80.0, 0.0).probability == 1.0
    assert decide(Limits(80, 92), 79.999, 0.0).probability == 0.0


def test_no_limits_on_either_side():
    decision = decide(Limits(None, None), 5.0, 1.0)
    assert (decision.code, decision.margin, decision.probability) == ("pass", None, 1.0)


@pytest.mark.parametrize(
    ("shown", "u_shown", "u_true"),
    [(float("nan"), 1, 0), (float("inf"), 1, 0), (1, -1, 0), (1, 1, -0.1), (1, float("nan"), 0)],
)
def test_nonsense_is_refused(shown, u_shown, u_true):
    with pytest.raises(RuleError):
        decide(Limits(0, 10), shown, u_shown, u_true)


def test_words_for_people():
    assert [WORDS[code] for code in ("pass", "conditional_pass", "conditional_fail", "fail")] == [
        "conforms",
        "conforms, in doubt",
        "does not conform, in doubt",
        "does not conform",
    ]
    assert people_words("not_read", "occluded") == "not read: occluded"
    assert (NOT_READ.code, NOT_READ.accepted, NOT_READ.margin) == ("not_read", None, None)
