"""Numbers as people read them."""

import pytest

from needlewright.papers.figures import decimals_for, with_expanded
from needlewright.units import unit_for_people


@pytest.mark.parametrize(
    ("value", "expanded", "unit", "text"),
    [
        (82.41, 0.62, "km/h", "82.4 ± 0.6 km/h"),
        (82.41, 0.124, "km/h", "82.41 ± 0.12 km/h"),
        (82.41, 0.0968, "km/h", "82.41 ± 0.10 km/h"),
        (82.41, 3.4, "km/h", "82 ± 3 km/h"),
        (82.41, 12.0, "km/h", "82 ± 12 km/h"),
        (0.49099, 0.0042, "fraction of full", "0.491 ± 0.004 of full"),
        (2.41318, 0.0151, "1000 r/min", "2.413 ± 0.015 ×1000 r/min"),
        (-0.004, 0.3, "degC", "0.0 ± 0.3 °C"),
        (82.4137, None, "mph", "82.41 mph"),
    ],
)
def test_values_are_rounded_to_their_uncertainty(
    value: float, expanded: float | None, unit: str, text: str
) -> None:
    assert with_expanded(value, expanded, unit) == text


def test_decimals_at_the_turn_of_a_power_of_ten() -> None:
    assert [decimals_for(u) for u in (0.94, 0.96, 1.94, 1.96, 9.4, 9.6, 100.0)] == [
        1,
        1,
        1,
        0,
        0,
        0,
        0,
    ]


def test_units_without_another_name_stay() -> None:
    assert unit_for_people("bar") == "bar"
