"""Photos nobody has read yet: a lost one is told apart, and a run's reading stops and goes on."""

import pytest

from needlewright.errors import RecordError
from needlewright.readings.batch import PictureProblem
from needlewright.records.measured import joined, measured_run
from needlewright.records.run_photos import add_run_photo, retake_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import run_sheet, start_run
from needlewright.records.stages import what_is_missing
from needlewright.records.undo import history, undo_last
from needlewright.records.waiting_photos import lost, photos_to_read, read_on, stop_reading
from records.benches import ANNA, BERT, bench, jpeg, outcomes, received, told


@pytest.fixture
def shop(tmp_path):
    with bench(tmp_path / "shop") as (opened, _):
        received(opened)
        yield opened


def photographed(shop, count, tag="T-77", first=0):
    run = start_run(shop, tag, "found", told(), ANNA)
    for number in range(count):
        add_run_photo(shop, run.id, jpeg(100 + first + number), f"{number}.jpg", ANNA)
    return run.id


def names(photos):
    return [photo.name for photo in photos]


def lose(shop, photo):
    shop.originals.path(photo.sha256).unlink()


def test_a_lost_photo_is_told_apart_from_the_others(shop):
    run_id = photographed(shop, 3)
    lose(shop, run_sheet(shop, run_id).photos[1])
    waiting = photos_to_read(shop)
    assert names(waiting) == ["0.jpg", "1.jpg", "2.jpg"]
    assert [photo.path is None for photo in waiting] == [False, True, False]


def test_a_lost_photo_leaves_the_rest_of_its_run_to_be_judged(shop):
    run_id = photographed(shop, 3)
    lose(shop, run_sheet(shop, run_id).photos[1])
    for number, photo in enumerate(photos_to_read(shop)):
        what = lost(photo) if photo.path is None else outcomes()[number]
        store_outcome(shop, photo.photo_id, what)
    rows = joined(shop, run_id).run.rows
    assert len(rows) == 3 * 4
    assert [row.step for row in rows if row.indicated is None] == [1] * 4
    assert [len(photo.needles) for photo in measured_run(shop, run_id).evidence.photos] == [4, 4]
    (said,) = [one for one in what_is_missing(shop, "T-77", "bench_check") if "1.jpg" in one]
    assert said == (
        "run as-found, step 1: 1.jpg: was not read because its file is missing from the shop's "
        "store; choose the same photo again, or take a new one"
    )


def test_the_same_photo_chosen_again_brings_the_file_back(shop):
    run_id = photographed(shop, 2)
    photo = run_sheet(shop, run_id).photos[1]
    with pytest.raises(RecordError, match=r"is the same picture as 1\.jpg at step 1"):
        retake_photo(shop, photo.id, jpeg(101), "1.jpg", ANNA)
    lose(shop, photo)
    store_outcome(shop, photo.id, lost(photos_to_read(shop)[1]))
    with pytest.raises(RecordError, match=r"is the same picture as 0\.jpg at step 0"):
        retake_photo(shop, photo.id, jpeg(100), "0.jpg", ANNA)
    again = retake_photo(shop, photo.id, jpeg(101), "1.jpg", ANNA)
    assert (again.step, again.replaces_id) == (1, photo.id)
    assert shop.originals.read(photo.sha256) == jpeg(101)
    assert [waiting.path is None for waiting in photos_to_read(shop)] == [False, False]


def test_a_stopped_run_waits_for_nobody_until_it_is_asked_for(shop):
    received(shop, "T-78", serial="S-124")
    first, second = photographed(shop, 2), photographed(shop, 1, "T-78", first=50)
    stopped = stop_reading(shop, first, BERT)
    assert stopped.reading_stopped_at is not None
    assert [photo.run_id for photo in photos_to_read(shop)] == [second]
    assert names(photos_to_read(shop, first)) == ["0.jpg", "1.jpg"]  # by name it can still be read
    add_run_photo(shop, first, jpeg(102), "2.jpg", ANNA)
    assert [photo.run_id for photo in photos_to_read(shop)] == [second]
    assert read_on(shop, first, ANNA).reading_stopped_at is None
    assert [photo.run_id for photo in photos_to_read(shop)] == [first, first, second, first]
    assert [(edit.what, edit.by) for edit in history(shop, "T-77")[:3]] == [
        ("run as-found: the rest is to be read", ANNA),
        ("run as-found: photo of step 2", ANNA),
        ("run as-found: reading stopped", BERT),
    ]


def test_a_stop_is_taken_back_as_anything_else(shop):
    run_id = photographed(shop, 1)
    stop_reading(shop, run_id, ANNA)
    assert photos_to_read(shop) == ()
    assert undo_last(shop, "T-77", ANNA).what == "run as-found: reading stopped"
    assert names(photos_to_read(shop)) == ["0.jpg"]


def test_what_cannot_be_stopped_or_gone_on_with_is_said(shop):
    run_id = photographed(shop, 1)
    with pytest.raises(RecordError, match="T-77, run as-found: the reading is not stopped"):
        read_on(shop, run_id, ANNA)
    stop_reading(shop, run_id, ANNA)
    with pytest.raises(RecordError, match="the reading is stopped already"):
        stop_reading(shop, run_id, ANNA)
    read_on(shop, run_id, ANNA)
    store_outcome(shop, photos_to_read(shop)[0].photo_id, PictureProblem("0.jpg", "0.jpg: no"))
    with pytest.raises(RecordError, match="every photo is read; there is nothing to stop"):
        stop_reading(shop, run_id, ANNA)
