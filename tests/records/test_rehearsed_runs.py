"""A run that was rehearsed says so for good, and nothing real is proved by it."""

from dataclasses import replace

import pytest

from needlewright.errors import RecordError
from needlewright.readings.runs import as_rehearsed
from needlewright.records import returning, shop, stages
from needlewright.records.bench_rows import leave_out, state_told
from needlewright.records.measured import joined
from needlewright.records.papers import prove
from needlewright.records.run_photos import add_run_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import run_sheet, set_aside_run, start_run, type_run
from needlewright.records.sheet import job_sheet
from needlewright.records.undo import undo_last
from proofs.drawn_job import true_run
from records.benches import ANNA, bench, jpeg, measured_side, outcomes, received, told

REHEARSED = "rehearsed, sound, 23 degC, seed 0"


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path) as (one, _):
        received(one)
        yield one


def rehearsed_run(opened, side="found"):
    run = start_run(opened, "T-77", side, told(f"as-{side}"), ANNA, rehearsed=REHEARSED)
    for step, read in outcomes(f"as-{side}").items():
        base = 1000 if side == "found" else 2000
        photo = add_run_photo(opened, run.id, jpeg(base + step), f"{step}.jpg", ANNA, step=step)
        store_outcome(opened, photo.id, read)
    return run_sheet(opened, run.id)


def test_a_rehearsed_run_proves_nothing_in_a_real_shop(opened):
    run = rehearsed_run(opened)
    assert run.rehearsed == REHEARSED
    [line] = job_sheet(opened, "T-77").runs
    assert line.rehearsed == REHEARSED
    assert joined(opened, run.id).run.is_rehearsed, "its rows say it too"
    assert joined(opened, run.id).remarks[0] == (
        f"{REHEARSED}; nothing of this run was seen on a real cluster"
    )
    said = (
        f"run as-found was rehearsed ({REHEARSED}): nothing of it was seen on a real cluster; set "
        "it aside and take the run on the cluster"
    )
    assert stages.what_is_missing(opened, "T-77", "bench_check") == (said,)
    with pytest.raises(RecordError, match="no paper can be issued: run as-found was rehearsed"):
        prove(opened, "T-77", "report")
    with pytest.raises(RecordError, match="Bench check cannot be finished: run as-found was reh"):
        stages.finish_stage(opened, "T-77", "bench_check", ANNA)
    set_aside_run(opened, run.id, "rehearsed only", ANNA)
    measured_side(opened, "T-77", "found")
    assert stages.what_is_missing(opened, "T-77", "bench_check") == ()


def test_no_certificate_comes_of_a_rehearsed_run_as_left(opened):
    measured_side(opened, "T-77", "found")
    rehearsed_run(opened, "left")
    returning.record_return(opened, "T-77", {"odometer_out": 123_456}, ANNA)
    with pytest.raises(RecordError, match="no paper can be issued: run as-left was rehearsed"):
        prove(opened, "T-77", "certificate")


def test_an_invented_shop_says_on_its_papers_that_it_was_rehearsed(opened):
    rehearsed_run(opened)
    shop.change_settings(opened, {"invented": True})
    document = prove(opened, "T-77", "report").document
    assert document["invented"] is True
    assert document["remarks"] == [
        f"Run as-found: {REHEARSED}; nothing of it was seen on a real cluster."
    ]


def test_a_typed_run_whose_rows_are_rehearsed_stays_so(opened):
    run = type_run(opened, "T-77", "found", as_rehearsed(true_run("as-found")), ANNA)
    assert run.rehearsed == "rehearsed, as its file says"
    [line] = job_sheet(opened, "T-77").runs
    assert line.rehearsed == run.rehearsed
    whole = joined(opened, run.id)
    assert whole.run.is_rehearsed
    assert whole.remarks == (
        "rehearsed, as its file says; nothing of this run was seen on a real cluster",
    )
    with pytest.raises(RecordError, match="no paper can be issued: run as-found was rehearsed"):
        prove(opened, "T-77", "report")
    real = type_run(opened, "T-77", "left", true_run("as-left"), ANNA)
    assert (real.rehearsed, joined(opened, real.id).run.is_rehearsed) == (None, False)


def test_what_the_bench_really_told_takes_the_place_of_the_plan(opened):
    rows = told()
    run = start_run(opened, "T-77", "found", rows, ANNA)
    step = next(row.step for row in rows if row.commanded is not None)
    mine = [row for row in rows if row.step == step]
    real = [
        replace(row, commanded=(row.commanded or 0.0) + 0.25, u_commanded=0.1, key_cycle=6)
        for row in mine
    ]
    state_told(opened, run.id, real)
    kept = {(row.step, row.dial): row for row in run_sheet(opened, run.id).told}
    for row in rows:
        now = kept[row.step, row.dial]
        off = 0.25 if row.step == step else 0.0
        assert now.commanded == (None if row.commanded is None else row.commanded + off)
        assert now.u_commanded == (0.1 if row.step == step else row.u_commanded)
    set_aside_run(opened, run.id, "wrong cluster", ANNA)
    with pytest.raises(RecordError, match="was set aside on the job sheet"):
        state_told(opened, run.id, real)


def test_steps_left_out_come_back_by_undo_and_one_with_a_photo_stays(opened):
    run = start_run(opened, "T-77", "found", told(), ANNA)
    steps = list(dict.fromkeys(row.step for row in run.told))
    add_run_photo(opened, run.id, jpeg(1), "1.jpg", ANNA, step=steps[1])
    after = leave_out(opened, run.id, steps[1:4], ANNA)
    left = list(dict.fromkeys(row.step for row in after.told))
    assert left == [steps[0], steps[1], *steps[4:]]
    undone = undo_last(opened, "T-77", ANNA)
    assert undone.what == f"run as-found: left out at the bench: step {steps[2]}, {steps[3]}"
    assert list(dict.fromkeys(row.step for row in run_sheet(opened, run.id).told)) == steps
    version = job_sheet(opened, "T-77").version
    leave_out(opened, run.id, (), ANNA)
    assert job_sheet(opened, "T-77").version == version
