"""The text of an owner's answers and other small files, named or from standard input."""

import sys
from pathlib import Path
from typing import Final

from needlewright.amounts import grouped
from needlewright.errors import KnowledgeError

MOST_BYTES: Final = 100_000


def answers_text(path: Path, of: str = "an owner's answers", do: str = "give their file") -> str:
    """Read it.

    Parameters
    ----------
    path
        A text file; `-` is standard input.
    of
        What it is the text of, for the sentence where it is too long.
    do
        What to do then.

    Returns
    -------
    str
        As it stands there.

    Raises
    ------
    KnowledgeError
        If it cannot be read, is no text, or too long to be answers.
    """
    content = read_small(path)
    if len(content) > MOST_BYTES:
        raise KnowledgeError(
            f"{path}: {grouped(len(content))} bytes are more than the text of {of} has; {do}"
        )
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise KnowledgeError(f"{path}: cannot be read (it is no text); give a text file") from error


def read_small(path: Path) -> bytes:
    """Read a file, or standard input for `-`; raises KnowledgeError if it cannot be read."""
    try:
        return sys.stdin.buffer.read() if str(path) == "-" else path.read_bytes()
    except OSError as error:
        raise KnowledgeError(f"{path}: {why_unread(error)}; give a text file") from error


def why_unread(error: OSError) -> str:
    """Why a file cannot be read, in our own words where there are some."""
    if isinstance(error, IsADirectoryError):
        return "is a folder"
    if isinstance(error, FileNotFoundError):
        return "there is no such file"
    if isinstance(error, PermissionError):
        return "may not be read by whoever runs this"
    return f"cannot be read ({error.strerror or error})"
