"""The plan on paper: what is done in which order, with boxes to tick, and what is left and why."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any, Final

from needlewright.errors import PaperError
from needlewright.papers.blocks import (
    Block,
    Cell,
    Column,
    Facts,
    Heading,
    Listing,
    Notice,
    Paragraph,
    Sheet,
    Table,
    Together,
)
from needlewright.papers.document import fitted_pdf
from needlewright.papers.minutes_words import minutes_words
from needlewright.papers.unfinished import unfinished_words
from needlewright.papers.wording import grouped, money

Document = Mapping[str, Any]
BANNER: Final = "INVENTED DEMONSTRATION"
SAFETY: Final = (
    "Bench supply: current limit and fuse set, polarity checked before power. Leaded solder: "
    "extraction, wash hands. Displays and backlights can carry tens to hundreds of volts. Defer to "
    "local codes and licensed practice."
)
MILEAGE: Final = (
    "Mileage is recorded and never altered: the odometer is read before the work and after it."
)
NO_CERTIFICATE: Final = "A speedometer that fails the final check gets no passing certificate."
ROOM: Final = (1.0, 0.85, 0.7)
"""How much free room there is around things, the most first, where a page is short of some."""
LONGEST_ROW: Final = 3000
"""Letters of a row from which it may break, lest it run out of its page."""
BOX: Final = Cell(sign="box")
EMPTY: Final = Cell()


def plan_sheet_pdf(
    document: Document, option_id: str, day: date, *, accepted: str | None = None
) -> bytes:
    """Lay a plan out.

    Parameters
    ----------
    document
        As `needlewright plan --json` prints it.
    option_id
        Which of its options the work follows.
    day
        The date on it.
    accepted
        Which option was accepted, by whom, when and how, or that none is; None: nothing is said.

    Returns
    -------
    bytes
        A PDF.

    Raises
    ------
    PaperError
        If there is no such option, or it cannot be laid out.
    """
    sheet = plan_sheet(document, option_id, day, accepted=accepted)
    return fitted_pdf(_settings(sheet), day)


def _settings(sheet: Sheet) -> Iterator[Sheet]:
    """Ways to set a plan: a little tighter, else with more and more of its end on the last page."""
    for room in ROOM:
        yield replace(sheet, room=room)
    for first in range(len(sheet.blocks) - 2, 0, -1):
        if isinstance(sheet.blocks[first], Table):
            return  # it may be longer than a page
        last = Together(sheet.blocks[first:])
        yield replace(sheet, blocks=(*sheet.blocks[:first], last))


def plan_sheet(
    document: Document, option_id: str, day: date, *, accepted: str | None = None
) -> Sheet:
    """The plan as blocks; raises PaperError if there is no such option."""
    options = {one["id"]: one for one in document["options"]}
    if option_id not in options:
        raise PaperError(f"the plan has no option '{option_id}'; it has: {', '.join(options)}")
    option, named = options[option_id], _named(document)
    return Sheet(
        title="Plan of the work",
        under_title=f"{named}. Option: {option['title']}.",
        head_left=named,
        head_right=f"plan {document['number']}",
        foot_left="Money without tax. ± is one standard deviation of the minutes.",
        banner=BANNER if document["invented"] else "",
        end=f"end of plan {document['number']}",
        blocks=(
            *_head(document, option, day, accepted),
            *_work(option),
            _done(),
            *_rest(document, option),
        ),
    )


def _named(document: Document) -> str:
    tag = f"job {document['tag']}, " if document["tag"] else ""
    variant = f", variant {document['variant']}" if document["variant"] else ""
    return f"{tag}family {document['family']}{variant}"


def _head(document: Document, option: Document, day: date, accepted: str | None) -> Iterator[Block]:
    unfinished = unfinished_words(document, option)
    if unfinished:
        yield Notice("bad", f"{unfinished}.", (NO_CERTIFICATE,))
    if option["cautions"]:
        said = tuple(f"{one[:1].upper()}{one[1:].rstrip('.')}." for one in option["cautions"])
        yield Notice("bad", "A speedometer is left in doubt", said)
    years, km = document["age_years"], document["mileage_km"]
    left = (
        ("Plan", str(document["number"])),
        ("Date", f"{day:%d} {day:%B} {day.year}"),
        ("Age", "not known" if years is None else f"{years:g} years"),
        ("Mileage", "not known" if km is None else f"{grouped(km)} km"),
    )
    right = (
        ("Price", f"{money(option['price'])} {document['currency']}"),
        ("Minutes", minutes_words(option["minutes"], option["u_minutes"])),
        ("Warranty", f"{document['warranty_months']:g} months"),
        ("An hour of work", f"{money(document['hour'])} {document['currency']}"),
        ("Looked ahead", f"{document['horizon_years']:g} years"),
    )
    yield Facts((*left, *right), len(left))
    if accepted is not None:
        yield Paragraph(f"Accepted: {accepted.rstrip('.')}.")
    yield Paragraph(f"{SAFETY} {MILEAGE}")


def _work(option: Document) -> Iterator[Block]:
    if option["parts"]:
        pulled = tuple(
            (
                BOX,
                Cell(part["words"]),
                Cell(str(part["count"])),
                Cell(money(part["price_each"])),
                Cell(money(part["price"])),
                EMPTY,
            )
            for part in option["parts"]
        )
        heads = (
            Column("", width_mm=7),
            Column("part"),
            Column("count", "center", 16),
            Column("each", "center", 20),
            Column("in all", "center", 20),
            Column("batch", width_mm=34),
        )
        yield Together((Heading("Parts to pull"), Table(heads, pulled)))
    yield Heading("Steps", beside="tick, with who and when")
    steps = option["steps"]
    if not steps:
        yield Paragraph("Nothing is done.")
        return
    columns = (
        Column("", width_mm=7),
        Column("", "right", 6),
        Column("step"),
        Column("minutes", "center", 18),
        Column("who", width_mm=20),
        Column("when", width_mm=24),
    )
    said: dict[str, int] = {}
    rows = tuple(_step(number, one, said) for number, one in enumerate(steps, start=1))
    yield _whole(columns, rows)


def _whole(columns: tuple[Column, ...], rows: tuple[tuple[Cell, ...], ...]) -> Table:
    """A table whose boxes and cautions stay with their words."""
    longest = max(sum(len(cell.text) + len(cell.under) for cell in row) for row in rows)
    return Table(columns, rows, whole_rows=longest <= LONGEST_ROW)


def _done() -> Block:
    heads = (
        Column("all steps ticked, by"),
        Column("on"),
        Column("mileage shown, as received"),
    )
    return Together(
        (
            Heading("Done"),
            Table(heads, ((Cell(" \n "), EMPTY, EMPTY),)),
            Paragraph(
                "A change to this plan after it was accepted has another number and needs a new "
                "acceptance.",
                faint=True,
            ),
        )
    )


def _step(number: int, step: Document, cautioned: dict[str, int]) -> tuple[Cell, ...]:
    """A row; a caution is said before its first step, and where that was afterwards."""
    minutes = (
        "" if step["minutes"] is None else minutes_words(step["minutes"], step.get("u_minutes"))
    )
    said = []
    said += [f"Why: {reason}." for reason in step["reasons"]]
    if step["parts"]:
        parts = ", ".join(f"{part['count']} × {part['words']}" for part in step["parts"])
        said.append(f"Parts: {parts}.")
    if step["guide"]:
        said.append(f"Guide: {step['guide']}.")
    elif step["kind"] == "work":
        said.append("There is no guide for this step.")
    for one in step["cautions"]:
        first = cautioned.setdefault(one, number)
        where = one if first == number else f"as in step {first}: {beginning_of(one)}"
        said.append(f"CAUTION: {where}")
    words = f"check: {step['words']}" if step["kind"] == "check" else step["words"]
    shown = Cell(words, strong=step["kind"] == "work", under="\n".join(said))
    return BOX, Cell(str(number), faint=True), shown, Cell(minutes), EMPTY, EMPTY


def beginning_of(caution: str) -> str:
    """A caution's first words, by which it is known again."""
    words = re.split(r"[.;:]", caution, maxsplit=1)[0]
    return f"{words.strip()} …" if words != caution else words


def _rest(document: Document, option: Document) -> Iterator[Block]:
    left = [one for one in document["decisions"] if one["id"] in option["left"]]
    if left:
        yield Heading("Left as it is, and why")
        columns = (Column("of", width_mm=30), Column("part", width_mm=36), Column("reason"))
        yield _whole((Column("", width_mm=13), *columns), tuple(_left(one) for one in left))
    yield Together((Heading("The three options"), *_options(document)))
    switches = tuple(one["words"] for one in document.get("switches", ()))
    if switches:
        yield Together((Heading("What would change the recommendation"), Listing(switches)))
    said = [*document["vehicle"], *document["notes"]]
    if said:
        yield Together((Heading("Also"), Listing(tuple(said))))


def _left(one: Document) -> tuple[Cell, ...]:
    # of another option than the recommended, what would be done is left against the reckoning
    choice = one["choice"] if one["choice"] in ("watch", "leave") else "left"
    said = [text for text in (one["due"], one["caution"]) if text]
    reason = one["reason"] if choice != "left" else f"recommended: {one['choice']}; {one['reason']}"
    return (
        Cell(choice, strong=choice != "leave"),
        Cell(one["of"]),
        Cell(one["words"]),
        Cell(reason, under=". ".join(said)),
    )


def _options(document: Document) -> Sequence[Block]:
    currency = document["currency"]
    columns = (
        Column("option"),
        Column(f"now, {currency}", "right", 24),
        Column("returns to expect", "right", 27),
        Column(f"expected later, {currency}", "right", 33),
        Column(f"in all, {currency}", "right", 24),
    )
    rows = tuple(
        (
            Cell(one["title"], strong=one["id"] == "recommended"),
            Cell(money(one["price"])),
            Cell(f"{one['expected_returns']:.2f}"),
            Cell(money(one["after"])),
            Cell(money(one["total"]), strong=one["id"] == "recommended"),
        )
        for one in document["options"]
    )
    months, years = document["warranty_months"], document["horizon_years"]
    note = Paragraph(
        f"Expected later: repairs that do not take, returns within {months:g} months, failures "
        f"within {years:g} years, what the work may spoil.",
        faint=True,
    )
    return (Table(columns, rows), note)
