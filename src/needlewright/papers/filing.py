"""Putting papers into a folder: all of one number or none, and no number for two papers."""

import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from needlewright.errors import PaperError

Document = Mapping[str, Any]


def file_stem(document: Document) -> str:
    """Name of a paper's files without their endings: number, and version from the second on."""
    version = document["version"]
    return document["number"] if version == 1 else f"{document['number']}-v{version}"


def file_papers(folder: Path, document: Document, papers: Mapping[str, bytes]) -> dict[str, Path]:
    """Put a paper and its JSON document into a folder.

    Parameters
    ----------
    folder
        Made if it is not there.
    document
        Of the paper; it claims the number.
    papers
        Contents by what follows the stem in a file's name: `.pdf`, `-label.pdf`.

    Returns
    -------
    dict
        Paths by what follows the stem, `.json` among them.

    Raises
    ------
    PaperError
        If the number stands on another paper in the folder, or the folder cannot be written.
    """
    stem = file_stem(document)
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        refuse_taken_number(folder, document)
        with _parts(folder, stem, {**papers, ".json": text.encode()}) as parts:
            _claim(parts[".json"], folder / f"{stem}.json", folder, document)
            for ending in papers:
                os.replace(parts[ending], folder / f"{stem}{ending}")
    except (FileExistsError, NotADirectoryError) as error:
        raise _no_folder(folder) from error
    except OSError as error:
        raise PaperError(
            f"{folder}: the papers cannot be written ({error.strerror or error}); check the folder "
            "and its rights"
        ) from error
    return {ending: folder / f"{stem}{ending}" for ending in (*papers, ".json")}


def refuse_taken_number(folder: Path, document: Document) -> None:
    """Refuse a number that another paper in the folder carries.

    Parameters
    ----------
    folder
        Where papers are filed; it need not be there.
    document
        Of the paper to be filed. The very same paper may be filed again.

    Raises
    ------
    PaperError
        If there is another paper of that number and version.
    """
    path = folder / f"{file_stem(document)}.json"
    try:
        filed = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return
    except NotADirectoryError as error:
        raise _no_folder(folder) from error
    except (OSError, ValueError, RecursionError):
        filed = None
    if filed != json.loads(json.dumps(document)):
        version, name = document["version"], document["name"]
        raise PaperError(
            f"{path}: number {name} is taken by another paper; state a number of its own, or "
            f'version = {version + 1}, replaces = "{name}" and replaces_because in the job file'
        )


def _no_folder(folder: Path) -> PaperError:
    return PaperError(
        f"{folder}: is no folder, or lies in none; name a folder to file the papers in"
    )


@contextmanager
def _parts(folder: Path, stem: str, contents: Mapping[str, bytes]) -> Iterator[dict[str, Path]]:
    """Whole files under names nobody looks for, gone afterwards whatever happens."""
    parts = {ending: folder / f".{stem}.{os.getpid()}{ending}.part" for ending in contents}
    try:
        for ending, content in contents.items():
            parts[ending].write_bytes(content)
        yield parts
    finally:
        for part in parts.values():
            part.unlink(missing_ok=True)


def _claim(part: Path, final: Path, folder: Path, document: Document) -> None:
    """Give the document its name, which fails if another process was quicker."""
    try:
        os.link(part, final)
    except FileExistsError:
        refuse_taken_number(folder, document)
    except OSError:  # a disk without links
        refuse_taken_number(folder, document)
        os.replace(part, final)
