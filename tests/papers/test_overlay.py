"""The overlay on a flat grey photo, where every drawn pixel can be counted."""

from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageColor

from needlewright.papers import ink
from needlewright.papers.lettering import label_box, place_labels, type_of
from needlewright.papers.overlay import (
    NEEDLE_LINE,
    REFUSED_LINE,
    SCALE_LINE,
    DialDrawing,
    Pixels,
    draw_overlay,
    write_overlay,
)

WIDTH, HEIGHT = 1600, 1067


def circle(
    x: float, y: float, radius: float, first_deg: float, last_deg: float
) -> tuple[tuple[float, float], ...]:
    angles = np.radians(np.arange(first_deg, last_deg + 1, 3.0))
    return tuple((float(x + radius * np.sin(a)), float(y - radius * np.cos(a))) for a in angles)


def dial(x: float, y: float, radius: float, *, was_read: bool = True) -> DialDrawing:
    """A dial with its needle pointing to 12 o'clock."""
    inner, outer = circle(x, y, radius, -120, 120), circle(x, y, 1.09 * radius, -120, 120)
    return DialDrawing(
        name="speed",
        label="82.4 ± 0.6 km/h" if was_read else "not read: occluded",
        was_read=was_read,
        centre_px=(x, y),
        hub_px=circle(x, y, 0.2 * radius, 0, 360),
        arc_px=inner,
        marks_px=tuple(zip(inner[::10], outer[::10], strict=True)),
        needle_px=((x, y - 0.2 * radius), (x, y - radius)) if was_read else None,
    )


def grey() -> Pixels:
    return np.full((HEIGHT, WIDTH, 3), 90, np.uint8)


def colour_at(drawn: Pixels, x: float, y: float) -> str:
    blue, green, red = drawn[round(y), round(x)].tolist()
    return f"#{red:02x}{green:02x}{blue:02x}"


def count(drawn: Pixels, hexed: str) -> int:
    red, green, blue = ImageColor.getrgb(hexed)[:3]
    return int((drawn == (blue, green, red)).all(axis=2).sum())


def test_needle_and_scale_are_drawn_where_they_were_found() -> None:
    drawn = draw_overlay(grey(), [dial(800, 500, 250)], ["one photo"])
    assert drawn.shape[1] == WIDTH
    for y in (440, 350, 260):
        assert colour_at(drawn, 800, y) == NEEDLE_LINE
    x, y = circle(800, 500, 262, -30, -30)[0]  # along the mark at -30 degrees
    assert colour_at(drawn, x, y) == SCALE_LINE
    assert count(drawn, REFUSED_LINE) == 0


def test_a_refused_dial_has_a_cross_a_broken_scale_and_no_needle() -> None:
    whole = draw_overlay(grey(), [dial(800, 500, 250)], [])
    refused = draw_overlay(grey(), [dial(800, 500, 250, was_read=False)], [])
    assert count(refused, NEEDLE_LINE) == 0
    assert count(refused, SCALE_LINE) == 0
    assert colour_at(refused, 800, 500) == REFUSED_LINE
    assert count(refused, ink.NOT_GOOD) > 500  # the words and the label's edge
    assert count(whole, ink.NOT_GOOD) == 0
    arc = circle(800, 500, 250, -120, 120)
    middles = [((x0 + x1) / 2, (y0 + y1) / 2) for (x0, y0), (x1, y1) in pairwise(arc)]
    painted = [colour_at(refused, x, y) == REFUSED_LINE for x, y in middles]
    assert 0.3 < np.mean(painted) < 0.7


def test_the_photo_itself_stays_and_the_rest_of_the_sheet_is_the_photo() -> None:
    photo = grey()
    drawn = draw_overlay(photo, [dial(400, 500, 150)], ["one photo", "two lines"])
    assert (photo == 90).all()
    assert (drawn[:HEIGHT, 1100:] == 90).all()
    red, green, blue = ImageColor.getrgb(ink.PAPER)[:3]
    assert drawn[-2, -2].tolist() == [blue, green, red]


def test_a_photo_without_a_face_carries_only_labels() -> None:
    lost = DialDrawing("speed", "not read: face not found", was_read=False)
    drawn = draw_overlay(grey(), [lost, lost], ["face not found"])
    assert count(drawn, ink.PAPER) > 10_000
    assert count(drawn, REFUSED_LINE) == 0


@pytest.mark.parametrize("scale", [0.4, 1.0, 2.5])
def test_labels_lie_inside_the_photo_and_off_each_other_and_the_needles(scale: float) -> None:
    dials = [dial(x * scale, 500 * scale, 110 * scale) for x in (500, 760, 1020)]
    size = (round(WIDTH * scale), round(HEIGHT * scale))
    boxes = [label_box(d.name, d.label, scale) for d in dials]
    corners = place_labels(
        size,
        boxes,
        [d.centre_px for d in dials],
        [d.arc_px for d in dials],
        [d.needle_px for d in dials],
    )
    spans = [
        (x, y, x + box.width_px, y + box.height_px)
        for (x, y), box in zip(corners, boxes, strict=True)
    ]
    for left, top, right, bottom in spans:
        assert 0 <= left < right <= size[0]
        assert 0 <= top < bottom <= size[1]
    for a, b in combinations(spans, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
    for left, top, right, bottom in spans:
        for d in dials:
            assert d.needle_px is not None
            for x, y in d.needle_px:
                assert not (left <= x <= right and top <= y <= bottom)


def test_letters_grow_with_the_photo() -> None:
    small, large = label_box("speed", "82.4 km/h", 1.0), label_box("speed", "82.4 km/h", 2.5)
    assert large.height_px == pytest.approx(2.5 * small.height_px, rel=0.02)
    assert large.width_px == pytest.approx(2.5 * small.width_px, rel=0.05)


def test_points_far_outside_the_frame_do_no_harm() -> None:
    far = dial(1e7, -1e7, 1e6)
    assert draw_overlay(grey(), [far], []).shape[1] == WIDTH


def test_the_file_is_written_whole(tmp_path: Path) -> None:
    write_overlay(tmp_path / "o.jpg", grey(), [dial(800, 500, 250)], ["one photo"])
    with Image.open(tmp_path / "o.jpg") as image:
        assert image.width == WIDTH
        assert image.height > HEIGHT
    assert [p.name for p in tmp_path.iterdir()] == ["o.jpg"]


SIGNS = "±×−°µ½≤≥²·–…’“”éöñßŁčőΩЖ"


def test_the_type_has_every_sign_of_a_label_and_the_letters_of_names():
    letters = type_of(40)
    missing = bytes(letters.getmask("\ue123"))
    assert [sign for sign in SIGNS if bytes(letters.getmask(sign)) == missing] == []


def test_a_label_has_a_true_minus():
    said = [replace(dial(800, 500, 300), label=label) for label in ("-0.102 km/h", "−0.102 km/h")]
    hyphen, minus = (draw_overlay(grey(), [one], []) for one in said)
    assert np.array_equal(hyphen, minus)
    assert type_of(44).getlength("−") > 1.5 * type_of(44).getlength("-")
