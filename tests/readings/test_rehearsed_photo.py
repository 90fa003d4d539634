"""A photo of a rehearsal says so in its file, and its pixels stay as they are."""

import cv2
import numpy as np
import pytest
from PIL import ExifTags, Image

from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.picture import open_picture, stamp_picture
from needlewright.readings.reader import FaceReader
from needlewright.readings.rehearsed_photo import marked_rehearsed
from needlewright.rehearsal.sensor import Sensor, to_jpeg

PIXELS = np.random.default_rng(7).integers(0, 256, (70, 90, 3), dtype=np.uint8)


@pytest.mark.parametrize("kind", [".png", ".jpg"])
def test_the_mark_stands_beside_the_pixels(tmp_path, kind):
    """Exif 2.32, ImageDescription (tag 270), as Pillow and OpenCV read the files."""
    plain, path = cv2.imencode(kind, PIXELS)[1].tobytes(), tmp_path / f"photo{kind}"
    path.write_bytes(plain)
    before = open_picture(path)
    assert (before.rehearsed, stamp_picture(path).rehearsed) == (False, False)
    path.write_bytes(marked_rehearsed(plain))
    after = open_picture(path)
    assert (after.rehearsed, stamp_picture(path).rehearsed) == (True, True)
    np.testing.assert_array_equal(after.pixels, before.pixels)
    np.testing.assert_array_equal(cv2.imread(str(path)), before.pixels)
    with Image.open(path) as seen:
        assert seen.getexif()[ExifTags.Base.ImageDescription] == "rehearsed"
        seen.load()  # check sums of the chunks


def test_a_drawn_photo_is_marked_and_keeps_its_focal_length(tmp_path):
    path = tmp_path / "drawn.jpg"
    path.write_bytes(to_jpeg(PIXELS, Sensor(exif_focal_35mm=26)))
    seen = open_picture(path)
    assert (seen.rehearsed, seen.focal_35mm) == (True, 26.0)


def test_another_description_is_no_mark(tmp_path):
    path, exif = tmp_path / "described.jpg", Image.Exif()
    exif[ExifTags.Base.ImageDescription] = "rehearsed twice"
    Image.fromarray(PIXELS).save(path, exif=exif)
    assert not open_picture(path).rehearsed


def test_every_needle_read_in_it_says_so(tmp_path, monkeypatch):
    """The flag is that of a run's rows, so that no paper is proved by it."""
    read = Reading("speed", "read", "km/h", flags=("oblique",))
    refused = Reading("fuel", "refused", "L", "glare")
    seen = PhotoReadings("x", True, None, (read, refused))
    monkeypatch.setattr(FaceReader, "_read", lambda _self, _picture, _name: seen)
    path, reader = tmp_path / "photo.png", object.__new__(FaceReader)
    plain = cv2.imencode(".png", PIXELS)[1].tobytes()
    path.write_bytes(plain)
    assert reader.read_photo(path) == seen
    path.write_bytes(marked_rehearsed(plain))
    flags = [one.flags for one in reader.read_photo(path).readings]
    assert flags == [("oblique", "rehearsed"), ("rehearsed",)]
