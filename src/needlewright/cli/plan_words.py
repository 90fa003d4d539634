"""A plan for people: the options, the reason for every part, cautions and notes."""

from collections.abc import Iterator
from typing import Any

from rich.table import Table

from needlewright.cli import console
from needlewright.papers.minutes_words import minutes_words
from needlewright.papers.wording import money


def show_plan(document: dict[str, Any], files: dict[str, str]) -> None:
    """Print a plan.

    Parameters
    ----------
    document
        As `plans.rebuild.plan_json` makes it.
    files
        What was written, by what it is.
    """
    if document["notes"]:
        console.err.print("look at what was assumed:")
    for words in document["notes"]:
        console.err.print(f"    {words}", markup=False)
    console.out.print(_options(document))
    for option in document["options"]:
        done = "; ".join(one["words"] for one in option["operations"]) or "nothing is done"
        console.out.print(f"{option['title']}: {done}", markup=False)
    for words in _switches(document):
        console.out.print(words, markup=False)
    console.out.print(_decisions(document))
    said = dict.fromkeys(words for one in document["options"][:1] for words in one["cautions"])
    for words in (*said, *document["vehicle"]):
        console.out.print(f"caution: {words}" if words in said else words, markup=False)
    for words in _rests_on(document):
        console.out.print(words, markup=False)
    for what, path in files.items():
        console.out.print(f"{what} written to {path}", markup=False)


def _switches(document: dict[str, Any]) -> Iterator[str]:
    """What would change the recommendation; plans kept before have it among their notes."""
    some = document.get("switches", ())
    if some:
        yield "what would change the recommendation:"
    yield from (f"    {one['words']}" for one in some)


def _rests_on(document: dict[str, Any]) -> Iterator[str]:
    """The catalogue, and the laws of wear for which the shop has lives of its own."""
    yield f"made with: {document['catalogue']}, {document['catalogue_sha256'][:12]}"
    for point in document["weak_points"]:
        lives = point["lives"]
        if lives is None:
            continue
        of = point["words"].replace("{dial}'s ", "").replace(" of {dial}", "")
        law = point["learned"] or f"as stated; none of {lives['sound']} that were watched failed"
        yield f"wear of {of}: {law}"


def _options(document: dict[str, Any]) -> Table:
    table = Table(title=f"plan {document['number']}, {document['currency']} without tax")
    table.add_column("option")
    for heading in ("now", "minutes", "returns", "expected later", "in all"):
        table.add_column(heading, justify="right")
    for one in document["options"]:
        table.add_row(
            one["title"],
            money(one["price"]),
            minutes_words(one["minutes"], one["u_minutes"]),
            f"{one['expected_returns']:.2f}",
            money(one["after"]),
            money(one["total"]),
        )
    return table


def _decisions(document: dict[str, Any]) -> Table:
    table = Table(title="as recommended, part by part")
    for heading in ("of", "part", "choice"):
        table.add_column(heading)
    table.add_column("why", overflow="fold")
    for one in document["decisions"]:
        why = "; ".join(text for text in (one["reason"], one["due"], one["caution"]) if text)
        table.add_row(one["of"], one["words"], one["choice"], why)
    return table
