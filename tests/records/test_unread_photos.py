"""Photos in which nothing was read: they keep the work open until they are rejected or replaced."""

import pytest

from needlewright.errors import RecordError
from needlewright.readings.batch import PictureProblem
from needlewright.readings.flags import PHOTO_REASONS
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.records import stages
from needlewright.records.measured import joined, measured_run
from needlewright.records.papers import prove
from needlewright.records.run_photos import photo_at, reject_photo, retake_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import run_sheet
from needlewright.records.undo import history, undo_last
from needlewright.records.unread_photos import what_to_do
from proofs.drawn_job import FAMILY
from records.benches import ANNA, BERT, bench, jpeg, measured_side, outcomes, received

TO_DO = (
    "check that the job's family and variant are the cluster's, take the photo again with the "
    "whole face in the picture, or reject the photo and say why"
)


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path / "shop") as (shop, _):
        received(shop)
        yield shop


def unread(reason: str) -> PhotoReadings:
    refused = tuple(Reading(dial.id, "refused", dial.unit, reason) for dial in FAMILY.dials)
    return PhotoReadings("x", False, reason, refused)


def left_unread(opened, *steps: int, reason: str = "wrong_family"):
    """A run as found that was read but for some steps."""
    run = run_sheet(opened, measured_side(opened, "T-77", "found").id)
    for step in steps:
        store_outcome(opened, photo_at(run, step).id, unread(reason))
    return run_sheet(opened, run.id)


def test_photos_of_another_family_are_named_and_keep_the_part_open(opened):
    run = left_unread(opened, 3, 5)
    sentence = (
        "run as-found: nothing was read in as-found-3.jpg (step 3), as-found-5.jpg (step 5): "
        f"another face; {TO_DO}"
    )
    assert stages.what_is_missing(opened, "T-77", "bench_check") == (sentence,)
    assert photo_at(run, 3).advice == f"another face; {TO_DO}"
    assert photo_at(run, 4).advice is None
    with pytest.raises(RecordError) as said:
        stages.finish_stage(opened, "T-77", "bench_check", ANNA)
    assert str(said.value) == f"job T-77: Bench check cannot be finished: {sentence}"
    with pytest.raises(RecordError, match=r"no paper can be issued: run as-found: nothing was"):
        prove(opened, "T-77", "report")


def test_a_photo_rejected_with_a_reason_or_replaced_lets_the_part_be_finished(opened):
    run = left_unread(opened, 3, 5)
    sheet = reject_photo(opened, photo_at(run, 3).id, "  the lamp\nburnt out ", BERT)
    rejected = photo_at(sheet, 3)
    assert (rejected.rejected_why, rejected.rejected_by) == ("the lamp burnt out", BERT)
    assert rejected.rejected_at is not None
    assert rejected.advice is None
    (still,) = stages.what_is_missing(opened, "T-77", "bench_check")
    assert "as-found-3.jpg" not in still
    assert "as-found-5.jpg (step 5)" in still
    newer = retake_photo(opened, photo_at(run, 5).id, jpeg(77), "again.jpg", ANNA)
    store_outcome(opened, newer.id, outcomes()[5])
    assert stages.what_is_missing(opened, "T-77", "bench_check") == ()
    assert stages.finish_stage(opened, "T-77", "bench_check", ANNA).stage == "needles"
    rows = [row for row in joined(opened, run.id).run.rows if row.step == 3]
    assert [(row.angle_deg, row.flags) for row in rows] == [(None, ("rejected",))] * 4
    assert len(measured_run(opened, run.id).run.rows) == 48
    document = prove(opened, "T-77", "report").document
    speed = next(dial for dial in document["dials"] if dial["dial"] == "speed")
    assert "not read: rejected" in [row["words"] for row in speed["found"]["rows"]]


def test_a_rejection_stands_in_the_history_and_can_be_taken_back(opened):
    run = left_unread(opened, 3)
    reject_photo(opened, photo_at(run, 3).id, "no light", ANNA)
    assert history(opened, "T-77")[0].what == "run as-found: photo of step 3 rejected"
    undo_last(opened, "T-77", ANNA)
    again = photo_at(run_sheet(opened, run.id), 3)
    assert (again.rejected_why, again.rejected_by, again.rejected_at) == (None, None, None)
    assert len(stages.what_is_missing(opened, "T-77", "bench_check")) == 1


def test_a_file_that_cannot_be_used_can_be_rejected_too(opened):
    run = left_unread(opened)
    problem = PictureProblem("x", "as-found-2.jpg: is damaged or cut short; copy it again")
    store_outcome(opened, photo_at(run, 2).id, problem)
    assert photo_at(run_sheet(opened, run.id), 2).advice == problem.reason
    assert stages.what_is_missing(opened, "T-77", "bench_check") == (
        f"run as-found, step 2: {problem.reason}",
    )
    reject_photo(opened, photo_at(run, 2).id, "the card is gone", ANNA)
    assert stages.what_is_missing(opened, "T-77", "bench_check") == ()


def test_what_cannot_be_rejected_is_said(opened):
    run = left_unread(opened, 3)
    unfit = photo_at(run, 3).id
    with pytest.raises(RecordError, match=r"step 3: say why the photo as-found-3\.jpg is rejected"):
        reject_photo(opened, unfit, " ", ANNA)
    with pytest.raises(RecordError, match=r"the photo as-found-4\.jpg was read; only one in which"):
        reject_photo(opened, photo_at(run, 4).id, "why", ANNA)
    reject_photo(opened, unfit, "no light", ANNA)
    with pytest.raises(RecordError, match=r"the photo as-found-3\.jpg is rejected already"):
        reject_photo(opened, unfit, "again", ANNA)
    newer = retake_photo(opened, unfit, jpeg(77), "again.jpg", ANNA)
    with pytest.raises(RecordError, match="replaced by a later one already"):
        reject_photo(opened, unfit, "again", ANNA)
    with pytest.raises(RecordError, match=r"again\.jpg is not read yet"):
        reject_photo(opened, newer.id, "why", ANNA)
    with pytest.raises(RecordError, match="there is no photo at step 99"):
        photo_at(run, 99)


def test_a_run_of_rejected_photos_alone_is_none(opened):
    run = left_unread(opened, *range(12), reason="too_dark")
    (one,) = stages.what_is_missing(opened, "T-77", "bench_check")
    assert one.count(".jpg (step") == 12
    assert one.endswith(": too dark; add light or light the dials, or reject the photo and say why")
    for photo in run.photos:
        reject_photo(opened, photo.id, "no light", ANNA)
    assert stages.what_is_missing(opened, "T-77", "bench_check") == (
        "every photo of run as-found is rejected; set it aside and take the run again",
    )


@pytest.mark.parametrize("reason", [*PHOTO_REASONS, "made_up", None])
def test_every_reason_has_something_to_do(reason):
    to_do, _, last = what_to_do(reason).rpartition(", or ")
    assert last == "reject the photo and say why"
    assert len(to_do) > 10
