"""A live picture against drawn frames, whose truth is exact."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from needlewright.errors import PictureError
from needlewright.families.folder import load_family
from needlewright.readings.live import LiveLook, LiveReader
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.picture import Picture
from needlewright.readings.reader import FaceReader
from needlewright.rehearsal.camera import Camera, place_camera
from needlewright.rehearsal.fixed_view import FixedView

FAMILIES = Path(__file__).parents[1] / "data" / "families"
CAMERA = Camera(640, 426, 780.0, 319.5, 212.5)
FAMILY = load_family(FAMILIES / "fam-a")
IDS = tuple(dial.id for dial in FAMILY.dials)
TRUTH = {"engine": -40.0, "speed": 30.0, "fuel": -10.0, "temp": 20.0}
RATE = 20.0
Frame = NDArray[np.uint8]
Drawing = Callable[..., Frame]


@pytest.fixture(scope="module")
def drawn() -> Drawing:
    across, down = FAMILY.face_size_mm
    pose = place_camera(distance_mm=450.0, target_mm=(across / 2, down / 2), yaw_deg=8.0)
    view = FixedView(FAMILY, CAMERA, pose)

    def frame(**moved: float | None) -> Frame:
        angles = {dial: angle for dial, angle in (TRUTH | moved).items() if angle is not None}
        return np.ascontiguousarray(view.frame(angles)[..., ::-1])

    return frame


def stood(reader: LiveReader, drawn: Drawing, begun: int = 0, **moved: float | None) -> LiveLook:
    """The look after needles stood for a second and a half."""
    for i in range(begun, begun + 30):
        look = reader.look(drawn(**moved), i / RATE)
    return look


@pytest.fixture(scope="module")
def steady(drawn: Drawing) -> tuple[LiveReader, LiveLook]:
    reader = LiveReader(FAMILY)
    return reader, stood(reader, drawn)


def test_standing_needles_are_read_and_steady(steady: tuple[LiveReader, LiveLook]):
    _, look = steady
    assert [one.state for one in look.dials] == ["steady"] * 4
    for one in look.dials:
        assert one.angle_deg is not None
        assert one.u_angle_deg is not None
        assert abs(one.angle_deg - TRUTH[one.dial]) < 3 * one.u_angle_deg
        dial = FAMILY.dial(one.dial)
        assert dial is not None
        assert one.value == pytest.approx(dial.scale.value_at(one.angle_deg))


def test_a_reading_taken_is_right_within_its_uncertainty_and_no_better_than_one_photo(
    drawn: Drawing,
):
    reader = LiveReader(FAMILY)
    stood(reader, drawn)
    taken = reader.take(IDS, "live.png")
    assert taken.frames == 5
    assert taken.photo.found
    for one in taken.photo.readings:
        assert one.angle_deg is not None
        assert one.u_angle_deg is not None
        assert abs(one.angle_deg - TRUTH[one.dial]) < 3 * one.u_angle_deg
        parts = dict(one.components_deg)
        common = np.sqrt(sum(u**2 for name, u in parts.items() if name not in ("fit", "movement")))
        assert common > 0
        assert one.u_angle_deg >= common, "what is common to the frames does not average out"
        assert {"fit", "movement"} <= set(parts)
    with pytest.raises(PictureError, match="has not stood still"):
        reader.take(IDS)


def test_nothing_is_taken_while_a_needle_moves(drawn: Drawing):
    reader = LiveReader(FAMILY)
    for i in range(30):
        look = reader.look(drawn(speed=10.0 + i), i / RATE)
    assert {one.dial: one.state for one in look.dials}["speed"] == "moving"
    with pytest.raises(PictureError, match="dial 'speed': has not stood still for 1 s"):
        reader.take(IDS)


def test_a_missing_needle_is_refused_and_the_others_are_taken(drawn: Drawing):
    reader = LiveReader(FAMILY)
    look = stood(reader, drawn, speed=None)
    speed = next(one for one in look.dials if one.dial == "speed")
    assert (speed.state, speed.angle_deg) == ("unseen", None)
    by_dial = {one.dial: one for one in reader.take(IDS).photo.readings}
    assert by_dial["speed"].status == "refused"
    assert [by_dial[dial].status for dial in ("engine", "fuel", "temp")] == ["read"] * 3


def test_a_needle_the_photo_reader_refuses_is_not_read_and_holds_up_no_other(
    drawn: Drawing, monkeypatch: pytest.MonkeyPatch
):
    whole = FaceReader.read_picture

    def doubting(self: FaceReader, picture: Picture, as_given: str = "") -> PhotoReadings:
        photo = whole(self, picture, as_given)
        refused = Reading("fuel", "refused", "fraction of full", "too_uncertain")
        readings = tuple(refused if one.dial == "fuel" else one for one in photo.readings)
        return replace(photo, readings=readings)

    monkeypatch.setattr(FaceReader, "read_picture", doubting)
    reader = LiveReader(FAMILY)
    fuel = next(one for one in stood(reader, drawn).dials if one.dial == "fuel")
    assert (fuel.state, fuel.angle_deg, fuel.reason) == ("unseen", None, "too_uncertain")
    by_dial = {one.dial: one for one in reader.take(IDS).photo.readings}
    assert by_dial["fuel"].reason == "too_uncertain"
    assert [by_dial[dial].status for dial in ("engine", "speed", "temp")] == ["read"] * 3


def test_two_readers_who_see_different_needles_are_not_believed(
    drawn: Drawing, monkeypatch: pytest.MonkeyPatch
):
    whole = FaceReader.read_picture

    def elsewhere(self: FaceReader, picture: Picture, as_given: str = "") -> PhotoReadings:
        photo = whole(self, picture, as_given)
        readings = tuple(
            replace(one, angle_deg=one.angle_deg + 5.0)
            if one.dial == "speed" and one.angle_deg is not None
            else one
            for one in photo.readings
        )
        return replace(photo, readings=readings)

    monkeypatch.setattr(FaceReader, "read_picture", elsewhere)
    reader = LiveReader(FAMILY)
    speed = next(one for one in stood(reader, drawn).dials if one.dial == "speed")
    assert (speed.angle_deg, speed.reason) == (None, "estimators_disagree")
    by_dial = {one.dial: one for one in reader.take(IDS).photo.readings}
    assert by_dial["speed"].reason == "estimators_disagree"


def test_another_family_gives_no_number_and_nothing_to_take(drawn: Drawing):
    reader = LiveReader(load_family(FAMILIES / "fam-c"))
    look = stood(reader, drawn)
    assert not look.found
    assert look.reason in ("wrong_family", "face_not_found")
    assert look.dials == ()
    with pytest.raises(PictureError, match="the face is not in the picture"):
        reader.take(["speed"])


def test_a_camera_that_turns_away_and_back_begins_anew(drawn: Drawing):
    reader = LiveReader(FAMILY)
    stood(reader, drawn)
    away = reader.look(np.full((426, 640, 3), 90, np.uint8), 31 / RATE)
    assert not away.found
    with pytest.raises(PictureError, match="the face is not in the picture"):
        reader.take(IDS)
    states = {one.state for one in reader.look(drawn(), 60 / RATE).dials}
    assert "steady" not in states


@pytest.mark.parametrize(
    "pixels", [np.zeros((426, 640), np.uint8), np.zeros((426, 640, 3), np.float32)]
)
def test_what_is_no_picture_is_refused(pixels: Frame):
    with pytest.raises(PictureError, match="no colour pictures"):
        LiveReader(FAMILY).look(pixels, 0.0)


def test_frames_come_in_the_order_of_their_times(drawn: Drawing):
    reader = LiveReader(FAMILY)
    reader.look(drawn(), 1.0)
    with pytest.raises(PictureError, match="not later than the one before"):
        reader.look(drawn(), 1.0)
