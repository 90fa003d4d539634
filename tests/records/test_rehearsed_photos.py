"""Photos of a rehearsal that are added later make a run a rehearsed one, or are refused."""

import pytest

from needlewright.errors import RecordError
from needlewright.readings.rehearsed_photo import marked_rehearsed
from needlewright.records.needle_heights import HeightPhoto, keep_needle_height
from needlewright.records.run_photos import add_run_photo, photo_at, retake_photo
from needlewright.records.runs import REHEARSED_FILE, run_sheet, start_run
from needlewright.records.sheet import job_sheet
from needlewright.records.stages import what_run_is_missing
from needlewright.records.undo import undo_last
from records.benches import ANNA, bench, jpeg, new, received, told


@pytest.fixture
def begun(tmp_path):
    with bench(tmp_path) as (shop, _):
        received(shop)
        yield shop, start_run(shop, "T-77", "found", told(), ANNA).id


def test_a_run_of_a_rehearsal_s_photos_is_rehearsed_and_undo_takes_it_back(begun):
    shop, run = begun
    add_run_photo(shop, run, marked_rehearsed(jpeg(1)), "a.jpg", ANNA)
    assert run_sheet(shop, run).rehearsed == REHEARSED_FILE
    add_run_photo(shop, run, jpeg(2), "b.jpg", ANNA)  # what is rehearsed stays so
    assert run_sheet(shop, run).rehearsed == REHEARSED_FILE
    undo_last(shop, "T-77", ANNA)
    undo_last(shop, "T-77", ANNA)
    assert run_sheet(shop, run).rehearsed is None


def test_in_a_shop_that_is_not_invented_such_a_run_is_never_whole(tmp_path):
    with bench(tmp_path, invented=False) as (shop, _):
        received(shop)
        run = start_run(shop, "T-77", "found", told(), ANNA).id
        add_run_photo(shop, run, marked_rehearsed(jpeg(1)), "a.jpg", ANNA)
        said = what_run_is_missing(shop, "T-77", "found")[0]
        assert said.startswith("run as-found was rehearsed (rehearsed, as its file says)")


def test_it_is_not_put_among_photos_of_a_cluster(begun):
    shop, run = begun
    add_run_photo(shop, run, jpeg(1), "a.jpg", ANNA)
    add_run_photo(shop, run, jpeg(2), "b.jpg", ANNA)
    for add in (
        lambda: add_run_photo(shop, run, marked_rehearsed(jpeg(3)), "c.jpg", ANNA),
        lambda: retake_photo(
            shop, photo_at(run_sheet(shop, run), 1).id, marked_rehearsed(jpeg(3)), "c.jpg", ANNA
        ),
    ):
        with pytest.raises(RecordError) as refused:
            add()
        assert str(refused.value) == (
            "c.jpg: is a photo of a rehearsal, as its file says, and run as-found holds photos of "
            "a cluster; take its photo on the cluster, or set the run aside"
        )
    sheet = run_sheet(shop, run)
    assert (sheet.rehearsed, [one.name for one in sheet.photos]) == (None, ["a.jpg", "b.jpg"])


def test_a_needle_s_height_is_not_taken_from_it(tmp_path):
    """In a shop that is invented it is, and its photo says so."""
    photo = HeightPhoto(marked_rehearsed(jpeg(4)), "d.jpg", "needle of speed")
    with bench(tmp_path / "real", invented=False) as (shop, _):
        new(shop)
        with pytest.raises(RecordError, match=r"d\.jpg is a photo of a rehearsal"):
            keep_needle_height(shop, "T-77", "speed", {}, photos=[photo], by=ANNA)
        assert not job_sheet(shop, "T-77").photos
    with bench(tmp_path / "invented", invented=True) as (shop, _):
        new(shop)
        kept = keep_needle_height(shop, "T-77", "speed", {}, photos=[photo], by=ANNA)
        assert [one.note for one in kept.photos] == ["needle of speed (rehearsed)"]
