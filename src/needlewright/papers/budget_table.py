"""The uncertainty budget of a dial as a table."""

from collections.abc import Iterator, Mapping
from math import floor, log10
from typing import Any

from needlewright.papers.blocks import Cell, Column, Table
from needlewright.papers.wording import place_words, sentence_for_people, unit_words

Dial = Mapping[str, Any]
Row = tuple[Cell, ...]


def budget_table(dial: Dial, coverage_k: float) -> Table:
    """Set a dial's budget out.

    Parameters
    ----------
    dial
        From the document of a proof; it has a budget.
    coverage_k
        Coverage factor of the expanded uncertainty.

    Returns
    -------
    Table
        One row for each component, the last for all together.
    """
    return Table(
        columns=(
            Column("dial", "left", 26),
            Column("component", "left", 42),
            Column("u, deg", "right", 17),
            Column("u", "right", 31),
            Column("in U", "left", 10),
            Column("from", "left", None),
        ),
        rows=tuple(_rows(dial, coverage_k)),
    )


def _rows(dial: Dial, coverage_k: float) -> Iterator[Row]:
    budget, unit = dial["budget"], unit_words(dial["unit"])
    at = place_words(budget, dial["unit"])
    heads = [
        Cell(dial["dial"], strong=True),
        Cell(f"at {at}" if budget["commanded"] else at, faint=True),
    ]
    for i, line in enumerate(budget["lines"]):
        yield (
            heads[i] if i < len(heads) else Cell(),
            Cell(line["component"]),
            Cell("" if line["u_deg"] is None else two_figures(line["u_deg"])),
            Cell("not known" if line["u"] is None else f"{two_figures(line['u'])} {unit}"),
            Cell("yes" if line["contained"] else "no"),
            Cell(sentence_for_people(line["source"]), faint=True),
        )
    combined, expanded = two_figures(budget["combined"]), two_figures(budget["expanded"])
    yield (
        Cell(),
        Cell("together, U", strong=True),
        Cell(),
        Cell(f"{expanded} {unit}", strong=True),
        Cell(),
        Cell(f"k = {coverage_k:g}; u = {combined} {unit}", faint=True),
    )


def two_figures(u: float) -> str:
    """An uncertainty with two significant figures, never in powers of ten."""
    if u == 0.0:
        return "0"
    places = max(0, 1 - floor(log10(abs(u))))
    return f"{u:.{places}f}"
