"""A shop's tables of lives, as CSV: their form, their rows, the ages in them."""

import csv
from collections.abc import Iterator, Mapping
from io import StringIO
from pathlib import Path
from typing import Final

from needlewright.errors import PlanError

MOST_BYTES: Final = 5_000_000


def text_of_table(path: Path) -> str:
    """The text of a table's file.

    Parameters
    ----------
    path
        Of CSV.

    Returns
    -------
    str
        Its text.

    Raises
    ------
    PlanError
        If it cannot be read, or is no table.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise PlanError(f"{path}: cannot be opened: {error.strerror or error}") from error
    if len(content) > MOST_BYTES:
        raise PlanError(f"{path}: {len(content)} bytes are no table of returns")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise PlanError(f"{path}: is no text in UTF-8; save it as CSV in UTF-8") from error


def rows_of_table(
    name: str, text: str, columns: tuple[str, ...]
) -> Iterator[tuple[str, Mapping[str, str]]]:
    """The rows of a table.

    Parameters
    ----------
    name
        Of the table, for sentences.
    text
        As CSV.
    columns
        It must have, in this order.

    Yields
    ------
    tuple
        Where the row stands, for sentences, and its cells without blanks around them.

    Raises
    ------
    PlanError
        If the columns are others, or a row has another number of cells.
    """
    reader = csv.DictReader(StringIO(text))
    if tuple(reader.fieldnames or ()) != columns:
        found = ",".join(reader.fieldnames or ()) or "nothing"
        raise PlanError(f"{name}: expected the columns {','.join(columns)}, found {found}")
    for row in reader:
        place = f"{name}: line {reader.line_num}"
        if None in row or None in row.values():
            raise PlanError(f"{place}: expected {len(columns)} cells")
        yield place, {column: cell.strip() for column, cell in row.items()}


def age_in(place: str, text: str) -> float:
    """The age in a cell.

    Parameters
    ----------
    place
        Of the cell, for sentences.
    text
        As it stands there.

    Returns
    -------
    float
        Above 0.

    Raises
    ------
    PlanError
        If it is none.
    """
    try:
        age = float(text)
    except ValueError:
        age = 0.0
    if not 0 < age < 1e9:
        raise PlanError(f"{place}: expected an age above 0, found '{text}'; or leave the row out")
    return age
