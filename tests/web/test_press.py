"""Needles onto new movements on the page: the run, the plan with its reasons, and what was read."""

import re
from collections.abc import Iterator
from math import hypot
from pathlib import Path

import pytest

from needlewright.composing.job_press import job_press
from needlewright.composing.pressed_needles import pressed_lines, pressed_onto, shop_pressed
from needlewright.records.runs import run_sheet, start_run
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import change_settings
from needlewright.records.tables import BenchRun
from needlewright.records.undo import undo_last
from web.moved_desk import moved_desk
from web.sheet_desk import TAG, Desk, desk, part_of, received, taken_run, words_of

PLACE = f"/jobs/{TAG}/needle-set"


@pytest.fixture
def moved(tmp_path: Path) -> Iterator[Desk]:
    with moved_desk(tmp_path / "shop") as one:
        yield one


def said(page: str) -> list[str]:
    return [words_of(one) for one in re.findall(r'class="what">(.*?)</p>', page, re.DOTALL)]


def test_before_there_is_a_run_the_place_says_how_to_take_one(tmp_path: Path):
    with desk(tmp_path / "shop") as one:
        received(one.shop)
        page = words_of(one.get(PLACE))
        assert "There is no run of new movements yet." in page
        assert "Push any needle lightly onto each new movement, home it" in page
        sheet = part_of(one.get(), 'id="press"', 'id="other-start"')
        assert "Onto new movements" in sheet
        assert f'href="{PLACE}"' in sheet
        steps = one.get(f"/jobs/{TAG}/runs/other/steps")
        assert "Steps of the run of new movements" in steps
        assert "Run new movements at the bench" in one.get(f"/jobs/{TAG}/bench/other")
        taken_run(one, "other", read=0)
        assert said(one.get(PLACE)) == [
            f"Job {TAG}, run check: nothing of it is read yet; add its photos, or wait until they "
            "are read."
        ]


def test_a_run_is_typed_in_and_planned_from(moved: Desk):
    fields = {"no_camera": "yes", "step-0-approach": "rest", "step-0-shown-engine": "0"}
    for n, (told, shown) in enumerate([("2", "2.2"), ("4", "4.2"), ("6", "6.2")], start=1):
        fields |= {f"step-{n}-approach": "up", f"step-{n}-told-engine": told}
        fields[f"step-{n}-shown-engine"] = shown
    answer = moved.post(f"/jobs/{TAG}/runs/other/steps", fields)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/jobs/{TAG}#other-run")
    page = words_of(moved.get(PLACE))
    assert "By run check-2, R. Example" in page
    # Half a graduation of 1 either way is 1 / sqrt(12) = 0.289 of 33.4 deg a unit: 9.65 deg
    # (JCGM 100:2008, 4.3.7), in which no row can contradict another.
    (one,) = job_press(moved.shop, TAG).dials
    press = one.planned.press
    assert press is not None
    assert press.verdict == "no_place"
    for window in press.judged:  # half of that variance is each row's own, none of it kept
        own = hypot(9.6513 / 2**0.5, one.dial.movement.repeatability_deg)
        assert window.stray_deg == pytest.approx(own, abs=1e-3)
    assert "Expected pass of dial engine: under 1 %" in page
    assert "engine No place: do not press" in page
    assert "No place: do not press it; the best one has an expected pass of under 1 %" in page
    assert "a press is offered from 10 % on" in page
    assert "press-typed-engine" not in moved.get(PLACE)
    assert "where its limits leave 5.3° in all, so the check cannot tell a good needle" in page
    assert "The run came from one side only" in page
    assert "speed Press" not in page  # told nothing: its movement is not new


def test_every_number_of_the_plan_says_why(moved: Desk):
    found = job_press(moved.shop, TAG)
    page = moved.get(PLACE)
    assert page.count('class="press-dial"') == len(found.dials)
    assert page.count("<svg") >= len(found.dials)
    assert f"Expected pass of all 4 dials: {100 * found.chance:.0f} %" in words_of(page)
    assert "A stated default hand, 0.25 tip widths (common practice, no source)" in page
    for one in found.dials:
        press = one.planned.press
        assert press is not None
        place = part_of(page, f'id="press-{one.dial.id}"', "</article>")
        figures = part_of(place, 'class="press-figures"', "</div>")
        assert figures.count("<details") == 7 + (press.low_probability is not None)
        assert place.count("<tr>") == 1 + len(press.judged)
        words = words_of(place)
        assert f"{100 * press.pass_probability:.0f} %" in words
        assert "JCGM 106:2012, 7.4" in words
        at = press.reference
        whole = f"√({at.hand_deg:.2f}² + {at.seen_deg:.2f}²) = {at.spread_deg:.2f}°"
        assert whole in words
    assert "A speedometer is never set to read low." in page


def test_what_an_eye_reads_is_written_down_and_the_chance_follows(moved: Desk):
    before = job_press(moved.shop, TAG).dials[0].planned.press
    assert before is not None
    at = before.reference
    answer = moved.post(f"{PLACE}/engine", {"shows": f"{at.press_value + 0.02:.3f}", "u": "0,05"})
    assert (answer.status_code, answer.headers["location"]) == (303, f"{PLACE}#as-set")
    line = job_sheet(moved.shop, TAG).work_done[-1]
    pressed = pressed_onto([line], "check")["engine"]
    dial = moved.family.dial("engine")
    assert dial is not None
    slope = abs(dial.scale.slope_at(at.press_deg))
    assert pressed.u_deg == pytest.approx(0.05 / 3**0.5 / slope, abs=0.006)
    assert pressed.achieved_deg - pressed.intended_deg == pytest.approx(0.02 / slope, abs=0.01)
    came = job_press(moved.shop, TAG).dials[0].landed
    assert came is not None
    table = words_of(part_of(moved.get(PLACE), 'class="rows press-set"', "</table>"))
    assert f"{100 * came.pass_probability:.0f} %" in table
    assert "Stays; expected pass" in table
    assert "Stays; expected pass" in part_of(moved.get(), 'id="press"', "</ul>")
    assert line in moved.get()
    block = words_of(part_of(moved.get(PLACE), 'id="press-engine"', "</p>"))
    assert "engine Pressed Stays; expected pass" in block
    undo_last(moved.shop, TAG)
    assert "No needle was pressed by this run yet." in moved.get(PLACE)


def test_what_a_rehearsal_pressed_is_shown_as_rehearsed_and_is_no_work_done(moved: Desk):
    sheet = job_press(moved.shop, TAG).sheet
    with moved.shop.writing("a rehearsed run") as session:
        session.get_one(BenchRun, sheet.id).rehearsed = "rehearsed, sound"
    press = job_press(moved.shop, TAG).dials[0].planned.press
    assert press is not None
    before = shop_pressed(moved.shop)
    shows = f"{press.reference.press_value + 0.02:.3f}"
    assert moved.post(f"{PLACE}/engine", {"shows": shows, "u": "0.05"}).status_code == 303
    job = job_sheet(moved.shop, TAG)
    assert job.work_done == ()
    assert shop_pressed(moved.shop) == before
    assert job.notes[-1].text.startswith("rehearsed: engine: needle pressed at ")
    page = words_of(part_of(moved.get(PLACE), 'id="as-set"', "</table>"))
    assert f"engine {press.reference.press_deg:.2f}°" in page
    assert "Pressed in a rehearsal: no work done, and no hand is learned from it." in page
    assert list(pressed_onto(pressed_lines(job, rehearsed=True), sheet.name)) == ["engine"]
    assert pressed_lines(job, rehearsed=False) == ()
    change_settings(moved.shop, {"invented": False})
    answer = moved.post(f"{PLACE}/engine", {"shows": shows, "u": "0.05"})
    assert (answer.status_code, "was rehearsed" in answer.text) == (422, True)


def test_a_needle_far_off_is_to_be_pressed_again(moved: Desk):
    press = job_press(moved.shop, TAG).dials[2].planned.press
    assert press is not None
    moved.post(f"{PLACE}/temp", {"shows": f"{press.reference.press_value + 3:.1f}", "u": "0.5"})
    page = words_of(moved.get(PLACE))
    assert re.search(r"Press it again: expected pass .* %, after a new pressing \d+ %", page)


def test_a_reading_too_wide_to_judge_by_says_so_and_how_to_read_better(moved: Desk):
    press = job_press(moved.shop, TAG).dials[0].planned.press
    assert press is not None
    moved.post(f"{PLACE}/engine", {"shows": f"{press.reference.press_value:.2f}", "u": "0.5"})
    page = words_of(moved.get(PLACE))
    assert re.search(
        r"Cannot be judged: ± \d+\.\d° is wider than the \d+\.\d° it may be off; read", page
    )
    assert "Stays; expected" not in page


@pytest.mark.parametrize(
    ("dial", "fields", "says"),
    [
        ("engine", {"shows": "about four"}, "what its needle shows must be a number"),
        ("engine", {"shows": "nan"}, "what its needle shows must be a number"),
        ("engine", {"shows": "99"}, "its scale goes from 0 to"),
        ("engine", {"shows": "4", "u": "-1"}, "± must be above 0, given -1"),
        ("engine", {"shows": "4", "u": "1e9"}, "is wider than the scale itself"),
        ("engine", {"shows": "0"}, "tip widths from where it was to be pressed"),
        ("oil", {"shows": "4"}, "dial 'oil': there is no place to press its needle by run check"),
    ],
)
def test_what_cannot_be_written_down_is_one_sentence(moved: Desk, dial, fields, says):
    answer = moved.post(f"{PLACE}/{dial}", fields)
    assert answer.status_code == 422
    assert says.removeprefix("dial 'oil': there is ") in words_of(answer.text)
    if dial != "oil":  # which has no form of its own on the page
        assert fields["shows"] in answer.text  # what was typed stays
    error = moved.script(f"{PLACE}/{dial}", fields).json()["error"]
    assert f"{error['where']}: {error['what']}".count(says) == 1
    assert job_sheet(moved.shop, TAG).work_done == ()


def test_by_a_rehearsed_run_nothing_is_written_down_of_a_real_cluster(moved: Desk):
    told = run_sheet(moved.shop, job_press(moved.shop, TAG).sheet.id)
    run = start_run(moved.shop, TAG, "other", rehearsed="rehearsed, sound")
    assert run.rehearsed
    change_settings(moved.shop, {"invented": False})
    assert said(moved.get(PLACE)) == [f"Job {TAG}, run {run.name}: nothing of it is read yet; add "
                                      "its photos, or wait until they are read."]  # fmt: skip
    assert told.rehearsed is None
