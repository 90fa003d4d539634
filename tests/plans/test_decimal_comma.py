"""Numbers as they are typed: one rule, and nowhere another."""

import re
from pathlib import Path

import pytest

import needlewright
from needlewright.amounts import THIN
from needlewright.composing.analysed_files import seconds_typed
from needlewright.composing.needle_lengths import length_of
from needlewright.errors import PlanError, UnitError, UsageError
from needlewright.plans.decimal_comma import pointed

SOURCES = Path(needlewright.__file__).parent
TABLES = {
    "readings/typed_table.py",  # the file says of itself that its commas are points
    "plans/sums/thermocouple_table.py",
    "signals/tyres.py",  # a name of a size, not a number
}
OTHER_RULE = re.compile(r"""\.replace(?:All)?\(\s*(?:["'],["']|/,/g?)\s*,\s*["']\.["']\s*\)""")


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("12,5", "12.5"), ("-0,125", "-0.125"), ("1250,125", "1250.125"), ("1.5 mm", "1.5 mm"),
        (f"184{THIN}213", "184213"), ("184 213", "184213"), ("-1\u00a0250,5", "-1250.5"),
        ("1\u2009000\u2009000 mm", "1000000 mm"), ("1 0000", "1 0000"), ("0 500", "0 500"),
        ("1234 567", "1234 567"), ("1 250 5", "1 250 5"), ("", ""), ("abc, d", "abc, d"),
    ],
)  # fmt: skip
def test_a_comma_is_a_point_and_thousands_stand_apart(typed: str, read: str) -> None:
    # ISO 80000-1:2009, 7.3.1 (from memory): groups of three by a small space, never by a comma
    assert pointed(typed) == read


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("184,213", "184,213 can be read in two ways; write 184213 or 184.213"),
        ("15,000", "15,000 can be read in two ways; write 15000 or 15.0"),
        ("1,234.5", "the commas of '1,234.5' can be read in two ways"),
        ("1 250,5,5", "the commas of '1250,5,5' can be read in two ways"),
    ],
)
def test_what_can_be_read_in_two_ways_is_refused(typed: str, why: str) -> None:
    with pytest.raises(UnitError, match=re.escape(why)):
        pointed(typed)


def test_seconds_and_lengths_go_by_it() -> None:
    assert seconds_typed("2,5") == 2.5
    with pytest.raises(UsageError, match="seconds: 1,250 can be read in two ways; write 1250 or"):
        seconds_typed("1,250")
    length = length_of("hub", "6,25±0,125")
    assert (length.mm, length.tolerance_mm) == (6.25, 0.125)
    with pytest.raises(PlanError, match="hub: 6,125 can be read in two ways; write 6125 or"):
        length_of("hub", "6,125")


def test_nothing_in_the_program_has_a_rule_of_its_own() -> None:
    own = {
        path.relative_to(SOURCES).as_posix()
        for pattern in ("*.py", "*.js")
        for path in SOURCES.rglob(pattern)
        if OTHER_RULE.search(path.read_text(encoding="utf-8"))
    }
    assert own == TABLES
