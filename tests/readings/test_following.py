"""A follower against drawn frames, whose truth is exact."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from needlewright.families.folder import load_family
from needlewright.readings.axle import Axle, FreeLine, Siting
from needlewright.readings.following import Follower, FrameReadings
from needlewright.readings.frame import Frame, frame_of_colours
from needlewright.rehearsal.camera import Camera, place_camera
from needlewright.rehearsal.fixed_view import FixedView
from needlewright.rehearsal.shake import hand_shake

FAMILIES = Path(__file__).parents[1] / "data" / "families"
CAMERA = Camera(640, 426, 780.0, 319.5, 212.5)
TIMES = np.arange(20) / 25
LONG = ("engine", "speed")


def needles_at(t_s: float) -> dict[str, float]:
    turn = float(90 * t_s)
    return {"engine": -110 + turn, "speed": -40 + turn, "fuel": -40 + turn / 2, "temp": turn / 3}


@pytest.fixture(scope="module")
def drawn() -> Callable[..., Frame]:
    family = load_family(FAMILIES / "fam-a")
    across, down = family.face_size_mm
    pose = place_camera(distance_mm=450.0, target_mm=(across / 2, down / 2), yaw_deg=8.0)
    view = FixedView(family, CAMERA, pose)
    shake = hand_shake(np.random.default_rng(4))

    def frame(t_s: float, *, shaken: bool = False, **moved: float) -> Frame:
        picture = view.frame(needles_at(t_s) | moved, shake.pose_at(pose, t_s) if shaken else None)
        return frame_of_colours(np.ascontiguousarray(picture[..., ::-1]))

    return frame


def follow(drawn: Callable[..., Frame], *, shaken: bool) -> list[FrameReadings]:
    follower = Follower(load_family(FAMILIES / "fam-a"))
    return [follower.look(drawn(float(t), shaken=shaken), float(t)) for t in TIMES]


def errors_of(readings: list[FrameReadings], dial: str) -> NDArray[np.float64]:
    return np.array(
        [
            needle.angle_deg - needles_at(frame.t_s)[dial]
            for frame in readings
            for needle in frame.needles
            if needle.dial == dial and needle.angle_deg is not None
        ]
    )


@pytest.mark.parametrize("shaken", [False, True])
def test_long_needles_are_followed(drawn: Callable[..., Frame], shaken: bool) -> None:
    readings = follow(drawn, shaken=shaken)
    for dial in LONG:
        errors = errors_of(readings, dial)
        assert len(errors) >= 0.9 * len(TIMES)
        assert np.median(np.abs(errors)) < 0.2
        assert np.abs(errors).max() < 0.8


def test_a_jump_is_seen_in_its_own_frame(drawn: Callable[..., Frame]) -> None:
    follower = Follower(load_family(FAMILIES / "fam-a"))
    for t in (0.0, 0.04, 0.08):
        follower.look(drawn(t), t)
    seen = follower.look(drawn(0.12, speed=80.0), 0.12).needles[1]
    assert seen.dial == "speed"
    assert seen.angle_deg == pytest.approx(80.0, abs=0.8)


def test_another_face_has_no_needles(drawn: Callable[..., Frame]) -> None:
    seen = Follower(load_family(FAMILIES / "fam-b")).look(drawn(0.0), 0.0)
    assert not seen.found
    assert seen.reason in ("wrong_family", "face_not_found")
    assert seen.needles == ()


def test_a_camera_that_goes_dark_is_told_and_comes_back(
    drawn: Callable[..., Frame],
) -> None:
    follower = Follower(load_family(FAMILIES / "fam-a"))
    assert follower.look(drawn(0.0), 0.0).found
    dark = follower.look(Frame(np.zeros((426, 640), np.uint8)), 0.04)
    assert (dark.found, dark.reason) == (False, "too_dark")
    assert follower.look(drawn(0.12), 1.0).found


def test_the_axle_is_learned_and_narrows_a_line() -> None:
    axle = Axle(0.2, 0.01, Siting.unknown(0.1))
    for angle in range(-120, 121, 4):
        a = np.radians(angle)
        offset = 0.05 + 0.1 * np.cos(a) - 0.08 * np.sin(a)
        axle.learn(FreeLine(angle, float(offset), 0.3, 0.05, -0.013))
    usual, u_mm = axle.at(90.0)
    assert usual == pytest.approx(0.05 - 0.08, abs=0.01)
    assert u_mm < 0.03
    free = FreeLine(90.0, -0.03 + 0.05, 0.3, 0.05, -0.013)
    angle_deg, u_deg, _ = axle.turned(free)
    # the offset is one u too great and they go against each other: the direction was too small
    assert 90.1 < angle_deg < 90.3
    assert u_deg < 0.22
