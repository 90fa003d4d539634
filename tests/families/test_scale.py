import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.errors import ScaleError
from needlewright.families.scale import Scale
from strategies import reachable_angles, scales

CLOCKWISE = Scale(values=(0, 20, 60, 100), angles_deg=(-120, -100, 0, 80))
ANTICLOCKWISE = Scale(values=(40, 80, 120), angles_deg=(130, 100, 40))


@pytest.mark.parametrize(
    ("scale", "value", "angle_deg"),
    [
        (CLOCKWISE, 0, -120),
        (CLOCKWISE, 10, -110),
        (CLOCKWISE, 20, -100),
        (CLOCKWISE, 40, -50),  # the second segment is steeper: 2.5 degrees a unit
        (CLOCKWISE, 100, 80),
        (CLOCKWISE, -5, -125),  # one degree a unit, continued below
        (CLOCKWISE, 108, 96),  # two degrees a unit, continued above
        (ANTICLOCKWISE, 60, 115),
        (ANTICLOCKWISE, 100, 70),
        (ANTICLOCKWISE, 20, 145),
        (ANTICLOCKWISE, 130, 25),
    ],
)
def test_value_and_angle_by_hand(scale: Scale, value: float, angle_deg: float) -> None:
    assert scale.angle_at(value) == pytest.approx(angle_deg, abs=1e-12)
    assert scale.value_at(angle_deg) == pytest.approx(value, abs=1e-12)


def test_the_limit_is_twenty_degrees_and_included() -> None:
    assert CLOCKWISE.value_at(-140) == -20
    assert CLOCKWISE.value_at(100) == 110
    assert CLOCKWISE.angle_at(110) == 100
    with pytest.raises(ScaleError, match=r"angle 100\.10 deg lies more than 20 degrees past the"):
        CLOCKWISE.value_at(100.1)
    with pytest.raises(ScaleError, match=r"value -21 lies .* marks run from 0 to 100$"):
        CLOCKWISE.angle_at(-21)


@pytest.mark.parametrize("nothing", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_has_no_angle(nothing: float) -> None:
    with pytest.raises(ScaleError):
        CLOCKWISE.angle_at(nothing)
    with pytest.raises(ScaleError):
        CLOCKWISE.value_at(nothing)


def test_span_step_sense_slope() -> None:
    assert (CLOCKWISE.span, CLOCKWISE.smallest_step, CLOCKWISE.sense) == (100, 20, 1)
    assert (ANTICLOCKWISE.span, ANTICLOCKWISE.smallest_step, ANTICLOCKWISE.sense) == (80, 40, -1)
    assert CLOCKWISE.slope_at(-50) == pytest.approx(0.4)
    assert ANTICLOCKWISE.slope_at(120) == pytest.approx(-4 / 3)


def test_an_angle_is_brought_to_the_branch_of_the_marks() -> None:
    assert CLOCKWISE.on_branch(250.0) == -110.0
    assert ANTICLOCKWISE.on_branch(-230.0) == 130.0
    assert Scale((0, 1), (300, 400)).on_branch(10.0) == 370.0


@given(st.data(), scales())
def test_round_trip_angle_value_angle(data: st.DataObject, scale: Scale) -> None:
    angle = data.draw(reachable_angles(scale))
    assert scale.angle_at(scale.value_at(angle)) == pytest.approx(angle, abs=1e-6)


@given(scales(), st.floats(0, 1))
def test_round_trip_value_angle_value(scale: Scale, share: float) -> None:
    value = scale.values[0] + share * scale.span
    slope = abs(scale.slope_at(scale.angle_at(value)))
    assert scale.value_at(scale.angle_at(value)) == pytest.approx(value, abs=1e-9 * (1 + slope))


@given(scales(), st.floats(0, 1))
def test_between_the_marks_it_is_plain_interpolation(scale: Scale, share: float) -> None:
    value = scale.values[0] + share * scale.span
    assert scale.angle_at(value) == pytest.approx(
        float(np.interp(value, scale.values, scale.angles_deg)), abs=1e-7
    )


@given(st.data(), scales())
def test_more_value_turns_the_needle_its_own_way(data: st.DataObject, scale: Scale) -> None:
    angles = sorted(data.draw(reachable_angles(scale)) for _ in range(2))
    low, high = (scale.value_at(angle) for angle in angles)
    assert scale.sense * (high - low) >= -1e-9 * scale.span


@given(st.data(), scales(), st.floats(-180, 180))
def test_turning_the_face_turns_the_angle_with_it(
    data: st.DataObject, scale: Scale, turn_deg: float
) -> None:
    turned = Scale(scale.values, tuple(a + turn_deg for a in scale.angles_deg), scale.beyond_deg)
    value = scale.value_at(data.draw(reachable_angles(scale)))
    assert turned.angle_at(value) == pytest.approx(scale.angle_at(value) + turn_deg, abs=1e-6)


@given(st.data(), scales(direction="cw"))
def test_the_mirrored_face_turns_the_other_way(data: st.DataObject, scale: Scale) -> None:
    mirrored = Scale(scale.values, tuple(-a for a in scale.angles_deg), scale.beyond_deg)
    angle = data.draw(reachable_angles(scale))
    assert mirrored.sense == -scale.sense == -1
    assert mirrored.value_at(-angle) == pytest.approx(scale.value_at(angle), rel=1e-12, abs=1e-12)
    assert mirrored.slope_at(-angle) == pytest.approx(-scale.slope_at(angle))


@given(scales(), st.floats(-2000, 2000))
def test_the_branch_is_whole_turns_away_and_nearest(scale: Scale, angle_deg: float) -> None:
    on_branch = scale.on_branch(angle_deg)
    turns = (on_branch - angle_deg) / 360
    assert turns == pytest.approx(round(turns), abs=1e-9)
    assert abs(on_branch - scale.middle_deg) <= 180 + 1e-9
