"""The quote with its three options as one HTML file: looked at on any screen, or printed.

It holds everything it needs and asks nothing of a network. An acceptance becomes a short text that
the customer sends back; it names the plan's number, so that a changed plan needs a new one.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from html import escape
from importlib import resources
from typing import Any

from needlewright.papers.customer_side import (
    BOTH,
    CUSTOMER_PIECES,
    LATER,
    NOW,
    PartLine,
    customer_notes,
    customer_sums,
    part_lines,
    who_pays,
)
from needlewright.papers.minutes_words import minutes_words
from needlewright.papers.plain_words import plain_beside
from needlewright.papers.plan_bars import bar_svg, hatching_svg, pieces_of
from needlewright.papers.plan_sheet import BANNER
from needlewright.papers.returns_words import returns_of
from needlewright.papers.unfinished import unfinished_words
from needlewright.papers.wording import money

Document = Mapping[str, Any]


def quote_html(document: Document, sent_by: str | None = None) -> str:
    """Write the quote.

    Parameters
    ----------
    document
        As `needlewright plan --json` prints it.
    sent_by
        The shop's name and address.

    Returns
    -------
    str
        A whole HTML document without anything from outside.
    """
    page = (resources.files("needlewright.papers") / "quote.html").read_text("utf-8")
    options, currency = document["options"], document["currency"]
    of = f"job {document['tag']}, " if document["tag"] else ""
    facts = {
        "number": document["number"],
        "prices": {one["id"]: f"{one['price']} {currency}" for one in options},
    }
    shared = cautions_of_all(document)
    parts = {
        "banner": f'<p class="banner">{BANNER}</p>' if document["invented"] else "",
        "title": escape(f"Quote for {of}{document['family']}"),
        "sent_by": "" if sent_by is None else f'<p dir="auto">{escape(sent_by)}</p>',
        "lead": escape(_lead(document)),
        "cautions": "".join(
            f'<p class="caution">In every option: {escape(one)}.</p>' for one in shared
        ),
        "options": _options(document, shared),
        "costs": _costs(document),
        "sides": _sides(document),
        "decisions": _decisions(part_lines(document)),
        "notes": _notes(customer_notes(document)),
        "acceptance": escape(
            f"One option, for plan {document['number']} and the price stated with it. A change to "
            "the plan afterwards has another number and needs a new acceptance."
        ),
        "picks": "".join(_pick(one, currency) for one in options),
        # inside a script element only the closing of one is dangerous
        "facts": json.dumps(facts, ensure_ascii=False).replace("<", "\\u003c"),
    }
    # marks are looked for in the template alone, never in what was put in
    pieces = page.split("<!--")
    made = [pieces[0]]
    for piece in pieces[1:]:
        name, _, rest = piece.partition("-->")
        made += [parts[name], rest]
    return "".join(made)


def _lead(document: Document) -> str:
    return (
        f"Plan {document['number']}. Prices in {document['currency']}, without tax; warranty "
        f"{document['warranty_months']:g} months. Chances and what you may have to pay later come "
        "from what was found, from age and mileage, and from how such parts wear; they are no "
        "promise. The odometer is read before and after the work and never altered."
    )


def cautions_of_all(document: Document) -> list[str]:
    """Cautions that every option has: said once, above them, across the whole width."""
    first, *others = (one["cautions"] for one in document["options"])
    return [one for one in first if all(one in said for said in others)]


def _options(document: Document, shared: list[str]) -> str:
    """The three; what a word of the trade means stands beside it once, where it is first read."""
    lines = [(done_of(option), left_of(document, option)) for option in document["options"]]
    plain = iter(plain_beside(line for done, left in lines for line in (*done, *left)))
    shown = []
    for option, (done, left) in zip(document["options"], lines, strict=True):
        lists = (
            f"<h4>Done now</h4><ul>{_with_plain(done, plain)}</ul>"
            f"<h4>Left</h4><ul>{_with_plain(left, plain)}</ul>"
        )
        shown.append(_option(document, option, shared, lists))
    return "\n".join(shown)


def _option(document: Document, option: Document, shared: list[str], lists: str) -> str:
    recommended = option["id"] == "recommended"
    own = (one for one in option["cautions"] if one not in shared)
    unfinished = unfinished_words(document, option)
    mark = f'<p class="caution"><strong>{escape(unfinished)}.</strong></p>' if unfinished else ""
    cautions = "".join(f'<p class="caution">{escape(one)}.</p>' for one in own)
    returns, sums = returns_of(option), customer_sums(option)
    rows = (
        (f"{LATER}, on average", f"{money(sums.later)} {document['currency']}"),
        (f"{returns.heading}, at our cost", returns.words),
        ("minutes of work", minutes_words(option["minutes"], option["u_minutes"])),
    )
    facts = "".join(
        f"<div><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>" for name, value in rows
    )
    kind = "option recommended" if recommended else "option"
    return (
        f'<section class="{kind}"><h3>{escape(option["title"].capitalize())}</h3>'
        f'<p class="price"><small>{NOW}</small> {escape(money(option["price"]))} '
        f"{escape(document['currency'])}</p>"
        f"{mark}{lists}{cautions}<dl>{facts}</dl></section>"
    )


def _with_plain(lines: Sequence[str], plain: Iterator[tuple[str, ...]]) -> str:
    """Lines of a list, each with what the words of the trade in it mean."""
    shown = []
    for line in lines:
        said = "; ".join(next(plain))
        shown.append(
            f"<li>{escape(line)}"
            + (f' <span class="plain">({escape(said)})</span>' if said else "")
            + "</li>"
        )
    return "".join(shown) or "<li>nothing</li>"


def _costs(document: Document) -> str:
    """What each option takes from the customer: a bar and three figures for each."""
    currency = document["currency"]
    blocks = []
    for one in document["options"]:
        sums = customer_sums(one)
        rows = "".join(
            f'<div class="{kind}"><dt>{_swatch(piece)}{words}</dt>'
            f'<dd class="number">{escape(money(amount))} {escape(currency)}</dd></div>'
            for kind, piece, words, amount in (
                ("piece", "now", NOW, sums.now),
                ("piece", "later", f"{LATER}, on average", sums.later),
                ("sum", "", BOTH, sums.both),
            )
        )
        bar = bar_svg(pieces_of(document, one, CUSTOMER_PIECES))
        blocks.append(
            f'<section class="cost"><h3>{escape(one["title"].capitalize())}</h3>{bar}'
            f"<dl>{rows}</dl></section>"
        )
    return f"{hatching_svg()}{''.join(blocks)}"


def _swatch(piece: str) -> str:
    if not piece:
        return ""
    return (
        '<svg class="swatch" width="20" height="14" aria-hidden="true">'
        f'<rect class="piece-{piece}" width="20" height="14"/></svg> '
    )


def _sides(document: Document) -> str:
    """Whose money is whose."""
    rows = "".join(
        f"<div><dt>{escape(of[0].upper() + of[1:])}</dt><dd>{escape(words)}</dd></div>"
        for of, words in who_pays(document)
    )
    return f"<dl>{rows}</dl>"


def done_of(option: Document) -> list[str]:
    """What is done, one line for what is alike: `replace the fuel and speed gauge's movement`."""
    alike: dict[str, list[list[str]]] = {}
    for one in option["operations"]:
        alike.setdefault(one["id"], []).append(str(one["words"]).split())
    return [_in_one(lines) for lines in alike.values()]


def _in_one(lines: list[list[str]]) -> str:
    """Sentences that begin and end with the same words as one; the others one by one in it."""
    least = min(map(len, lines)) - 1
    start = next((n for n in range(least) if len({one[n] for one in lines}) > 1), least)
    left = least - start
    end = next((n for n in range(left) if len({one[-1 - n] for one in lines}) > 1), left)
    names = [" ".join(one[start : len(one) - end]) for one in lines]
    listed = " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)
    return " ".join((*lines[0][:start], listed, *lines[0][len(lines[0]) - end :]))


def left_of(document: Document, option: Document) -> list[str]:
    """What is left, one line for each kind of part: `movement: fuel gauge, engine speed gauge`."""
    of: dict[str, list[str]] = {}
    for one in document["decisions"]:
        if one["id"] in option["left"]:
            of.setdefault(one["words"], []).extend([one["of"]] if one["dial"] else [])
    return [f"{words}: {', '.join(dials)}" if dials else words for words, dials in of.items()]


def _decisions(lines: Sequence[PartLine]) -> str:
    # on a phone rows become blocks, which takes from a table what it is, unless it is said
    rows = (
        "".join(
            f'<td role="cell">{escape(cell)}</td>'
            for cell in (", ".join(line.of), line.words, line.choice, line.why)
        )
        for line in lines
    )
    return "\n".join(f'<tr role="row">{row}</tr>' for row in rows)


def _notes(notes: list[str]) -> str:
    if not notes:
        return ""
    lines = "".join(f"<li>{escape(one)}</li>" for one in notes)
    return f'<section class="also"><h2>Also</h2><ul>{lines}</ul></section>'


def _pick(option: Document, currency: str) -> str:
    words = f"{option['title']}, {money(option['price'])} {currency}"
    return (
        f'<label><input type="radio" name="option" value="{escape(option["id"], quote=True)}">'
        f" {escape(words)}</label>"
    )
