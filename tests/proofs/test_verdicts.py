from dataclasses import replace

import pytest

from needlewright.errors import RuleError, RunError
from needlewright.families.model import Dial, Family
from needlewright.families.scale import Scale
from needlewright.proofs.row_verdicts import ON_STOP_NOTE
from needlewright.proofs.verdict_model import worst
from needlewright.proofs.verdicts import judge_run
from needlewright.readings.runs import Run, RunRow
from proofs.drawn_job import FAMILY, row, true_run

R39_POINTS = ((40.0, 42.5), (80.0, 83.5), (120.0, 124.0))


def speed_verdict(rows, family=FAMILY, **more):
    return judge_run(family, Run("typed", tuple(rows)), **more).dial("speed")


def with_dial(dial_id: str, **changes) -> Family:
    dials = tuple(replace(d, **changes) if d.id == dial_id else d for d in FAMILY.dials)
    return replace(FAMILY, dials=dials)


def r39_rows(**more) -> list[RunRow]:
    return [row("speed", true, shown, **more) for true, shown in R39_POINTS]


# the drawn job, read perfectly


def test_as_found_what_was_wrong_does_not_conform():
    verdict = judge_run(FAMILY, true_run("as-found"))
    codes = {dial.dial: dial.code for dial in verdict.dials}
    assert codes == {
        "engine": "fail",
        "speed": "fail",
        "temp": "conditional_pass",
        "fuel": "conditional_fail",
    }
    assert verdict.code == "fail"
    assert not verdict.speedometers_conform


def test_as_found_speedometer_row_by_row():
    speed = judge_run(FAMILY, true_run("as-found")).dial("speed")
    codes = [(r.true_value, r.row.approach, r.code) for r in speed.rows]
    assert codes == [
        (None, "rest", "pass"),
        (0.0, "up", "pass"),
        (40.0, "up", "pass"),
        (80.0, "up", "pass"),
        (120.0, "up", "fail"),
        (160.0, "up", "fail"),
        (200.0, "up", "conditional_fail"),
        (160.0, "down", "fail"),
        (120.0, "down", "fail"),
        (80.0, "down", "fail"),
        (40.0, "down", "fail"),
        (0.0, "down", "fail"),  # two degrees below its rest angle, on the stop
    ]
    assert (speed.worst_row.true_value, speed.worst_row.row.approach) == (40.0, "down")
    assert speed.worst_row.margin == pytest.approx(-3.472, abs=1e-3)
    assert "8 outside; worst at 40 km/h, down: outside the rule by 3.47 km/h" in speed.summary


def test_as_left_everything_conforms():
    verdict = judge_run(FAMILY, true_run("as-left"))
    assert [d.code for d in verdict.dials] == [
        "pass",
        "pass",
        "conditional_pass",
        "conditional_pass",
    ]
    assert all(d.complete and d.conforms for d in verdict.dials)
    assert verdict.speedometers_conform
    assert verdict.code == "conditional_pass"


def test_fuel_needle_on_its_pin_at_rest_is_no_error():
    rest, told_zero = judge_run(FAMILY, true_run("as-left")).dial("fuel").rows[:2]
    assert rest.row.on_stop
    assert (rest.code, rest.basis, rest.limits_unit) == ("pass", "rest", "deg")
    assert (rest.error, rest.u_error) == (None, None)
    assert rest.margin == pytest.approx(1.3394, abs=1e-4)  # on the rest angle: all of half a tip
    # told zero it stands at the first mark, seven degrees above the pin
    assert told_zero.code == "pass"
    assert told_zero.margin == pytest.approx(1.3394 - 0.4059, abs=1e-3)


# rows under the rule


def test_a_row_carries_the_numbers_it_was_decided_on():
    judged = speed_verdict([row("speed", 80.0, 82.976, u_commanded=0.15)]).rows[0]
    assert (judged.limits.lower, judged.limits.upper) == (80.0, 92.0)
    assert judged.error == pytest.approx(2.976, abs=1e-9)
    assert judged.u_error == pytest.approx(0.25, abs=1e-9)
    assert judged.expanded == pytest.approx(0.5, abs=1e-9)
    assert judged.margin == judged.error
    assert judged.probability == pytest.approx(1.0, abs=1e-9)
    assert (judged.basis, judged.words, judged.notes) == ("rule", "conforms", ())


def test_stimulus_that_is_not_stated_is_said_so():
    assert not speed_verdict(r39_rows()).stimulus_stated
    assert speed_verdict(r39_rows(u_commanded=0.0)).stimulus_stated


@pytest.mark.parametrize(
    ("shown", "code"),
    [
        (80.4, "pass"),
        (80.3, "conditional_pass"),
        (79.9, "conditional_fail"),
        (79.5, "fail"),
        (91.6, "pass"),
        (91.9, "conditional_pass"),
        (92.5, "fail"),
    ],
)
def test_r39_with_u_0_4(shown, code):
    rows = [row("speed", 40.0, 42.5), row("speed", 80.0, shown), row("speed", 120.0, 124.0)]
    assert speed_verdict(rows).code == code


def test_r39_is_applied_beyond_its_test_speeds():
    verdict = speed_verdict([*r39_rows(), row("speed", 10.0, 9.0)])
    assert verdict.rows[-1].code == "fail"
    assert verdict.code == "fail"


# completeness


def test_a_point_nobody_commanded_is_not_complete():
    verdict = speed_verdict(r39_rows()[:2])
    assert (verdict.code, verdict.complete, verdict.missing) == ("not complete", False, (120.0,))
    assert not verdict.conforms
    assert "un-r39 asks for 120 km/h, which no row that was read has" in verdict.summary


def test_a_point_that_was_commanded_and_not_read_is_not_complete():
    unread = row("speed", 120.0, None, flags=("occluded",))
    verdict = speed_verdict([*r39_rows()[:2], unread])
    assert (verdict.code, verdict.missing) == ("not complete", (120.0,))
    assert verdict.rows[-1].words == "not read: occluded"
    # read at the same point on the way down: complete, but one row stays unread
    again = speed_verdict([*r39_rows(), unread])
    assert (again.code, again.complete) == ("not_read", True)
    assert not again.conforms


def test_an_outright_failure_outranks_a_missing_point():
    verdict = speed_verdict([row("speed", 80.0, 70.0)])
    assert (verdict.code, verdict.missing) == ("fail", (40.0, 120.0))


def test_stated_design_speed_changes_the_points():
    rows = [row("speed", 40.0, 42.5), row("speed", 80.0, 83.5)]
    assert speed_verdict(rows, max_speed=110.0).code == "pass"
    assert speed_verdict(rows, max_speed=130.0).missing == (104.0,)


def test_mph_dial_under_r39():
    marks = tuple(float(v) for v in range(0, 141, 20))
    scale = Scale(marks, tuple(-110.0 + 1.6 * v for v in marks))
    family = with_dial("speed", unit="mph", scale=scale, rest_angle_deg=-110.0)
    rows = [
        RunRow("typed", "speed", "mph", "up", told, indicated=told + 1.5, u_indicated=0.2)
        for told in (25.0, 50.0, 75.0)
    ]
    assert speed_verdict(rows, family).code == "pass"
    high = replace(rows[1], indicated=50.0 + 5.0 + 4.0 / 1.609344 + 0.5)
    assert speed_verdict([rows[0], high, rows[2]], family).code == "fail"


def test_a_dial_without_rows_or_without_a_rule_is_not_complete():
    verdict = judge_run(FAMILY, Run("typed", tuple(r39_rows())))
    assert verdict.dial("engine").code == "not complete"
    assert "no row in this run" in verdict.dial("engine").summary
    assert verdict.code == "not complete"
    bare = speed_verdict(r39_rows(), with_dial("speed", rule=None))
    assert (bare.code, bare.complete, bare.missing) == ("not complete", False, ())
    assert bare.rows[0].words == "not judged: the family states no rule"
    assert not bare.conforms


# rules that speak at one point, rules that allow reading low


def test_point_rule_judges_its_point_and_says_so_of_the_others():
    us = with_dial("speed", rule="us-393.82")
    verdict = speed_verdict([row("speed", 40.0, 20.0), row("speed", 80.0, 84.0)], us)
    assert [r.code for r in verdict.rows] == ["not_judged", "pass"]
    assert verdict.rows[0].words == "not judged: us-393.82 says nothing at this value"
    assert verdict.rows[0].notes == ("may read low, by up to 20.4 km/h",)
    assert (verdict.code, verdict.complete) == ("pass", True)
    only_other = speed_verdict([row("speed", 40.0, 42.0)], us)
    assert (only_other.code, only_other.missing) == ("not complete", (80.0,))


def test_japan_is_complete_when_the_dial_was_made_to_show_40():
    jp = with_dial("speed", rule="jp-148")
    assert speed_verdict([row("speed", 38.0, 40.0)], jp).code == "pass"
    assert speed_verdict([row("speed", 43.0, 40.0)], jp).code == "fail"  # 0.94 x 43 = 40.42
    older = with_dial("speed", rule="jp-148-before-2007")
    assert speed_verdict([row("speed", 43.0, 40.0)], older).code == "pass"  # 0.90 x 43 = 38.7


@pytest.mark.parametrize(
    ("shown", "notes"),
    [
        (80.5, ()),
        (80.3, ("may read low, by up to 0.1 km/h",)),
        (76.0, ("may read low, by up to 4.4 km/h",)),
    ],
)
def test_rows_that_may_read_low_carry_a_note_where_it_is_allowed(shown, notes):
    us = with_dial("speed", rule="us-393.82")
    judged = speed_verdict([row("speed", 80.0, shown)], us).rows[0]
    assert (judged.code, judged.notes) == ("pass", notes)
    assert speed_verdict([row("speed", 80.0, shown)]).rows[0].notes == ()  # R39 forbids it


# zero, rest, stops


def test_only_the_rest_limit_counts_at_zero_and_at_rest():
    half_tip_kmh = 0.8831 / 1.04035  # of the speedometer: degrees over degrees per km/h
    verdict = speed_verdict(
        [
            *r39_rows(),
            row("speed", None, 0.3, u_indicated=0.05),
            row("speed", 0.0, -0.5, u_indicated=0.05),  # R39 would forbid reading low
            row("speed", 0.0, 1.2, u_indicated=0.05),
        ]
    )
    rest, below, above = verdict.rows[-3:]
    assert [r.basis for r in (rest, below, above)] == ["rest", "rest", "rest"]
    assert [r.code for r in (rest, below, above)] == ["pass", "pass", "fail"]
    assert below.margin / 1.04035 == pytest.approx(half_tip_kmh - 0.5, abs=1e-3)
    assert verdict.code == "fail"


def test_first_mark_family_counts_rest_from_the_first_mark():
    family = with_dial("fuel", rest_mark="first_mark")
    rows = [row("fuel", None, None, angle_deg=146.593, u_angle_deg=0.1, flags=("on_stop",))]
    judged = judge_run(family, Run("typed", tuple(rows))).dial("fuel").rows[0]
    assert judged.code == "fail"
    assert judged.margin == pytest.approx(1.3394 - 7.279, abs=1e-3)


def test_fuel_told_zero_may_lie_on_its_pin_or_at_the_first_mark_not_between():
    def code(angle_deg: float) -> str:
        told_zero = row("fuel", 0.0, None, angle_deg=angle_deg, u_angle_deg=0.1)
        return judge_run(FAMILY, Run("typed", (told_zero,))).dial("fuel").rows[0].code

    assert [code(a) for a in (146.6, 143.0, 139.3, 136.0)] == ["pass", "fail", "pass", "fail"]


def test_temperature_zero_is_its_first_mark():
    told = row("temp", 40.0, None, angle_deg=133.5, u_angle_deg=0.05)
    judged = judge_run(FAMILY, Run("typed", (told,))).dial("temp").rows[0]
    assert (judged.basis, judged.code) == ("rest", "pass")


def test_a_needle_on_its_stop_under_the_rule_is_one_sided():
    # told 5 km/h: the limits are 5..9.5; what would stand below a stop cannot be more than it
    low = speed_verdict([row("speed", 5.0, -1.9, flags=("on_stop",))]).rows[0]
    assert (low.code, low.error, low.u_error) == ("fail", None, None)
    assert low.notes == (ON_STOP_NOTE,)
    # inside the limits it says nothing of where the needle would stand: no plain pass
    wide = with_dial("speed", rule={"house": {"of_span": 0.05}})
    inside = speed_verdict([row("speed", 5.0, -1.9, flags=("on_stop",))], wide).rows[0]
    assert (inside.code, inside.margin) == ("conditional_pass", pytest.approx(4.1, abs=1e-9))


def test_a_needle_beyond_what_the_scale_can_state_is_not_read_but_judged_at_rest():
    lost = speed_verdict([row("speed", 40.0, None, angle_deg=-150.0, u_angle_deg=0.1)]).rows[0]
    assert lost.words == "not read: the needle stands too far beyond the scale"
    rest = speed_verdict([row("speed", None, None, angle_deg=-150.0, u_angle_deg=0.1)]).rows[0]
    assert (rest.code, rest.margin) == ("fail", pytest.approx(0.8831 - 39.68, abs=1e-3))


def test_unread_rest_row():
    judged = speed_verdict([*r39_rows(), row("speed", None, None)])
    assert judged.rows[-1].words == "not read: no value in the row"
    assert judged.code == "not_read"


def test_typed_value_without_uncertainty_is_read_by_eye():
    # half of the 20 km/h between marks, over root three, dwarfs the room R39 leaves
    rows = [row("speed", true, shown, u_indicated=None) for true, shown in R39_POINTS]
    verdict = speed_verdict(rows)
    assert verdict.code == "conditional_pass"
    assert verdict.rows[0].u_error == pytest.approx(5.7735, abs=1e-4)


# what cannot be judged


def test_rows_that_do_not_fit_are_refused_in_one_sentence():
    def refused(bad: RunRow) -> str:
        with pytest.raises(RunError) as caught:
            judge_run(FAMILY, Run("typed", (bad,)))
        assert "\n" not in str(caught.value)
        return str(caught.value)

    assert "row 1" in refused(replace(row("speed", 80.0, 83.0), dial="boost"))
    assert "mph" in refused(replace(row("speed", 80.0, 83.0), unit="mph"))
    assert "'commanded' is empty" in refused(row("speed", None, 83.0, approach="up"))


def test_speedometer_rule_on_another_dial_is_refused():
    with pytest.raises(RuleError, match="for speedometers"):
        judge_run(with_dial("temp", rule="un-r39"), true_run("as-left"))


def test_a_cluster_without_a_speedometer_has_none_that_conforms():
    dials: tuple[Dial, ...] = tuple(d for d in FAMILY.dials if d.id != "speed")
    run = true_run("as-left")
    rest = replace(run, rows=tuple(r for r in run.rows if r.dial != "speed"))
    assert not judge_run(replace(FAMILY, dials=dials), rest).speedometers_conform


def test_worst_of_codes():
    assert worst(("pass", "not_judged", "conditional_pass")) == "conditional_pass"
    assert worst(("not complete", "conditional_fail")) == "conditional_fail"
    assert worst(("pass", "not_judged")) == "pass"
    assert worst(()) == "not_judged"
