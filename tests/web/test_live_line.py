"""The line of a live picture: who may open it, what it answers, and what is taken over it."""

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event
from typing import Any

import numpy as np
import pytest
from starlette.testclient import WebSocketTestSession
from starlette.websockets import WebSocketDisconnect

from needlewright.errors import CameraError, PictureError
from needlewright.readings.flags import PHOTO_REASONS
from needlewright.records.run_photos import add_run_photo
from needlewright.records.runs import run_sheet, set_aside_run
from needlewright.records.undo import undo_last
from needlewright.web.app import create_app
from needlewright.web.house import Listening
from needlewright.web.live_camera import Capture
from needlewright.web.live_frames import HEAD, LARGEST_FRAME, decoded, taken_apart
from needlewright.web.texts import texts_in
from web.bench_page import CODE, Browser
from web.live_bench import SHARE_UP, Frame, Live, jpeg_of, live_run, message, stands_at
from web.sheet_desk import TAG, picture

HOST = "http://127.0.0.1"
LINES = "ws://127.0.0.1"
OWN = {"origin": HOST, "host": "127.0.0.1"}
RATE = 20.0
LOOKS = 60
"""Three seconds of frames: needles that stand are steady long before."""


@pytest.fixture
def live(tmp_path: Path) -> Iterator[Live]:
    with live_run(tmp_path / "shop") as one:
        yield one


@contextmanager
def line(live: Live, *, place: str = "", **hello: object) -> Iterator[WebSocketTestSession]:
    """A line opened as the page does, its first word said."""
    words = {"token": live.desk.token(), "source": "browser"} | hello
    at = f"{LINES}{place or live.place}/line"
    with live.desk.client.websocket_connect(at, headers=OWN) as opened:
        opened.send_text(json.dumps(words))
        yield opened


def answered(opened: WebSocketTestSession, number: int, t_s: float, file: bytes) -> dict[str, Any]:
    opened.send_bytes(message(number, t_s, file))
    return opened.receive_json()


def stood(opened: WebSocketTestSession, live: Live, begun: int = 1) -> dict[str, Any]:
    """The answer once all needles stand, each frame sent when the one before was answered."""
    files = [live.drawn.jpeg() for _ in range(3)]
    for n in range(begun, begun + LOOKS):
        said = answered(opened, n, n / RATE, files[n % 3])
        if said["found"] and all(one["state"] == "steady" for one in said["dials"]):
            return said
    raise AssertionError(f"the needles never stood: {said}")


def take(live: Live, live_id: str, step: int = 0, photo: str = "") -> Any:
    fields = {"live": live_id, "step": str(step), "photo": photo}
    return live.desk.script(f"{live.place}/take", fields)


def sentence(answer: Any) -> str:
    return str(answer.json()["error"])


def test_frames_are_answered_with_numbers_near_the_truth(live: Live):
    with line(live) as opened:
        assert opened.receive_json()["live"]
        said = stood(opened, live)
    truth = stands_at(live.desk.family)
    family = live.desk.family
    assert said["size"] == [640, 360]
    for one in said["dials"]:
        dial = family.dial(one["dial"])
        assert dial is not None
        assert one["angle_deg"] == pytest.approx(truth[one["dial"]], abs=0.5)
        assert one["value"] == pytest.approx(dial.scale.value_at(one["angle_deg"]))
        assert " ± " in one["shown"]
        assert one["direction"].endswith("°")


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


def test_another_cluster_in_view_gives_no_number_and_says_so(live: Live):
    with line(live) as opened:
        live_id = opened.receive_json()["live"]
        noise = np.random.default_rng(2).integers(0, 255, (360, 640, 3), np.uint8)
        said = answered(opened, 1, 0.1, jpeg_of(noise))
        answer = take(live, live_id)
    assert (said["found"], said["dials"]) == (False, [])
    assert said["reason"]["code"] in ("face_not_found", "wrong_family")
    assert "the face is not in the picture" in sentence(answer)


GARBAGE: dict[str, Callable[[bytes], bytes]] = {
    "nothing at all": lambda _: b"",
    "a head cut off": lambda _: message(1, 0.1, b"")[:7],
    "no picture": lambda _: message(1, 0.1, b""),
    "noise": lambda _: message(1, 0.1, bytes(range(256)) * 8),
    "half a picture": lambda file: message(1, 0.1, file[: len(file) // 2]),
    "no time": lambda file: message(1, float("nan"), file),
    "a PNG": lambda _: message(1, 0.1, b"\x89PNG\r\n\x1a\n" + bytes(200)),
    "a tiny picture": lambda _: message(1, 0.1, jpeg_of(np.zeros((8, 8, 3), np.uint8))),
    "a large picture": lambda _: message(1, 0.1, jpeg_of(np.zeros((2400, 2400, 3), np.uint8))),
}


def test_garbage_gets_a_sentence_and_the_next_frame_is_read(live: Live):
    file = live.drawn.jpeg()
    with line(live) as opened:
        opened.receive_json()
        for name, made in GARBAGE.items():
            opened.send_bytes(made(file))
            said = opened.receive_json()
            assert "found" not in said, name
            assert said["over"] is False, name
            assert said["n"] == (1 if len(made(file)) >= HEAD.size else 0), name
            assert said["wrong"]["what"], name
            assert said["wrong"]["do"], name
        assert answered(opened, 99, 5.0, file)["found"]
        earlier = answered(opened, 100, 4.0, file)
    assert "not later than the one before" in earlier["wrong"]["what"]


def test_a_frame_larger_than_is_read_is_refused_before_it_is_opened():
    with pytest.raises(PictureError, match="larger than 4 MB"):
        taken_apart(bytes(LARGEST_FRAME + 1))
    with pytest.raises(PictureError, match="no JPEG"):
        decoded(b"BM" + bytes(100))


@pytest.mark.parametrize("origin", [None, "http://elsewhere.example", "https://127.0.0.1", "null"])
def test_a_line_is_opened_from_this_page_alone(live: Live, origin: str | None):
    headers = {"host": "127.0.0.1"} | ({} if origin is None else {"origin": origin})
    live.desk.token()
    with (
        pytest.raises(WebSocketDisconnect) as refused,
        live.desk.client.websocket_connect(f"{LINES}{live.place}/line", headers=headers),
    ):
        pass
    assert refused.value.code == 1008


def test_a_line_needs_a_session_and_a_known_host(live: Live):
    foreign = {"origin": "http://evil.example", "host": "evil.example"}
    for headers, keeps in ((OWN, False), (foreign, True)):
        live.desk.token()
        if not keeps:
            live.desk.client.cookies.clear()
        with (
            pytest.raises(WebSocketDisconnect) as refused,
            live.desk.client.websocket_connect(f"{LINES}{live.place}/line", headers=headers),
        ):
            pass
        assert refused.value.code == 1008


@pytest.mark.parametrize(
    "first", ["", "{}", "[]", '{"token": "wrong"}', '{"token": 7}', "x" * 3000]
)
def test_the_first_word_is_the_form_token(live: Live, first: str):
    live.desk.token()
    with live.desk.client.websocket_connect(f"{LINES}{live.place}/line", headers=OWN) as opened:
        opened.send_text(first)
        with pytest.raises(WebSocketDisconnect) as closed:
            opened.receive_json()
    assert closed.value.code == 1008
    assert len(live.desk.client.app.state.house.live) == 0


def test_behind_a_pass_code_only_a_browser_signed_in_opens_a_line(tmp_path: Path):
    with live_run(tmp_path / "shop") as one:
        place = one.place
    listening = Listening(port=8737, tls=True, code=CODE, names=("bench",))
    app = create_app(tmp_path / "shop", listening, read_photos=False)
    browser = Browser(app, "https://192.168.7.5:8737")
    own = {"origin": "https://192.168.7.5:8737", "host": "192.168.7.5:8737"}
    url = f"wss://192.168.7.5:8737{place}/line"
    with browser.client:
        assert browser.token
        with (
            pytest.raises(WebSocketDisconnect) as refused,
            browser.client.websocket_connect(url, headers=own),
        ):
            pass
        assert refused.value.code == 1008
        browser.sign_in()
        with browser.client.websocket_connect(url, headers=own) as opened:
            opened.send_text(json.dumps({"token": browser.token, "source": "browser"}))
            assert opened.receive_json()["live"]


def test_a_third_live_picture_is_refused_and_room_is_made_when_one_ends(live: Live):
    with line(live) as first, line(live) as second:
        assert first.receive_json()["live"] != second.receive_json()["live"]
        with line(live) as third:
            said = third.receive_json()
            assert said["over"]
            assert "2 others are open" in said["wrong"]["what"]
    assert emptied(live) == 0
    with line(live) as fourth:
        assert fourth.receive_json()["live"]


def test_a_live_picture_is_taken_from_by_its_own_browser_and_run_alone(live: Live):
    with line(live) as opened:
        live_id = opened.receive_json()["live"]
        stood(opened, live)
        live.desk.client.cookies.clear()
        answer = take(live, live_id)
    assert "belongs to another window" in sentence(answer)
    assert run_sheet(live.desk.shop, live.run_id).photos == ()


def test_a_run_set_aside_takes_nothing(live: Live):
    set_aside_run(live.desk.shop, live.run_id, "a test")
    answer = live.desk.client.get(live.place, headers={"accept": "text/html"})
    assert answer.status_code == 422
    assert "is set aside and takes no more readings" in answer.text


def test_a_run_that_is_not_there_is_said_on_the_line(live: Live):
    with line(live, place=f"/jobs/{TAG}/run/99/live") as opened:
        assert opened.receive_json()["over"]


def test_every_reason_for_no_face_has_its_sentence():
    texts = texts_in()
    assert all(texts.has(f"live.script.not_found.{code}") for code in PHOTO_REASONS)


def test_only_the_live_place_may_use_the_camera(live: Live):
    allowed = live.desk.client.get(live.place).headers["permissions-policy"]
    assert "camera=(self)" in allowed
    assert "microphone=()" in allowed
    other = live.desk.client.get(f"/jobs/{TAG}").headers["permissions-policy"]
    assert "camera=()" in other


class FakeCamera:
    """Gives frames until it is told to fail."""

    def __init__(self, frames: list[Frame], stays: int) -> None:
        self.frames, self.stays, self.given = frames, stays, 0
        self.released = Event()

    def read(self) -> Frame | None:
        self.given += 1
        if self.given > self.stays:
            return None
        return self.frames[self.given % len(self.frames)]

    def release(self) -> None:
        self.released.set()


def bench_line(live: Live, camera: Callable[[int], Any]) -> Any:
    live.desk.client.app.state.house.live._open_camera = camera
    return line(live, source="bench", camera=0)


def test_a_camera_of_the_bench_is_read_shown_and_taken_from(live: Live):
    frames = [live.drawn.frame() for _ in range(3)]
    camera = FakeCamera(frames, stays=10**9)
    with bench_line(live, lambda _: camera) as opened:
        live_id = opened.receive_json()["live"]
        for _ in range(2000):
            said = opened.receive_json()
            shown = opened.receive_bytes()
            if said["found"] and all(one["state"] == "steady" for one in said["dials"]):
                break
        assert shown.startswith(b"\xff\xd8")
        answer = take(live, live_id)
        assert answer.status_code == 200, answer.text
        with line(live, source="bench", camera=0) as second:
            said = second.receive_json()
        assert "is in use in another window" in said["wrong"]["what"]
    [photo] = run_sheet(live.desk.shop, live.run_id).photos
    assert photo.name == "live-found-step-00.png"
    assert camera.released.wait(20)
    truth = stands_at(live.desk.family, SHARE_UP)
    for reading in photo.readings:
        assert reading.angle_deg is not None
        assert reading.u_angle_deg is not None
        assert abs(reading.angle_deg - truth[reading.dial]) < 3 * reading.u_angle_deg


def test_a_camera_of_the_bench_that_goes_away_is_said(live: Live):
    camera = FakeCamera([live.drawn.frame()], stays=3)
    with bench_line(live, lambda _: camera) as opened:
        for _ in range(20):
            came = opened.receive()
            said = json.loads(came["text"]) if came.get("text") else {}
            if "wrong" in said:
                break
    assert said["over"]
    assert "sends no pictures any more" in said["wrong"]["what"]
    assert camera.released.wait(20)


def no_camera(number: int) -> Any:
    raise CameraError(f"camera {number} of the bench computer: cannot be opened; plug it in")


def broken_camera(number: int) -> Any:
    raise RuntimeError("no such driver")


@pytest.mark.parametrize(
    ("opens", "what"), [(no_camera, "cannot be opened"), (broken_camera, "cannot be used")]
)
def test_a_camera_of_the_bench_that_is_not_there_is_said(
    live: Live, opens: Callable[[int], Any], what: str
):
    with bench_line(live, opens) as opened:
        said = opened.receive_json()
        if "live" in said:
            said = opened.receive_json()
    assert said["over"]
    assert what in said["wrong"]["what"]


@pytest.mark.parametrize("camera", [None, -1, "0", 1.5, 10**9])
def test_a_camera_with_no_number_is_refused(live: Live, camera: object):
    with line(live, source="bench", camera=camera) as opened:
        said = opened.receive_json()
    assert said["over"]
    assert "camera of the bench computer" in said["wrong"]["where"]


def test_the_capture_hands_over_rising_times_and_ends():
    times: list[float] = []
    gone: list[str] = []
    enough = Event()

    def on_frame(_: Frame, t_s: float) -> None:
        times.append(t_s)
        if len(times) == 5:
            enough.set()

    camera = FakeCamera([np.zeros((4, 4, 3), np.uint8)], stays=10**9)
    capture = Capture(0, lambda _: camera, on_frame, lambda error: gone.append(str(error)))
    assert enough.wait(20)
    capture.stop()
    assert camera.released.is_set()
    assert gone == []
    assert all(np.diff(times) > 0)


def emptied(live: Live) -> int:
    """Live pictures left once those whose lines were closed have ended."""
    table = live.desk.client.app.state.house.live
    for _ in range(2000):
        if len(table) == 0:
            break
        Event().wait(0.01)
    return len(table)


def test_no_picture_is_left_when_its_line_is_closed(live: Live):
    with line(live) as opened:
        opened.receive_json()
        assert len(live.desk.client.app.state.house.live) == 1
    assert emptied(live) == 0
