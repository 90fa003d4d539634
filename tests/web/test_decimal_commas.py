"""Decimal commas in the fields of the page: the one house rule, and what can be read two ways."""

from collections.abc import Callable
from math import isclose

import pytest

from needlewright.errors import NeedlewrightError
from needlewright.web import bench_forms, burn_in_forms, press, sheet_run_forms
from needlewright.web.drafts_typed import number

FIELDS: list[Callable[[str], float | None]] = [
    bench_forms.degc_in,
    lambda text: sheet_run_forms._number(text, "temperature"),
    lambda text: press._number(text, "dial 'speed'"),
    lambda text: burn_in_forms.number(text, "hours"),
    number,
]


@pytest.mark.parametrize("read", FIELDS)
@pytest.mark.parametrize(
    ("typed", "is_"), [("21,5", 21.5), ("\u22123,25", -3.25), ("0,125", 0.125)]
)
def test_a_comma_is_a_point(read: Callable[[str], float | None], typed: str, is_: float) -> None:
    value = read(typed)
    assert value is not None
    assert isclose(value, is_)


@pytest.mark.parametrize("read", FIELDS[:-1])
def test_what_can_be_read_in_two_ways_is_refused(read: Callable[[str], float | None]) -> None:
    with pytest.raises(NeedlewrightError, match="1,250 can be read in two ways; write 1250 or"):
        read("1,250")


def test_a_field_of_the_draft_is_then_asked_for_again() -> None:
    assert number("1,250") is None
