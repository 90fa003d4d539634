"""A customer's acceptance of one option of a plan: who, when, how, and of exactly which plan."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal, InvalidOperation
from itertools import pairwise
from typing import Any, Final

from needlewright.amounts import grouped
from needlewright.errors import PlanError, UnitError
from needlewright.plans.decimal_comma import pointed

FIRST: Final = "acceptance of plan "
FIELDS: Final = ("option", "price", "who", "when", "how")
MOST_LETTERS: Final = 20_000
_GROUPS: Final = re.compile(r"(?<=\d) (?=\d{3}(?!\d))")
"""Between thousands, as papers show them."""
_DAY: Final = re.compile(r"([0-9]{1,2})\.([0-9]{1,2})\.([0-9]{4})")


@dataclass(frozen=True, slots=True)
class Acceptance:
    """What was accepted.

    Parameters
    ----------
    number
        Of the plan, which stands for its content.
    option
        Id of the option.
    price
        As it was shown, with its currency.
    who
        Accepted it.
    when
        The day.
    how
        In person, by message, by telephone, on paper.
    """

    number: str
    option: str
    price: str
    who: str
    when: date
    how: str


def parse_acceptance(text: str) -> Acceptance:
    """Read the text a customer sent back.

    Parameters
    ----------
    text
        As the quote made it; marks of quotation before its lines and other lines around it are
        passed over, and so are acceptances that nobody filled in beside the one that is.

    Returns
    -------
    Acceptance
        With every field filled in.

    Raises
    ------
    PlanError
        If it is none, or a field is missing or cannot be used.
    """
    if len(text) > MOST_LETTERS:
        raise PlanError(
            f"acceptance: the text has {grouped(len(text))} characters and "
            f"{grouped(MOST_LETTERS)} are read; cut it down to the lines from '{FIRST}NUMBER' on"
        )
    lines = _filled_in([ln.lstrip("> \t").rstrip() for ln in text[:MOST_LETTERS].splitlines()])
    numbers = [line.removeprefix(FIRST).strip() for line in lines if line.startswith(FIRST)]
    if len(numbers) != 1:
        raise PlanError(
            f"expected one line '{FIRST}NUMBER', found {len(numbers)}; ask for the text the quote "
            "makes once an option, who, when and how are filled in"
        )
    said: dict[str, str] = {}
    for line in lines:
        name, colon, value = line.partition(":")
        if colon and name in FIELDS:
            if name in said and said[name] != value.strip():
                raise PlanError(f"acceptance: '{name}' is said twice and differently")
            said[name] = value.strip()
    for name in FIELDS:
        if not said.get(name):
            raise PlanError(f"acceptance: '{name}' is missing; ask the customer for it")
    try:
        when = day_typed(said["when"])
    except ValueError as error:
        raise PlanError(
            "acceptance: when: expected a day such as 2026-03-02 or 2.3.2026, found "
            f"'{said['when'][:40]}'"
        ) from error
    return Acceptance(numbers[0], said["option"], said["price"], said["who"], when, said["how"])


def day_typed(text: str) -> date:
    """A day as people write it: 2026-03-02 or 2.3.2026; raises ValueError for any other.

    With strokes, 2/3/2026 is a day of February or of March: nobody guesses which.
    """
    found = _DAY.fullmatch(text.strip())
    if found is None:
        return date.fromisoformat(text.strip())
    day, month, year = map(int, found.groups())
    return date(year, month, day)


def _same_price(one: str, other: str) -> bool:
    """Whether two amounts with their currency are the same, however their digits are marked."""
    amounts = []
    for text in (one, other):
        amount, _, currency = " ".join(text.split()).rpartition(" ")
        amount = _GROUPS.sub("", amount)
        try:
            amounts.append((Decimal(pointed(amount)), currency.upper()))
        except (InvalidOperation, UnitError):
            return one == other
    return amounts[0] == amounts[1]


def _option_of(said: str, options: Mapping[str, Any]) -> str:
    """Id of an option that was named by it or by its title; what was said where there is none."""
    wanted = " ".join(said.replace("_", " ").split()).casefold()
    for name, one in options.items():
        if wanted in (name.replace("_", " ").casefold(), str(one["title"]).casefold()):
            return name
    return said


def _filled_in(lines: list[str]) -> list[str]:
    """Of several acceptances the one in which every field says something; else all lines."""
    starts = [number for number, line in enumerate(lines) if line.startswith(FIRST)]
    blocks = [lines[start:end] for start, end in pairwise([*starts, len(lines)])]
    filled = [block for block in blocks if all(_says(block, name) for name in FIELDS)]
    return filled[0] if len(filled) == 1 else lines


def _says(block: list[str], name: str) -> bool:
    return any(line.startswith(f"{name}:") and line[len(name) + 1 :].strip() for line in block)


def of_plan(acceptance: Acceptance, document: Mapping[str, Any]) -> Acceptance:
    """An acceptance in the words of the plan it is of.

    Parameters
    ----------
    acceptance
        As a customer wrote it.
    document
        The plan, as `plan_json` makes it.

    Returns
    -------
    Acceptance
        With the option's id where its title was named, and the price as the plan shows it where
        it is the same amount, with a decimal comma say. What does not fit stays as it was written.
    """
    options = {one["id"]: one for one in document["options"]}
    option, price = _option_of(acceptance.option, options), acceptance.price
    if option in options:
        shown = f"{options[option]['price']} {document['currency']}"
        price = shown if _same_price(price, shown) else price
    return replace(acceptance, option=option, price=price)


def refuse_other_plan(
    acceptance: Acceptance, document: Mapping[str, Any], today: date, made: date | None = None
) -> None:
    """Hold an acceptance against the plan it is to count for.

    Parameters
    ----------
    acceptance
        Of a customer.
    document
        The plan as it is now, as `plan_json` makes it.
    today
        The day.
    made
        On which day the plan was, in the same time zone; None: not known.

    Raises
    ------
    PlanError
        If the plan was changed since, there is no such option, the price is another, or the day is
        yet to come or before the plan was made.
    """
    number = document["number"]
    if acceptance.number != number:
        raise PlanError(
            f"plan {acceptance.number} was accepted and the plan is {number} now: it was changed "
            "after that; send the new quote, a change needs a new acceptance"
        )
    options = {one["id"]: one for one in document["options"]}
    if acceptance.option not in options:
        raise PlanError(
            f"acceptance: plan {number} has no option '{acceptance.option}'; it has: "
            f"{', '.join(options)}"
        )
    price = f"{options[acceptance.option]['price']} {document['currency']}"
    if acceptance.price != price:
        raise PlanError(
            f"acceptance: {acceptance.price} was accepted and option '{acceptance.option}' costs "
            f"{price}; send the quote again"
        )
    if acceptance.when > today:
        raise PlanError(
            f"acceptance: when: {acceptance.when} is yet to come; correct the day ({today} today)"
        )
    if made is not None and acceptance.when < made:
        raise PlanError(
            f"acceptance: when: {acceptance.when} is before plan {number} was made ({made}); "
            "correct the day"
        )
