"""What stands in a live picture is taken as the photo of a step, once and by its own window."""

from needlewright.records.run_photos import add_run_photo
from needlewright.records.runs import run_sheet
from needlewright.records.undo import undo_last
from web.live_bench import Live, stands_at
from web.live_lines import RATE, answered, line, live, sentence, stood, take
from web.sheet_desk import TAG, picture

__all__ = ["live"]  # a fixture, found by its name


def test_what_stands_is_stored_as_a_photo_of_the_step_read_with_its_overlay(live: Live):
    with line(live) as opened:
        live_id = opened.receive_json()["live"]
        stood(opened, live)
        answer = take(live, live_id)
        assert answer.status_code == 200, answer.text
        said = answer.json()
        assert (said["step"], said["frames"], said["next"]) == (0, 5, 1)
    run = run_sheet(live.desk.shop, live.run_id)
    [photo] = run.photos
    assert (photo.id, photo.step, photo.found, photo.name) == (
        said["photo"],
        0,
        True,
        "live-found-step-00.jpg",
    )
    assert photo.read_at is not None
    assert photo.projection is not None
    assert photo.overlay_sha256 is not None
    original = live.desk.client.get(f"/originals/{photo.sha256}")
    assert original.content.startswith(b"\xff\xd8"), "the frame itself, as the camera sent it"
    assert live.desk.client.get(f"/originals/{photo.overlay_sha256}").status_code == 200
    truth = stands_at(live.desk.family)
    for reading in photo.readings:
        assert reading.angle_deg is not None
        assert reading.u_angle_deg is not None
        assert abs(reading.angle_deg - truth[reading.dial]) < 3 * reading.u_angle_deg
        assert "movement" in dict(reading.components_deg)
    page = live.desk.get()
    assert "taken" in live.desk.get(live.place)
    assert f"{photo.overlay_sha256}/small" in page


def test_a_reading_taken_is_taken_back_by_undo_and_taken_again_in_its_place(live: Live):
    with line(live) as opened:
        live_id = opened.receive_json()["live"]
        stood(opened, live)
        first = take(live, live_id).json()["photo"]
        stood(opened, live, begun=100)
        again = take(live, live_id, photo=str(first))
        assert again.status_code == 200, again.text
    run = run_sheet(live.desk.shop, live.run_id)
    assert [(one.id, one.replaces_id) for one in run.photos] == [(again.json()["photo"], first)]
    undo_last(live.desk.shop, TAG)
    [photo] = run_sheet(live.desk.shop, live.run_id).photos
    assert photo.id == first
    assert len(photo.readings) == 4
    undo_last(live.desk.shop, TAG)
    assert run_sheet(live.desk.shop, live.run_id).photos == ()


def test_it_is_taken_once_for_one_time_of_standing(live: Live):
    with line(live) as opened:
        live_id = opened.receive_json()["live"]
        stood(opened, live)
        assert take(live, live_id).status_code == 200
        second = take(live, live_id, step=1)
        assert second.status_code == 422
        assert "has not stood still for 1 s" in sentence(second)
    assert [one.step for one in run_sheet(live.desk.shop, live.run_id).photos] == [0]


def test_nothing_is_taken_while_needles_move(live: Live):
    with line(live) as opened:
        live_id = opened.receive_json()["live"]
        for n in range(1, 20):
            said = answered(opened, n, n / RATE, live.drawn.jpeg(0.1 + 0.02 * n))
        assert {one["state"] for one in said["dials"]} == {"moving"}
        answer = take(live, live_id)
    assert answer.status_code == 422
    assert "wait until it stands" in sentence(answer)
    assert run_sheet(live.desk.shop, live.run_id).photos == ()


def test_a_step_another_window_has_taken_is_not_taken_again_unseen(live: Live):
    with line(live) as opened:
        live_id = opened.receive_json()["live"]
        stood(opened, live)
        add_run_photo(live.desk.shop, live.run_id, picture(3), "other.jpg", step=0)
        answer = take(live, live_id)
    assert answer.status_code == 409
    assert "was taken in another window" in sentence(answer)
    assert [one.name for one in run_sheet(live.desk.shop, live.run_id).photos] == ["other.jpg"]


def test_a_live_picture_is_taken_from_by_its_own_browser_and_run_alone(live: Live):
    with line(live) as opened:
        live_id = opened.receive_json()["live"]
        stood(opened, live)
        live.desk.client.cookies.clear()
        answer = take(live, live_id)
    assert "belongs to another window" in sentence(answer)
    assert run_sheet(live.desk.shop, live.run_id).photos == ()
