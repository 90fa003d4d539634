"""Where a needle is pressed: drawn truth, closed forms, mirrored dials, and refusals."""

from dataclasses import replace
from math import sqrt
from typing import Final

import numpy as np
import pytest
from scipy.stats import norm

from needlewright.errors import RunError
from needlewright.families.model import Dial
from needlewright.plans.margins import ruled_rows, smallest_margin
from needlewright.plans.pressing.chance import (
    balanced_rise,
    chance_by_integration,
    chance_by_trials,
    chance_of_one,
    smallest_in_spreads,
)
from needlewright.plans.pressing.hand import (
    DEFAULT_TIPS,
    HandSpread,
    PressedNeedle,
    hand_spread,
    tip_deg,
)
from needlewright.plans.pressing.press import LEAST_CHANCE, Press, plan_press
from needlewright.plans.pressing.shared import COMMON
from needlewright.plans.pressing.windows import Window
from needlewright.plans.rest_room import rest_room
from needlewright.plans.seat import seat_rows
from needlewright.proofs.verdicts import rule_of
from needlewright.readings.complete import BY_EYE
from needlewright.readings.runs import RunRow
from plans.made_runs import made_rows
from readings.drawn_runs import FAMILY, completed, drawn_run

DIALS: Final = {dial.id: dial for dial in FAMILY.dials}
ECC_MM: Final = FAMILY.eccentricity_mm
TRUE_HAND: Final = HandSpread(0.05, 0.0, 0.0, 100)
A_HAND: Final = hand_spread([])


def planned(dial: Dial, rows: tuple[RunRow, ...], hand: HandSpread = TRUE_HAND) -> Press:
    return plan_press(dial, rows, rule_of(dial), ECC_MM, hand)


def wide(name: str) -> Dial:
    """A dial whose rule leaves the programme all its room."""
    return replace(DIALS[name], rule={"house": {"of_span": 0.2}})


@pytest.mark.parametrize("name", ["engine", "temp"])
@pytest.mark.parametrize("seat_deg", [-40.0, -3.0, 0.0, 7.5])
def test_a_needle_is_pressed_on_its_programme_however_the_runs_own_one_sat(name, seat_deg):
    dial = wide(name)
    found = planned(dial, made_rows(dial, seat_deg=seat_deg))
    assert (found.verdict, found.aimed) == ("press", "programme")
    assert found.turn_deg == pytest.approx(-seat_deg, abs=1e-9)
    assert found.reference.press_deg == pytest.approx(
        dial.programme_angle_deg(found.reference.value), abs=1e-9
    )
    assert found.rest_deg == pytest.approx(dial.rest_angle_deg, abs=1e-9)
    assert found.pass_probability > 0.99


def test_the_value_pressed_at_has_a_printed_mark_where_there_is_one():
    found = planned(wide("engine"), made_rows(wide("engine"), seat_deg=4.0))
    at = found.reference
    assert at.value in DIALS["engine"].scale.values
    assert (at.mark, at.approach) == (at.value, "up")
    assert at.above_mark_deg == pytest.approx(0.0, abs=1e-9)
    assert at.spread_deg == pytest.approx(
        np.hypot(
            np.hypot(TRUE_HAND.planned_tips * tip_deg(wide("engine")), 0.06 * sqrt(COMMON)),
            DIALS["engine"].movement.repeatability_deg,
        ),
        abs=1e-9,
    )


def test_a_row_off_the_others_is_not_pressed_at_unless_it_is_asked_for():
    dial = wide("temp")
    near = planned(dial, made_rows(dial, seat_deg=1.0)).reference
    told = sorted({row.commanded for row in made_rows(dial) if row.commanded is not None})
    off_at = min(told, key=lambda value: abs(value - near.value))

    def off(i: int, value: float, approach: str) -> float:
        return 2.5 if value == off_at else 0.0

    rows = made_rows(dial, off, seat_deg=1.0)
    found = planned(dial, rows)
    assert found.reference.value != off_at
    assert found.reference.is_representative
    asked = plan_press(dial, rows, rule_of(dial), ECC_MM, TRUE_HAND, at=off_at)
    assert asked.reference.value == off_at
    assert any("lies off the others" in doubt for doubt in asked.doubts)
    with pytest.raises(RunError, match=r"at 61\.3 degC stands free of a stop"):
        plan_press(dial, rows, rule_of(dial), ECC_MM, TRUE_HAND, at=61.3)


def mirrored(dial: Dial) -> Dial:
    """The same dial on a face seen in a mirror."""
    scale = replace(dial.scale, angles_deg=tuple(-a for a in dial.scale.angles_deg))
    way = "ccw" if dial.direction == "cw" else "cw"
    return replace(dial, scale=scale, direction=way, rest_angle_deg=-dial.rest_angle_deg)


@pytest.mark.parametrize("name", ["engine", "speed", "temp", "fuel"])
def test_a_mirrored_dial_is_pressed_at_the_mirrored_place(name):
    dial, glass = DIALS[name], mirrored(DIALS[name])
    rows = completed(drawn_run("as-left", 0.05, 3)).of_dial(name)
    seen = tuple(replace(row, angle_deg=-row.angle_deg) for row in rows)  # type: ignore[operator]
    here, there = planned(dial, rows, A_HAND), planned(glass, seen, A_HAND)
    assert there.turn_deg == pytest.approx(-here.turn_deg, abs=1e-9)
    assert there.reference.press_deg == pytest.approx(-here.reference.press_deg, abs=1e-9)
    assert there.reference.above_mark_deg == pytest.approx(here.reference.above_mark_deg, abs=1e-9)
    assert there.room_deg == pytest.approx(here.room_deg, abs=1e-9)
    assert there.pass_probability == pytest.approx(here.pass_probability, abs=1e-12)


def test_a_speedometer_is_aimed_not_to_read_low_whatever_its_rule_allows():
    dial = replace(DIALS["speed"], rule={"house": {"of_span": 0.05}})
    dial = replace(dial, programme=type(dial.programme)())
    found = planned(dial, made_rows(dial, seat_deg=-2.0), A_HAND)
    # With a true-reading programme half a tip width at rest is all the room there is upward.
    half_tip = tip_deg(dial) / 2
    aimed = found.turn_deg - 2.0  # clockwise is up on this dial
    assert dial.scale.sense == 1
    assert 0 < aimed < half_tip
    assert found.room_deg[0] == pytest.approx(aimed, abs=1e-6)
    assert found.room_deg[1] == pytest.approx(half_tip - aimed, abs=1e-6)
    assert found.low_probability is not None
    assert 0.2 < found.low_probability < 0.8
    other = planned(wide("engine"), made_rows(wide("engine")))
    assert other.low_probability is None


def test_without_a_place_nothing_is_pressed():
    dial = replace(DIALS["engine"], rule={"house": {"of_span": 0.01}})

    def leans(i: int, told: float, approach: str) -> float:
        return 3.0 * told

    found = planned(dial, made_rows(dial, leans))
    assert found.verdict == "no_place"
    assert min(found.room_deg) < 0
    assert found.pass_probability < 0.01
    assert any("no one turn explains" in doubt for doubt in found.doubts)


def test_the_expected_pass_is_what_pressed_needles_come_to():
    """Needles pressed and read again, judged by margins and rest room as any needle is."""
    dial, rng = DIALS["engine"], np.random.default_rng(12)
    rows = made_rows(dial, seat_deg=3.0)
    found = planned(dial, rows, A_HAND)
    rule, trials, passed = rule_of(dial), 1500, 0
    free = [row for row in rows if row.angle_deg is not None]
    # The run's rows lie on one turn, so none of their scatter was the movement's: it is read once
    # more. At rest nothing tells the two apart, and it strays then and now.
    times = [1.0 if row.commanded is not None else sqrt(2) for row in free]
    u = [np.hypot(dial.movement.repeatability_deg, row.u_angle_deg) for row in free]
    stray = np.multiply(times, u)
    for _ in range(trials):
        shift = found.turn_deg + rng.normal(0, found.reference.spread_deg)
        off = rng.normal(0, stray)
        after = [
            replace(row, angle_deg=row.angle_deg + shift + one, indicated=None, flags=())
            for row, one in zip(free, off, strict=True)
        ]
        margin = smallest_margin(dial, ruled_rows(dial, seat_rows(dial, after, ECC_MM), rule))
        passed += margin is not None and margin.size >= 0 and rest_room(dial, after, 0).allows(0)
    expected = found.pass_probability
    assert 0.1 < expected < 0.95
    assert passed / trials == pytest.approx(expected, abs=4 * sqrt(expected / trials))


def test_check_points_that_the_run_does_not_hold_are_said():
    dial = DIALS["speed"]
    rows = completed(drawn_run("as-left")).of_dial("speed")
    rule = rule_of(dial)
    assert rule is not None
    assert not [one for one in planned(dial, rows).doubts if "final check needs" in one]
    highest = max(rule.check_points())
    fewer = tuple(row for row in rows if row.commanded is None or row.commanded < highest - 5)
    said = [one for one in planned(dial, fewer).doubts if "final check needs" in one]
    assert len(said) == 1
    assert f"{highest:g} km/h as well" in said[0]


# -- chances ----------------------------------------------------------------------------------

ROWS: Final = (
    Window("a", -1.0, 2.0, 0.3, 0.2),
    Window("b", -0.6, 1.5, 0.2, 0.1),
    Window("c", -np.inf, 1.8, 0.5, 0.2),
)


@pytest.mark.parametrize("rise", [-0.5, 0.3, 1.4])
def test_integration_agrees_with_the_closed_form_of_one_row(rise):
    """JCGM 106:2012, 7.4: a normal distribution between two limits."""
    for window in (ROWS[0], ROWS[2]):
        u = np.hypot(0.4, window.stray_deg)
        truth = norm.cdf((window.high_deg - rise) / u) - norm.cdf((window.low_deg - rise) / u)
        assert chance_of_one(window, rise, 0.4) == pytest.approx(truth, abs=1e-12)
        assert chance_by_integration([window], rise, 0.4) == pytest.approx(truth, abs=1e-6)


def test_rows_that_stray_not_at_all_leave_the_hand_alone():
    firm = [replace(one, stray_deg=0.0) for one in ROWS]
    truth = norm.cdf((1.5 - 0.2) / 0.4) - norm.cdf((-0.6 - 0.2) / 0.4)
    assert chance_by_integration(firm, 0.2, 0.4) == pytest.approx(truth, abs=1e-3)


def test_a_hand_that_does_not_stray_leaves_the_rows_alone():
    truth = np.prod([chance_of_one(one, 0.2, 0.0) for one in ROWS])
    assert chance_by_integration(ROWS, 0.2, 0.0) == pytest.approx(truth, abs=1e-9)


def test_trials_agree_with_integration_within_their_own_uncertainty():
    for rise in (-0.4, 0.5, 1.2):
        counted = chance_by_trials(ROWS, rise, 0.4)
        truth = chance_by_integration(ROWS, rise, 0.4)
        assert counted.u_probability < 0.0015
        assert abs(counted.probability - truth) < 4 * counted.u_probability


def test_the_balanced_rise_is_the_best_of_all():
    rng = np.random.default_rng(5)
    for _ in range(40):
        ends = np.sort(rng.uniform(-3, 3, (4, 2)), axis=1)
        windows = [Window("r", lo, hi, rng.uniform(0.05, 0.8), 0.0) for lo, hi in ends]
        best = balanced_rise(windows, 0.3)
        assert best is not None
        at_best = smallest_in_spreads(windows, best, 0.3)
        tried = [smallest_in_spreads(windows, x, 0.3) for x in np.linspace(-4, 4, 801)]
        assert at_best >= max(tried) - 1e-12
    assert balanced_rise([ROWS[2]], 0.3) is None


# -- hands ------------------------------------------------------------------------------------


def pressed(off_tips: list[float], tip: float = 1.8) -> list[PressedNeedle]:
    return [PressedNeedle("d", 10.0, 10.0 + one * tip, tip) for one in off_tips]


def test_a_hand_is_the_stated_default_until_there_are_ten_needles():
    few = hand_spread(pressed([0.1] * 9))
    assert (few.sd_tips, few.is_default, few.count) == (DEFAULT_TIPS, True, 9)
    assert not hand_spread(pressed([0.1] * 10)).is_default


def test_a_hand_is_learned_with_its_uncertainty_and_slips_do_not_spoil_it():
    rng = np.random.default_rng(8)
    estimates, stated = [], []
    for _ in range(400):
        one = hand_spread(pressed(list(0.1 + 0.3 * rng.standard_normal(30))))
        estimates.append(one.sd_tips)
        stated.append(one.u_tips)
    assert np.mean(estimates) == pytest.approx(0.3, abs=0.01)
    assert np.std(estimates) == pytest.approx(np.mean(stated), rel=0.15)
    truth = [*(0.3 * rng.standard_normal(200)), *([9.0] * 10)]
    slipped = hand_spread(pressed(truth))
    assert slipped.sd_tips == pytest.approx(0.3, abs=3 * slipped.u_tips + 0.03)
    habit = hand_spread(pressed(list(0.4 + 0.05 * rng.standard_normal(100))))
    assert habit.bias_tips == pytest.approx(0.4, abs=0.02)
    assert habit.planned_tips > 0.4


# -- refusals ---------------------------------------------------------------------------------


def test_a_run_that_cannot_be_used_is_refused_in_one_sentence():
    dial = DIALS["fuel"]
    with pytest.raises(RunError, match=r"dial 'fuel': no row at rest after homing"):
        planned(dial, made_rows(dial, rest=False))
    rows = made_rows(dial)
    stopped = tuple(replace(row, flags=("on_stop",), angle_deg=dial.rest_angle_deg) for row in rows)
    with pytest.raises(RunError, match="every commanded row stands on a stop"):
        planned(dial, stopped)
    with pytest.raises(RunError, match="dial 'fuel': not in this run; take it into the next one"):
        planned(dial, rows[:1])
    unread = tuple(replace(row, angle_deg=None) for row in rows[1:])
    with pytest.raises(RunError, match="no commanded row was read"):
        planned(dial, (rows[0], *unread))
    with pytest.raises(RunError, match=r"row 1, dial 'd': achieved \+100\.0 deg where"):
        hand_spread([PressedNeedle("d", 0.0, 100.0, 1.5)])
    with pytest.raises(RunError, match="a turn is no number"):
        hand_spread([PressedNeedle("d", float("nan"), 1.0, 1.5)])


def test_a_speedometer_without_a_rule_passes_only_where_it_reads_low_nowhere():
    dial = replace(DIALS["speed"], rule=None)
    rows = made_rows(dial, seat_deg=-2.0)
    found = plan_press(dial, rows, None, ECC_MM, A_HAND)
    assert found.low_probability is not None
    assert found.pass_probability <= 1.0 - found.low_probability + 1e-9
    at_rest = [one for one in found.judged if one not in found.low]
    assert len(found.judged) == len(at_rest) + len(found.low)
    assert any("programme, never low and rest" in doubt for doubt in found.doubts)
    # a rule that speaks of every row decides by itself, and none of them counts twice
    ruled = planned(DIALS["speed"], rows, A_HAND)
    names = [one.name for one in ruled.judged]
    assert len(names) == len(set(names))


@pytest.mark.parametrize(("u_deg", "verdict"), [(0.05, "press"), (40.0, "no_place")])
def test_what_would_hardly_ever_pass_is_not_offered(u_deg, verdict):
    dial = DIALS["engine"]
    rows = tuple(
        replace(row, u_angle_deg=u_deg) if row.angle_deg is not None else row
        for row in made_rows(dial, seat_deg=1.0)
    )
    found = planned(dial, rows)
    assert min(found.room_deg) > 0  # there is an aim that fits
    assert found.verdict == verdict
    assert (found.pass_probability < LEAST_CHANCE) == (verdict == "no_place")
    if verdict == "no_place":
        assert "cannot tell a good needle from a bad one" in found.doubts[0]
        assert found.doubts[0].endswith("read it by the camera, or to a tenth of a graduation")
        # who had the camera read it is not told to take the camera
        seen = planned(dial, tuple(replace(row, photo="photos/1.png") for row in rows)).doubts[0]
        assert seen.startswith(found.doubts[0].partition(";")[0])
        assert seen.endswith(
            "bring the camera closer, hold it still and sharp, and take the run again"
        )
        assert "read it by the camera" not in seen
        typed = tuple(replace(row, photo="1.png", flags=(*row.flags, BY_EYE)) for row in rows)
        assert planned(dial, typed).doubts[0] == found.doubts[0]
