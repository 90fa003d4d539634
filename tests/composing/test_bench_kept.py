"""What a run at the bench leaves in the records beside its rows."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from needlewright.bench.outcome import RestCurrent, Sweep, SweepFound
from needlewright.bench.steps import RunPlan, plan_run, with_checks
from needlewright.composing.bench_choice import BenchChoice
from needlewright.composing.bench_folder import begin_stored, choose_again, folder_of, unfinished
from needlewright.composing.bench_kept import StoredRun, told_of
from needlewright.errors import RunError
from needlewright.families.model import Family
from needlewright.records.families import families, load_version
from needlewright.records.opening import Shop, open_shop
from needlewright.records.runs import run_sheet, start_run
from needlewright.records.sheet import job_sheet
from needlewright.records.sweeps import followed_sweep, sweeps_of
from readings.drawn_clips import write_clip
from web.quick_bench import quick_shop
from web.sheet_desk import BY, TAG

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
    assert (video.name, video.events, video.problem) == ("bench-found-sweep.mp4", 1, None)
    assert followed_sweep(begun.shop, TAG, video.id).document == DOCUMENT
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
