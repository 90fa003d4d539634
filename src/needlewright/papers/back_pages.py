"""The last pages of a proof: uncertainty, method, decision rule, conditions, statements."""

from collections.abc import Iterator, Mapping
from typing import Any

from needlewright.papers.blocks import (
    Block,
    Cell,
    Column,
    Heading,
    Listing,
    Paragraph,
    Signature,
    Table,
    Together,
)
from needlewright.papers.budget_table import budget_table
from needlewright.papers.dial_pages import by_weight
from needlewright.papers.wording import (
    NONE_STATED,
    day_words,
    sentences_for_people,
    span_words,
)

Document = Mapping[str, Any]


def back_pages(document: Document) -> Iterator[Block]:
    """Compose what stands behind the results.

    Parameters
    ----------
    document
        As `proofs.proof_json.proof_document` gives it.

    Yields
    ------
    Block
        Ending with the signature.
    """
    yield from _uncertainty(document)
    yield from _how(document)
    yield from _closing(document)


def _uncertainty(document: Document) -> Iterator[Block]:
    yield Heading("Uncertainty by component")
    yield from (Paragraph(sentence) for sentence in document["uncertainty"])
    for dial in by_weight(document["dials"]):
        if dial["budget"]:
            yield Together((budget_table(dial, document["coverage_k"]),), gap_mm=2.5)


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
    yield Listing(sentences_for_people(document["deviations"]) or (NONE_STATED,))
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
