"""The bench drives the movement whose needle is pressed: begun, seen, led on, and let go."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from needlewright.composing.job_press import job_press
from needlewright.composing.steps import proposed_steps
from needlewright.records.jobs import new_job
from needlewright.records.run_photos import add_run_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import run_sheet, start_run
from needlewright.web import drive_session
from needlewright.web.drive_session import aim_of
from web.live_bench import Live, WatchedDesk, drawn_of
from web.live_lines import line
from web.sheet_desk import TAG, Desk, desk, outcome, picture, received, taken_run

SEEN = 400
"""Looks a needle may take to come to its value; the bound only keeps a fault from hanging."""
SEATED_DEG = 4.0
"""So far off may a rehearsed needle sit."""


def rehearsed_run(one: Desk) -> int:
    rows = proposed_steps(one.family)
    run = start_run(one.shop, TAG, "other", rows, rehearsed="rehearsed, sound, 23 degC, seed 0")
    for step in dict.fromkeys(row.step for row in rows):
        photo = add_run_photo(one.shop, run.id, picture(step), f"{step:02}.jpg", step=step)
        told = {row.dial: row.commanded for row in rows if row.step == step}
        store_outcome(one.shop, photo.id, outcome(one.family, told, {}))
    return run.id


@pytest.fixture
def driving(tmp_path: Path) -> Iterator[Live]:
    pictures = WatchedDesk()
    with desk(tmp_path / "shop", live_desk=pictures) as one:
        received(one.shop)
        yield Live(one, rehearsed_run(one), drawn_of(one.family), pictures)


def test_the_rehearsal_drives_a_movement_and_its_camera_gives_the_picture(
    driving: Live, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(drive_session, "LEAD_S", 1.0)  # a drawn needle comes down quicker
    place = f"{driving.place}/drive"
    assert "camera of the bench that drives" in driving.desk.get(f"{driving.place}/press")
    begun = driving.desk.script(place, {"bench": "rehearsal"})
    assert (begun.status_code, begun.json()["on"]) == (200, True)
    taken = driving.desk.script(place, {"bench": "rehearsal"})
    assert taken.status_code == 409
    assert "is on already" in taken.json()["error"]["what"]
    press = job_press(driving.desk.shop, TAG).dials[2].planned.press
    assert press is not None
    with line(driving, source="driven") as opened:
        assert "live" in opened.receive_json()
        to = driving.desk.script(f"{place}/to", {"dial": "temp"})
        assert to.status_code == 200, to.text
        for _ in range(SEEN):
            said = opened.receive_json()
            opened.receive_bytes()  # the camera's picture
            temp = next(one for one in said["dials"] if one["dial"] == "temp")
            near = temp["angle_deg"] is not None and (
                abs(temp["angle_deg"] - press.reference.shaft_deg) < SEATED_DEG
            )
            if near and temp["state"] == "steady":
                break
        else:
            raise AssertionError(f"it never came there: {temp}")
        state = driving.desk.client.get(f"{place}/now").json()
        assert (state["dial"], state["words"]) == ("temp", f"{press.reference.value:g}")
    stopped = driving.desk.script(f"{place}/stop").json()
    assert (stopped["on"], stopped["words"]) == (False, "")
    gone = driving.desk.script(f"{place}/to", {"dial": "temp"})
    assert "nothing drives these needles any more" in gone.json()["error"]["what"]
    again = driving.desk.script(place, {"bench": "rehearsal"})  # the bench is free again
    assert again.json()["on"]
    unknown = driving.desk.script(f"{place}/to", {"dial": "oil"})
    assert "no value is planned to press its needle at" in unknown.json()["error"]["what"]


def test_the_rehearsal_drives_no_real_movement(driving: Live):
    real = taken_run(driving.desk, "other", mark="real")
    place = f"/jobs/{TAG}/run/{real.id}/live/drive"
    said = driving.desk.script(place, {"bench": "rehearsal"}).json()["error"]
    assert "which the rehearsal cannot drive" in said["what"]
    assert run_sheet(driving.desk.shop, real.id).rehearsed is None
    said = driving.desk.script(f"{driving.place}/drive", {"bench": "bench.toml"}).json()["error"]
    assert "driven by the rehearsal only" in said["what"]
    now = driving.desk.client.get(f"{place}/now").json()
    assert (now["on"], now["asked"]) == (False, None)


def test_driving_is_of_one_job_and_goes_on_while_a_page_says_it_is_there(driving: Live):
    place = f"{driving.place}/drive"
    new_job(driving.desk.shop, {"tag": "EX-9", "family": driving.desk.family.name})
    elsewhere = place.replace(f"/jobs/{TAG}/", "/jobs/EX-9/")
    for act in ("", "/to", "/done", "/stop", "/here", "/leave"):
        said = driving.desk.script(f"{elsewhere}{act}", {"bench": "rehearsal", "dial": "temp"})
        assert f"has no run {driving.run_id}" in said.json()["error"]["what"]
    assert driving.desk.script(place, {"bench": "rehearsal"}).json()["on"]
    assert driving.desk.script(f"{place}/here", {}).json()["on"]
    assert driving.desk.script(f"{place}/leave", {}).json()["on"], "for some seconds"
    assert "no page has looked on for 30 seconds" in driving.desk.get(f"{driving.place}/press")


def test_a_value_is_come_to_from_the_side_its_run_came_from(driving: Live):
    dial = driving.desk.family.dial("temp")
    assert dial is not None
    assert aim_of(dial, 80.0, "up").lead == dial.scale.values[0]
    assert aim_of(dial, 80.0, "down").lead == dial.scale.values[-1]
