"""The whole loop: real virtual bus, movements of the rehearsal, drawn camera, real reader.

Each fault is put into the cluster and found in the table, within what the table itself says it does
not know and what the vocabulary calls sound: the movement's own repeatability.
"""

from math import hypot
from pathlib import Path

import pytest

from bench.benches import (
    FAMILY,
    Heard,
    devices_of,
    errors_deg,
    kept_in,
    rehearsal_of,
    run_of,
    short_plan,
)
from needlewright.readings.run_csv import read_run
from needlewright.readings.runs import Run

COVERAGE = 3.0


def run_with(folder: Path, *faults: str, points: int = 2) -> Run:
    with rehearsal_of(*faults) as rehearsal, rehearsal.transport:
        ended = run_of(kept_in(folder, short_plan(points=points)), devices_of(rehearsal)).go()
    assert (ended.state, ended.words) == ("finished", "every check point was looked at")
    assert read_run(folder / "as-found.csv").rows == ended.run.rows
    return ended.run


def within_deg(dial: str, *u_deg: float) -> float:
    found = FAMILY.dial(dial)
    assert found is not None
    return COVERAGE * hypot(*u_deg, found.movement.repeatability_deg)


def test_a_sound_cluster_shows_no_error_its_uncertainty_does_not_cover(tmp_path: Path):
    run = run_with(tmp_path)
    assert len(run.rows) == 2 * 3
    for dial in ("engine", "speed"):
        for row, error in errors_deg(run.rows, dial):
            assert row.u_angle_deg is not None
            assert 0.005 < row.u_angle_deg < 0.15
            assert abs(error) < within_deg(dial, row.u_angle_deg)


def test_an_offset_is_the_same_error_everywhere(tmp_path: Path):
    found = errors_deg(run_with(tmp_path, "engine:needle_offset=3.5").rows, "engine")
    assert len(found) == 3
    for row, error in found:
        assert error == pytest.approx(3.5, abs=within_deg("engine", row.u_angle_deg or 0.0))


def test_a_scale_factor_is_the_ratio_of_shown_to_commanded(tmp_path: Path):
    run = run_with(tmp_path, "speed:scale_factor=0.94")
    speed = FAMILY.dial("speed")
    assert speed is not None
    for row in run.of_dial("speed"):
        assert row.indicated is not None
        assert row.commanded is not None
        slope = abs(speed.scale.slope_at(0.0))
        u_ratio = slope * within_deg("speed", row.u_angle_deg or 0.0) / row.commanded
        shown = speed.programme.shown_at(row.commanded)
        assert row.indicated / shown == pytest.approx(0.94, abs=u_ratio)


def test_backlash_is_the_difference_of_falling_and_rising(tmp_path: Path):
    found = errors_deg(run_with(tmp_path, "engine:backlash=1.6").rows, "engine")
    by_way = {row.approach: (row, error) for row, error in found if row.commanded == 1.0}
    (up_row, up), (down_row, down) = by_way["up"], by_way["down"]
    u_deg = hypot(up_row.u_angle_deg or 0.0, down_row.u_angle_deg or 0.0)
    assert down - up == pytest.approx(1.6, abs=within_deg("engine", u_deg))


def test_lost_steps_are_whole_cycles_from_where_they_are_lost(tmp_path: Path):
    run = run_with(tmp_path, "speed:lost_steps=-2@50", points=2)
    found = errors_deg(run.rows, "speed")
    lost = {row.commanded: error for row, error in found if row.approach == "up"}
    speed = FAMILY.dial("speed")
    assert speed is not None
    cycle = speed.movement.cycle_deg
    assert lost[20.0] == pytest.approx(0.0, abs=within_deg("speed", 0.05))
    assert lost[80.0] / cycle == pytest.approx(-2.0, abs=within_deg("speed", 0.05) / cycle)


def test_a_stalled_needle_stands_where_it_stood_and_its_neighbour_is_read(tmp_path: Path):
    run = run_with(tmp_path, "engine:stalled=20")
    for row in run.of_dial("engine"):
        assert row.angle_deg == pytest.approx(20.0, abs=COVERAGE * (row.u_angle_deg or 0.0))
    for row, error in errors_deg(run.rows, "speed"):
        assert abs(error) < within_deg("speed", row.u_angle_deg or 0.0)


def test_a_run_begins_at_rest_over_the_key_ons_and_says_what_each_row_is(tmp_path: Path):
    heard = Heard()
    with rehearsal_of() as rehearsal, rehearsal.transport:
        plan = short_plan(points=1, key_ons=(0, 1, 3))
        ended = run_of(kept_in(tmp_path, plan), devices_of(rehearsal), heard).go()
    assert ended.state == "finished"
    engine = ended.run.of_dial("engine")
    assert [(row.approach, row.commanded, row.key_cycle) for row in engine] == [
        ("rest", None, 0),
        ("rest", None, 1),
        ("rest", None, 3),
        ("up", 1.0, 4),
    ]
    dial = FAMILY.dial("engine")
    assert dial is not None
    for row in engine[:3]:
        assert row.angle_deg == pytest.approx(
            dial.rest_angle_deg, abs=within_deg("engine", row.u_angle_deg or 0.0)
        )
    assert {row.temperature_c for row in ended.run.rows} == {23.0}
    assert [row.u_commanded for row in engine] == [None, None, None, 0.0]
    assert all((tmp_path / (row.photo or "")).is_file() for row in ended.run.rows)
    assert [p.done for p in heard.progress] == [0, 1, 2, 3]
    assert heard.progress[0].left_s is None
    assert all((p.left_s or 0) > 0 for p in heard.progress[1:])
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "as-found-photos",
        "as-found.csv",
        "as-found.evidence.json",
    ]
