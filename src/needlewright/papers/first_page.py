"""The first page of a proof: what must be seen first, the item, the dials at a glance."""

from collections.abc import Iterator, Mapping
from typing import Any

from needlewright.papers.blocks import (
    SIGNS,
    Block,
    Cell,
    Column,
    Facts,
    Heading,
    Listing,
    Notice,
    Paragraph,
    Sign,
    Table,
)
from needlewright.papers.dial_blocks import dial_title, rule_words
from needlewright.papers.dial_pages import by_weight
from needlewright.papers.wording import (
    NONE_STATED,
    day_words,
    mileage,
    place_words,
    places_for,
    plus_minus,
    sentences_for_people,
    work_words,
)

Document = Mapping[str, Any]


def first_page(document: Document) -> Iterator[Block]:
    """Compose the first page.

    Parameters
    ----------
    document
        As `proofs.proof_json.proof_document` gives it.

    Yields
    ------
    Block
        What must be seen first, first.
    """
    yield _notice(document)
    yield Heading("Item and job")
    yield _item_facts(document)
    yield Heading("Dials at a glance")
    yield _glance(document)
    yield Heading("Odometer")
    yield from _odometer(document)
    if document["needle_set"]:
        yield Heading("Needles")
        order = [dial["dial"] for dial in by_weight(document["dials"])]
        needles = sorted(document["needle_set"], key=lambda n: order.index(n["dial"]))
        yield Listing(sentences_for_people(needle["sentence"] for needle in needles))
    if document["work_done"]:
        yield Heading("Adjusted and repaired between the two runs")
        yield Listing(tuple(dict.fromkeys(map(work_words, document["work_done"]))))
    if document["cautions"]:
        yield Heading("Cautions")
        yield Listing(sentences_for_people(document["cautions"]))


def _notice(document: Document) -> Notice:
    """What must be seen first: exceptions, or why it is no certificate."""
    result = _result_words(document)
    match document["kind"]:
        case "certificate_with_exceptions":
            said = sentences_for_people(document["exceptions"])
            return Notice("bad_doubt", "With exceptions", (*said, result))
        case "certificate":
            return Notice(_sign_of_pass(document), "Conforms", (result,))
        case "not_conforming_report":
            said = sentences_for_people([*document["why_not"], *document["exceptions"]])
            text = "Not conforming. This is a report and no certificate."
            return Notice("bad", text, (*said, result))
        case _:
            return Notice("none", "As it came in", (result,))


def _result_words(document: Document) -> str:
    """One sentence on all dials: `As left: speed conforms; fuel conforms, in doubt`."""
    side = "left" if document["kind"] != "as_found_report" else "found"
    said = [f"{d['dial']} {d[side]['words']}" for d in by_weight(document["dials"]) if d[side]]
    return f"As {side}: {'; '.join(said)}."


def _sign_of_pass(document: Document) -> Sign:
    all_clear = all(dial["left"]["code"] == "pass" for dial in document["dials"])
    return "good" if all_clear else "doubt"


def _item_facts(document: Document) -> Facts:
    item = document["item"]
    variant = item["variant"] or NONE_STATED
    if item["variant_told_apart_by"]:
        variant += f" (told apart by: {item['variant_told_apart_by']})"
    version = item.get("family_version")  # papers of older programs do not say
    family = item["family"] if version is None else f"{item['family']} ({version})"
    return Facts(
        (
            ("Item", "instrument cluster"),
            ("Family", family),
            ("Variant", variant),
            ("Serial number", item["serial"]),
            ("Tag", item["tag"]),
            ("Vehicle", item["vehicle"]),
            ("Condition", item["condition"]),
            ("Customer", document["customer"]),
            ("Contact", document["customer_contact"] or NONE_STATED),
            ("Shop", document["shop"]),
            ("Place of work", document["place"]),
            ("Received", day_words(document["received"])),
            ("Checked as found", _day(document["found_on"])),
            *((("Work and check", _day(document["work"])),) if document["work"] else ()),
            ("Issued", day_words(document["issued"])),
        ),
        in_left=7,
    )


def _day(iso: str | None) -> str:
    return NONE_STATED if iso is None else day_words(iso)


def _glance(document: Document) -> Table:
    two = any(dial["left"] is not None for dial in document["dials"])
    sides = ("found", "left") if two else ("found",)
    rows = []
    for dial in by_weight(document["dials"]):
        rule = dial["rule"]
        results = [
            Cell(dial[s]["words"], sign=SIGNS[dial[s]["code"]]) if dial[s] else Cell("not run")
            for s in sides
        ]
        rows.append(
            (
                Cell(dial_title(dial), strong=True),
                Cell(rule_words(rule) if rule else "the family states no rule"),
                *results,
                Cell(_closest(dial, sides[-1])),
            )
        )
    heads = {"found": "as found", "left": "as left"}
    return Table(
        columns=(
            Column("dial", "left", 33),
            Column("rule", "left", None),
            *(Column(heads[side], "left", 28) for side in sides),
            Column(f"least room {heads[sides[-1]]}, ± U", "left", 38),
        ),
        rows=tuple(rows),
    )


def _closest(dial: Mapping[str, Any], side: str) -> str:
    record = dial[side]
    if record is None or record["worst"] is None:
        return ""
    row = record["rows"][record["worst"]]
    by_angle = row["limits_unit"] == "deg"
    places = 1 if by_angle else places_for([row["guard_band"]])
    room = plus_minus(row["margin"], row["guard_band"], places)
    return f"{room}{'°' if by_angle else ''} at {_told(dial, row)}"


def _told(dial: Mapping[str, Any], row: Mapping[str, Any]) -> str:
    return place_words(row, dial["unit"]).removeprefix("at ")


def _odometer(document: Document) -> Iterator[Block]:
    odometer = document["odometer"]
    sides = (("As received", "as_received"), ("As returned", "as_returned"))
    shown = {"none_fitted": (), "received": sides[:1]}.get(odometer["outcome"], sides)
    if shown:
        rows = ((said, mileage(odometer[name], odometer["unit"])) for said, name in shown)
        yield Facts(tuple(rows), in_left=1)
    yield Paragraph(odometer["sentence"])
