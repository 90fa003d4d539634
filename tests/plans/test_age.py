"""How old a cluster is, from when it was built."""

from datetime import date

import pytest

from needlewright.errors import PlanError
from needlewright.plans.rebuild.age import age_on


@pytest.mark.parametrize(
    ("built", "day", "days"),
    [
        # by the calendar: 14 years with 3 leap days are 5113 days
        ("2012-07-01", date(2026, 7, 1), 5113),
        ("2012-07-01", date(2026, 1, 1), 4932),
        ("2012", date(2026, 7, 1), 5113),  # the middle of 2012 is the 1st of July
        ("2012", date(2026, 1, 1), 4932),
        ("2012-05", date(2026, 5, 16), 5113),
        ("2026", date(2026, 3, 2), 30),  # 60 days of it are over: 30 on the average
        ("2026-03-02", date(2026, 3, 2), 0),
    ],
)
def test_an_age_is_counted_from_the_middle_of_what_is_known(built, day, days):
    # a year of the Gregorian calendar has 365.2425 days
    assert age_on(built, day).years == days / 365.2425


def test_what_was_assumed_is_said():
    assert age_on("2012-05-17", date(2026, 5, 17)).words == (
        "built 2012-05-17; on 2026-05-17 it is 14 years old"
    )
    assert "taken as the middle of the year" in age_on("2012", date(2026, 1, 1)).words


@pytest.mark.parametrize("built", ["2026-04", "2012-13", "soon", ""])
def test_what_is_no_age(built):
    with pytest.raises(PlanError) as refused:
        age_on(built, date(2026, 3, 2))
    assert "built" in str(refused.value)
