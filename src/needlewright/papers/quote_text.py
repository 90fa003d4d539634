"""The quote as a plain text, for a message or a letter: the same options, the same acceptance."""

from collections.abc import Iterator, Mapping
from typing import Any

from needlewright.papers.plan_sheet import BANNER
from needlewright.papers.quote import left_of
from needlewright.papers.returns_words import returns_of
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
        f"months. What is to be expected later is reckoned over {document['horizon_years']:g} "
        "years and is no promise. The odometer is read before and after the work and never altered."
    )
    for number, option in enumerate(document["options"], start=1):
        yield ""
        yield from _option(document, option, number)
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


def _option(document: Document, option: Document, number: int) -> Iterator[str]:
    mark = " (least expected cost)" if option["id"] == "recommended" else ""
    yield f"{number}. {option['title'].capitalize()}{mark}"
    yield f"   price: {money(option['price'])} {document['currency']}"
    done = "; ".join(one["words"] for one in option["operations"])
    yield f"   done: {done or 'nothing'}"
    left = "; ".join(left_of(document, option))
    yield f"   left: {left or 'nothing'}"
    returns = returns_of(option)
    yield f"   {returns.heading}: {returns.words}"
    yield f"   expected in all: {money(option['total'])} {document['currency']}"
    yield f"   minutes of work: {option['minutes']:.0f} ± {option['u_minutes']:.0f}"
    yield from (f"   CAUTION: {line}." for line in option["cautions"])
