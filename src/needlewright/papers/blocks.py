"""What a document is made of: a few kinds of block, plain texts inside.

A document is built from blocks in Python and laid out by one Typst template, `typst/paper.typ`,
which knows each kind by its name.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

Sign = Literal["good", "doubt", "bad_doubt", "bad", "none", "box"]
"""Shapes that stand with a word: disc, half disc, cross in a ring, cross, dash; a box to tick."""
Align = Literal["left", "right", "center"]

SIGNS: dict[str, Sign] = {
    "pass": "good",
    "conditional_pass": "doubt",
    "conditional_fail": "bad_doubt",
    "fail": "bad",
    "not complete": "none",
    "not_read": "none",
    "not_judged": "none",
}
"""The sign that stands with each verdict's word."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of a table."""

    text: str = ""
    sign: Sign | None = None
    strong: bool = False
    faint: bool = False
    under: str = ""
    """Said smaller under it."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its head, its alignment, its width in mm; None shares what is left."""

    head: str
    align: Align = "left"
    width_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading of the first or second order."""

    text: str
    level: int = 1
    beside: str = ""
    """Said small beside it."""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph."""

    text: str
    faint: bool = False


@dataclass(frozen=True, slots=True)
class Listing:
    """Sentences, one under the other."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Notice:
    """What must be seen first: a line in large type and sentences under it, in a frame."""

    sign: Sign
    text: str
    sentences: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Facts:
    """Labels and values, in two columns."""

    rows: tuple[tuple[str, str], ...]
    in_left: int
    """How many of them stand in the left column."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table; `groups` heads several columns at once as `(text, columns)`."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    groups: tuple[tuple[str, int], ...] = ()
    whole_rows: bool = False
    """Whether a row stands on one page; one that is longer than a page would run out of it."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing as wide as the text: the name of its SVG among the assets, and what it shows."""

    asset: str
    alt: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo: the name of its file among the assets, and its caption."""

    asset: str
    caption: str


@dataclass(frozen=True, slots=True)
class Pictures:
    """Photos beside each other."""

    pictures: tuple[Picture, ...]
    across: int = 2


@dataclass(frozen=True, slots=True)
class Signature:
    """Who authorises, and when."""

    who: str
    day: str


@dataclass(frozen=True, slots=True)
class Together:
    """Blocks that one page holds; too long a stretch may still break."""

    blocks: "tuple[Block, ...]"
    gap_mm: float = 6.0
    """Free room above it."""


Block = (
    Heading
    | Paragraph
    | Listing
    | Notice
    | Facts
    | Table
    | Drawing
    | Pictures
    | Signature
    | Together
)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole document."""

    title: str
    under_title: str
    head_left: str
    head_right: str
    foot_left: str
    banner: str
    """Said on every page; empty: nothing."""
    end: str
    """The line after which nothing follows."""
    blocks: tuple[Block, ...]
    assets: dict[str, bytes] = field(default_factory=dict)
    room: float = 1.0
    """A factor of the free room around headings, blocks and rows."""


def as_data(block: Block) -> dict[str, Any]:
    """A block as the template reads it: its fields, and its kind by name."""
    data: dict[str, Any] = {"kind": type(block).__name__.lower()}
    for name in block.__slots__:
        data[name] = _plain(getattr(block, name))
    return data


def _plain(value: Any) -> Any:
    if isinstance(value, Block):
        return as_data(value)
    if isinstance(value, Cell | Column | Picture):
        return {name: getattr(value, name) for name in value.__slots__}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_plain(item) for item in value]
    return value
