"""The line of a live picture: what it answers to frames, and to what is none."""

from collections.abc import Callable

import numpy as np
import pytest

from needlewright.errors import PictureError
from needlewright.readings.flags import PHOTO_REASONS
from needlewright.web.live_frames import HEAD, LARGEST_FRAME, decoded, taken_apart
from needlewright.web.texts import texts_in
from web.live_bench import Live, jpeg_of, message, stands_at
from web.live_lines import answered, line, live, sentence, stood, take

__all__ = ["live"]  # a fixture, found by its name


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


def test_every_reason_for_no_face_has_its_sentence():
    texts = texts_in()
    assert all(texts.has(f"live.script.not_found.{code}") for code in PHOTO_REASONS)
