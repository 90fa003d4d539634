"""Reading a JSON file made by hand: size limit, place of a slip, no NaN, no key twice."""

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from needlewright.errors import FamilyError

MAX_BYTES: Final = 4_000_000
"""A family of thirty dials with all its notes is below 0.1 MB."""


def read_object(path: Path) -> dict[str, Any]:
    """Read a file that holds one JSON object.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    dict
        The object, its keys in the order of the file.

    Raises
    ------
    FamilyError
        One sentence naming the file, what is wrong in it and where.
    """
    text = _text(path)
    try:
        document = json.loads(text, object_pairs_hook=_unrepeated)
    except json.JSONDecodeError as error:
        raise FamilyError(
            f"{path}: not valid JSON at line {error.lineno}, column {error.colno}: {error.msg}; "
            f"found {_near(text, error.pos)}"
        ) from error
    except _RepeatedKeyError as error:
        raise FamilyError(
            f"{path}: the field '{error}' stands twice in one object; keep one of them"
        ) from error
    except RecursionError as error:
        raise FamilyError(f"{path}: lists or objects nested too deeply to be a family") from error
    except ValueError as error:  # an integer of thousands of digits
        raise FamilyError(f"{path}: a number in it cannot be read: {error}") from error
    if not isinstance(document, dict):
        found = "a list" if isinstance(document, list) else f"the value {json.dumps(document)}"
        raise FamilyError(f"{path}: expected one JSON object in braces, found {found}")
    for place, number in _not_finite(document, ""):
        raise FamilyError(
            f"{path}: {place}: expected a finite number, found {number}; "
            "leave a value that is not known out"
        )
    return document


def _text(path: Path) -> str:
    try:
        if path.is_dir():
            raise FamilyError(f"{path}: expected a file, found a folder")
        if path.exists() and not path.is_file():
            raise FamilyError(f"{path}: expected a file, found something that is none")
        with path.open("rb") as stream:
            data = stream.read(MAX_BYTES + 1)
    except FileNotFoundError as error:
        raise FamilyError(f"{path}: there is no such file; expected the family's JSON") from error
    except OSError as error:
        raise FamilyError(f"{path}: cannot be read: {error.strerror or error}") from error
    if len(data) > MAX_BYTES:
        raise FamilyError(
            f"{path}: larger than {MAX_BYTES / 1e6:g} MB, the limit for a family's JSON"
        )
    if not data.strip():
        raise FamilyError(f"{path}: the file is empty; expected one JSON object in braces")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FamilyError(
            f"{path}: not UTF-8 text (byte {error.start + 1}); save it as UTF-8"
        ) from error


class _RepeatedKeyError(Exception):
    pass


def _unrepeated(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise _RepeatedKeyError(key)
        found[key] = value
    return found


def _near(text: str, position: int) -> str:
    rest = text[position : position + 20].split("\n", maxsplit=1)[0].strip()
    return f"'{rest}'" if rest else "the end of the line"


def _not_finite(node: Any, place: str) -> Iterator[tuple[str, str]]:
    """Places of NaN and infinity, which Python's parser lets pass and JSON does not know."""
    if isinstance(node, float) and not math.isfinite(node):
        yield place, {"nan": "NaN", "inf": "Infinity", "-inf": "-Infinity"}[str(node)]
    elif isinstance(node, dict):
        for key, value in node.items():
            yield from _not_finite(value, f"{place}.{key}" if place else key)
    elif isinstance(node, list):
        for i, value in enumerate(node):
            yield from _not_finite(value, f"{place}[{i}]")
