"""The run a burn-in's first looks are held against: the newest after the work, of the same kind."""

import pytest

from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.composing.burn_in_job import begin_of_job
from needlewright.composing.burn_in_known import known_in, known_of_shop
from needlewright.composing.burn_in_left import left_run
from needlewright.readings.runs import as_rehearsed
from needlewright.records.runs import set_aside_run, start_run, type_run
from proofs.drawn_job import true_run
from records.benches import ANNA, bench, received

TAG = "T-77"
PLAN = BurnInPlan(
    hours=2.0, dwell_s=280.0, sweeps_each=1, check_every_h=1.0, points={"speed": (40.0,)}
)
REHEARSED = "rehearsed, sound, 23 degC, seed 5"


@pytest.fixture
def opened(tmp_path):
    with bench(tmp_path / "shop") as (one, _):
        received(one)
        yield one


def test_there_is_none_before_the_work_and_a_run_as_found_is_none(opened):
    assert left_run(opened, TAG, rehearsed=False) is None
    type_run(opened, TAG, "found", true_run("as-found"), ANNA)
    assert left_run(opened, TAG, rehearsed=False) is None


def test_the_run_as_left_is_kept_with_the_burn_in_when_it_begins(opened):
    run = type_run(opened, TAG, "left", true_run("as-left"), ANNA)
    left = left_run(opened, TAG, rehearsed=False)
    assert left is not None
    assert (left.name, left.at) == (run.name, run.started_at.isoformat())
    typed = {
        (row.dial, row.commanded): (row.angle_deg, row.u_angle_deg)
        for row in true_run("as-left").rows
        if row.approach == "up" and row.angle_deg is not None and not row.on_stop
    }
    assert (
        left.angles_deg
        == {point: found for point, found in typed.items() if None not in found}
        != {}
    )
    view = begin_of_job(opened, TAG, PLAN, known_of_shop(opened), rehearsed=None, by=ANNA)
    assert known_in(view.known).left == left
    set_aside_run(opened, run.id, "the camera slipped", ANNA)
    assert left_run(opened, TAG, rehearsed=False) is None
    assert known_in(view.known).left == left, "its report stays what it was"


def test_a_real_needle_is_held_against_a_real_one_only(opened):
    type_run(opened, TAG, "left", as_rehearsed(true_run("as-left")), ANNA)
    assert left_run(opened, TAG, rehearsed=False) is None
    assert left_run(opened, TAG, rehearsed=True) is not None
    view = begin_of_job(opened, TAG, PLAN, known_of_shop(opened), rehearsed=REHEARSED, by=ANNA)
    assert known_in(view.known).left is not None


def test_a_rehearsed_run_and_one_in_which_nothing_was_read_hide_no_older_one(opened):
    real = type_run(opened, TAG, "left", true_run("as-left"), ANNA)
    rehearsed = type_run(opened, TAG, "left", as_rehearsed(true_run("as-left")), ANNA)
    start_run(opened, TAG, "left", by=ANNA)
    left, other = (left_run(opened, TAG, rehearsed=one) for one in (False, True))
    assert left is not None
    assert other is not None
    assert (left.name, other.name) == (real.name, rehearsed.name)
    assert left.name != other.name


def test_a_check_after_the_run_as_left_counts_and_one_before_it_does_not(opened):
    type_run(opened, TAG, "other", true_run("as-found"), ANNA)
    as_left = type_run(opened, TAG, "left", true_run("as-left"), ANNA)
    left = left_run(opened, TAG, rehearsed=False)
    assert left is not None
    assert left.name == as_left.name
    check = type_run(opened, TAG, "other", true_run("as-found"), ANNA)
    after = left_run(opened, TAG, rehearsed=False)
    assert after is not None
    assert after.name == check.name, "its needles were set once more"
    assert after.angles_deg != left.angles_deg
    set_aside_run(opened, check.id, "the camera slipped", ANNA)
    assert left_run(opened, TAG, rehearsed=False) == left
