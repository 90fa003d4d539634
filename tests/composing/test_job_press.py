"""Needles of a job onto its new movements: out of the records, and back into them."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from needlewright.composing.job_press import job_press, landed_words, movement_runs, set_lines
from needlewright.composing.needle_press import press_document
from needlewright.composing.pressed_needles import (
    PressedOnto,
    pressed_in,
    pressed_onto,
    pressed_onto_line,
    shop_pressed,
)
from needlewright.errors import RecordError, RunError
from needlewright.papers.wording import work_words
from needlewright.plans.pressing.hand import DEFAULT_TIPS, tip_deg
from needlewright.records.jobs import edit_job
from needlewright.records.runs import set_aside_run
from needlewright.records.sheet import job_sheet
from web.moved_desk import SEATS, moved_desk
from web.sheet_desk import TAG, Desk, desk, received, taken_run


@pytest.fixture
def moved(tmp_path: Path) -> Iterator[Desk]:
    """A job with a run of new movements, its needles at any angle."""
    with moved_desk(tmp_path / "shop") as one:
        yield one


def onto(desk: Desk, dial: str, off_tips: float, run: str = "check") -> PressedOnto:
    found = next(one for one in job_press(desk.shop, TAG).dials if one.dial.id == dial)
    assert found.planned.press is not None
    at, tip = found.planned.press.reference, tip_deg(found.dial)
    achieved = at.press_deg + found.dial.scale.sense * off_tips * tip
    return PressedOnto(dial, run, at.value, at.approach, at.press_deg, achieved, 0.1, tip)


def write_down(desk: Desk, one: PressedOnto) -> str:
    line = pressed_onto_line(one, "km/h")
    edit_job(desk.shop, TAG, {"work_done": [*job_sheet(desk.shop, TAG).work_done, line]})
    return line


def test_the_plan_comes_from_the_newest_run_of_new_movements(moved: Desk):
    found = job_press(moved.shop, TAG)
    assert [one.dial.id for one in found.dials] == [dial.id for dial in moved.family.dials]
    assert found.sheet.name == "check"
    assert found.hand.sd_tips == DEFAULT_TIPS
    product = 1.0
    for one in found.dials:
        press = one.planned.press
        assert press is not None
        assert one.now == press.pass_probability
        product *= press.pass_probability
        if not one.dial.rest_pin:
            assert press.turn_deg == pytest.approx(-SEATS[one.dial.id], abs=1.5)
    assert found.chance == pytest.approx(product)
    assert len(found.open_dials) == len(found.dials)


def test_what_was_pressed_is_read_back_and_the_chance_follows(moved: Desk):
    good = write_down(moved, onto(moved, "engine", 0.05))
    write_down(moved, onto(moved, "temp", 2.0))
    write_down(moved, onto(moved, "speed", -3.0, run="another"))
    found = {one.dial.id: one for one in job_press(moved.shop, TAG).dials}
    engine, temp = found["engine"], found["temp"]
    assert engine.landed is not None
    assert engine.landed.off_deg == pytest.approx(0.05 * tip_deg(engine.dial), abs=0.006)
    assert engine.landed.u_deg == pytest.approx(0.1, abs=1e-9)
    assert engine.now == engine.landed.pass_probability
    assert landed_words(engine.landed).startswith("stays; expected pass ")
    assert temp.landed is not None
    assert temp.landed.advice == "again"
    assert "press it again" in set_lines(temp)[1]
    assert found["speed"].landed is None  # pressed by another run
    assert [one.dial.id for one in job_press(moved.shop, TAG).open_dials] == [
        "speed", "temp", "fuel",
    ]  # fmt: skip
    assert " needle pressed at " in good
    assert [one.dial for one in shop_pressed(moved.shop)] == ["engine", "temp", "speed"]
    write_down(moved, onto(moved, "temp", 0.0))
    again = {one.dial.id: one for one in job_press(moved.shop, TAG).dials}["temp"].landed
    assert again is not None
    assert again.off_deg == pytest.approx(0.0, abs=0.006)


def test_a_line_is_written_in_one_form_and_others_are_passed_over():
    one = PressedOnto("speed", "check-2", 80.0, "up", -12.5, -12.25, 0.12, 1.77)
    line = pressed_onto_line(one, "km/h")
    assert line == (
        "speed: needle pressed at 80 km/h from below after run check-2, intended −12.50°, achieved "
        "−12.25° ± 0.24°, tip 1.77°"
    )
    assert pressed_onto([line], "check-2") == {"speed": one}
    assert pressed_onto([line], "check") == {}
    older = line.replace("−", "-")  # as lines were written before
    assert pressed_onto([older], "check-2") == {"speed": one}
    assert pressed_in([older]) == pressed_in([line])
    assert (
        work_words(line)
        == work_words(older)
        == "speed: needle pressed onto its movement at 80 km/h"
    )
    assert pressed_onto([line.replace("±", "about")], "check-2") == {}
    [taught] = pressed_in([line])
    assert taught.off_tips == pytest.approx(0.25 / 1.77)
    down = replace(one, approach="down", value=1.5e-7)
    assert pressed_onto([pressed_onto_line(down, "km/h")], "check-2") == {"speed": down}


def test_without_a_run_or_readings_one_sentence_says_what_to_do(tmp_path: Path):
    with desk(tmp_path / "shop") as one:
        received(one.shop)
        with pytest.raises(RecordError, match="no run of its new movements; push any needle"):
            job_press(one.shop, TAG)
        unread = taken_run(one, "other", read=0)
        with pytest.raises(RunError, match="run check: nothing of it is read yet"):
            job_press(one.shop, TAG)
        with pytest.raises(RecordError, match="there is no run 'nowhere'; it has check"):
            job_press(one.shop, TAG, name="nowhere")
        set_aside_run(one.shop, unread.id, "camera moved")
        assert movement_runs(job_sheet(one.shop, TAG)) == ()
        with pytest.raises(RecordError, match="run check: is set aside"):
            job_press(one.shop, TAG, name="check")


def test_a_dial_nothing_is_known_of_is_named_beside_the_chance_of_the_others(moved: Desk):
    whole = job_press(moved.shop, TAG)
    assert (whole.unknown, whole.whose) == ((), "all 4 dials")
    found = job_press(moved.shop, TAG, at={"engine": 7.77})
    (engine, *others) = found.dials
    assert engine.planned.press is None
    assert found.unknown == ("engine",)
    assert found.whose == "the 3 dials something is known of, not of engine"
    product = 1.0
    for one in others:
        assert one.now is not None
        product *= one.now
    assert found.chance == pytest.approx(product)
    document = press_document([one.planned for one in found.dials], found.hand)
    assert document["expected_pass_of_all"] is None
