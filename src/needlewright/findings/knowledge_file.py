"""The one knowledge file: TOML people can read and edit, checked as a whole when it is loaded."""

import re
import tomllib
from importlib import resources
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from needlewright.errors import KnowledgeError
from needlewright.findings.knowledge_checks import refuse_misfits
from needlewright.findings.knowledge_tables import KnowledgeTables
from needlewright.settings_trouble import first_wrong

_AT_LINE: Final = re.compile(r"\(at line (\d+)")
SHIPPED: Final = "knowledge.toml"
MOST_BYTES: Final = 500_000


def read_tables(path: Path | None = None) -> KnowledgeTables:
    """Read a knowledge file.

    Parameters
    ----------
    path
        Of TOML; None: the one that comes with the program.

    Returns
    -------
    KnowledgeTables
        Checked as a whole.

    Raises
    ------
    KnowledgeError
        If it cannot be read, a key is unknown or missing, or what it says does not fit together.
    """
    if path is None:
        shipped = resources.files("needlewright.findings") / SHIPPED
        return parse_tables(SHIPPED, shipped.read_bytes())
    try:
        content = path.read_bytes()
    except OSError as error:
        raise KnowledgeError(f"{path}: cannot be opened: {error.strerror or error}") from error
    return parse_tables(str(path), content)


def parse_tables(name: str, content: bytes) -> KnowledgeTables:
    """Check the text of a knowledge file.

    Parameters
    ----------
    name
        What it is called in a sentence.
    content
        TOML in UTF-8.

    Returns
    -------
    KnowledgeTables
        Checked as a whole.

    Raises
    ------
    KnowledgeError
        As `read_tables`.
    """
    if len(content) > MOST_BYTES:
        raise KnowledgeError(f"{name}: {len(content)} bytes are no knowledge file")
    try:
        file = KnowledgeTables.model_validate(tomllib.loads(content.decode("utf-8")))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise KnowledgeError(
            f"{name}: is no TOML{_place(error)}; a knowledge file has tables such as "
            "[cause.stalled], and lines such as prior = 0.01"
        ) from error
    except ValidationError as error:
        raise KnowledgeError(f"{name}: {first_wrong(error, 'key')}") from error
    refuse_misfits(name, file)
    return file


def _place(error: Exception) -> str:
    """Where, without the library's words."""
    found = _AT_LINE.search(str(error))
    return f" from line {found[1]} on" if found else ""
