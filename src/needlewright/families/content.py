"""What belongs to a family: its files, and the one hash that tells two states of it apart."""

import hashlib
import re
from collections.abc import Iterator, Mapping
from pathlib import Path, PurePosixPath
from typing import Any, Final

from needlewright.errors import FamilyError
from needlewright.families.folder import FACE_FILE, FAMILY_FILE
from needlewright.families.model import Family
from needlewright.families.signal_file import DatabaseFile

MAX_FILE_BYTES: Final = 128_000_000
"""Of one file: a face of 100 million pixels as a PNG stays below it."""
MAX_BYTES: Final = 192_000_000
"""Of all files together."""
MAX_FILES: Final = 20
"""The two every family has, and a message database for each dial that names one."""
LONGEST_NAME: Final = 120
_PART: Final = re.compile(r"[^\s./\\:*?\"<>|\x00-\x1f][^/\\:*?\"<>|\x00-\x1f]*")
_ENDS_BADLY: Final = (" ", ".")
_DEVICE: Final = re.compile(r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[1-9¹²³]) *(\..*)?", re.I)
"""Names that mean a device in every folder of Windows, whatever suffix they have.

**Source** Windows developer documentation, "Naming Files, Paths, and Namespaces" (from memory).
"""


def database_names(family: Family) -> tuple[str, ...]:
    """Names of the message databases the family's signals stand in, each once.

    Parameters
    ----------
    family
        Loaded.

    Returns
    -------
    tuple
        As the file names them, relative to the family's folder.
    """
    signals = (dial.signal for dial in family.dials)
    return tuple(dict.fromkeys(s.database for s in signals if isinstance(s, DatabaseFile)))


def is_plain_name(name: str) -> bool:
    """Whether a name can only mean a file inside the folder, on any machine."""
    parts = name.split("/")
    return (
        0 < len(name) <= LONGEST_NAME
        and PurePosixPath(name).parts == tuple(parts)
        and all(map(_is_plain_part, parts))
    )


def _is_plain_part(part: str) -> bool:
    return bool(
        _PART.fullmatch(part) and not part.endswith(_ENDS_BADLY) and not _DEVICE.fullmatch(part)
    )


def read_files(family: Family, *, whole: bool = True) -> dict[str, bytes]:
    """Read the files of a loaded family.

    Parameters
    ----------
    family
        Whose folder is read.
    whole
        Whether a message database that is named and not there is refused; else it is left out.

    Returns
    -------
    dict
        Name to content: `family.json`, `face.png`, then the databases by name.

    Raises
    ------
    FamilyError
        If a file is missing, lies outside the folder, is too large or cannot be read.
    """
    found = {name: _read(family.folder, name) for name in (FAMILY_FILE, FACE_FILE)}
    for name in sorted(database_names(family)):
        path = family.folder / name
        if not is_plain_name(name) or not _is_inside(path, family.folder):
            raise FamilyError(
                f"{family.folder / FAMILY_FILE}: signal.database: expected a plain name that "
                f"every system takes, of a file inside the family's folder, found '{name}'"
            )
        if whole or path.is_file():
            found[name] = _read(family.folder, name)
    if sum(map(len, found.values())) > MAX_BYTES:
        raise FamilyError(
            f"{family.folder}: its files are larger than {MAX_BYTES // 1_000_000} MB together; "
            "scale the face down and state its px_per_mm"
        )
    return found


def content_hash_of(hashes: Mapping[str, str]) -> str:
    """One hash for the content of all files of a family.

    Parameters
    ----------
    hashes
        Name to SHA-256, in hexadecimal digits.

    Returns
    -------
    str
        64 hexadecimal digits: SHA-256 of the lines `hash  name` in the order of the names.
    """
    listing = "".join(f"{sha256}  {name}\n" for name, sha256 in sorted(hashes.items()))
    return hashlib.sha256(listing.encode()).hexdigest()


def hashes_of(files: Mapping[str, bytes]) -> dict[str, str]:
    """SHA-256 of each file's content."""
    return {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}


def databases_named_in(document: Mapping[str, Any]) -> Iterator[str]:
    """Names of message databases in a document that has not been checked yet."""
    dials = document.get("dials")
    for dial in dials if isinstance(dials, list) else ():
        signal = dial.get("signal") if isinstance(dial, dict) else None
        name = signal.get("database") if isinstance(signal, dict) else None
        if isinstance(name, str):
            yield name


def _read(folder: Path, name: str) -> bytes:
    path = folder / name
    try:
        with path.open("rb") as stream:
            content = stream.read(MAX_FILE_BYTES + 1)
    except OSError as error:
        raise FamilyError(
            f"{path}: cannot be read ({error.strerror or error}); put the file beside {FAMILY_FILE}"
        ) from error
    if len(content) > MAX_FILE_BYTES:
        raise FamilyError(f"{path}: larger than {MAX_FILE_BYTES // 1_000_000} MB; make it smaller")
    return content


def _is_inside(path: Path, folder: Path) -> bool:
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except (OSError, ValueError):
        return False
