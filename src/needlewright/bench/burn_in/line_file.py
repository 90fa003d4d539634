"""A file that grows by whole lines: one that does not fit on the disk leaves no piece behind."""

import os
from contextlib import suppress
from io import RawIOBase
from pathlib import Path

from needlewright.errors import RunError


class LineFile:
    """Appends to a file.

    Parameters
    ----------
    path
        The file; made with its first line.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._whole: int | None = None
        """Bytes of whole lines, where a piece of another one may stand behind them."""

    def append(self, line: bytes) -> None:
        """Append a line; it is on the disk when this returns.

        Parameters
        ----------
        line
            With its end.

        Raises
        ------
        OSError
            If it cannot be written; what was written of it is taken out again, at once or before
            the next line.
        """
        # no buffer: closing would write what is left in it behind what was cut back
        with self.path.open("ab", buffering=0) as stream:
            self._cut_back(stream)
            self._whole = stream.seek(0, os.SEEK_END)
            try:
                left = memoryview(line)
                while left:
                    left = left[stream.write(left) or 0 :]
                os.fsync(stream.fileno())
            except OSError:
                with suppress(OSError):
                    self._cut_back(stream)
                raise
        self._whole = None

    def _cut_back(self, stream: RawIOBase) -> None:
        if self._whole is not None:
            stream.truncate(self._whole)
            os.fsync(stream.fileno())
            self._whole = None


def whole_lines(path: Path) -> tuple[str, ...]:
    """Read the lines of a file that have an end.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    tuple of str
        Without their ends. Only a newline is one: what people type may hold other signs that end
        a line elsewhere.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    *whole, _ = path.read_bytes().decode("utf-8", "replace").split("\n")
    return tuple(whole)


def cut_to_whole_lines(path: Path) -> bool:
    """Take a last line that has no end out of a file.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    bool
        Whether there was one.

    Raises
    ------
    RunError
        If the file cannot be read or written.
    """
    try:
        content = path.read_bytes()
        whole = content.rfind(b"\n") + 1
        if whole == len(content):
            return False
        with path.open("r+b") as stream:
            stream.truncate(whole)
            os.fsync(stream.fileno())
    except OSError as error:
        raise RunError(f"{path}: cannot be opened: {error.strerror or error}") from error
    return True
