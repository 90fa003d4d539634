"""One program at a time at a burn-in: what ends a program, however it ends, frees it."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from time import sleep
from typing import Final

from needlewright.errors import RunError

LOCK: Final = ".on"
TRIES: Final = 40
BETWEEN_S: Final = 0.025
"""Whoever looks whether a burn-in is on holds it for a moment: that is waited out, a second."""


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Be the only program that carries a burn-in out.

    Parameters
    ----------
    folder
        The journal's; made if it is missing.

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
        folder.mkdir(parents=True, exist_ok=True)
        handle = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError as error:
        raise RunError(f"{folder}: cannot be written: {error.strerror or error}") from error
    try:
        if not _is_taken_in_the_end(handle):
            raise RunError(
                f"{folder}: this burn-in is on already, in another window or program; look at it "
                "there, or stop it there first"
            )
        yield
    finally:
        os.close(handle)  # and the system lets go of it


def is_on(folder: Path) -> bool:
    """Whether a program carries a burn-in out now; who begins meanwhile is not kept from it.

    Parameters
    ----------
    folder
        The journal's.

    Returns
    -------
    bool
        False too where there is no such folder.
    """
    try:
        handle = os.open(folder / LOCK, os.O_RDWR)
    except OSError:
        return False
    try:
        return not _is_taken(handle, shared=True)
    finally:
        os.close(handle)


def _is_taken_in_the_end(handle: int) -> bool:
    for left in reversed(range(TRIES)):
        if _is_taken(handle):
            return True
        if left:
            sleep(BETWEEN_S)
    return False


if sys.platform == "win32":
    import msvcrt

    def _is_taken(handle: int, *, shared: bool = False) -> bool:  # there is no shared one
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
else:
    import fcntl

    def _is_taken(handle: int, *, shared: bool = False) -> bool:
        try:
            fcntl.flock(handle, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except OSError:
            return False
        return True
