"""One look: the target, the turn that reaches it, and when there is nothing left to turn.

The family `fam-job` programmes its speedometer to show 1.02 x true + 1.5 km/h; its scale runs
from -110.32 deg (0 km/h) to 118.555 deg (220 km/h), 1.040341 deg per km/h.
"""

from dataclasses import replace
from pathlib import Path

import pytest

from needlewright.errors import ScaleError
from needlewright.families.folder import load_family
from needlewright.families.model import Dial, Programme
from needlewright.proofs.one_look import Look, look_at
from needlewright.readings.model import Reading

FAMILIES = Path(__file__).parents[1] / "data" / "families"
JOB = load_family(FAMILIES / "fam-job")
DEG_PER_KMH = (118.555 + 110.32) / 220


def dial_of(name: str) -> Dial:
    dial = JOB.dial(name)
    assert dial is not None
    return dial


def look(dial: Dial, angle_deg: float, at: float | None, u_angle_deg: float = 0.05) -> Look:
    slope = abs(dial.scale.slope_at(angle_deg))
    reading = Reading(
        dial.id,
        "read",
        dial.unit,
        None,
        angle_deg,
        u_angle_deg,
        dial.scale.value_at(angle_deg),
        u_angle_deg * slope,
    )
    return look_at(dial, reading, at)


def test_the_target_is_the_programme_and_the_turn_is_positive_clockwise() -> None:
    speed = dial_of("speed")
    seen = look(speed, speed.scale.angle_at(78.0), 80.0)
    assert seen.target == pytest.approx(1.02 * 80 + 1.5)  # 83.1
    assert seen.turn_deg == pytest.approx(5.1 * DEG_PER_KMH, abs=0.001)
    assert seen.u_turn_deg == pytest.approx((0.05**2 + 0.15**2) ** 0.5)
    assert seen.code == "not_there"
    assert seen.verdict.code == "fail"  # UN R39: a speedometer must not read low
    assert seen.verdict.error == pytest.approx(-2.0)
    too_high = look(speed, speed.scale.angle_at(84.1), 80.0)
    assert too_high.turn_deg == pytest.approx(-1.0 * DEG_PER_KMH, abs=0.001)
    assert too_high.code == "within"


def test_the_turn_in_tip_widths_and_graduations() -> None:
    speed = dial_of("speed")
    seen = look(speed, speed.scale.angle_at(78.0), 80.0)
    # 5.1 km/h are 5.3057 deg; a tip 1.39 mm wide at 45.09 mm is 1.7663 deg wide
    assert seen.turn_tip_widths == pytest.approx(3.004, abs=0.002)
    assert seen.turn_graduations == pytest.approx(5.1 / speed.graduation_or_step, abs=1e-4)


def test_a_needle_that_turns_the_other_way_keeps_the_sign_of_the_angle() -> None:
    temp = dial_of("temp")  # counter-clockwise: 98.586 deg at 80, 71.112 deg at 100 degC
    seen = look(temp, temp.scale.angle_at(80.0), 90.0)
    assert seen.turn_deg == pytest.approx(-(98.586 - 71.112) / 2)
    assert seen.turn_graduations == pytest.approx(10.0 / temp.graduation_or_step)


def test_there_when_one_look_could_show_no_turn() -> None:
    """U of the turn: twice the root of 0.05 squared (reading) and 0.15 squared (movement)."""
    speed = dial_of("speed")
    target_deg = speed.programme_angle_deg(80.0)
    assert look(speed, target_deg + 0.31, 80.0).code == "there"
    assert look(speed, target_deg + 0.32, 80.0).code == "within"


def test_a_rule_without_room_for_the_programme_moves_the_target_to_its_middle() -> None:
    low = replace(dial_of("speed"), programme=Programme((0.0, 220.0), (0.0, 209.0)))
    seen = look(low, low.scale.angle_at(80.0), 80.0)
    assert seen.target == pytest.approx(86.0)  # UN R39 allows 80..92 at true 80
    assert seen.turn_deg == pytest.approx(6.0 * DEG_PER_KMH, abs=0.001)


def test_a_dial_without_a_rule_is_there_or_not() -> None:
    free = replace(dial_of("engine"), rule=None)
    angle_deg = free.programme_angle_deg(3.2)
    assert look(free, angle_deg, 3.2).code == "there"
    off = look(free, angle_deg - 3.4, 3.2)
    assert off.code == "not_there"
    assert off.turn_deg == pytest.approx(3.4)
    assert off.verdict.code == "not_judged"


def test_at_rest_the_target_is_the_rest_angle() -> None:
    engine = dial_of("engine")  # rests on its first mark, -132.75 deg, stop inside the movement
    assert look(engine, -132.75, None).code == "there"
    off = look(engine, -136.15, None)
    assert off.code == "not_there"
    assert off.turn_deg == pytest.approx(3.4)
    assert off.verdict.basis == "rest"
    assert off.target == pytest.approx(0.0)


def test_at_zero_half_a_tip_width_is_within_the_rule() -> None:
    speed = dial_of("speed")  # half its tip is 0.883 deg
    assert look(speed, -110.32 + 0.7, 0.0).code == "within"
    assert look(speed, -110.32 + 1.1, 0.0).code == "not_there"
    assert look(speed, -110.32 + 1.1, 0.0).turn_deg == pytest.approx(-1.1)


def test_a_needle_on_its_pin_says_nothing_of_its_seat() -> None:
    fuel = dial_of("fuel")
    seen = look(fuel, fuel.rest_angle_deg, None)
    assert seen.code == "on_stop"
    assert seen.turn_deg is None


def test_a_refused_needle_has_no_turn() -> None:
    speed = dial_of("speed")
    refused = Reading("speed", "refused", "km/h", "occluded")
    seen = look_at(speed, refused, 80.0)
    assert seen.code == "not_read"
    assert seen.turn_deg is None
    assert seen.verdict.code == "not_read"
    assert seen.target == pytest.approx(83.1)


def test_a_value_beyond_the_scale_is_refused() -> None:
    with pytest.raises(ScaleError, match="past the scale"):
        look(dial_of("speed"), 0.0, 500.0)
