"""Writing one file: it appears whole or not at all."""

import os
from pathlib import Path

from needlewright.errors import PaperError


def write_file(path: Path, content: bytes) -> None:
    """Write a file.

    Parameters
    ----------
    path
        Where to; an older file of that name is replaced.
    content
        All of it.

    Raises
    ------
    PaperError
        If it cannot be written.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(content)
        os.replace(part, path)
    except OSError as error:
        reason = error.strerror or error
        raise PaperError(f"{path}: cannot be written ({reason}); check the folder") from error
    finally:
        part.unlink(missing_ok=True)


def refuse_missing_folder(path: Path) -> None:
    """Say before long work that its file will have no place.

    Parameters
    ----------
    path
        What is to be written in the end.

    Raises
    ------
    PaperError
        If the folder is not there.
    """
    if not path.parent.is_dir():
        raise PaperError(f"{path}: cannot be written (no such folder); make the folder first")
