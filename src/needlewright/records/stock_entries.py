"""What people type about parts in stock, checked at the edge."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BeforeValidator, Field

from needlewright.errors import JobError, UnitError
from needlewright.plans.decimal_comma import pointed
from needlewright.plans.money import DIGITS, currency_named
from needlewright.records.entries import Day, Entry, Name, Text

MOST: Final = 100_000
"""Pieces in one line of the ledger; more is a slip of the hand."""
DEAREST: Final = Decimal(10) ** 9
SHORT: Final = 60
ABOVE_0: Final[Mapping[str, str]] = {"count": f"a whole number of pieces from 1 to {MOST}"}


def _whole(value: Any) -> Any:
    if isinstance(value, bool) or (isinstance(value, float) and not value.is_integer()):
        raise ValueError("count")
    return value


def _blank(value: Any) -> Any:
    return None if isinstance(value, str) and not value.strip() else value


def _capitals(value: Any) -> Any:
    return value.strip().upper() or None if isinstance(value, str) else value


def _price(value: Any) -> Any:
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    if isinstance(value, bool | float):
        raise ValueError("price")
    try:
        price = Decimal(pointed(str(value).strip()))
    except (InvalidOperation, UnitError) as error:
        raise ValueError("price") from error
    if not price.is_finite() or not 0 <= price <= DEAREST:
        raise ValueError("price")
    return price


def _line(text: str) -> str:
    joined = " ".join(text.split())
    if not joined or not joined.isprintable():
        raise ValueError("line")
    return joined


def _code(text: str) -> str:
    """As it can stand in an address of the page."""
    if "/" in text or not any(letter.isalnum() for letter in text):
        raise ValueError("code")
    return text


Count = Annotated[Annotated[int, Field(ge=1, le=MOST)], BeforeValidator(_whole)]
Counted = Annotated[Annotated[int, Field(ge=0, le=MOST)], BeforeValidator(_whole)]
Point = Annotated[
    Annotated[Annotated[int, Field(ge=0, le=MOST)], BeforeValidator(_whole)] | None,
    BeforeValidator(_blank),
]
Price = Annotated[Decimal | None, BeforeValidator(_price)]
Currency = Annotated[str | None, BeforeValidator(_capitals)]
Code = Annotated[Annotated[str, Field(max_length=40)], AfterValidator(_line), AfterValidator(_code)]
Mark = Annotated[
    Annotated[str, Field(max_length=SHORT), AfterValidator(_line)] | None,
    BeforeValidator(_blank),
]


class _Priced(Entry):
    price: Price = None
    currency: Currency = None


class PartEntry(_Priced):
    """A part; a field that is not named stays as it is."""

    code: Code = ""
    words: Name = ""
    unit: Name = "pieces"
    reorder_point: Point = None
    place: Text = ""
    retired: bool = False


class BatchEntry(_Priced):
    """A delivery."""

    mark: Mark = None
    received_on: Day = None
    note: Text = ""


class ReceiveEntry(BatchEntry):
    """A delivery as it comes in."""

    expected = ABOVE_0
    count: Count


class CountEntry(Entry):
    """What was counted, and why it is otherwise."""

    count: Counted
    why: Name


class CountedEntry(Entry):
    """What was counted, where it was."""

    count: Counted | None = None


class WentEntry(Entry):
    """So many that go, or come back."""

    expected = ABOVE_0
    count: Count = 1
    why: Text = ""


class ScrapEntry(Entry):
    """So many that are thrown away, and why."""

    expected = ABOVE_0
    count: Count
    why: Name


def money_of(
    entry: PartEntry | BatchEntry, where: str, price: str | None = None, currency: str | None = None
) -> dict[str, str | None]:
    """Both columns after a change that may name one of them alone.

    Parameters
    ----------
    entry
        What was typed.
    where
        Named first in the sentence.
    price
        As it stands.
    currency
        As it stands.

    Returns
    -------
    dict
        Of the columns `price` and `currency`; without a price, neither.

    Raises
    ------
    JobError
        If a price has no currency, or more digits than its currency has.
    """
    stated = entry.model_fields_set
    amount = entry.price if "price" in stated else None if price is None else Decimal(price)
    named = entry.currency if "currency" in stated else currency
    if amount is None:
        return {"price": None, "currency": None}
    if named is None:
        raise JobError(f"{where}, price {amount}: say in which currency (ISO 4217), such as EUR")
    try:
        digits = DIGITS[currency_named(named)]
    except UnitError as error:
        raise JobError(f"{where}, currency: {error}") from error
    exact = amount.quantize(Decimal(1).scaleb(-digits))
    if exact != amount:
        raise JobError(
            f"{where}, price {amount}: {named} has {digits} decimal places; round it yourself"
        )
    return {"price": format(exact, "f"), "currency": named}


def day_or(today: date, stated: date | None, where: str) -> date:
    """The day that was stated, or today; raises JobError where it is still to come."""
    if stated is not None and stated > today:
        raise JobError(
            f"{where}: received on {stated}, which is still to come (today is {today}); correct it"
        )
    return stated or today
