"""Taking back what was saved last, whatever it was."""

from collections.abc import Callable

import pytest

from needlewright.errors import RecordError
from needlewright.records import intake, jobs, papers, returning, shop, stages
from needlewright.records.run_photos import add_run_photo, retake_photo
from needlewright.records.run_readings import reject_reading
from needlewright.records.runs import run_sheet, set_aside_run, start_run, tell_run
from needlewright.records.sheet import job_sheet
from needlewright.records.undo import history, undo_last
from records.benches import ANNA, BERT, bench, jpeg, measured_side, new, received, told
from records.kill_worker import paper_document


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        yield one


def test_edits_are_taken_back_one_by_one(opened):
    new(opened)
    jobs.edit_job(opened, "T-77", {"owner": "first", "promised": "2026-03-20"}, ANNA)
    jobs.edit_job(opened, "T-77", {"owner": "second"}, BERT)
    undone = undo_last(opened, "T-77", ANNA)
    assert (undone.what, undone.by) == ("owner", BERT)
    assert job_sheet(opened, "T-77").owner == "first"
    assert undo_last(opened, "T-77", ANNA).what == "owner, promised"
    sheet = job_sheet(opened, "T-77")
    assert (sheet.owner, sheet.promised) == ("C. Ustomer", None)
    with pytest.raises(RecordError, match="the last thing saved is 'job opened'"):
        undo_last(opened, "T-77", ANNA)


def test_after_an_undo_new_work_is_undone_first(opened):
    new(opened)
    jobs.edit_job(opened, "T-77", {"owner": "first"}, ANNA)
    jobs.edit_job(opened, "T-77", {"owner": "second"}, ANNA)
    undo_last(opened, "T-77", ANNA)
    jobs.edit_job(opened, "T-77", {"vehicle": "third"}, ANNA)
    assert undo_last(opened, "T-77", ANNA).what == "vehicle"
    assert undo_last(opened, "T-77", ANNA).what == "owner"
    assert job_sheet(opened, "T-77").owner == "C. Ustomer"


def everything(opened, run_id: int | None):
    """What a person sees of a job, without its version and its journal."""
    sheet = job_sheet(opened, "T-77")
    parts = {
        name: getattr(sheet, name)
        for name in sheet.__dataclass_fields__
        if name not in ("version", "runs")
    }
    counting = [run.id for run in sheet.runs if run.set_aside_at is None]
    run = None if run_id is None else run_sheet(opened, run_id)
    rows = None if run is None else (run.told, run.photos, run.set_aside_at)
    return parts, counting, rows


def test_every_kind_of_change_can_be_taken_back(opened):
    shop.add_instrument(opened, "thermometer", "TH-9")
    received(opened)
    run = measured_side(opened, "T-77", "found")
    photo = run_sheet(opened, run.id).photos[3]
    box = intake.add_job_photo(
        opened, "T-77", jpeg(1), "1.jpg", ANNA, stage="received", kind="damage"
    )
    start_run(opened, "T-77", "other", told()[:8], ANNA)
    stages.finish_stage(opened, "T-77", "bench_check", ANNA)
    ways: dict[str, Callable[[], object]] = {
        "edit": lambda: jobs.edit_job(opened, "T-77", {"work_done": ["x"], "tag": "T-77"}, ANNA),
        "serial": lambda: jobs.edit_job(opened, "T-77", {"serial": "S-9", "variant": "v"}, ANNA),
        "wait": lambda: jobs.wait_for(opened, "T-77", "parts", ANNA),
        "note": lambda: jobs.add_note(opened, "T-77", "n", ANNA),
        "decision": lambda: jobs.decide(opened, "T-77", "d", "w", ANNA),
        "instruments": lambda: jobs.use_instruments(opened, "T-77", ["TH-9"], ANNA),
        "received": lambda: intake.receive(
            opened, "T-77", {"sender": "x", "day": "2026-03-01", "odometer_in": 5}, ANNA
        ),
        "box photo": lambda: intake.add_job_photo(
            opened, "T-77", jpeg(2), "2.jpg", ANNA, stage="received", kind="damage"
        ),
        "box photo off": lambda: intake.withdraw_job_photo(opened, box.id, ANNA),
        "finish": lambda: stages.finish_stage(opened, "T-77", "needles", ANNA),
        "reject": lambda: reject_reading(opened, photo.readings[0].id, "glare", ANNA),
        "retake": lambda: retake_photo(opened, photo.id, jpeg(3), "3.jpg", ANNA),
        "photo": lambda: add_run_photo(opened, run.id, jpeg(4), "4.jpg", ANNA),
        "told": lambda: tell_run(opened, run.id, told()[:40], ANNA),
        "run": lambda: start_run(opened, "T-77", "left", told("as-left"), ANNA),
        "set aside": lambda: set_aside_run(opened, run.id, "wrong table", ANNA),
    }
    for name, save in ways.items():
        before = everything(opened, run.id)
        save()
        assert everything(opened, run.id) != before, name
        undo_last(opened, "T-77", BERT)
        after = everything(opened, run.id)
        assert comparable(after) == comparable(before), name


def test_what_was_told_is_taken_back_once_and_then_what_came_before(opened):
    received(opened)
    run = measured_side(opened, "T-77", "found")
    jobs.add_note(opened, "T-77", "before it", ANNA)
    before = everything(opened, run.id)
    tell_run(opened, run.id, told()[:40], ANNA)
    undo_last(opened, "T-77", BERT)
    assert everything(opened, run.id) == before
    undo_last(opened, "T-77", BERT)
    assert [note.text for note in job_sheet(opened, "T-77").notes] == []


def comparable(state):
    """Stage times are written anew when a part is taken up again; states are what must agree."""
    parts, counting, rows = state
    stages_now = [(one.stage, one.state) for one in parts["stages"]]
    return {**parts, "stages": stages_now}, counting, rows


def test_returned_can_be_taken_back_and_a_paper_cannot(opened):
    received(opened)
    papers.file_paper(opened, "T-77", paper_document("N-1", 1), {".pdf": b"%PDF"}, ANNA)
    with pytest.raises(RecordError, match="'N-1 issued', which cannot be undone"):
        undo_last(opened, "T-77", ANNA)
    assert [paper.name for paper in job_sheet(opened, "T-77").papers] == ["N-1"]
    box = [{"what": "cluster", "ticked": True}]
    said = {"odometer_out": 184213, "contents": box, "packing": "box", "carrier": "by hand"}
    returning.record_return(opened, "T-77", said, ANNA)
    assert stages.finish_stage(opened, "T-77", "returned", ANNA).closed_at is not None
    undo_last(opened, "T-77", ANNA)
    sheet = job_sheet(opened, "T-77")
    assert (sheet.closed_at, sheet.waits_for) == (None, "bench")
    assert sheet.stage_of("returned").state == "in_hand"


def test_the_journal_says_who_what_and_when(opened):
    new(opened)
    jobs.edit_job(opened, "T-77", {"owner": "x", "promised": "2026-03-20"}, BERT)
    undo_last(opened, "T-77", ANNA)
    edits = history(opened, "T-77")
    assert [(e.what, e.by, e.undone) for e in edits] == [
        ("undo: owner, promised", ANNA, False),
        ("owner, promised", BERT, True),
        ("job opened", ANNA, False),
    ]
    assert edits[1].changes == (("owner", "C. Ustomer", "x"), ("promised", None, "2026-03-20"))
    assert edits[0].at > edits[1].at > edits[2].at
    assert history(opened, "T-77", limit=1) == edits[:1]


def test_a_part_started_and_finished_in_one_goes_back_to_not_begun(opened):
    received(opened)
    stages.finish_stage(opened, "T-77", "needles", ANNA)
    assert job_sheet(opened, "T-77").stage_of("needles").state == "finished"
    undo_last(opened, "T-77", ANNA)
    needles = job_sheet(opened, "T-77").stage_of("needles")
    assert (needles.state, needles.started_at, needles.finished_at) == ("to_do", None, None)
