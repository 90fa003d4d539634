"""Which needles stand on a stop: the drawn job's labels, pins, inner stops, dead needles."""

from dataclasses import replace

import pytest

from needlewright.readings.complete import complete_row
from needlewright.readings.runs import RunRow
from needlewright.readings.stops import mark_stops
from readings.drawn_runs import FAMILY, completed, drawn_run, truth_lines

FUEL = FAMILY.dial("fuel")
SPEED = FAMILY.dial("speed")
ENGINE = FAMILY.dial("engine")
assert FUEL is not None
assert SPEED is not None
assert ENGINE is not None


@pytest.mark.parametrize("name", ["as-found", "as-left"])
@pytest.mark.parametrize("seed", [None, 1, 2, 3])
def test_the_drawn_labels_are_found_from_the_readings(name: str, seed: int | None) -> None:
    run = completed(drawn_run(name, u_deg=0.1, seed=seed))
    found = [row.on_stop for row in run.rows]
    drawn = [line["on_stop"] == "true" for line in truth_lines(name)]
    assert found == drawn
    # As found the speedometer, too, ends on the stop inside its movement.
    assert sum(drawn) == (2 if name == "as-found" else 1)


def rows(dial, *seen: tuple[float | None, float], u_deg: float = 0.05) -> list[RunRow]:
    """Rows of (commanded or None for rest, angle)."""
    last = float("-inf")
    made = []
    for told, angle in seen:
        approach = "rest" if told is None else ("up" if told >= last else "down")
        last = last if told is None else told
        row = RunRow("r", dial.id, dial.unit, approach, told, None, angle, u_deg)
        made.append(complete_row(row, dial, 0.15))
    return made


def flags(dial, made: list[RunRow]) -> list[bool]:
    return [row.on_stop for row in mark_stops(made, dial)]


def test_a_needle_seated_toward_its_pin_stands_on_it_at_zero() -> None:
    # Seated 8 degrees toward the pin, which lies 7.279 below the first mark (a ccw dial).
    seat = 8.0
    told = (0.0, 0.2, 0.4, 0.2, 0.0)
    seen = [(v, min(FUEL.programme_angle_deg(v) + seat, FUEL.rest_angle_deg)) for v in told]
    made = rows(FUEL, (None, FUEL.rest_angle_deg), *seen)
    assert flags(FUEL, made) == [True, True, False, False, False, True]


def test_a_dead_needle_on_its_pin_is_not_excused_by_it() -> None:
    made = rows(FUEL, *((v, FUEL.rest_angle_deg) for v in (0.0, 0.4, 0.8)))
    assert flags(FUEL, made) == [False, False, False]


def test_a_needle_that_has_passed_its_pin_does_not_stand_on_it() -> None:
    assert flags(FUEL, rows(FUEL, (None, FUEL.rest_angle_deg + 30.0))) == [False]
    assert flags(FUEL, rows(FUEL, (None, FUEL.rest_angle_deg + 1.0))) == [True]


def test_an_inner_stop_turns_with_the_seat() -> None:
    # The seat lies 3.4 below the family's rest angle: beyond its nominal stop, but 2 above its own.
    seat = -3.4
    made = rows(
        ENGINE,
        (None, ENGINE.rest_angle_deg + seat),
        (0.0, ENGINE.programme_angle_deg(0.0) + seat),
        (1.6, ENGINE.programme_angle_deg(1.6) + seat),
        (0.0, ENGINE.programme_angle_deg(0.0) + seat),
    )
    assert flags(ENGINE, made) == [False] * 4


@pytest.mark.parametrize("seat", [-3.4, 0.0, 5.0])
@pytest.mark.parametrize("with_rest", [True, False])
def test_lost_steps_end_on_the_inner_stop_wherever_the_needle_sits(
    seat: float, with_rest: bool
) -> None:
    stop = SPEED.rest_angle_deg + seat - 2.0
    made = rows(
        SPEED,
        (0.0, SPEED.programme_angle_deg(0.0) + seat),
        (80.0, SPEED.programme_angle_deg(80.0) + seat),
        (160.0, SPEED.programme_angle_deg(160.0) + seat - 6.0),
        (40.0, SPEED.programme_angle_deg(40.0) + seat - 6.0),
        (0.0, stop),
    )
    if with_rest:
        made = rows(SPEED, (None, SPEED.rest_angle_deg + seat)) + made
    assert flags(SPEED, made)[-5:] == [False, False, False, False, True]
    assert not flags(SPEED, made)[0]


def test_a_flag_that_was_typed_stays_and_is_not_doubled() -> None:
    made = rows(FUEL, (None, FUEL.rest_angle_deg), (0.2, FUEL.programme_angle_deg(0.2)))
    typed = [replace(row, flags=("on_stop",)) for row in made]
    assert [row.flags for row in mark_stops(typed, FUEL)] == [("on_stop",), ("on_stop",)]


def test_a_needle_that_was_not_read_is_on_no_stop() -> None:
    row = RunRow("r", "fuel", "fraction of full", "rest")
    assert mark_stops([row], FUEL) == (row,)
