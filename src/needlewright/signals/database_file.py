"""A message database beside `family.json`, opened once for all its dials."""

from functools import lru_cache
from pathlib import Path
from typing import Final

import cantools
from cantools.database.can import Database

from needlewright.errors import SignalError

SUFFIXES: Final = (".dbc", ".kcd", ".sym", ".arxml")


@lru_cache(maxsize=16)
def _loaded(path: Path, modified_ns: int) -> Database:
    del modified_ns  # only makes a changed file another entry
    try:
        found = cantools.database.load_file(path, database_format=path.suffix[1:].lower())
    except OSError as error:
        raise SignalError(f"{path}: cannot be opened: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise SignalError(f"{path}: is not text of a message database") from error
    except (cantools.Error, ValueError, KeyError, AttributeError, TypeError, SyntaxError) as error:
        words = " ".join(str(error).split())
        raise SignalError(f"{path}: cannot be read as a message database: {words}") from error
    if not isinstance(found, Database):
        raise SignalError(f"{path}: describes diagnostics, no messages; expected a database of CAN")
    return found


def open_database(folder: Path, name: str) -> Database:
    """Open a message database beside `family.json`.

    Parameters
    ----------
    folder
        The family's folder.
    name
        Of a file in it.

    Returns
    -------
    Database
        Of cantools.

    Raises
    ------
    SignalError
        If it is elsewhere, absent, of another kind, or damaged.
    """
    path = folder / name
    if path.suffix.lower() not in SUFFIXES:
        raise SignalError(f"{path}: expected a message database: {', '.join(SUFFIXES)}")
    try:
        inside = path.resolve().is_relative_to(folder.resolve())
        modified_ns = path.stat().st_mtime_ns if inside else 0
    except (OSError, ValueError) as error:
        raise SignalError(f"{path}: cannot be opened: {_why(error)}") from error
    if not inside:
        raise SignalError(f"{path}: expected a database inside the family's folder")
    return _loaded(path, modified_ns)


def _why(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
