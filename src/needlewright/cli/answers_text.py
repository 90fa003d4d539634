"""The text of an owner's answers, from a file or from standard input."""

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
    try:
        content = sys.stdin.buffer.read() if str(path) == "-" else path.read_bytes()
        if len(content) > MOST_BYTES:
            raise KnowledgeError(f"{path}: {len(content)} bytes are no answers of an owner")
        return content.decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is no text"
        raise KnowledgeError(f"{path}: cannot be read ({reason}); give a text file") from error
