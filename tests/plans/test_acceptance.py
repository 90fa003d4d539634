"""What a customer sends back counts for one plan as it was, and for no other."""

from datetime import date, timedelta
from typing import Any

import pytest

from needlewright.errors import PlanError
from needlewright.plans.rebuild.acceptance import (
    Acceptance,
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
            "expected a day such as 2026-03-02, found 'tomorrow'",
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


def test_an_acceptance_of_a_day_before_the_plan_was_made():
    refuse_other_plan(ACCEPTED, PLAN, DAY, DAY)
    with pytest.raises(PlanError) as refused:
        refuse_other_plan(ACCEPTED, PLAN, DAY + timedelta(days=1), DAY + timedelta(days=1))
    assert str(refused.value) == (
        "acceptance: when: 2026-03-02 is before plan 3F2A91C0 was made (2026-03-03); "
        "correct the day"
    )
