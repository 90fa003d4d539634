"""Amounts as sentences write them."""

import re
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import needlewright
from needlewright.amounts import figure, grouped, hours_words

THIN = "\u202f"
SOURCES = Path(needlewright.__file__).parent
RAISED = "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"
LOWERED = str.maketrans(RAISED, "-0123456789")


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
        # rounded before it is decided how it is written
        (999.9996, f"1{THIN}000"),
        (-999_999.7, f"-1{THIN}000{THIN}000"),
        (0.000_099_999_99, "0.0001"),
        (1e12 - 0.1, "10¹²"),
        (1_234_567.0, f"1{THIN}234{THIN}567"),
        (float("nan"), "nan"),
        (float("inf"), "inf"),
    ],
)
def test_a_figure_is_read_at_one_look(value: float, said: str):
    assert figure(value) == said


@given(st.floats(allow_nan=False, allow_infinity=False, allow_subnormal=False))
def test_a_figure_is_the_number_to_six_digits_and_has_no_letter(value: float):
    found = re.fullmatch(rf"(-?)([0-9.{THIN}]+)?(?:(?: × )?10([{RAISED}]+))?", figure(value))
    assert found is not None, figure(value)
    sign, digits, power = found.groups(default="")
    read = float(f"{sign}{digits.replace(THIN, '') or 1}e{power.translate(LOWERED) or 0}")
    assert read == pytest.approx(value, rel=5.1e-6, abs=0)


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


def test_thousands_are_set_apart_by_one_function_alone():
    # docs/conventions.md: a comma between digits can be read as a point
    assert (grouped(184_213.25, 1), grouped(Decimal("4200"))) == (f"184{THIN}213.2", f"4{THIN}200")
    written = re.compile(
        r"""\{[^{}"'\[]*:,[^{}"']*(?:\{\w+\}[^{}"']*)?\}|\.replace\(",", (?:THIN|" "\))"""
    )
    own = {
        path.relative_to(SOURCES).as_posix()
        for path in SOURCES.rglob("*.py")
        if written.search(path.read_text(encoding="utf-8"))
    }
    assert own == {"amounts.py", "composing/bench_plan.py"}  # the latter parts what was typed
