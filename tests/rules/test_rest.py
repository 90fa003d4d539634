import pytest

from needlewright.rules.rest import half_tip_deg, is_zero, rest_limits, zero_targets_deg


def test_half_a_tip_width_is_an_angle_about_the_centre():
    # 1.39 mm wide at 45.09 mm: 0.695 mm of 45.09 mm
    assert half_tip_deg(1.39, 45.09) == pytest.approx(0.8831, abs=5e-5)


def test_rest_limits_do_not_move_with_the_command():
    limits = rest_limits(-110.32, 1.39, 45.09)
    assert limits.lower == pytest.approx(-111.2031, abs=5e-5)
    assert limits.upper == pytest.approx(-109.4369, abs=5e-5)
    assert (limits.lower_slope, limits.upper_slope) == (0.0, 0.0)
    assert limits.margin(-112.32) == pytest.approx(-1.1169, abs=5e-5)


@pytest.mark.parametrize(
    ("commanded", "first_mark", "speedometer", "zero"),
    [
        (0.0, 0.0, True, True),
        (0.1, 0.0, True, False),
        (20.0, 20.0, True, False),  # a speedometer that begins at 20 answers to its rule there
        (0.0, 20.0, True, True),
        (40.0, 40.0, False, True),
        (20.0, 40.0, False, True),
        (40.1, 40.0, False, False),
        (0.0, -60.0, False, False),  # an ammeter's zero is in the middle of its scale
    ],
)
def test_zero_of_a_dial(commanded, first_mark, speedometer, zero):
    assert is_zero(commanded, first_mark, speedometer=speedometer) is zero


@pytest.mark.parametrize(
    ("first_deg", "rest_deg", "sense", "may_rest_below", "targets"),
    [
        (139.3, 146.6, -1, True, (139.3, 146.6)),  # a pin below the first mark of a ccw dial
        (139.3, 146.6, -1, False, (139.3,)),
        (-110.0, -110.0, 1, True, (-110.0,)),
        (-60.0, 0.0, 1, True, (-60.0,)),  # rests in mid scale: not a place for zero
    ],
)
def test_where_a_needle_told_zero_belongs(first_deg, rest_deg, sense, may_rest_below, targets):
    assert (
        zero_targets_deg(
            first_mark_deg=first_deg, rest_deg=rest_deg, sense=sense, may_rest_below=may_rest_below
        )
        == targets
    )
