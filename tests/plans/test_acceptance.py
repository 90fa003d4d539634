"""What a customer sends back counts for one plan as it was, and for no other."""

from datetime import date, timedelta
from typing import Any

import pytest

from needlewright.errors import PlanError
from needlewright.plans.rebuild.acceptance import (
    Acceptance,
    day_typed,
    of_plan,
    parse_acceptance,
    refuse_other_plan,
)

TEXT = """\
acceptance of plan 3F2A91C0
option: recommended
price: 124.77 EUR
who: An invented owner
when: 2026-03-02
how: by message
"""
DAY = date(2026, 3, 2)
PLAN: dict[str, Any] = {
    "number": "3F2A91C0",
    "currency": "EUR",
    "options": [{"id": "recommended", "price": "124.77"}, {"id": "everything", "price": "261.43"}],
}
ACCEPTED = Acceptance(
    "3F2A91C0", "recommended", "124.77 EUR", "An invented owner", DAY, "by message"
)


def test_the_text_that_came_back_is_read_and_counts():
    quoted = "Yes, please.\n" + "".join(f"> {line}\n" for line in TEXT.splitlines()) + "Regards\n"
    assert parse_acceptance(quoted) == parse_acceptance(TEXT) == ACCEPTED
    refuse_other_plan(ACCEPTED, PLAN, DAY)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (TEXT, "not accepted yet: missing who\n", "expected one line 'acceptance of plan NUMBER'"),
        (TEXT, TEXT + TEXT.replace("3F2A91C0", "00000000"), "found 2"),
        ("who: An invented owner", "who:", "'who' is missing; ask the customer for it"),
        (
            "when: 2026-03-02",
            "when: tomorrow",
            "expected a day such as 2026-03-02 or 2.3.2026, found 'tomorrow'",
        ),
        ("how: by message", "how: by message\nhow: by telephone", "'how' is said twice"),
    ],
)
def test_a_text_that_is_no_acceptance(old: str, new: str, said: str):
    with pytest.raises(PlanError) as refused:
        parse_acceptance(TEXT.replace(old, new))
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("3F2A91C0", "3F2A91C1", "a change needs a new acceptance"),
        ("option: recommended", "option: half", "has no option 'half'; it has: recommended, every"),
        ("124.77", "12.77", "12.77 EUR was accepted and option 'recommended' costs 124.77 EUR"),
        (
            "2026-03-02",
            "2026-03-03",
            "2026-03-03 is yet to come; correct the day (2026-03-02 today)",
        ),
    ],
)
def test_an_acceptance_of_something_else(old: str, new: str, said: str):
    with pytest.raises(PlanError) as refused:
        refuse_other_plan(parse_acceptance(TEXT.replace(old, new)), PLAN, DAY)
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("124.77 EUR", "124,77 EUR"),
        ("124.77 EUR", "124.77 eur"),
        ("2026-03-02", "2.3.2026"),
        ("2026-03-02", "02.03.2026"),
        ("option: recommended", "option: Recommended"),
        ("option: recommended", "option: What we would do"),
    ],
)
def test_what_an_owner_writes_otherwise_is_the_same(old: str, new: str):
    titled = [{**PLAN["options"][0], "title": "what we would do"}]
    plan = {**PLAN, "options": titled}
    assert of_plan(parse_acceptance(TEXT.replace(old, new)), plan) == ACCEPTED


@pytest.mark.parametrize("day", ["3/2/2026", "2.3.26", "31.2.2026", "3.2026", "2026.3.2"])
def test_a_day_that_can_be_two_is_none(day: str):
    """ISO 8601-1:2019, 5.2.2.1, or day.month.year; nobody guesses which stroke is the month."""
    with pytest.raises(ValueError):  # noqa: PT011
        day_typed(day)


def test_a_price_in_thousands_stays_another():
    odd = parse_acceptance(TEXT.replace("124.77 EUR", "124,770 EUR"))
    titled = {**PLAN, "options": [{**PLAN["options"][0], "title": "recommended"}]}
    assert of_plan(odd, titled).price == "124,770 EUR"


def test_a_text_that_is_too_long_says_what_to_do():
    with pytest.raises(PlanError, match="20\u202f000 are read; cut it down to the lines from"):
        parse_acceptance(TEXT + "x" * 20_000)


def test_an_acceptance_of_a_day_before_the_plan_was_made():
    refuse_other_plan(ACCEPTED, PLAN, DAY, DAY)
    with pytest.raises(PlanError) as refused:
        refuse_other_plan(ACCEPTED, PLAN, DAY + timedelta(days=1), DAY + timedelta(days=1))
    assert str(refused.value) == (
        "acceptance: when: 2026-03-02 is before plan 3F2A91C0 was made (2026-03-03); "
        "correct the day"
    )
