"""The quote with its three options as one HTML file: looked at on any screen, or printed.

It holds everything it needs and asks nothing of a network. An acceptance becomes a short text that
the customer sends back; it names the plan's number, so that a changed plan needs a new one.
"""

import json
from collections.abc import Mapping
from html import escape
from importlib import resources
from typing import Any, Final

from needlewright.papers.plan_bars import bar_svg, hatching_svg, pieces_of, used_pieces
from needlewright.papers.plan_sheet import BANNER
from needlewright.papers.returns_words import returns_of
from needlewright.papers.wording import money

Document = Mapping[str, Any]
PIECE_WORDS: Final = {
    "now": "now: opening, work, parts",
    "spoiling": "what the work may spoil",
    "rework": "repairs that do not take, found before it leaves",
    "returns": "what comes back under warranty",
    "later": "failures after the warranty",
    "watching": "telling you what to watch",
}
"""What an expected cost is made of, as the customer reads it."""


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
        "options": "\n".join(_option(document, one, shared) for one in options),
        "costs": _costs(document),
        "decisions": "\n".join(_decision(one) for one in document["decisions"]),
        "notes": _notes([*document["vehicle"], *document["notes"]]),
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
    months, years = document["warranty_months"], document["horizon_years"]
    return (
        f"Plan {document['number']}. Prices in {document['currency']}, without tax; warranty "
        f"{months:g} months. What is to be expected later is reckoned over {years:g} years "
        "from what was found, from age and mileage, and from how such parts wear; it is no "
        "promise. The odometer is read before and after the work and never altered."
    )


def cautions_of_all(document: Document) -> list[str]:
    """Cautions that every option has: said once, above them, across the whole width."""
    first, *others = (one["cautions"] for one in document["options"])
    return [one for one in first if all(one in said for said in others)]


def _option(document: Document, option: Document, shared: list[str]) -> str:
    recommended = option["id"] == "recommended"
    marked = " <small>least expected cost</small>" if recommended else ""
    done = "".join(f"<li>{escape(one['words'])}</li>" for one in option["operations"])
    left = "".join(f"<li>{escape(words)}</li>" for words in left_of(document, option))
    own = (one for one in option["cautions"] if one not in shared)
    cautions = "".join(f'<p class="caution">{escape(one)}.</p>' for one in own)
    returns = returns_of(option)
    rows = (
        (returns.heading, returns.words),
        ("expected later", f"{money(option['after'])} {document['currency']}"),
        ("expected in all", f"{money(option['total'])} {document['currency']}"),
        ("minutes of work", f"{option['minutes']:.0f} ± {option['u_minutes']:.0f}"),
    )
    facts = "".join(f"<dt>{name}</dt><dd>{escape(value)}</dd>" for name, value in rows)
    kind = "option recommended" if recommended else "option"
    return (
        f'<section class="{kind}"><h3>{escape(option["title"].capitalize())}{marked}</h3>'
        f'<p class="price">{escape(money(option["price"]))} {escape(document["currency"])}</p>'
        f"<h4>Done now</h4><ul>{done or '<li>nothing</li>'}</ul>"
        f"<h4>Left</h4><ul>{left or '<li>nothing</li>'}</ul>"
        f"{cautions}<dl>{facts}</dl></section>"
    )


def _costs(document: Document) -> str:
    """What each option is expected to cost: a bar for each, and the figures in a table."""
    options, currency = document["options"], escape(document["currency"])
    pieces = {one["id"]: pieces_of(document, one) for one in options}
    bars = "".join(
        f'<p class="cost"><span>{escape(one["title"].capitalize())}</span> '
        f"<strong>{escape(money(one['total']))} {currency}</strong>{bar_svg(pieces[one['id']])}</p>"
        for one in options
    )
    heads = "".join(f'<th class="number">{escape(one["title"])}</th>' for one in options)
    rows = "".join(
        f'<tr><th scope="row"><svg class="swatch" width="20" height="14" aria-hidden="true">'
        f'<rect class="piece-{name}" width="20" height="14"/></svg> {PIECE_WORDS[name]}</th>'
        + "".join(
            f'<td class="number">{escape(money(piece.amount))}</td>'
            for one in options
            for piece in pieces[one["id"]]
            if piece.name == name
        )
        + "</tr>"
        for name in used_pieces(document)
    )
    totals = "".join(f'<td class="number">{escape(money(one["total"]))}</td>' for one in options)
    return (
        f'{hatching_svg()}{bars}<div class="wide" tabindex="0" role="region" '
        f'aria-label="What each is expected to cost"><table><thead><tr><th>{currency}</th>{heads}'
        f'</tr></thead><tbody>{rows}<tr class="sum"><th scope="row">in all</th>{totals}</tr>'
        "</tbody></table></div>"
    )


def left_of(document: Document, option: Document) -> list[str]:
    """What is left, one line for each kind of part: `movement: fuel gauge, engine speed gauge`."""
    of: dict[str, list[str]] = {}
    for one in document["decisions"]:
        if one["id"] in option["left"]:
            of.setdefault(one["words"], []).extend([one["of"]] if one["dial"] else [])
    return [f"{words}: {', '.join(dials)}" if dials else words for words, dials in of.items()]


def _decision(one: Document) -> str:
    said = [one["reason"], one["due"], one["caution"]]
    why = ". ".join(text[0].upper() + text[1:] for text in said if text) + "."
    cells = (one["of"], one["words"], one["choice"], why)
    return "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + "</tr>"


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
