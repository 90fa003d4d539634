"""Runs: what was told, the photos at their steps, what was read, rejected, taken again."""

import io
from dataclasses import replace

import pytest
from PIL import Image

from needlewright.errors import PictureError, RecordError, RunError
from needlewright.proofs.verdicts import judge_run
from needlewright.readings.batch import PictureProblem
from needlewright.readings.commands import Command
from needlewright.readings.complete import complete_run
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.runs import Run
from needlewright.records import stages
from needlewright.records.measured import joined, measured_run
from needlewright.records.run_photos import add_run_photo, retake_photo
from needlewright.records.run_readings import reading_id_at, reject_reading, store_outcome
from needlewright.records.runs import (
    run_sheet,
    run_that_counts,
    set_aside_run,
    start_run,
    tell_run,
    type_run,
)
from needlewright.records.sheet import job_sheet
from needlewright.records.told import Told, told_from
from needlewright.records.waiting_photos import photos_to_read
from proofs.drawn_job import FAMILY, true_run
from records.benches import ANNA, BERT, bench, jpeg, measured_side, outcomes, received, told


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        received(one)
        yield one


def test_a_run_comes_back_as_it_was_told_and_read(opened):
    run = measured_side(opened, "T-77", "found")
    rows = joined(opened, run.id).run.rows
    true = true_run("as-found").rows
    assert len(rows) == len(true) == 48
    for row, expected in zip(rows, true, strict=True):
        assert (row.dial, row.step, row.approach) == (
            expected.dial,
            expected.step,
            expected.approach,
        )
        assert row.commanded == expected.commanded
        assert row.angle_deg == pytest.approx(expected.angle_deg, abs=1e-4)
        assert (row.u_angle_deg, row.temperature_c) == (0.05, 21.5)
        assert row.on_stop == expected.on_stop
        assert row.photo.startswith("originals/")
        assert (opened.folder / row.photo).is_file()


def test_the_verdicts_are_those_of_the_run_in_memory(opened):
    run = measured_side(opened, "T-77", "left")
    stored = judge_run(FAMILY, measured_run(opened, run.id).run)
    rows = tuple(
        replace(
            row,
            indicated=FAMILY.dial(row.dial).scale.value_at(row.angle_deg),
            u_indicated=0.3 if row.unit == "km/h" else 0.01,
            u_commanded=None if row.commanded is None else 0.05,
        )
        for row in true_run("as-left").rows
    )
    memory = judge_run(FAMILY, complete_run(Run("as-left", rows), FAMILY))
    for one, other in zip(stored.dials, memory.dials, strict=True):
        assert (one.code, one.complete, one.missing) == (other.code, other.complete, other.missing)
        assert [r.code for r in one.rows] == [r.code for r in other.rows]
        assert [r.margin for r in one.rows] == pytest.approx(
            [r.margin for r in other.rows], abs=1e-5
        )


def test_the_evidence_names_the_photos_and_their_content(opened):
    run = measured_side(opened, "T-77", "found")
    measured = measured_run(opened, run.id)
    assert len(measured.evidence.photos) == 12
    photo = measured.evidence.photos[3]
    assert (opened.folder / photo.photo).read_bytes() == jpeg(1003)
    needle = photo.needle("speed")
    assert needle.components_deg == {"fit": 0.04, "registration": 0.03}
    assert needle.line_px == ((10.0, 20.0), (30.0, 40.0))
    assert measured.folder == opened.folder


def test_every_field_of_a_reading_is_kept(opened):
    run = start_run(opened, "T-77", "found", told(), ANNA)
    photo = add_run_photo(opened, run.id, jpeg(1), "1.jpg", ANNA)
    read = Reading(
        "speed",
        "read",
        "km/h",
        None,
        10.25,
        0.031,
        40.5,
        0.2,
        -0.7,
        ("glare", "soft"),
        (("fit", 0.03), ("pitch", 0.01)),
        ((1.5, 2.5), (3.25, 4.75)),
    )
    refused = Reading("fuel", "refused", "fraction of full", "occluded", flags=("glare",))
    kept = store_outcome(opened, photo.id, PhotoReadings("x", True, None, (read, refused)), b"jpg")
    first, second = kept.readings
    for name in (
        "dial",
        "status",
        "unit",
        "reason",
        "angle_deg",
        "u_angle_deg",
        "value",
        "u_value",
        "offset_mm",
        "flags",
        "components_deg",
        "line_px",
    ):
        assert getattr(first, name) == getattr(read, name), name
        assert getattr(second, name) == getattr(refused, name), name
    assert opened.originals.read(kept.overlay_sha256) == b"jpg"


def test_photos_take_the_first_free_step_or_the_one_named(opened):
    run = start_run(opened, "T-77", "found", told(), ANNA)
    assert run_sheet(opened, run.id).steps_without_photo == tuple(range(12))
    assert add_run_photo(opened, run.id, jpeg(1), "1.jpg", ANNA, step=3).step == 3
    assert [
        add_run_photo(opened, run.id, jpeg(n), f"{n}.jpg", ANNA).step for n in (2, 3, 4, 5)
    ] == [
        0,
        1,
        2,
        4,
    ]
    with pytest.raises(RecordError, match=r"step 3 has the photo 1\.jpg; take it again"):
        add_run_photo(opened, run.id, jpeg(6), "6.jpg", ANNA, step=3)


def test_one_picture_is_one_step_of_one_run(opened):
    found = start_run(opened, "T-77", "found", told(), ANNA)
    add_run_photo(opened, found.id, jpeg(1), "1.jpg", ANNA)
    with pytest.raises(
        RecordError, match=r"2\.jpg: is the same picture as 1\.jpg at step 0 of run as-found"
    ):
        add_run_photo(opened, found.id, jpeg(1), "2.jpg", ANNA)
    left = start_run(opened, "T-77", "left", told("as-left"), ANNA)
    with pytest.raises(RecordError, match="is the same picture as"):
        add_run_photo(opened, left.id, jpeg(1), "3.jpg", ANNA)
    set_aside_run(opened, found.id, "wrong table of commands", ANNA)
    assert add_run_photo(opened, left.id, jpeg(1), "3.jpg", ANNA).step == 0


def test_a_photo_taken_again_takes_the_step_and_the_older_stays(opened):
    run = measured_side(opened, "T-77", "found")
    older = run_sheet(opened, run.id).photos[3]
    newer = retake_photo(opened, older.id, jpeg(77), "again.jpg", BERT)
    assert (newer.step, newer.replaces_id, newer.readings) == (3, older.id, ())
    sheet = run_sheet(opened, run.id)
    assert [p.id for p in sheet.older_photos] == [older.id]
    assert len(sheet.older_photos[0].readings) == 4
    assert len(joined(opened, run.id).run.rows) == 44  # not read yet
    assert [p.photo_id for p in photos_to_read(opened)] == [newer.id]
    assert stages.what_is_missing(opened, "T-77", "bench_check") == (
        "1 photos of run as-found are not read yet",
    )
    store_outcome(opened, newer.id, outcomes()[3])
    assert len(joined(opened, run.id).run.rows) == 48
    with pytest.raises(RecordError, match="has been replaced already"):
        retake_photo(opened, older.id, jpeg(78), "x.jpg", BERT)


def test_a_rejected_reading_counts_as_not_read(opened):
    run = measured_side(opened, "T-77", "left")
    reading = reading_id_at(run_sheet(opened, run.id), 3, "speed")
    with pytest.raises(RecordError, match="say why the reading of dial 'speed' is rejected"):
        reject_reading(opened, reading, " ", ANNA)
    sheet = reject_reading(opened, reading, "a reflection lies on the needle", BERT)
    rejected = next(r for r in sheet.photos[3].readings if r.dial == "speed")
    assert (rejected.rejected_why, rejected.rejected_by) == (
        "a reflection lies on the needle",
        BERT,
    )
    assert rejected.angle_deg is not None  # what was read stays
    row = next(r for r in joined(opened, run.id).run.rows if r.step == 3 and r.dial == "speed")
    assert (row.angle_deg, row.indicated, row.flags) == (None, None, ("rejected",))
    verdict = judge_run(FAMILY, joined(opened, run.id).run).dial("speed")
    assert [r.words for r in verdict.rows if r.row.step == 3] == ["not read: rejected"]
    assert measured_run(opened, run.id).evidence.photos[3].needle("speed") is None
    with pytest.raises(RecordError, match="is rejected already"):
        reject_reading(opened, reading, "again", ANNA)
    with pytest.raises(RecordError, match="no reading of dial 'clock' at step 3"):
        reading_id_at(sheet, 3, "clock")


def test_a_later_look_at_a_photo_counts_and_the_earlier_stays(opened):
    run = start_run(opened, "T-77", "found", told(), ANNA)
    photo = add_run_photo(opened, run.id, jpeg(1), "1.jpg", ANNA)
    first = store_outcome(opened, photo.id, outcomes()[0])
    again = store_outcome(opened, photo.id, outcomes()[5], b"overlay")
    assert {r.id for r in first.readings}.isdisjoint(r.id for r in again.readings)
    assert len(run_sheet(opened, run.id).photos[0].readings) == 4
    with pytest.raises(RecordError, match="replaced by a later one"):
        reject_reading(opened, first.readings[0].id, "why", ANNA)


def test_a_photo_that_cannot_be_used_is_kept_with_its_sentence(opened):
    run = start_run(opened, "T-77", "found", told(), ANNA)
    photo = add_run_photo(opened, run.id, jpeg(1)[:-400], "IMG_7.jpg", ANNA)
    (waiting,) = photos_to_read(opened, run.id)
    problem = PictureProblem(str(waiting.path), f"{waiting.path}: is damaged or cut short")
    kept = store_outcome(opened, photo.id, problem)
    assert kept.problem == "IMG_7.jpg: is damaged or cut short"
    assert photos_to_read(opened) == ()
    rows = [row for row in joined(opened, run.id).run.rows if row.step == 0]
    assert [row.flags for row in rows] == [("picture_cannot_be_used",)] * 4
    assert "run as-found, step 0: IMG_7.jpg: is damaged or cut short" in stages.what_is_missing(
        opened, "T-77", "bench_check"
    )


def test_a_face_that_was_not_found_is_a_refusal_with_its_reason(opened):
    run = start_run(opened, "T-77", "found", told(), ANNA)
    photo = add_run_photo(opened, run.id, jpeg(1), "1.jpg", ANNA)
    refused = tuple(Reading(d.id, "refused", d.unit, "wrong_family") for d in FAMILY.dials)
    kept = store_outcome(opened, photo.id, PhotoReadings("x", False, "wrong_family", refused))
    assert (kept.found, kept.reason) == (False, "wrong_family")
    rows = [row for row in joined(opened, run.id).run.rows if row.step == 0]
    assert [row.flags for row in rows] == [("wrong_family",)] * 4


def test_what_was_told_can_be_stated_later_and_again(opened):
    run = start_run(opened, "T-77", "found", by=ANNA)
    for n in range(12):
        photo = add_run_photo(opened, run.id, jpeg(n), f"{n}.jpg", ANNA)
        store_outcome(opened, photo.id, outcomes()[n])
    assert [p.step for p in run_sheet(opened, run.id).photos] == list(range(1, 13))
    assert joined(opened, run.id).run.rows == ()
    later = [replace(row, step=row.step + 1) for row in told()]
    assert len(tell_run(opened, run.id, later, ANNA).told) == 48
    assert len(joined(opened, run.id).run.rows) == 48


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (Told(0, "clock", "V", "up", 1), "step 0: there is no dial 'clock'; the family has engine"),
        (Told(0, "speed", "mph", "up", 1), "mph"),
        (Told(0, "speed", "km/h", "rest", 5), "a rest has no commanded value"),
        (Told(0, "speed", "km/h", "up"), "a rest has no commanded value"),
    ],
)
def test_what_cannot_have_been_told_is_refused(opened, row, says):
    with pytest.raises((RecordError, RunError)) as said:
        start_run(opened, "T-77", "found", [row], ANNA)
    assert says in str(said.value)
    assert job_sheet(opened, "T-77").runs == ()


def test_a_dial_is_told_once_at_a_step(opened):
    twice = [Told(0, "speed", "km/h", "up", 1), Told(0, "speed", "km/h", "up", 2)]
    with pytest.raises(RecordError, match="dial 'speed' is told twice"):
        start_run(opened, "T-77", "found", twice, ANNA)


def test_runs_have_names_and_the_newest_counts(opened):
    first = start_run(opened, "T-77", "found", told(), ANNA)
    second = start_run(opened, "T-77", "found", told(), ANNA)
    third = start_run(opened, "T-77", "other", told(), ANNA, name="after the turn")
    assert [first.name, second.name, third.name] == ["as-found", "as-found-2", "after the turn"]
    assert run_that_counts(opened, "T-77", "found") == second.id
    set_aside_run(opened, second.id, "the table was wrong", BERT)
    assert run_that_counts(opened, "T-77", "found") == first.id
    with pytest.raises(RecordError, match="is set aside already"):
        set_aside_run(opened, second.id, "again", BERT)
    with pytest.raises(RecordError, match="there is a run 'as-found' already"):
        start_run(opened, "T-77", "other", (), ANNA, name="as-found")
    with pytest.raises(RecordError, match="there is no run as-left"):
        run_that_counts(opened, "T-77", "left")


def test_a_run_typed_in_without_photos(opened):
    typed = type_run(opened, "T-77", "left", true_run("as-left"), ANNA)
    whole = joined(opened, typed.id).run
    assert len(whole.rows) == 48
    assert [row.angle_deg for row in whole.rows] == [r.angle_deg for r in true_run("as-left").rows]
    assert stages.what_is_missing(opened, "T-77", "final_check") == ()
    with pytest.raises(RecordError, match="was typed in"):
        tell_run(opened, typed.id, told(), ANNA)
    same_step = Run("x", tuple(replace(row, step=1) for row in true_run("as-left").rows))
    assert len(type_run(opened, "T-77", "left", same_step, ANNA).told) == 48


def test_photos_against_the_order_of_their_times_are_remarked_on(opened):
    run = start_run(opened, "T-77", "found", told(), ANNA)
    for step, second in ((0, 30), (1, 10)):
        exif = Image.Exif()
        exif[0x0132] = f"2026:03:02 12:00:{second}"
        stream = io.BytesIO()
        Image.open(io.BytesIO(jpeg(step))).save(stream, "JPEG", exif=exif)
        photo = add_run_photo(opened, run.id, stream.getvalue(), f"{step}.jpg", ANNA, step=step)
        store_outcome(opened, photo.id, outcomes()[step])
    assert joined(opened, run.id).remarks[-1] == (
        "1.jpg (step 1) was taken at 12:00:10, before 0.jpg (step 0) at 12:00:30; look whether the "
        "photos are at their steps"
    )


def test_commands_give_steps_to_photos():
    def command(photo, dial, step):
        return Command(photo, dial, "V", "up", step, 1.0, None, None, None, None, None)

    rows, steps = told_from([command("a", "x", 5), command("a", "y", 5), command("b", "x", 7)])
    assert steps == {"a": 5, "b": 7}
    assert [(row.step, row.dial) for row in rows] == [(5, "x"), (5, "y"), (7, "x")]
    assert told_from([command("a", "x", None), command("b", "x", None)])[1] == {"a": 1, "b": 2}
    assert told_from([command("a", "x", 2), command("b", "x", None)])[1] == {"a": 1, "b": 2}


def test_no_picture_no_photo(opened):
    run = start_run(opened, "T-77", "found", told(), ANNA)
    with pytest.raises(PictureError, match=r"x\.jpg: is not a picture"):
        add_run_photo(opened, run.id, b"text", "x.jpg", ANNA)
    assert run_sheet(opened, run.id).photos == ()
