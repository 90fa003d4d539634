"""From plain data to PDF with Typst: nothing is fetched, and the type travels with the compiler."""

import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import cache
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import typst

from needlewright.errors import PaperError
from needlewright.papers import ink
from needlewright.papers.blocks import Sheet, as_data

STANDARD: Final = "a-2b"
"""PDF/A-2b, ISO 19005-2: everything a reader needs is inside the file."""

_LACKING: Final = re.compile(r'the text `"(.+)"` could not be displayed')
"""What the compiler says of a character no type has; PDF/A forbids an empty box in its place."""


ENOUGH: Final = 0.3
"""A last page with less on it than this share of its height is called nearly empty."""


@dataclass(frozen=True, slots=True)
class Ending:
    """Where a document ends.

    Parameters
    ----------
    pages
        How many it has.
    filled
        Share of the height of the last page's text that is used, 0 to 1.
    """

    pages: int
    filled: float

    @property
    def is_good(self) -> bool:
        """Whether its last page is worth turning to."""
        return self.pages == 1 or self.filled >= ENOUGH


def sheet_pdf(sheet: Sheet, day: date) -> bytes:
    """Lay a document out.

    Parameters
    ----------
    sheet
        The document.
    day
        Its date, which the file carries too.

    Returns
    -------
    bytes
        A PDF; the same sheet gives the same bytes.

    Raises
    ------
    PaperError
        If it cannot be laid out, as with a broken picture.
    """
    return compile_pdf("paper.typ", _data(sheet), sheet.assets, day)


def fitted_pdf(sheets: Iterable[Sheet], day: date) -> bytes:
    """Lay a document out the first way that ends well on its pages.

    Parameters
    ----------
    sheets
        The same document set in several ways, the nicest first; looked at only as far as needed.
    day
        Its date, which the file carries too.

    Returns
    -------
    bytes
        A PDF of the first whose last page is not nearly empty; where every one's is, of the one
        with the fewest pages, and of those the fullest last page.

    Raises
    ------
    PaperError
        If there is none, or it cannot be laid out.
    """
    chosen: tuple[tuple[int, float], Sheet] | None = None
    for sheet in sheets:
        ending = ending_of(sheet)
        if ending.is_good:
            return sheet_pdf(sheet, day)
        rank = (ending.pages, -ending.filled)
        if chosen is None or rank < chosen[0]:
            chosen = rank, sheet
    if chosen is None:
        raise PaperError("the paper cannot be laid out: there is nothing on it")
    return sheet_pdf(chosen[1], day)


def ending_of(sheet: Sheet) -> Ending:
    """Where a document would end, without a file being made of it; raises PaperError as that."""
    with _written("paper.typ", _data(sheet), sheet.assets) as (root, main):
        found = _with_type(
            lambda fonts: typst.query(
                str(main), "<end>", field="value", one=True, root=str(root), font_paths=fonts
            )
        )
    said = json.loads(str(found))
    return Ending(int(said["pages"]), float(said["filled"]))


def _data(sheet: Sheet) -> dict[str, Any]:
    return {
        "title": sheet.title,
        "under_title": sheet.under_title,
        "head_left": sheet.head_left,
        "head_right": sheet.head_right,
        "foot_left": sheet.foot_left,
        "banner": sheet.banner,
        "end": sheet.end,
        "room": sheet.room,
        "blocks": [as_data(block) for block in sheet.blocks],
    }


def compile_pdf(
    template: str, data: Mapping[str, Any], assets: Mapping[str, bytes], day: date
) -> bytes:
    """Compile one of the project's Typst templates.

    Parameters
    ----------
    template
        A file of `papers/typst`.
    data
        What the template reads as `/data.json`.
    assets
        Pictures and drawings by file name.
    day
        The date the file carries.

    Returns
    -------
    bytes
        A PDF.

    Raises
    ------
    PaperError
        If it cannot be compiled.
    """
    with _written(template, data, assets) as (root, main):
        pdf = _with_type(
            lambda fonts: typst.compile(
                str(main),
                root=str(root),
                font_paths=fonts,
                format="pdf",
                pdf_standards=STANDARD,
                timestamp=datetime.combine(day, time(12), UTC),
            )
        )
    if not isinstance(pdf, bytes):
        raise PaperError("the paper cannot be laid out: the compiler gave no file")
    return pdf


@contextmanager
def _written(
    template: str, data: Mapping[str, Any], assets: Mapping[str, bytes]
) -> Iterator[tuple[Path, Path]]:
    """A folder with all the compiler reads, and the template in it."""
    text = json.dumps({**data, "ink": _inks()}, ensure_ascii=False, allow_nan=False)
    with TemporaryDirectory(prefix="needlewright-") as folder:
        root = Path(folder)
        for name, content in assets.items():
            (root / name).write_bytes(content)
        (root / "data.json").write_text(text, encoding="utf-8")
        main = root / "main.typ"
        main.write_bytes((files("needlewright.papers") / "typst" / template).read_bytes())
        yield root, main


def _with_type(compiled: Callable[[typst.Fonts], object]) -> object:
    """Compile with the embedded type; where it lacks a character, with the machine's own too."""
    for with_system in (False, True):
        try:
            return compiled(_fonts(with_system))
        except typst.TypstError as error:
            lacking = _LACKING.search(error.message)
            if lacking is None:
                raise PaperError(f"the paper cannot be laid out: {error.message}") from error
            if with_system:
                raise PaperError(
                    f"the paper cannot be laid out: no type on this machine has '{lacking[1]}'; "
                    "write it in other letters, or install a type that has it"
                ) from error
    raise AssertionError("unreachable")


@cache
def _fonts(with_system: bool) -> typst.Fonts:
    return typst.Fonts(include_system_fonts=with_system, include_embedded_fonts=True)


def _inks() -> dict[str, str]:
    return {
        "ink": ink.INK,
        "faint": ink.FAINT,
        "hairline": ink.HAIRLINE,
        "band": ink.BAND,
        "paper": ink.PAPER,
        "accent": ink.ACCENT,
        "good": ink.GOOD,
        "not_good": ink.NOT_GOOD,
    }
