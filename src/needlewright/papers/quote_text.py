"""The quote as a plain text, for a message or a letter: the same options, the same acceptance."""

from collections.abc import Iterator, Mapping
from typing import Any

from needlewright.papers.customer_side import LATER, NOW, customer_sums, who_pays
from needlewright.papers.minutes_words import minutes_words
from needlewright.papers.plain_words import plain_beside
from needlewright.papers.plan_sheet import BANNER
from needlewright.papers.quote import done_of, left_of
from needlewright.papers.returns_words import returns_of
from needlewright.papers.unfinished import unfinished_words
from needlewright.papers.wording import money

Document = Mapping[str, Any]


def quote_text(document: Document, sent_by: str | None = None) -> str:
    """Write the quote as text.

    Parameters
    ----------
    document
        As `needlewright plan --json` prints it.
    sent_by
        The shop's name and address.

    Returns
    -------
    str
        At its end, for every option the lines that accept it, to be filled in and sent back, as
        `plans.rebuild.acceptance` reads them.
    """
    return "\n".join(_lines(document, sent_by)) + "\n"


def _lines(document: Document, sent_by: str | None) -> Iterator[str]:
    if document["invented"]:
        yield BANNER
    of = f"job {document['tag']}, " if document["tag"] else ""
    yield f"Quote for {of}{document['family']}, plan {document['number']}"
    if sent_by is not None:
        yield sent_by
    yield ""
    yield (
        f"Prices in {document['currency']}, without tax; warranty {document['warranty_months']:g} "
        "months. Chances and what you may have to pay later are no promise. The odometer is read "
        "before and after the work and never altered."
    )
    for number, option in enumerate(document["options"], start=1):
        yield ""
        yield from _option(document, option, number)
    yield ""
    for of, words in who_pays(document):
        yield f"{of[0].upper()}{of[1:]}: {words}"
    plain = plain_beside(line for one in document["options"] for line in _said(document, one))
    if any(plain):
        yield ""
        yield from (f"{line[0].upper()}{line[1:]}." for of_line in plain for line in of_line)
    if document["vehicle"]:
        yield ""
        yield from (f"Also: {line}." for line in document["vehicle"])
    yield ""
    yield "To accept one of them, send its lines back with who and when filled in:"
    for option in document["options"]:
        yield ""
        yield f"acceptance of plan {document['number']}"
        yield f"option: {option['id']}"
        yield f"price: {option['price']} {document['currency']}"
        yield "who: "
        yield "when: "
        yield "how: by message"


def _said(document: Document, option: Document) -> tuple[str, ...]:
    """What of an option the words of the trade are in."""
    return (*done_of(option), *left_of(document, option))


def _option(document: Document, option: Document, number: int) -> Iterator[str]:
    sums = customer_sums(option)
    yield f"{number}. {option['title'].capitalize()}"
    yield f"   {NOW}: {money(sums.now)} {document['currency']}"
    unfinished = unfinished_words(document, option)
    if unfinished:
        yield f"   {unfinished.upper()}."
    done = "; ".join(done_of(option))
    yield f"   done: {done or 'nothing'}"
    left = "; ".join(left_of(document, option))
    yield f"   left: {left or 'nothing'}"
    returns = returns_of(option)
    yield f"   {LATER}, on average: {money(sums.later)} {document['currency']}"
    yield f"   {returns.heading}, at our cost: {returns.words}"
    yield f"   minutes of work: {minutes_words(option['minutes'], option['u_minutes'])}"
    yield from (f"   CAUTION: {line}." for line in option["cautions"])
