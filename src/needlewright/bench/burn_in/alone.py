"""One program at a time at a burn-in: what ends a program, however it ends, frees it."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from needlewright.errors import RunError

LOCK: Final = ".on"


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Be the only program that carries a burn-in out.

    Parameters
    ----------
    folder
        The journal's; it is there.

    Yields
    ------
    None
        While nobody else may.

    Raises
    ------
    RunError
        If another program is at it, or the folder cannot be written.
    """
    try:
        handle = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError as error:
        raise RunError(f"{folder}: cannot be written: {error.strerror or error}") from error
    try:
        if not _is_taken(handle):
            raise RunError(
                f"{folder}: this burn-in is on already, in another window or program; look at it "
                "there, or stop it there first"
            )
        yield
    finally:
        os.close(handle)  # and the system lets go of it


if sys.platform == "win32":
    import msvcrt

    def _is_taken(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
else:
    import fcntl

    def _is_taken(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
