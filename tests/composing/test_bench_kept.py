"""What a run at the bench leaves in the records beside its rows."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from needlewright.bench.keeping import KeptRun
from needlewright.bench.outcome import RestCurrent, Sweep, SweepFound
from needlewright.bench.steps import RunPlan, plan_run, with_checks
from needlewright.composing.bench_choice import BenchChoice
from needlewright.composing.bench_folder import begin_stored, choose_again, folder_of, unfinished
from needlewright.composing.bench_kept import StoredRun, sweep_name, told_of
from needlewright.errors import RecordError, RunError
from needlewright.families.model import Family
from needlewright.readings.model import PhotoReadings
from needlewright.readings.runs import RunRow
from needlewright.records.families import families, load_version
from needlewright.records.opening import Shop, open_shop
from needlewright.records.runs import run_sheet, set_aside_run, start_run
from needlewright.records.sheet import job_sheet
from needlewright.records.sweeps import add_sweep, followed_sweep, sweeps_of, sweeps_to_follow
from needlewright.records.undo import history, undo_last
from readings.drawn_clips import write_clip
from web.quick_bench import quick_shop
from web.sheet_desk import BY, TAG

DATA = Path(__file__).parents[1] / "data"
CHOICE = BenchChoice(kind="rehearsal")
DOCUMENT = {"frames": [], "events": [{"t_s": 1.0, "dial": "speed"}], "summary": {}, "told": None}


@dataclass
class Begun:
    """A run that is begun, with a sweep after its one point."""

    shop: Shop
    family: Family
    plan: RunPlan
    stored: StoredRun
    run_id: int

    @property
    def folder(self) -> Path:
        return folder_of(self.shop, self.run_id)


@pytest.fixture
def begun(tmp_path: Path) -> Iterator[Begun]:
    quick_shop(tmp_path / "shop")
    with open_shop(tmp_path / "shop") as shop:
        family = load_version(shop, families(shop)[0].version_id)
        plan = with_checks(plan_run({"speed": (20.0,)}, (0,)), family, lamps=False)
        rows = told_of(plan, family, 21.0)
        run_id = start_run(shop, TAG, "found", rows, BY, rehearsed="rehearsed, sound").id
        kept = begin_stored(shop, run_id, family, plan, CHOICE)
        yield Begun(shop, family, plan, StoredRun(shop, run_id, BY, kept), run_id)


def swept(begun: Begun, found: SweepFound) -> Sweep:
    """A sweep that was filmed."""
    black = np.zeros((64, 96, 3), np.uint8)
    path = begun.stored.video_path
    write_clip(path, [(0.0, black), (0.04, black)])
    return Sweep(
        path.name, 0.04, 2, ("speed",), (), found, volts=13.5, mean_a=0.3125, peak_a=0.4142
    )


def test_only_looks_at_needles_are_told_in_the_records(begun: Begun):
    assert [step.kind for step in begun.plan.steps] == ["look", "look", "sweep"]
    told = run_sheet(begun.shop, begun.run_id).told
    assert [(row.step, row.approach, row.commanded, row.key_cycle) for row in told] == [
        (0, "rest", None, 0),
        (1, "up", 20.0, 1),
    ]


def test_a_sweep_is_a_sweep_video_of_the_job_and_what_was_drawn_a_note(begun: Begun):
    (begun.folder / "sweep.json").write_text(json.dumps(DOCUMENT), encoding="utf-8")
    begun.stored.keep_current(RestCurrent(1, 13.5, 0.20619))
    begun.stored.keep_check(swept(begun, SweepFound(document="sweep.json")), 3, 1)
    [video] = sweeps_of(begun.shop, TAG)
    assert (video.name, video.events, video.problem) == (
        "bench-found-sweep, rehearsed.mp4",
        1,
        None,
    )
    assert video.rehearsed == "rehearsed, sound"
    document = followed_sweep(begun.shop, TAG, video.id).document
    assert document == {**DOCUMENT, "rehearsed": "rehearsed, sound"}
    assert sweeps_to_follow(begun.shop) == ()
    assert job_sheet(begun.shop, TAG).notes == ()
    begun.stored.finish()
    [note] = job_sheet(begun.shop, TAG).notes
    assert note.text == (
        "Run as-found (rehearsed, sound): drew at rest 0.206 A after key-on 1; 0.312 A in the "
        "sweep, 0.414 A at most"
    )
    assert not begun.folder.exists()


def test_a_sweep_that_could_not_be_followed_says_why(begun: Begun):
    begun.stored.keep_check(swept(begun, SweepFound(problem="no face in it")), 3, 1)
    [video] = sweeps_of(begun.shop, TAG)
    assert (video.problem, video.events) == ("no face in it", None)


def see(begun: Begun, place: int, colour: int) -> None:
    """Look at a step: a photo in which nothing was found, and its row."""
    step = begun.plan.steps[place]
    path = begun.stored.keep_photo(step, np.full((64, 64, 3), colour, np.uint8))
    row = RunRow(
        begun.stored.state.run,
        "speed",
        "km/h",
        step.approach,
        step.told.get("speed"),
        photo=path.name,
        step=step.number,
    )
    begun.stored.keep_step(
        (row,), PhotoReadings(str(path), False, "face_not_found", ()), place + 1, step.key_ons
    )


def test_a_step_taken_again_and_then_skipped_keeps_no_photo_that_counts(begun: Begun):
    stored, [rest, up, _] = begun.stored, begun.plan.steps
    see(begun, 0, 10)
    see(begun, 1, 20)
    stored.take_back(up, 1)
    run = run_sheet(begun.shop, begun.run_id)
    assert [photo.step for photo in run.photos] == [rest.number]
    assert [photo.step for photo in run.older_photos] == [up.number]
    stored.keep_step((), None, 2, 1)
    stored.keep_check(None, 3, 1)
    stored.finish()
    run = run_sheet(begun.shop, begun.run_id)
    assert [photo.step for photo in run.photos] == [rest.number]
    assert {row.step for row in run.told} == {rest.number}


def test_undo_brings_back_a_photo_that_was_taken_back(begun: Begun):
    see(begun, 0, 10)
    begun.stored.take_back(begun.plan.steps[0], 0)
    assert run_sheet(begun.shop, begun.run_id).photos == ()
    undone = undo_last(begun.shop, TAG)
    assert undone.what == "run as-found: photo of step 0 withdrawn at the bench"
    assert [photo.step for photo in run_sheet(begun.shop, begun.run_id).photos] == [0]


def test_a_photo_left_by_an_end_in_between_goes_with_the_skip(begun: Begun):
    see(begun, 0, 10)
    KeptRun.take_back(begun.stored, begun.plan.steps[0], 0)  # and the records were not reached
    begun.stored.keep_step((), None, 1, 0)
    assert run_sheet(begun.shop, begun.run_id).photos == ()


def test_a_sweep_taken_again_takes_the_place_of_the_runs_own(begun: Begun):
    (begun.folder / "sweep.json").write_text(json.dumps(DOCUMENT), encoding="utf-8")
    name = sweep_name(run_sheet(begun.shop, begun.run_id))
    clip = (DATA / "videos" / "dev-lost-steps.mp4").read_bytes()
    apart = add_sweep(begun.shop, TAG, clip, "by-hand.mp4")
    for _ in range(2):  # as after an end between the records and the files
        begun.stored.keep_check(swept(begun, SweepFound(document="sweep.json")), 3, 1)
    own = [one for one in sweeps_of(begun.shop, TAG) if one.id != apart.id]
    assert [one.name for one in own] == [name]
    undo_last(begun.shop, TAG)
    assert [one.name for one in sweeps_of(begun.shop, TAG)] == ["by-hand.mp4", name]
    begun.stored.take_back(begun.plan.steps[2], 2)
    assert sweeps_of(begun.shop, TAG) == (apart,)


def test_what_was_drawn_is_noted_once_and_after_what_was_left_out(begun: Begun, monkeypatch):
    begun.stored.keep_current(RestCurrent(1, 13.5, 0.2))

    def killed(kept: KeptRun) -> None:
        raise RunError("ended between the note and the files")

    with monkeypatch.context() as patch:
        patch.setattr(KeptRun, "finish", killed)
        with pytest.raises(RunError):
            begun.stored.finish()
    begun.stored.finish()
    assert len(job_sheet(begun.shop, TAG).notes) == 1
    newest = [edit.what for edit in history(begun.shop, TAG, 2)]
    assert newest[1] == "run as-found: left out at the bench: step 0, 1"


def test_nothing_is_stored_in_a_run_that_was_set_aside(begun: Begun):
    see(begun, 0, 10)
    begun.stored.keep_current(RestCurrent(1, 13.5, 0.2))
    set_aside_run(begun.shop, begun.run_id, "only to see")
    sweep = swept(begun, SweepFound(problem="no face in it"))
    for store in (
        lambda: begun.stored.keep_check(sweep, 3, 1),
        lambda: begun.stored.keep_check(None, 3, 1),
        lambda: begun.stored.take_back(begun.plan.steps[0], 0),
        begun.stored.finish,
    ):
        with pytest.raises(RecordError, match="run as-found: was set aside on the job sheet"):
            store()
    assert sweeps_of(begun.shop, TAG) == ()
    assert job_sheet(begun.shop, TAG).notes == ()


def test_what_is_left_to_do_is_said_or_that_it_cannot_be_read(begun: Begun):
    assert unfinished(begun.shop, begun.run_id).choice == CHOICE
    with pytest.raises(RunError, match="goes on as a rehearsal"):
        choose_again(begun.shop, begun.run_id, BenchChoice(kind="bench", camera=1))
    (begun.folder / "choice.json").write_text('{"kind": "other"}', encoding="utf-8")
    with pytest.raises(RunError, match="can no longer be read; take what is missing by photos"):
        unfinished(begun.shop, begun.run_id)
    begun.stored.finish()
    with pytest.raises(RunError, match="the bench knows nothing that is left to do"):
        unfinished(begun.shop, begun.run_id)
