"""From plain data to PDF with Typst: nothing is fetched, and the type travels with the compiler."""

import json
import re
from collections.abc import Mapping
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
    data = {
        "title": sheet.title,
        "under_title": sheet.under_title,
        "head_left": sheet.head_left,
        "head_right": sheet.head_right,
        "foot_left": sheet.foot_left,
        "banner": sheet.banner,
        "end": sheet.end,
        "blocks": [as_data(block) for block in sheet.blocks],
    }
    return compile_pdf("paper.typ", data, sheet.assets, day)


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
    text = json.dumps({**data, "ink": _inks()}, ensure_ascii=False, allow_nan=False)
    with TemporaryDirectory(prefix="needlewright-") as folder:
        root = Path(folder)
        for name, content in assets.items():
            (root / name).write_bytes(content)
        (root / "data.json").write_text(text, encoding="utf-8")
        main = root / "main.typ"
        main.write_bytes((files("needlewright.papers") / "typst" / template).read_bytes())
        pdf = _compiled(root, main, day)
    if not isinstance(pdf, bytes):
        raise PaperError("the paper cannot be laid out: the compiler gave no file")
    return pdf


def _compiled(root: Path, main: Path, day: date) -> object:
    """Compile with the embedded type; where it lacks a character, with the machine's own too."""
    for with_system in (False, True):
        try:
            return typst.compile(
                str(main),
                root=str(root),
                font_paths=_fonts(with_system),
                format="pdf",
                pdf_standards=STANDARD,
                timestamp=datetime.combine(day, time(12), UTC),
            )
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
