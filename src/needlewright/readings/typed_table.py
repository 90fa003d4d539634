"""Tables people type: CSV out of any spreadsheet, cell by cell, each slip named with its place."""

import csv
import difflib
import io
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from needlewright.errors import RunError

MAX_BYTES: Final = 20_000_000
"""A run of a hundred thousand rows is below this."""

_NUMBER: Final = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?")
_COMMA_NUMBER: Final = re.compile(r"[+-]?[0-9]*,[0-9]+")
_DELIMITERS: Final = (",", ";", "\t")
_SAID_LENGTH: Final = 60


@dataclass(frozen=True, slots=True)
class TypedRow:
    """One line of a typed table."""

    path: Path
    line: int
    """Where it ends in the file, counted from 1."""
    cells: Mapping[str, str]
    """By column, stripped of blanks; a column the file does not have is missing."""
    decimal_comma: bool
    """Whether numbers of this file carry a comma instead of a point."""

    def text(self, column: str) -> str | None:
        """What is typed in a cell; None where nothing is."""
        return self.cells.get(column) or None

    def required(self, column: str, expected: str) -> str:
        """What is typed in a cell that must not be empty; `expected` says what belongs there."""
        text = self.text(column)
        if text is None:
            raise RunError(f"{self.path}: line {self.line}, column '{column}' is empty; {expected}")
        return text

    def number(self, column: str, at_least: float | None = None) -> float | None:
        """The number typed in a cell.

        Parameters
        ----------
        column
            Name of the column.
        at_least
            Smallest number that makes sense there.

        Returns
        -------
        float or None
            Finite; None where the cell is empty.

        Raises
        ------
        RunError
            If the cell holds anything else.
        """
        text = self.text(column)
        if text is None:
            return None
        plain = text.replace("\u2212", "-")  # the minus sign word processors put
        if self.decimal_comma:
            if "." in plain:
                raise self.error(column, "numbers of this file have a decimal comma; type no point")
            plain = plain.replace(",", ".")
        if not _NUMBER.fullmatch(plain) or not math.isfinite(float(plain)):
            raise self.error(column, "a number is expected; leave the cell empty if not known")
        value = float(plain)
        if at_least is not None and value < at_least:
            raise self.error(column, f"a number of at least {at_least:g} is expected")
        return value

    def whole(self, column: str) -> int | None:
        """The whole number, zero or more, typed in a cell; None where the cell is empty."""
        value = self.number(column, at_least=0)
        if value is None:
            return None
        if value != int(value):
            raise self.error(column, "a whole number is expected")
        return int(value)

    def error(self, column: str, expectation: str) -> RunError:
        """An error that names file, line, column and value."""
        value = _one_line(self.cells.get(column, ""))
        return RunError(
            f"{self.path}: line {self.line}, column '{column}': given '{value}'; {expectation}"
        )


def read_typed_table(
    path: Path,
    columns: Iterable[str],
    numeric: Iterable[str],
    required: Iterable[str],
) -> tuple[TypedRow, ...]:
    """Read a table that a person, a spreadsheet or a program wrote.

    Separated by commas, semicolons or tabs, whichever the header shows; UTF-8, UTF-16 or the
    Western code page; with or without a byte order mark; blank lines and columns headed `note`
    or `#...` are passed over; decimal commas where commas separate no cells.

    Parameters
    ----------
    path
        The file.
    columns
        Every column it may have.
    numeric
        Those of them that hold numbers.
    required
        Those it must have.

    Returns
    -------
    tuple of TypedRow
        The lines that hold anything, in file order.

    Raises
    ------
    RunError
        One sentence with file, line, column, value and expectation.
    """
    known = tuple(columns)
    lines = _lines(path)
    delimiter = _delimiter(path, lines, known)
    reader = csv.reader(io.StringIO("\n".join(lines) + "\n"), delimiter=delimiter, strict=True)
    header: list[str] = []
    found: list[tuple[int, dict[str, str]]] = []
    try:
        for cells in reader:
            stripped = [cell.strip(" \t\u00a0") for cell in cells]
            if not any(stripped) or (not header and _is_separator_hint(stripped)):
                continue
            if not header:
                header = _header(path, reader.line_num, stripped, known, tuple(required))
            else:
                found.append((reader.line_num, _cells(path, reader.line_num, header, stripped)))
    except csv.Error as error:
        raise RunError(
            f"{path}: line {reader.line_num}: is no line of a table ({error}); check its quotes"
        ) from error
    if not found:
        raise RunError(f"{path}: has a header and no rows; type one line for each reading")
    comma = any(
        _COMMA_NUMBER.fullmatch(row.get(column, "")) for _, row in found for column in numeric
    )
    return tuple(TypedRow(path, line, row, comma) for line, row in found)


def _one_line(text: str) -> str:
    """What fits into a sentence of a text that may be long or have line ends in it."""
    return " ".join(text.split())[:_SAID_LENGTH]


def _lines(path: Path) -> list[str]:
    if path.is_dir():
        raise RunError(f"{path}: is a folder; name the CSV file in it")
    try:
        with path.open("rb") as stream:
            data = stream.read(MAX_BYTES + 1)
    except FileNotFoundError as error:
        raise RunError(f"{path}: there is no such file; check the name and the folder") from error
    except (OSError, ValueError) as error:
        raise RunError(
            f"{path}: cannot be read ({error}); check the file and its rights"
        ) from error
    if len(data) > MAX_BYTES:
        raise RunError(f"{path}: is larger than {MAX_BYTES / 1e6:g} MB, the limit for a table")
    text = _decoded(path, data)
    if not text.strip():
        raise RunError(f"{path}: is empty; a header line with the column names is expected")
    return text.replace("\r\n", "\n").replace("\r", "\n").rstrip("\n").split("\n")


def _decoded(path: Path, data: bytes) -> str:
    try:
        if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
            return data.decode("utf-16")
        if b"\0" in data:
            raise RunError(f"{path}: is not a text table; save the spreadsheet as CSV")
        try:
            return data.decode("utf-8-sig")
        except UnicodeDecodeError:
            return data.decode("cp1252")  # what older spreadsheets save
    except UnicodeDecodeError as error:
        raise RunError(f"{path}: is not a text table ({error}); save it as CSV, UTF-8") from error


def _delimiter(path: Path, lines: list[str], known: tuple[str, ...]) -> str:
    """The delimiter that makes the most known columns of the first line that holds any."""

    def names(line: str, delimiter: str) -> int:
        return sum(_plain_name(cell) in known for cell in line.split(delimiter))

    for line in lines:
        counts = {delimiter: names(line, delimiter) for delimiter in _DELIMITERS}
        best = max(counts, key=lambda delimiter: counts[delimiter])
        if counts[best]:
            return best
        if line.strip() and not line.lower().startswith("sep="):
            break
    first = next(line for line in lines if line.strip())
    where = f"{path}: line {lines.index(first) + 1}"
    raise RunError(
        f"{where}: given '{_one_line(first)}'; a header line is expected "
        f"with column names out of {', '.join(known)}"
    )


def _is_separator_hint(cells: list[str]) -> bool:
    return cells[0].lower().startswith("sep=")


def _plain_name(cell: str) -> str:
    return cell.strip(" \t\u00a0\"'").lower().replace(" ", "_")


def _header(
    path: Path, line: int, cells: list[str], known: tuple[str, ...], required: tuple[str, ...]
) -> list[str]:
    names = [_plain_name(cell) for cell in cells]
    for name in names:
        if not name or name in known or name.startswith(("#", "note")):
            continue
        near = difflib.get_close_matches(name, known, n=1)
        meant = f"is '{near[0]}' meant?" if near else f"known are {', '.join(known)}"
        raise RunError(
            f"{path}: line {line}: column '{_one_line(name)}' is not known; {meant} "
            "Head a column of remarks 'note'"
        )
    for name in known:
        if names.count(name) > 1:
            raise RunError(f"{path}: line {line}: column '{name}' stands twice; keep one of them")
    for name in required:
        if name not in names:
            raise RunError(
                f"{path}: line {line}: column '{name}' is missing; the header must name "
                f"{', '.join(required)}"
            )
    return names


def _cells(path: Path, line: int, header: list[str], cells: list[str]) -> dict[str, str]:
    beyond = [cell for name, cell in _paired(header, cells) if not name and cell]
    if beyond:
        raise RunError(
            f"{path}: line {line}: has a cell '{_one_line(beyond[0])}' under no column name; a "
            "number with a decimal comma needs semicolons between the cells"
        )
    return {name: cell for name, cell in _paired(header, cells) if name}


def _paired(header: list[str], cells: list[str]) -> list[tuple[str, str]]:
    short = len(cells) - len(header)
    return list(zip(header + [""] * short, cells, strict=False))
