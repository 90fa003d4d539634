"""A live picture of a camera of the bench computer."""

import json
from collections.abc import Callable
from threading import Event
from typing import Any

import numpy as np
import pytest

from needlewright.errors import CameraError
from needlewright.records.runs import run_sheet
from needlewright.web.live_camera import Capture
from web.live_bench import SHARE_UP, Frame, Live, stands_at
from web.live_lines import line, live, take

__all__ = ["live"]  # a fixture, found by its name
TRIES = 10
"""So often a needle that stands is taken, as a person would who is asked to wait a moment."""


class FakeCamera:
    """Gives frames until it is told to fail, or to wait with the next one."""

    def __init__(self, frames: list[Frame], stays: int) -> None:
        self.frames, self.stays, self.given = frames, stays, 0
        self.released, self.goes_on = Event(), Event()
        self.goes_on.set()

    def read(self) -> Frame | None:
        self.goes_on.wait()
        self.given += 1
        if self.given > self.stays:
            return None
        return self.frames[self.given % len(self.frames)]

    def release(self) -> None:
        self.released.set()


def bench_line(live: Live, camera: Callable[[int], Any]) -> Any:
    live.pictures._open_camera = camera
    return line(live, source="bench", camera=0)


def until_steady(opened: Any) -> bytes:
    """The picture with which every needle is said to stand."""
    for _ in range(2000):
        said = opened.receive_json()
        shown: bytes = opened.receive_bytes()
        if said["found"] and all(one["state"] == "steady" for one in said["dials"]):
            return shown
    raise AssertionError("the needles never came to stand")


def test_a_camera_of_the_bench_is_read_shown_and_taken_from(live: Live):
    frames = [live.drawn.frame() for _ in range(3)]
    camera = FakeCamera(frames, stays=10**9)
    with bench_line(live, lambda _: camera) as opened:
        live_id = opened.receive_json()["live"]
        for _ in range(TRIES):
            shown = until_steady(opened)
            camera.goes_on.clear()  # what stands, stands: a late frame is a gap in time
            answer = take(live, live_id)
            camera.goes_on.set()
            if answer.status_code == 200:
                break
            # a busy machine gave too few frames in that second; the page says to take again
            assert "too few frames" in answer.json()["error"]["what"]
        assert shown.startswith(b"\xff\xd8")
        assert answer.status_code == 200, answer.text
        with line(live, source="bench", camera=0) as second:
            said = second.receive_json()
        assert "is in use in another window" in said["wrong"]["what"]
    [photo] = run_sheet(live.desk.shop, live.run_id).photos
    assert photo.name == "live-found-step-00.png"
    assert camera.released.wait(180)
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
    assert camera.released.wait(180)


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
    assert enough.wait(180)
    capture.stop()
    assert camera.released.is_set()
    assert gone == []
    assert all(np.diff(times) > 0)
