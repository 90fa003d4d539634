"""Amounts as sentences write them."""

import pytest

from needlewright.amounts import figure, hours_words

THIN = "\u202f"


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (0, "0"),
        (0.05, "0.05"),
        (-4, "-4"),
        (999, "999"),
        (1000, f"1{THIN}000"),
        (2996.2, f"2{THIN}996.2"),
        (400_000, f"400{THIN}000"),
        (1e9, f"1{THIN}000{THIN}000{THIN}000"),
        # by powers of ten, as ISO 80000-1, 7.3.4 writes them
        (1e15, "10¹⁵"),
        (-2.5e-7, "-2.5 × 10⁻⁷"),
        (float("nan"), "nan"),
        (float("inf"), "inf"),
    ],
)
def test_a_figure_is_read_at_one_look(value: float, said: str):
    assert figure(value) == said


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (0.0, "0 s"),
        (1 / 60, "1 min"),
        (0.0166388, "1 min"),
        (0.5, "30 min"),
        (1.0, "1 h"),
        (24.0, "24 h"),
        (2996.0, f"2{THIN}996 h"),
    ],
)
def test_hours_are_said_in_a_unit_that_suits_them(hours: float, said: str):
    assert hours_words(hours) == said
