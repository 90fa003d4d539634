"""The certificate, and the reports that are none, from the JSON document of a proof.

The paper says what the document says and nothing else, so that whoever has the one can check the
other. What belongs on it: ISO/IEC 17025:2017, 7.8.2.1, 7.8.4.1 and 7.8.6, as far as a shop has it.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from needlewright.papers.blocks import (
    SIGNS,
    Block,
    Cell,
    Column,
    Drawing,
    Facts,
    Heading,
    Listing,
    Notice,
    Paragraph,
    Picture,
    Pictures,
    Sheet,
    Sign,
    Signature,
    Table,
    Together,
)
from needlewright.papers.budget_table import budget_table
from needlewright.papers.dial_blocks import (
    dial_title,
    notes_under,
    one_sided_table,
    rule_words,
    strip_data,
    two_sided_table,
)
from needlewright.papers.document import sheet_pdf
from needlewright.papers.strip import strip_svg, strips_svg
from needlewright.papers.strip_data import Side
from needlewright.papers.wording import (
    NONE_STATED,
    day_words,
    mileage,
    place_words,
    places_for,
    plus_minus,
    sentence_for_people,
    span_words,
)

Document = Mapping[str, Any]

_SPOKEN: Final = {
    "certificate": "Certificate",
    "certificate_with_exceptions": "Certificate",
    "not_conforming_report": "Report",
    "as_found_report": "Report",
}
BANNER: Final = "INVENTED DEMONSTRATION"
LONGEST_TOGETHER: Final = 24
"""Rows of a dial that still share a page with its strip; a longer table breaks."""


@dataclass(frozen=True, slots=True)
class EvidencePicture:
    """A photo with the fitted needle drawn on it, of one row."""

    dial: str
    side: str
    row: int
    jpeg: bytes


def proof_pdf(document: Document, pictures: Sequence[EvidencePicture] = ()) -> bytes:
    """Lay a proof out as a certificate or report.

    Parameters
    ----------
    document
        As `proofs.proof_json.proof_document` gives it.
    pictures
        Of the rows that decide.

    Returns
    -------
    bytes
        A PDF; the same document and pictures give the same bytes.

    Raises
    ------
    PaperError
        If it cannot be laid out.
    """
    return sheet_pdf(proof_sheet(document, pictures), date.fromisoformat(document["issued"]))


def proof_sheet(document: Document, pictures: Sequence[EvidencePicture] = ()) -> Sheet:
    """Compose a proof of blocks.

    Parameters
    ----------
    document, pictures
        As for `proof_pdf`.

    Returns
    -------
    Sheet
        With its drawings and photos.
    """
    spoken, name = _SPOKEN[document["kind"]], document["name"]
    k = document["coverage_k"]
    assets = {"legend.svg": strips_svg((), ground=False).encode()}
    for i, dial in enumerate(_by_weight(document)):
        strip = strip_svg(strip_data(dial, k), legend=False, title=False, ground=False)
        assets[f"strip-{i}.svg"] = strip.encode()
    for i, picture in enumerate(pictures):
        assets[f"photo-{i}.jpg"] = picture.jpeg
    return Sheet(
        title=document["title"],
        under_title=_under_title(document, spoken),
        head_left=document["shop"],
        head_right=f"{spoken} {name}",
        foot_left=f"{spoken} {name}, {document['shop']}, {document['place']}",
        banner=BANNER if document["invented"] else "",
        end=f"end of {spoken.lower()} {name}",
        blocks=(
            *_first_page(document),
            *_results(document),
            *_evidence(document, pictures),
            *_uncertainty(document),
            *_how(document),
            *_closing(document),
        ),
        assets=assets,
    )


def _under_title(document: Document, spoken: str) -> str:
    text = f"{spoken} number {document['name']}, issued on {day_words(document['issued'])}"
    if document["replaces"]:
        because = document["replaces_because"]
        text += f"; it replaces {document['replaces']}, because: {because}"
    return text


def _first_page(document: Document) -> Iterator[Block]:
    yield _notice(document)
    yield Heading("Item and job")
    yield _item_facts(document)
    yield Heading("Dials at a glance")
    yield _glance(document)
    yield Heading("Odometer")
    yield _odometer(document)
    if document["needle_set"]:
        yield Heading("Needles")
        yield Listing(_for_people(document["needle_set"]))
    if document["work_done"]:
        yield Heading("Adjusted and repaired between the two runs")
        yield Listing(tuple(document["work_done"]))
    if document["cautions"]:
        yield Heading("Cautions")
        yield Listing(_for_people(document["cautions"]))


def _notice(document: Document) -> Notice:
    """What must be seen first: exceptions, or why it is no certificate."""
    result = _result_words(document)
    match document["kind"]:
        case "certificate_with_exceptions":
            said = _for_people(document["exceptions"])
            return Notice("bad_doubt", "With exceptions", (*said, result))
        case "certificate":
            return Notice(_sign_of_pass(document), "Conforms", (result,))
        case "not_conforming_report":
            said = _for_people([*document["why_not"], *document["exceptions"]])
            text = "Not conforming. This is a report and no certificate."
            return Notice("bad", text, (*said, result))
        case _:
            return Notice("none", "As it came in", (result,))


def _result_words(document: Document) -> str:
    """One sentence on all dials: `As left: speed conforms; fuel conforms, in doubt`."""
    side = "left" if document["kind"] != "as_found_report" else "found"
    said = [f"{d['dial']} {d[side]['words']}" for d in _by_weight(document) if d[side]]
    return f"As {side}: {'; '.join(said)}."


def _by_weight(document: Document) -> list[Mapping[str, Any]]:
    """Speedometers first, because a wrong one is dangerous; the others as the family has them."""
    return sorted(document["dials"], key=lambda dial: not dial["is_speedometer"])


def _sign_of_pass(document: Document) -> Sign:
    all_clear = all(dial["left"]["code"] == "pass" for dial in document["dials"])
    return "good" if all_clear else "doubt"


def _for_people(sentences: Sequence[str]) -> tuple[str, ...]:
    said = (sentence_for_people(sentence) for sentence in sentences)
    return tuple(s[:1].upper() + s[1:] for s in said)


def _item_facts(document: Document) -> Facts:
    item = document["item"]
    variant = item["variant"] or NONE_STATED
    if item["variant_told_apart_by"]:
        variant += f" (told apart by: {item['variant_told_apart_by']})"
    return Facts(
        (
            ("Item", "instrument cluster"),
            ("Family", item["family"]),
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
        )
    )


def _day(iso: str | None) -> str:
    return NONE_STATED if iso is None else day_words(iso)


def _glance(document: Document) -> Table:
    two = any(dial["left"] is not None for dial in document["dials"])
    sides = ("found", "left") if two else ("found",)
    rows = []
    for dial in _by_weight(document):
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


def _odometer(document: Document) -> Together:
    odometer = document["odometer"]
    unit = odometer["unit"]
    facts: tuple[Block, ...] = ()
    if odometer["outcome"] != "none_fitted":
        facts = (
            Facts(
                tuple(
                    (label, mileage(odometer[name], unit))
                    for label, name in (
                        ("As received", "as_received"),
                        ("As returned", "as_returned"),
                    )
                    if odometer["outcome"] != "received" or name == "as_received"
                )
            ),
        )
    return Together((*facts, Paragraph(odometer["sentence"])))


def _results(document: Document) -> Iterator[Block]:
    key = (
        Heading("Results by dial"),
        Drawing("legend.svg", "Key of signs of the drawings below"),
    )
    for i, dial in enumerate(_by_weight(document)):
        yield from _dial(dial, f"strip-{i}.svg", key if i == 0 else ())


def _dial(dial: Mapping[str, Any], strip: str, key: tuple[Block, ...]) -> Iterator[Block]:
    side: Side = "left" if dial["left"] is not None else "found"
    table = two_sided_table(dial) if side == "left" else one_sided_table(dial, "found")
    rule = dial["rule"]
    lead = (
        *key,
        Heading(dial_title(dial), 2, rule["applies"] if rule else ""),
        Paragraph(rule_words(rule) if rule else "The family states no rule.", faint=True),
        Drawing(strip, _strip_alt(dial)),
    )
    notes = tuple(Paragraph(note, faint=True) for note in notes_under(dial, side))
    if len(table.rows) <= LONGEST_TOGETHER:
        yield Together((*lead, table, *notes))
    else:
        yield Together(lead)
        yield table
        yield from notes


def _strip_alt(dial: Mapping[str, Any]) -> str:
    said = [f"as {s}: {dial[s]['words']}" for s in ("found", "left") if dial[s] is not None]
    return f"Error of {dial_title(dial)} over its scale; {', '.join(said)}. Numbers: next table."


def _evidence(document: Document, pictures: Sequence[EvidencePicture]) -> Iterator[Block]:
    if not pictures:
        return
    yield Heading("The rows that decide, as photographed")
    yield Pictures(
        tuple(
            Picture(f"photo-{i}.jpg", _caption(document, picture))
            for i, picture in enumerate(pictures)
        )
    )


def _caption(document: Document, picture: EvidencePicture) -> str:
    dial = next(d for d in document["dials"] if d["dial"] == picture.dial)
    row = dial[picture.side]["rows"][picture.row]
    told = place_words(row, dial["unit"])
    if row["shown"] is None:
        shown = "no value"
    else:
        shown = plus_minus(row["shown"], row["expanded"], places_for([row["expanded"]]))
    if row["basis"] == "rest":
        shown = f"{row['angle_deg']:.1f}°" if row["angle_deg"] is not None else "no angle"
    return f"{dial['dial']}, as {picture.side}, {told}: {shown}; {row['words']}"


def _uncertainty(document: Document) -> Iterator[Block]:
    yield Heading("Uncertainty by component")
    yield from (Paragraph(sentence) for sentence in document["uncertainty"])
    table = budget_table(_by_weight(document), document["coverage_k"])
    if table.rows:
        yield table


def _how(document: Document) -> Iterator[Block]:
    yield Heading("Method")
    yield from (Paragraph(sentence) for sentence in document["method"])
    yield Heading("Decision rule")
    yield from (Paragraph(sentence) for sentence in document["decision_rule"])
    rules = {d["rule"]["title"]: d["rule"] for d in document["dials"] if d["rule"]}
    yield Listing(tuple(f"{title}: {rule['source']}" for title, rule in rules.items()))
    yield Heading("Conditions")
    yield Listing((*map(_condition, document["conditions"]), *document["conditions_stated"]))
    yield Heading("Traceability and instruments used")
    yield from (Paragraph(sentence) for sentence in document["traceability"])
    yield _instruments(document)
    yield Heading("Deviations from the method")
    yield Listing(_for_people(document["deviations"]) or (NONE_STATED,))
    if document["remarks"]:
        yield Heading("Remarks")
        yield Listing(tuple(document["remarks"]))


def _condition(condition: Mapping[str, Any]) -> str:
    celsius = span_words(condition["temperature_low_c"], condition["temperature_high_c"], "°C")
    volts = span_words(condition["supply_low_v"], condition["supply_high_v"], "V")
    return (
        f"Run '{condition['run']}': temperature {celsius}, supply {volts}, "
        f"{condition['rows']} rows from {condition['photos']} photos"
    )


def _instruments(document: Document) -> Table:
    rows = [
        (
            Cell(i["name"]),
            Cell(i["number"]),
            Cell(day_words(i["due"]) if i["due"] else NONE_STATED),
            Cell(i["traceable_to"] or NONE_STATED),
        )
        for i in document["instruments"]
    ] or [(Cell(NONE_STATED), Cell(""), Cell(""), Cell(""))]
    return Table(
        columns=(
            Column("instrument", "left", None),
            Column("number", "left", 35),
            Column("due", "left", 35),
            Column("traceable to", "left", 50),
        ),
        rows=tuple(rows),
    )


def _closing(document: Document) -> Iterator[Block]:
    yield Together(
        (
            Heading("Statements"),
            Listing(tuple(document["statements"])),
            Signature(document["authorised_by"], day_words(document["issued"])),
        )
    )
