"""The pages of a document that show dial after dial: strip, table, notes."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from needlewright.papers.blocks import Block, Drawing, Heading, Paragraph, Together
from needlewright.papers.dial_blocks import (
    dial_title,
    notes_under,
    one_sided_table,
    rule_words,
    strip_data,
    two_sided_table,
)
from needlewright.papers.strip_data import Side

LONGEST_TOGETHER: Final = 24
"""Rows of a dial that still share a page with its strip; a longer table breaks."""

Dial = Mapping[str, Any]


def by_weight(dials: Sequence[Dial]) -> list[Dial]:
    """Speedometers first, because a wrong one is dangerous; the others as the family has them."""
    return sorted(dials, key=lambda dial: not dial["is_speedometer"])


def strip_assets(dials: Sequence[Dial], coverage_k: float) -> dict[str, bytes]:
    """Draw the strips that `dial_pages` refers to.

    Parameters
    ----------
    dials
        From the document of a proof, in the order of the pages.
    coverage_k
        Coverage factor of their expanded uncertainties.

    Returns
    -------
    dict
        SVG by asset name.
    """
    from needlewright.papers.strip import strip_svg, strips_svg  # noqa: PLC0415 - slow to import

    assets = {"legend.svg": strips_svg((), ground=False).encode()}
    for i, dial in enumerate(dials):
        strip = strip_svg(strip_data(dial, coverage_k), legend=False, title=False, ground=False)
        assets[f"strip-{i}.svg"] = strip.encode()
    return assets


def dial_pages(heading: str, dials: Sequence[Dial]) -> Iterator[Block]:
    """Show dial after dial, the key of signs once before the first.

    Parameters
    ----------
    heading
        Over all of them.
    dials
        From the document of a proof, in the order of the pages.

    Yields
    ------
    Block
        Heading, rule, strip, table and notes of each.
    """
    key = (Heading(heading), Drawing("legend.svg", "Key of signs of the drawings below"))
    for i, dial in enumerate(dials):
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
