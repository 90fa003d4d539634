"""Stored photos read one by one: each is kept as soon as it is read, and none twice."""

from functools import partial
from pathlib import Path

import pytest

from needlewright.composing.run_reading import read_stored_photos
from needlewright.errors import PictureError
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.records.run_photos import add_run_photo
from needlewright.records.runs import run_sheet, start_run
from needlewright.records.waiting_photos import photos_to_read
from records.benches import ANNA, bench, jpeg, received, told


class Reader:
    """Reads nothing; every needle stands at 10 degrees, and the overlay is a few bytes."""

    def __init__(self, files, family, damaged=(), stop_at=None):
        self.files, self.family = files, family
        self.damaged, self.stop_at, self.count = damaged, stop_at, 0

    def read_photo(self, path: Path, as_given: str | None = None) -> PhotoReadings:
        if self.count == self.stop_at:
            raise KeyboardInterrupt
        self.count += 1
        if path.read_bytes() in self.damaged:
            raise PictureError(f"{path}: is damaged or cut short")
        self.files[as_given].write_bytes(b"overlay of " + path.name.encode())
        read = tuple(
            Reading(d.id, "read", d.unit, None, 10.0, 0.05, 1.0, 0.1) for d in self.family.dials
        )
        return PhotoReadings(as_given, True, None, read)


def reader(files, **more):
    return partial(Reader, files, **more)


@pytest.fixture
def run(tmp_path):
    with bench(tmp_path) as (opened, _):
        received(opened)
        started = start_run(opened, "T-77", "found", told(), ANNA)
        for step in range(4):
            add_run_photo(opened, started.id, jpeg(step), f"{step}.jpg", ANNA, step=step)
        yield opened, started.id


def test_every_photo_is_kept_with_its_overlay(run):
    opened, run_id = run
    progress = []
    done = read_stored_photos(
        opened, run_id, lambda *p: progress.append(p), workers=1, make_reader=reader
    )
    assert (done, progress) == (4, [(0, 4), (1, 4), (2, 4), (3, 4), (4, 4)])
    photos = run_sheet(opened, run_id).photos
    assert [len(photo.readings) for photo in photos] == [4] * 4
    for photo in photos:
        name = opened.originals.path(photo.sha256).name
        assert opened.originals.read(photo.overlay_sha256) == b"overlay of " + name.encode()
    assert read_stored_photos(opened, run_id, workers=1, make_reader=reader) == 0


def test_a_stop_in_between_loses_no_photo_that_was_read(run):
    opened, run_id = run
    with pytest.raises(KeyboardInterrupt):
        read_stored_photos(opened, run_id, workers=1, make_reader=partial(reader, stop_at=2))
    read = [photo.step for photo in run_sheet(opened, run_id).photos if photo.read_at]
    assert read == [0, 1]
    assert len(photos_to_read(opened)) == 2
    assert read_stored_photos(opened, workers=1, make_reader=reader) == 2
    assert photos_to_read(opened) == ()


def test_a_damaged_photo_stops_no_other_and_is_named_as_it_was_called(run):
    opened, run_id = run
    read_stored_photos(opened, run_id, workers=1, make_reader=partial(reader, damaged=(jpeg(1),)))
    photos = run_sheet(opened, run_id).photos
    assert photos[1].problem == "1.jpg: is damaged or cut short"
    assert photos[1].overlay_sha256 is None
    assert [len(photo.readings) for photo in photos] == [4, 0, 4, 4]


def test_a_lost_photo_is_said_and_the_others_are_read(tmp_path):
    with bench(tmp_path / "shop") as (shop, _):
        received(shop)
        run = start_run(shop, "T-77", "found", told(), ANNA)
        for number in range(3):
            add_run_photo(shop, run.id, jpeg(100 + number), f"{number}.jpg", ANNA)
        shop.originals.path(run_sheet(shop, run.id).photos[1].sha256).unlink()
        told_of = []
        done = read_stored_photos(
            shop, run.id, lambda *far: told_of.append(far), 1, make_reader=reader
        )
        photos = run_sheet(shop, run.id).photos
        assert done == 3
        assert told_of[-1] == (3, 3)
        assert [photo.found for photo in photos] == [True, None, True]
        assert "1.jpg: was not read because its file is missing" in photos[1].problem
        assert photos_to_read(shop) == ()
