"""When a photo was taken, and where that lies in a log. Tags: Exif 2.32 (CIPA DC-008), 4.6.5."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from PIL import ExifTags, Image

from needlewright.errors import PictureError, SignalError, UsageError
from needlewright.readings.moment_in_log import moments_in_log
from needlewright.readings.photo_moment import PhotoMoment, photo_moment
from needlewright.signals.port_log.answers import Clock, PortLog

TAKEN = datetime(2026, 3, 2, 10, 15, 40)
BEGIN = datetime(2026, 3, 2, 9, 15, tzinfo=UTC).timestamp()


def photo(path: Path, shade: int = 0, **tags: str) -> Path:
    image = Image.fromarray(np.full((80, 80, 3), shade, dtype=np.uint8))
    exif = Image.Exif()
    for name, value in tags.items():
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base[name]] = value
    image.save(path, "JPEG", exif=exif)
    return path


def moment(name: str = "p.jpg", seconds: float | None = 0.0, zone_h: float | None = 1.0):
    at = None if seconds is None else TAKEN + timedelta(seconds=seconds)
    zone = None if zone_h is None else timedelta(hours=zone_h)
    return PhotoMoment(name, at, zone, 0.5, name)


def log(clock: Clock, begin_s: float = BEGIN) -> PortLog:
    return PortLog(Path("drive.asc"), clock, begin_s, begin_s + 60.0, ())


def test_time_parts_of_a_second_and_zone(tmp_path):
    path = photo(
        tmp_path / "a.jpg",
        DateTimeOriginal="2026:03:02 10:15:40",
        SubsecTimeOriginal="25",
        OffsetTimeOriginal="-03:30",
    )
    found = photo_moment(path)
    assert found.at == TAKEN + timedelta(seconds=0.25)
    assert (found.zone, found.doubt_s) == (timedelta(hours=-3, minutes=-30), 0.0)


def test_without_parts_of_a_second_it_was_somewhere_within_it(tmp_path):
    found = photo_moment(photo(tmp_path / "a.jpg", DateTimeOriginal="2026:03:02 10:15:40"))
    assert found.at == TAKEN + timedelta(seconds=0.5)
    assert (found.zone, found.doubt_s) == (None, 0.5)


def test_a_photo_without_a_time_and_a_file_that_is_none(tmp_path):
    assert photo_moment(photo(tmp_path / "a.jpg", OffsetTimeOriginal="nonsense")).at is None
    (tmp_path / "b.jpg").write_text("no picture")
    with pytest.raises(PictureError, match=r"b\.jpg"):
        photo_moment(tmp_path / "b.jpg")


def test_the_zone_is_taken_off_for_a_log_in_utc_and_left_for_one_of_a_wall_clock():
    (found,) = moments_in_log(log("utc"), [moment()])
    assert (found.at_s, found.doubt_s, found.remark) == (BEGIN + 40.0, 1.5, None)
    (found,) = moments_in_log(log("wall", BEGIN + 3600), [moment()])
    assert found.at_s == BEGIN + 3640.0


def test_a_camera_that_states_no_zone_is_taken_for_utc_and_that_is_said():
    (found,) = moments_in_log(log("utc", BEGIN + 3600), [moment(zone_h=None)])
    assert found.at_s == BEGIN + 3640.0
    assert found.remark is not None
    assert "states no zone" in found.remark


def test_the_offset_of_the_clocks_is_taken_off():
    (found,) = moments_in_log(log("utc"), [moment()], clock_offset_s=3.5, clock_doubt_s=0.2)
    assert (found.at_s, found.doubt_s) == (BEGIN + 36.5, pytest.approx(0.7))


@pytest.mark.parametrize("at", ["12.5", "2026-03-02T09:15:12.5", "2026-03-02T10:15:12.5+01:00"])
def test_a_stated_moment_and_the_photos_after_it(at):
    first, second = moments_in_log(log("utc"), [moment("a"), moment("b", 7.0)], at=at)
    assert (first.at_s, first.doubt_s) == (BEGIN + 12.5, 1.0)
    assert (second.at_s, second.doubt_s) == (BEGIN + 19.5, 2.0)


def test_a_log_of_no_clock_takes_seconds_from_its_beginning():
    (found,) = moments_in_log(log("relative", 5.0), [moment(seconds=None)], at="12.5")
    assert found.at_s == 17.5


@pytest.mark.parametrize(
    ("clock", "photos", "options", "says"),
    [
        (
            "utc",
            [moment(zone_h=None)],
            {},
            "drive.asc: runs from 2026-03-02 09:15:00 UTC to 2026-03-02 09:16:00 UTC, and the "
            "photo was taken at 2026-03-02 10:15:40 UTC, outside it; the clocks seem to be +1 h "
            "apart: if so, say --clock-offset 3600",
        ),
        ("utc", [moment(seconds=86400 * 3)], {}, "say with --clock-offset what the camera's"),
        ("utc", [moment(seconds=None)], {}, "p.jpg: states no time of its own; say with --at"),
        ("relative", [moment()], {}, "counts seconds from a beginning that is not known"),
        ("utc", [moment()], {"at": "noon"}, "--at noon: is no time"),
        ("relative", [moment()], {"at": "2026-03-02"}, "give seconds from its beginning, 0 to 60"),
        ("utc", [moment()], {"at": "500"}, "outside it; correct --at"),
        ("utc", [moment(), moment()], {}, "is the same picture as another one given"),
        ("utc", [moment("a"), moment("b", None)], {"at": "5"}, "b: states no time, so its place"),
    ],
)
def test_slips_are_one_sentence(clock, photos, options, says):
    begin_s = 0.0 if clock == "relative" else BEGIN
    with pytest.raises((SignalError, PictureError, UsageError)) as told:
        moments_in_log(log(clock, begin_s), photos, **options)
    assert says in str(told.value)
    assert "\n" not in str(told.value)
