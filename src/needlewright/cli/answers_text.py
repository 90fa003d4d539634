"""The text of an owner's answers and other small files, named or from standard input."""

import sys
from pathlib import Path
from typing import Final

from needlewright.errors import KnowledgeError

MOST_BYTES: Final = 100_000


def answers_text(path: Path) -> str:
    """Read it.

    Parameters
    ----------
    path
        A text file; `-` is standard input.

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
        raise KnowledgeError(f"{path}: {len(content)} bytes are no answers of an owner")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise KnowledgeError(f"{path}: cannot be read (it is no text); give a text file") from error


def read_small(path: Path) -> bytes:
    """Read a file, or standard input for `-`; raises KnowledgeError if it cannot be read."""
    try:
        return sys.stdin.buffer.read() if str(path) == "-" else path.read_bytes()
    except OSError as error:
        raise KnowledgeError(
            f"{path}: cannot be read ({error.strerror}); give a text file"
        ) from error
