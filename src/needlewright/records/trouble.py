"""What a disk or a database says, as one sentence for a person."""

import errno
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from sqlalchemy.exc import DBAPIError

from needlewright.errors import DiskFullError, RecordError

_FULL: Final = (errno.ENOSPC, errno.EDQUOT)


@contextmanager
def said_plainly(doing: str, place: Path) -> Iterator[None]:
    """Turn what a disk or a database refuses into one sentence.

    Parameters
    ----------
    doing
        What was being done, as in "receiving job EX-0412".
    place
        The folder or file concerned.

    Raises
    ------
    DiskFullError
        If there is no room.
    RecordError
        For any other refusal of the disk or the database.
    """
    try:
        yield
    except DBAPIError as error:
        raise _of_database(error.orig, doing, place) from error
    except sqlite3.Error as error:
        raise _of_database(error, doing, place) from error
    except OSError as error:
        raise _of_disk(error, doing, place) from error
    except (UnicodeEncodeError, OverflowError) as error:
        raise RecordError(
            f"{doing}: a text holds a character that cannot be kept, or a number is too large; "
            "nothing was saved; correct it"
        ) from error


def _of_disk(error: OSError, doing: str, place: Path) -> RecordError:
    if error.errno in _FULL:
        return _full(doing, place)
    where = error.filename if isinstance(error.filename, str) else str(place)
    return RecordError(
        f"{where}: {error.strerror or error} while {doing}; nothing of it was saved; check the "
        "folder and its rights"
    )


def _full(doing: str, place: Path) -> DiskFullError:
    return DiskFullError(
        f"{place}: the disk is full, so {doing} was not saved and nothing of it is half-written; "
        "make room on the disk and do it again"
    )


def _of_database(error: BaseException | None, doing: str, place: Path) -> RecordError:
    words = " ".join(str(error).split())  # a server's are of several lines
    if _says_full(error, words, place):
        return _full(doing, place)
    if any(word in words for word in ("locked", "busy", "lock timeout")):
        said = (
            f"{place}: another process has been writing to the records for too long, so {doing} "
            "was not saved; do it again when that is done"
        )
    elif "readonly" in words or "unable to open" in words:
        said = (
            f"{place}: the records cannot be written ({words}), so {doing} was not saved; check "
            "the rights of the folder and the files in it"
        )
    elif "malformed" in words or "not a database" in words:
        said = (
            f"{place}: the database is damaged ({words}); keep the folder as it is and restore the "
            "last backup into another one with needlewright restore"
        )
    elif "connection" in words:
        said = (
            f"{place.parent}: the shop's database cannot be reached ({words}), so {doing} was not "
            "done; see that it runs and do it again"
        )
    else:
        said = f"{place}: the database refused {doing}: {words}; nothing of it was saved"
    return RecordError(said)


def _says_full(error: BaseException | None, words: str, place: Path) -> bool:
    """Whether it is for want of room; SQLite may fail as early as its write-ahead index then."""
    if "full" in words or "No space left" in words:
        return True
    as_of_rights = "readonly" in words or "unable to open" in words
    return (as_of_rights or _is_code(error, "SQLITE_IOERR")) and _has_no_room(place)


def _is_code(error: BaseException | None, name: str) -> bool:
    return str(getattr(error, "sqlite_errorname", "")).startswith(name)


def _has_no_room(place: Path) -> bool:
    """Whether the disk has less room than the smallest thing a database writes."""
    folder = place if place.is_dir() else place.parent
    try:
        return shutil.disk_usage(folder).free < 64 * 1024
    except OSError:
        return False
