"""What an option's expected cost is made of, as a bar beside the bars of the others.

Rectangles in percent of the figure's width, so that a bar is as sharp at any width; what they look
like is the business of the page they stand in, by their class.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

Document = Mapping[str, Any]
PIECES: Final[tuple[tuple[str, str], ...]] = (
    ("now", "price"),
    ("spoiling", "spoiling"),
    ("rework", "rework"),
    ("returns", "returns"),
    ("later", "later"),
    ("watching", "watching"),
)
"""Pieces of the expected cost in their order, and where the document has them."""
HEIGHT_PX: Final = 28


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of a bar.

    Parameters
    ----------
    name
        `now`, `spoiling`, `rework`, `returns`, `later` or `watching`.
    amount
        As the document has it, rounded by itself.
    start, width
        In percent of the largest total of the options.
    """

    name: str
    amount: str
    start: float
    width: float


def pieces_of(
    document: Document, option: Document, keys: Sequence[tuple[str, str]] = PIECES
) -> tuple[Piece, ...]:
    """Lay an option's expected cost out along a scale all three options share.

    Parameters
    ----------
    document
        As `needlewright plan --json` prints it.
    option
        One of its options.
    keys
        Names of the pieces and where the document has them.

    Returns
    -------
    tuple of Piece
        Every piece, also those of no money, one after the other.
    """
    largest = max(
        (sum((Decimal(one[key]) for _, key in keys), Decimal(0)) for one in document["options"]),
        default=Decimal(0),
    )
    pieces, start = [], Decimal(0)
    for name, key in keys:
        amount = Decimal(option[key])
        share = 100 / largest if largest else Decimal(0)
        pieces.append(Piece(name, option[key], float(start * share), float(amount * share)))
        start += amount
    return tuple(pieces)


def used_pieces(document: Document) -> tuple[str, ...]:
    """Names of the pieces at least one option has."""
    return tuple(
        name for name, key in PIECES if any(Decimal(one[key]) > 0 for one in document["options"])
    )


def bar_svg(pieces: Sequence[Piece]) -> str:
    """A bar.

    Parameters
    ----------
    pieces
        Of one option.

    Returns
    -------
    str
        An SVG element that fills the width it is given; the figures stand in a table beside it, so
        it says nothing to a screen reader.
    """
    rects = "".join(
        f'<rect class="piece-{one.name}" x="{one.start:.2f}%" y="0" width="{one.width:.2f}%" '
        f'height="{HEIGHT_PX}"/>'
        for one in pieces
        if one.width > 0
    )
    return (
        f'<svg class="cost-bar" width="100%" height="{HEIGHT_PX}" aria-hidden="true" '
        f'focusable="false">{rects}</svg>'
    )


def hatching_svg() -> str:
    """The patterns of the pieces, once for a page: no piece is told by its colour alone."""
    return (
        '<svg class="cost-patterns" width="0" height="0" aria-hidden="true" focusable="false">'
        "<defs>"
        '<pattern id="piece-slanted" width="7" height="7" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><rect class="piece-ground" width="7" height="7"/>'
        '<rect class="piece-line" width="2.6" height="7"/></pattern>'
        '<pattern id="piece-dotted" width="7" height="7" patternUnits="userSpaceOnUse">'
        '<rect class="piece-ground" width="7" height="7"/>'
        '<circle class="piece-line" cx="3.5" cy="3.5" r="1.3"/></pattern>'
        '<pattern id="piece-crossed" width="5" height="5" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><rect class="piece-ground" width="5" height="5"/>'
        '<path class="piece-drawn" d="M0 2.5h5M2.5 0v5"/></pattern>'
        "</defs></svg>"
    )
