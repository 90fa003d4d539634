"""The steps of a run, and what a person may want while it lasts."""

from dataclasses import replace
from pathlib import Path

import pytest

from bench.benches import (
    DIALS,
    FAMILY,
    VALUES,
    Heard,
    devices_of,
    kept_in,
    rehearsal_of,
    run_of,
    short_plan,
)
from needlewright.bench.devices import Wishes
from needlewright.bench.keeping import begin
from needlewright.bench.run import BenchRun, Listeners, Progress
from needlewright.bench.steps import RunPlan, plan_again, plan_run, step_words
from needlewright.errors import RunError
from needlewright.readings.run_csv import read_run
from needlewright.readings.runs import Run, RunRow
from needlewright.signals.model import Command


def outline(plan: RunPlan) -> list[tuple[str, dict[str, float], int]]:
    return [(step.approach, dict(step.told), step.key_ons) for step in plan.steps]


def test_a_run_rests_over_the_key_ons_then_climbs_and_comes_down_from_above():
    plan = plan_run({"engine": (1.0, 3.0, 5.0), "speed": (20.0, 80.0)}, (0, 1, 3))
    assert outline(plan) == [
        ("rest", {}, 0),
        ("rest", {}, 1),
        ("rest", {}, 3),
        ("up", {"engine": 1.0, "speed": 20.0}, 4),
        ("up", {"engine": 3.0, "speed": 80.0}, 4),
        ("up", {"engine": 5.0, "speed": 80.0}, 4),
        ("down", {"engine": 3.0, "speed": 80.0}, 4),
        ("down", {"engine": 1.0, "speed": 20.0}, 4),
    ]
    assert [step.number for step in plan.steps] == list(range(8))
    assert plan.dials == ("engine", "speed")


@pytest.mark.parametrize(
    ("values", "key_ons", "words"),
    [
        ({}, (), "no dial has a check point"),
        ({"speed": ()}, (0,), "no dial has a check point"),
        ({"speed": (20.0, 20.0)}, (), "dial 'speed': check points must rise, found 20, 20"),
        ({"speed": (20.0,)}, (3, 1), "key-ons must rise from 0 or more, found 3, 1"),
        ({"speed": (20.0,)}, (-1,), "key-ons must rise from 0 or more, found -1"),
    ],
)
def test_a_plan_that_is_none_is_refused(values, key_ons, words: str):
    with pytest.raises(RunError, match=words):
        plan_run(values, key_ons)


def test_a_step_is_told_in_words():
    rest, first, *_ = plan_run({"engine": (1.0,), "speed": (20.0,)}, (0,)).steps
    assert step_words(rest, FAMILY) == "at rest, as received"
    assert step_words(replace(rest, key_ons=3), FAMILY) == "at rest after 3 key-ons"
    assert step_words(first, FAMILY) == "engine 1 ×1000 r/min, speed 20 km/h, from below"


def rows_of(plan: RunPlan) -> tuple[RunRow, ...]:
    rows = []
    for step in plan.steps:
        for dial in FAMILY.dials:
            told = step.told.get(dial.id)
            rows.append(
                RunRow(
                    "was",
                    dial.id,
                    dial.unit,
                    step.approach,
                    told,
                    step=step.number,
                    key_cycle=step.key_ons,
                )
            )
    return tuple(rows)


def test_a_run_is_laid_out_again_from_its_rows():
    plan = plan_run(VALUES, (0, 1, 5))
    assert outline(plan_again(Run("was", rows_of(plan)), FAMILY)) == outline(plan)


def test_a_typed_run_without_steps_is_told_row_by_row():
    rows = tuple(
        RunRow("typed", "speed", "km/h", approach, told)
        for approach, told in (("rest", None), ("up", 40.0), ("up", 80.0), ("down", 40.0))
    )
    assert outline(plan_again(Run("typed", rows), FAMILY)) == [
        ("rest", {}, 0),
        ("up", {"speed": 40.0}, 1),
        ("up", {"speed": 80.0}, 1),
        ("down", {"speed": 40.0}, 1),
    ]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ((), "run 'was' has no rows to repeat"),
        ((RunRow("was", "boost", "bar", "up", 1.0),), "has no dial 'boost': engine, speed"),
    ],
)
def test_a_run_that_cannot_be_repeated_is_refused(rows, words: str):
    with pytest.raises(RunError, match=words):
        plan_again(Run("was", rows), FAMILY)


def test_another_plan_family_or_cluster_does_not_go_on_with_a_run(tmp_path: Path):
    path, plan = tmp_path / "as-found.csv", short_plan()
    kept = kept_in(tmp_path, plan)
    row = RunRow("as-found", "speed", "km/h", "up", 20.0, angle_deg=-88.0, u_angle_deg=0.1, step=0)
    kept.keep_step((row,), None, 1, 1)
    assert begin(path, FAMILY, plan).state.done == 1
    with pytest.raises(RunError, match="an interrupted run of other check points is there"):
        begin(path, FAMILY, short_plan(points=3))
    with pytest.raises(RunError, match=r"of another cluster .'bench', now 'rehearsed, sound'. is"):
        begin(path, FAMILY, plan, "rehearsed, sound")
    with pytest.raises(RunError, match=r"of another family .'invented-estate', now 'other'. is"):
        begin(path, replace(FAMILY, name="other"), plan)


def test_a_stop_flag_is_found_anew_when_more_of_the_run_is_known(tmp_path: Path):
    kept = kept_in(tmp_path, short_plan())
    row = RunRow("as-found", "speed", "km/h", "up", 20.0, angle_deg=-88.0, u_angle_deg=0.1, step=0)
    kept.keep_step((replace(row, flags=("on_stop", "off_scale")),), None, 1, 1)
    assert kept.state.rows[0].flags == ("off_scale",)


def test_a_person_skips_a_step_and_takes_one_back(tmp_path: Path):
    seen: list[int] = []
    wishes, asked = Wishes(), {1: "skip", 2: "redo"}

    def progress(now: Progress) -> None:
        seen.append(now.done)
        wish = asked.pop(now.done, None)
        if wish is not None:
            wishes.want(wish)  # type: ignore[arg-type]

    with rehearsal_of() as rehearsal, rehearsal.transport:
        kept = kept_in(tmp_path, short_plan())
        run = BenchRun(
            kept,
            devices_of(rehearsal),
            wishes=wishes,
            listeners=Listeners(progress=progress),
        )
        ended = run.go()
    assert ended.state == "finished"
    assert seen == [0, 1, 2, 1, 2]
    rows = read_run(tmp_path / "as-found.csv").rows
    assert [(row.step, row.dial) for row in rows] == [(i, d) for i in range(3) for d in DIALS]


def test_a_point_taken_back_is_come_to_from_its_own_side_again(tmp_path: Path):
    wishes, asked = Wishes(), [2, 3]
    happened: list[object] = []

    def progress(now: Progress) -> None:
        if asked and now.done == asked[0]:
            happened.append(f"redo {asked.pop(0)}")
            wishes.want("redo")

    with rehearsal_of() as rehearsal, rehearsal.transport as transport:
        apply = transport.apply

        def applied(*commands: Command) -> None:
            happened.extend(one.value for one in commands if one.dial == "engine")
            apply(*commands)

        def key(on: bool) -> None:
            happened.append("on" if on else "off")
            rehearsal.key(on)

        transport.apply = applied  # type: ignore[method-assign]
        run = BenchRun(
            kept_in(tmp_path, short_plan(points=2, key_ons=(0,))),
            replace(devices_of(rehearsal), key=key),
            wishes=wishes,
            listeners=Listeners(progress=progress),
        )
        ended = run.go()
    assert ended.state == "finished"
    first, second = happened.index("redo 2"), happened.index("redo 3")
    assert happened[first + 1 : second] == [3.0, "off", "on", 1.0, 3.0]
    assert happened[second + 1 :] == [1.0, 1.0, 3.0, 1.0, "off"]


def test_a_person_stops_a_run_and_takes_it_up_again(tmp_path: Path):
    wishes = Wishes()
    heard = Heard(lambda: wishes.want("stop"))
    with rehearsal_of() as rehearsal, rehearsal.transport as transport:
        apply, told = transport.apply, []

        def applied(*commands: Command) -> None:
            told.extend(commands)
            apply(*commands)

        transport.apply = applied  # type: ignore[method-assign]
        run = run_of(kept_in(tmp_path, short_plan()), devices_of(rehearsal), heard, wishes)
        ended = run.go()
        assert {(one.dial, one.value) for one in told} == {("engine", 1.0), ("speed", 20.0)}
        assert (ended.state, ended.done, ended.of) == ("stopped", 1, 3)
        assert dict(rehearsal.transport.on_wires) == {}
    assert kept_in(tmp_path, short_plan()).state.done == 1


def test_a_stop_does_not_wait_for_key_ons_that_are_left(tmp_path: Path):
    wishes = Wishes()
    with rehearsal_of() as rehearsal, rehearsal.transport:
        plan = short_plan(points=1, key_ons=(5,))
        turned: list[bool] = []

        def key(on: bool) -> None:
            turned.append(on)
            rehearsal.key(on)
            if len(turned) == 4:
                wishes.want("stop")

        devices = replace(devices_of(rehearsal), key=key)
        ended = run_of(kept_in(tmp_path, plan), devices, wishes=wishes).go()
    assert (ended.state, ended.done) == ("stopped", 0)
    assert turned == [False, True, False, True, False]
