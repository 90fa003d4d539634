"""Overlays of large photos: drawn smaller, the lines where the needles are."""

import cv2
import numpy as np
import pytest

from needlewright.composing import overlays
from needlewright.composing.overlays import OverlayingReader, scaled
from needlewright.papers.overlay import DialDrawing
from needlewright.readings.model import PhotoReadings
from proofs.drawn_job import FAMILY

DRAWING = DialDrawing(
    "speed",
    "82 km/h",
    True,
    centre_px=(99.5, 49.5),
    hub_px=((0.0, 0.0), (9.5, 19.5)),
    arc_px=((199.5, 99.5),),
    marks_px=(((1.5, 3.5), (5.5, 7.5)),),
    needle_px=((99.5, 49.5), (299.5, 49.5)),
)


def test_a_drawing_is_made_smaller_about_pixel_corners():
    half = scaled(DRAWING, 0.5)
    assert half.centre_px == (49.5, 24.5)
    assert half.hub_px == ((-0.25, -0.25), (4.5, 9.5))
    assert half.arc_px == ((99.5, 49.5),)
    assert half.marks_px == (((0.5, 1.5), (2.5, 3.5)),)
    assert half.needle_px == ((49.5, 24.5), (149.5, 24.5))
    assert (half.name, half.label, half.was_read) == ("speed", "82 km/h", True)
    assert scaled(DRAWING, 1.0) is DRAWING
    bare = scaled(DialDrawing("fuel", "not read", False), 0.5)
    assert (bare.centre_px, bare.needle_px, bare.marks_px) == (None, None, ())


@pytest.mark.parametrize(("most_px", "width_px"), [(120_000, 400), (30_000, 200)])
def test_the_overlay_of_a_photo_beyond_the_limit_is_smaller(
    tmp_path, monkeypatch, most_px, width_px
):
    photo = np.zeros((300, 400, 3), np.uint8)
    photo[100:110, 200:210] = 255
    cv2.imwrite(str(tmp_path / "1.png"), photo)

    class Seen:
        def read_photo(self, path, as_given):
            return PhotoReadings(as_given, True, None, ())

    monkeypatch.setattr(overlays, "face_reader", lambda _: Seen())
    monkeypatch.setattr(overlays, "dial_drawings", lambda *_: [DRAWING])
    monkeypatch.setattr(overlays, "LARGEST_OVERLAY_PX", most_px)
    reader = OverlayingReader({"1.png": tmp_path / "1.jpg"}, FAMILY)
    reader.read_photo(tmp_path / "1.png", "1.png")
    drawn = cv2.imread(str(tmp_path / "1.jpg"))
    assert drawn.shape[1] == width_px
    share = width_px / 400
    assert drawn[int(105 * share), int(205 * share)].min() > 200  # the photo, where it was
    at_needle = drawn[int(49.5 * share), int(250 * share)].astype(int)
    assert at_needle.max() - at_needle.min() > 80  # a coloured line across the dark ground
