"""Needles set under the live picture: targets, what is written down, and what is read back."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from needlewright.composing.pressed_needles import pressed_in, pressed_line, shop_pressed
from needlewright.families.model import Dial, Family
from needlewright.plans.pressing.hand import PressedNeedle, tip_deg
from needlewright.records.runs import start_run
from needlewright.records.sheet import job_sheet
from needlewright.records.told import Told
from needlewright.records.undo import undo_last
from web.live_bench import Live, WatchedDesk, drawn_of, stands_at
from web.live_lines import line, stood
from web.sheet_desk import TAG, desk, received


def told_to_stand_at(dial: Dial, angle_deg: float) -> float:
    """What a sound unit is told so that its needle stands at an angle, by bisection."""
    low, high = dial.scale.values[0], dial.scale.values[-1]
    for _ in range(60):
        middle = (low + high) / 2
        below = dial.scale.sense * (dial.programme_angle_deg(middle) - angle_deg) < 0
        low, high = (middle, high) if below else (low, middle)
    return (low + high) / 2


def steps_to_set(family: Family, off_deg: float) -> tuple[Told, ...]:
    """At rest, then every needle on its target, then every target `off_deg` up the scale."""
    truth = stands_at(family)
    rows = [Told(0, dial.id, dial.unit, "rest", None, 21.0) for dial in family.dials]
    for step, off in ((1, 0.0), (2, off_deg)):
        for dial in family.dials:
            at = told_to_stand_at(dial, truth[dial.id] + dial.scale.sense * off)
            rows.append(Told(step, dial.id, dial.unit, "up", at, 21.0))
    return tuple(rows)


OFF_DEG = 6.0


@pytest.fixture
def setting(tmp_path: Path) -> Iterator[Live]:
    pictures = WatchedDesk()
    with desk(tmp_path / "shop", live_desk=pictures) as one:
        received(one.shop)
        run = start_run(one.shop, TAG, "found", steps_to_set(one.family, OFF_DEG))
        yield Live(one, run.id, drawn_of(one.family), pictures)


def write_down(live: Live, live_id: str, **fields: object):
    sent = {"live": live_id, "step": 2, "dial": "speed", "from_deg": "0", **fields}
    return live.desk.script(f"{live.place}/set", {name: str(one) for name, one in sent.items()})


def test_a_needle_that_was_set_is_written_down_as_intended_and_achieved(setting: Live):
    dial = setting.desk.family.dial("speed")
    assert dial is not None
    truth = stands_at(setting.desk.family)["speed"]
    with line(setting) as opened:
        live_id = opened.receive_json()["live"]
        look = stood(opened, setting)
        answer = write_down(setting, live_id, from_deg=truth - 3.0)
        assert answer.status_code == 200, answer.text
    said = answer.json()
    [needle] = pressed_in(job_sheet(setting.desk.shop, TAG).work_done)
    assert needle.intended_deg == pytest.approx(OFF_DEG + 3.0, abs=0.01)
    assert needle.achieved_deg == pytest.approx(3.0, abs=0.25)
    assert needle.tip_deg == pytest.approx(tip_deg(dial), abs=0.01)
    assert (said["dial"], said["inside"], said["low"]) == ("speed", False, True)
    assert said["line"].startswith("speed: needle set at ")
    assert shop_pressed(setting.desk.shop) == (needle,)
    assert said["line"] in setting.desk.get()
    undo_last(setting.desk.shop, TAG)
    assert job_sheet(setting.desk.shop, TAG).work_done == ()
    the_tip_lies_on_its_wheel(look)


def the_tip_lies_on_its_wheel(look) -> None:
    """As far from its middle as the quarter points are, but for perspective."""
    for seen in look["dials"]:
        tip, wheel = seen["line"][1], seen["wheel"]
        assert len(wheel) == 4
        middle = [sum(one[axis] for one in wheel) / 4 for axis in (0, 1)]
        radii = [((x - middle[0]) ** 2 + (y - middle[1]) ** 2) ** 0.5 for x, y in (*wheel, tip)]
        assert radii[4] == pytest.approx(sum(radii[:4]) / 4, rel=0.06)


def test_what_cannot_be_written_down_is_said_and_nothing_is(setting: Live):
    refused = {
        "tells dial 'speed' nothing to set its needle by": {"step": 0},
        "tells dial 'oil' nothing to set its needle by": {"dial": "oil"},
        "is no direction ('north')": {"from_deg": "north"},
        "is no direction ('nan')": {"from_deg": "nan"},
        "it has ended, or belongs to another window": {},
    }
    for says, fields in refused.items():
        answer = write_down(setting, "none", **fields)
        assert answer.status_code == 422
        assert says in answer.json()["error"]["what"]
    assert job_sheet(setting.desk.shop, TAG).work_done == ()


def test_lines_of_another_form_teach_nothing():
    one = PressedNeedle("speed", -3.4, -3.32, 1.77)
    words = pressed_line(one, "80 km/h")
    assert words == "speed: needle set at 80 km/h, intended −3.40°, achieved −3.32°, tip 1.77°"
    lines = [
        words,
        "speed: needle turned 3.4° clockwise",
        words.replace("tip 1.77", "tip 0.00"),
        words.replace("−3.32", "+90.00"),
    ]
    assert pressed_in(lines) == (one,)
