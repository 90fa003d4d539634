"""What must not change a reading, and what must: the same photo, handled differently."""

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from shutil import copyfile

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from needlewright.families.folder import load_family
from needlewright.readings.model import PhotoReadings
from needlewright.readings.picture import Picture, open_picture
from needlewright.readings.reader import FaceReader

DATA = Path(__file__).parents[1] / "data"
PHOTO = DATA / "photos" / "fam-b" / "photos" / "002.jpg"


@cache
def reader(family: str = "fam-b") -> FaceReader:
    return FaceReader(load_family(DATA / "families" / family))


@cache
def picture() -> Picture:
    return open_picture(PHOTO)


@cache
def plain() -> PhotoReadings:
    return reader().read_picture(picture())


def with_pixels(pixels: NDArray[np.uint8]) -> Picture:
    return replace(picture(), pixels=np.ascontiguousarray(pixels))


def differences_in_u(other: PhotoReadings, first: PhotoReadings | None = None) -> list[float]:
    """Each needle's change in combined standard uncertainties; every needle must be read."""
    first = first or plain()
    assert other.found, other.reason
    assert [r.status for r in other.readings] == [r.status for r in first.readings]
    return [
        abs(a.angle_deg - b.angle_deg) / np.hypot(a.u_angle_deg, b.u_angle_deg)
        for a, b in zip(first.readings, other.readings, strict=True)
        if a.angle_deg is not None
        and b.angle_deg is not None
        and a.u_angle_deg is not None
        and b.u_angle_deg is not None
    ]


def test_the_plain_photo_is_read_whole() -> None:
    assert [r.status for r in plain().readings] == ["read"] * 5


@pytest.mark.parametrize("turn", [cv2.ROTATE_90_CLOCKWISE, cv2.ROTATE_180])
def test_turning_the_photo_turns_no_needle(turn: int) -> None:
    turned = reader().read_picture(with_pixels(np.asarray(cv2.rotate(picture().pixels, turn))))
    assert max(differences_in_u(turned)) < 1.5


def test_turning_the_face_turns_every_needle_with_it(tmp_path: Path) -> None:
    """A family whose artwork and marks are turned half about reads every needle half a turn on."""
    family = reader().family
    width, height = family.face_size_mm
    face = cv2.imread(str(family.face_path))
    assert face is not None

    turned = replace(
        family,
        dials=tuple(
            replace(
                d,
                centre_mm=(width - d.centre_mm[0], height - d.centre_mm[1]),
                scale=replace(d.scale, angles_deg=tuple(a + 180 for a in d.scale.angles_deg)),
            )
            for d in family.dials
        ),
    )
    cv2.imwrite(str(tmp_path / "face.png"), cv2.rotate(face, cv2.ROTATE_180))
    other = FaceReader(replace(turned, folder=tmp_path)).read_picture(picture())
    assert other.found
    for a, b in zip(plain().readings, other.readings, strict=True):
        assert b.angle_deg is not None
        assert a.angle_deg is not None
        assert a.u_angle_deg is not None
        assert b.angle_deg - a.angle_deg == pytest.approx(180.0, abs=1.5 * a.u_angle_deg)
        assert b.value == pytest.approx(a.value, abs=2 * (a.u_value or 0))


def test_less_light_and_another_tone_change_nothing() -> None:
    dimmer = np.clip(255 * (picture().pixels / 255.0) ** 1.15 * 0.7, 0, 255).astype(np.uint8)
    assert max(differences_in_u(reader().read_picture(with_pixels(dimmer)))) < 1.5


def test_without_focal_length_the_direction_stays() -> None:
    """Direction needs no focal length: parallax moves a needle sideways, it does not turn it."""
    assert picture().focal_35mm is not None
    without = reader().read_picture(replace(picture(), focal_35mm=None))
    assert max(differences_in_u(without)) < 1.0


def test_cropping_to_the_cluster_keeps_the_readings() -> None:
    cropped = reader().read_picture(replace(with_pixels(picture().pixels[:, 60:]), focal_35mm=None))
    assert max(differences_in_u(cropped)) < 1.5


def test_truth_lens_and_backlight_are_not_read(tmp_path: Path) -> None:
    """Core fields alone, no truth beside them: the same numbers to the last digit."""
    source = DATA / "families" / "fam-b"
    document = json.loads((source / "family.json").read_text())
    document.pop("lens", None)
    document.pop("backlight", None)
    (tmp_path / "family.json").write_text(json.dumps(document))
    copyfile(source / "face.png", tmp_path / "face.png")
    again = FaceReader(load_family(tmp_path)).read_picture(picture())
    assert [r.angle_deg for r in again.readings] == [r.angle_deg for r in plain().readings]
    assert [r.u_angle_deg for r in again.readings] == [r.u_angle_deg for r in plain().readings]


def test_the_components_make_up_the_uncertainty() -> None:
    for reading in plain().readings:
        total = np.sqrt(sum(u * u for _, u in reading.components_deg))
        assert reading.u_angle_deg == pytest.approx(total)
        assert [name for name, _ in reading.components_deg] == [
            "fit",
            "model",
            "agreement",
            "registration",
            "pitch",
        ]


def test_a_covered_needle_is_refused_and_the_others_are_read() -> None:
    pixels = picture().pixels.copy()
    speed = next(r for r in plain().readings if r.dial == "speed")
    assert speed.line_px is not None
    hub, tip = np.array(speed.line_px)
    middle = tuple(int(v) for v in hub + 0.75 * (tip - hub))
    cv2.circle(pixels, middle, 60, (140, 160, 200), -1)
    covered = reader().read_picture(with_pixels(pixels))
    by_dial = {r.dial: r for r in covered.readings}
    assert by_dial["speed"].status == "refused"
    assert by_dial["speed"].angle_deg is None
    assert [r.status for r in covered.readings if r.dial != "speed"] == ["read"] * 4


@pytest.mark.parametrize(
    ("pixels", "reason"),
    [
        (np.full((600, 900, 3), 120, np.uint8), "too_blurred"),
        (np.zeros((600, 900, 3), np.uint8), "too_dark"),
        (
            np.random.default_rng(3).integers(0, 255, (600, 900, 3)).astype(np.uint8),
            "face_not_found",
        ),
    ],
)
def test_no_face_no_readings(pixels: NDArray[np.uint8], reason: str) -> None:
    nothing = reader().read_picture(with_pixels(pixels))
    assert not nothing.found
    assert nothing.reason == reason
    assert nothing.readings == ()


def test_a_blurred_photo_says_so() -> None:
    soft = np.asarray(cv2.GaussianBlur(picture().pixels, (0, 0), 14))
    assert reader().read_picture(with_pixels(soft)).reason == "too_blurred"


def test_a_needle_under_glare_is_hidden_and_not_missing() -> None:
    """A white bar over the whole needle, tail and all; the other needles stay as they were."""
    covered = next(r for r in plain().readings if r.dial == "fuel")
    assert covered.line_px is not None
    ends = [tuple(round(v) for v in point) for point in covered.line_px]
    pixels = picture().pixels.copy()
    cv2.line(pixels, ends[0], ends[1], (255, 255, 255), 40)
    read = reader().read_picture(with_pixels(pixels))
    said = {r.dial: r.reason or r.status for r in read.readings}
    assert said == {r.dial: "occluded" if r.dial == "fuel" else "read" for r in plain().readings}
