import math
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageColor, ImageFont

from needlewright.papers import face_marks
from needlewright.papers.face_labels import Choice, Taken, find_tag_places
from needlewright.papers.face_marks import (
    LONGER_SIDE_PX,
    MARK_FROM,
    MARK_TO,
    ON_DARK,
    ON_LIGHT,
    FaceDial,
    draw_face_marks,
    write_face_marks,
)

PX_PER_MM = 8.0
SIZE_MM = (100.0, 80.0)
CENTRE_MM = (60.0, 45.0)
LENGTH_MM = 30.0
ZOOM = LONGER_SIDE_PX / (PX_PER_MM * SIZE_MM[0])
ONE_PIXEL_DEG = math.degrees(1 / (LENGTH_MM * PX_PER_MM * ZOOM))
"""Of the drawing, at the needle's tip: 0.06 degrees."""


def a_dial(marks: tuple[tuple[str, float], ...], rest_angle_deg: float = 200.0) -> FaceDial:
    return FaceDial(
        name="speed, km/h",
        centre_mm=CENTRE_MM,
        marks=marks,
        rest_angle_deg=rest_angle_deg,
        length_mm=LENGTH_MM,
        tail_mm=9.0,
        base_width_mm=2.0,
        tip_width_mm=1.0,
        hub_radius_mm=5.0,
    )


def plain_face(grey: int) -> NDArray[np.uint8]:
    shape = (round(SIZE_MM[1] * PX_PER_MM), round(SIZE_MM[0] * PX_PER_MM), 3)
    return np.full(shape, grey, dtype=np.uint8)


def polar_of(picture: NDArray[np.uint8], colour: str) -> tuple[NDArray[np.float64], ...]:
    """Radius in mm and angle in degrees about the dial's centre of every pixel of a colour."""
    rgb = np.array(ImageColor.getrgb(colour)[:3], dtype=float)
    rows, columns = np.nonzero(cv2.inRange(picture, rgb - 11, rgb + 11))
    x = (columns + 0.5) / (PX_PER_MM * ZOOM) - CENTRE_MM[0]
    y = (rows + 0.5) / (PX_PER_MM * ZOOM) - CENTRE_MM[1]
    on_face = y + CENTRE_MM[1] < SIZE_MM[1]  # the key under the face has these colours too
    return np.hypot(x, y)[on_face], np.degrees(np.arctan2(x, -y))[on_face]


@pytest.mark.parametrize(("grey", "inks"), [(20, ON_DARK), (235, ON_LIGHT)])
@pytest.mark.parametrize("angle_deg", [-117.3, 0.0, 90.0, 133.4])
def test_a_mark_is_drawn_at_its_angle(grey: int, inks: face_marks._Inks, angle_deg: float) -> None:
    marks = (("0", angle_deg), ("9", angle_deg + 40.0))
    picture = draw_face_marks(plain_face(grey), PX_PER_MM, [a_dial(marks)], "t")
    radius, angle = polar_of(picture, inks.mark)
    off = (angle - angle_deg + 180) % 360 - 180
    line = (np.abs(off) < 8) & (radius > 0.8 * LENGTH_MM)
    assert float(np.median(off[line])) == pytest.approx(0, abs=ONE_PIXEL_DEG)
    # half a line width of reach at either end
    assert float(radius[line].min()) == pytest.approx(MARK_FROM * LENGTH_MM, abs=0.15)
    assert float(radius[line].max()) == pytest.approx(MARK_TO * LENGTH_MM, abs=0.15)


@pytest.mark.parametrize("end_deg", [60.0, -60.0])
def test_the_arrow_stands_where_the_value_is_highest(end_deg: float) -> None:
    marks = (("0", -end_deg), ("9", end_deg))
    picture = draw_face_marks(plain_face(20), PX_PER_MM, [a_dial(marks)], "t")
    radius, angle = polar_of(picture, ON_DARK.mark)
    off_arc_px = np.abs(radius - face_marks.ARC_AT * LENGTH_MM) * PX_PER_MM * ZOOM
    head = (off_arc_px > 4) & (radius < 0.75 * LENGTH_MM)
    assert np.count_nonzero(head) > 20
    # every pixel off the arc belongs to the head, within one millimetre before the end
    before_end_deg = math.copysign(1, end_deg) * (end_deg - angle[head])
    assert float(before_end_deg.min()) > 0
    assert float(before_end_deg.max()) < math.degrees(1 / (face_marks.ARC_AT * LENGTH_MM))


def test_the_needle_lies_at_the_rest_angle() -> None:
    marks = (("0", -60.0), ("9", 60.0))
    picture = draw_face_marks(plain_face(20), PX_PER_MM, [a_dial(marks, -100.0)], "t")
    radius, angle = polar_of(picture, ON_DARK.needle)
    out = radius > 7.0  # outside the hub
    tip = out & (np.abs(angle + 100) < 20)
    assert float(angle[tip & (radius > LENGTH_MM + 0.5)].mean()) == pytest.approx(-100, abs=0.03)
    edge = tip & (radius < LENGTH_MM - 1)
    across = radius * np.radians(angle + 100)
    # the outline's middle: half of a width that tapers from 2 mm at the centre to 1 mm at the tip
    wide = 1.0 - radius / LENGTH_MM * 0.5
    assert float(np.abs(np.abs(across[edge]) - wide[edge]).mean()) < 0.05
    tail = out & ~tip & (radius < 11)
    assert float(np.abs(angle[tail] - 80).max()) < math.degrees(1.4 / 7)
    hub = np.abs(radius - 5.0) < 0.2
    assert np.count_nonzero(hub) > 0.8 * 2 * math.pi * 5 * PX_PER_MM * ZOOM


def test_the_face_itself_is_left_alone() -> None:
    art = plain_face(20)
    before = art.copy()
    marks = (("0", -60.0), ("9", 60.0))
    picture = draw_face_marks(art, PX_PER_MM, [a_dial(marks)], "t")
    assert np.array_equal(art, before)
    assert picture.shape[1] == LONGER_SIDE_PX
    assert picture[5, 5].tolist() == [20, 20, 20]
    assert picture[-5, 5].tolist() == list(ImageColor.getrgb(face_marks.ink.PAPER))


def test_a_tag_keeps_clear_of_what_is_printed() -> None:
    grey = np.full((200, 200), 30, dtype=np.float32)
    grey[80:120:2, 20:80] = 250  # a numeral
    letters = ImageFont.load_default(12)
    places = [Choice(((50.0, 100.0),)), Choice(((150.0, 100.0),), cost=5.0)]
    (tag,) = find_tag_places(grey, ["80"], places, letters, pad_px=2, taken=Taken())
    assert tag.box_px[0] > 100
    grey[:] = 30
    (tag,) = find_tag_places(grey, ["80"], places, letters, pad_px=2, taken=Taken())
    assert tag.box_px[2] < 100


def test_tags_do_not_cover_each_other() -> None:
    grey = np.full((200, 200), 30, dtype=np.float32)
    letters = ImageFont.load_default(12)
    tight = Choice(((50.0, 100.0), (52.0, 100.0)))
    wide = Choice(((50.0, 100.0), (150.0, 100.0)), cost=30.0)
    tags = find_tag_places(grey, ["80", "90"], [tight, wide], letters, pad_px=2, taken=Taken())
    assert [tag.text for tag in tags] == ["80", "90"]
    assert tags[0].box_px[2] < tags[1].box_px[0]
    (other,) = find_tag_places(
        grey, ["1"], [Choice(((50.0, 100.0),)), Choice(((50.0, 20.0),), cost=99.0)], letters,
        pad_px=2, taken=Taken(tags=tuple(tags)),
    )  # fmt: skip
    assert other.box_px[3] < 40


def test_the_picture_is_written_whole(tmp_path: Path) -> None:
    path = tmp_path / "marks.png"
    dials = [a_dial((("0", -60.0), ("9", 60.0)))]
    write_face_marks(path, plain_face(20), PX_PER_MM, dials, "plain")
    with Image.open(path) as picture:
        assert picture.format == "PNG"
        assert picture.size[0] == LONGER_SIDE_PX
    assert [p.name for p in tmp_path.iterdir()] == ["marks.png"]
