from dataclasses import replace
from importlib.resources import as_file, files

import pytest

from needlewright.composing.steps import POINTS, check_values, proposed_steps
from needlewright.families.folder import load_family
from needlewright.families.model import Family, Programme
from needlewright.records.told import check_told


@pytest.fixture(scope="module")
def family() -> Family:
    with as_file(files("needlewright") / "demo_data" / "family") as folder:
        return load_family(folder)


def dial(family: Family, dial_id: str):
    found = family.dial(dial_id)
    assert found is not None
    return found


def test_a_speedometer_is_told_the_check_points_of_its_rule_and_marks_between(family: Family):
    assert check_values(dial(family, "speed")) == (0, 40, 80, 120, 160, 200)


def test_a_slower_vehicle_gets_its_own_check_points(family: Family):
    assert 80 in check_values(dial(family, "speed"), max_speed=100)
    assert 40 in check_values(dial(family, "speed"), max_speed=100)


def test_nothing_is_told_that_a_sound_unit_would_show_beyond_the_scale(family: Family):
    speed = dial(family, "speed")
    top = max(check_values(speed))
    assert speed.programme.shown_at(top) <= speed.scale.values[-1]
    high = replace(speed, programme=Programme((0.0, 200.0), (0.0, 230.0)))
    assert high.programme.shown_at(max(check_values(high))) <= high.scale.values[-1]


def test_a_dial_whose_rule_names_no_point_is_told_even_shares_of_its_scale(family: Family):
    assert check_values(dial(family, "fuel")) == (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
    engine = check_values(dial(family, "engine"))
    assert len(engine) == POINTS
    assert engine[0] == 0
    assert engine[-1] == dial(family, "engine").scale.values[-1]


def test_a_run_rests_climbs_and_comes_down_through_the_same_values(family: Family):
    rows = proposed_steps(family, temperature_c=21.5)
    speed = [row for row in rows if row.dial == "speed"]
    assert [row.commanded for row in speed] == [
        None, 0, 40, 80, 120, 160, 200, 160, 120, 80, 40, 0,
    ]  # fmt: skip
    assert [row.approach for row in speed] == ["rest", *["up"] * 6, *["down"] * 5]
    assert [row.step for row in speed] == list(range(12))
    assert {row.temperature_c for row in rows} == {21.5}
    assert len(rows) == 12 * len(family.dials)


def test_the_records_take_what_is_proposed(family: Family):
    check_told(family, proposed_steps(family), "job EX-1")
