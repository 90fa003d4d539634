"""A ZIP archive from elsewhere: what is refused before a byte of it is unpacked."""

import hashlib
import os
import stat
import zipfile
from pathlib import Path
from typing import Final

from needlewright.errors import FamilyError
from needlewright.families.content import (
    MAX_BYTES,
    MAX_FILE_BYTES,
    MAX_FILES,
    is_plain_name,
)

CHUNK: Final = 1 << 20
ASK_AGAIN: Final = "ask whoever made it for the file again"
_METHODS: Final = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)


def refuse_no_zip(file: Path, said: str) -> None:
    """Refuse what is no archive, or only the beginning of one.

    Parameters
    ----------
    file
        The file.
    said
        What it is called in sentences.

    Raises
    ------
    FamilyError
        One sentence that says what it is instead.
    """
    try:
        if file.is_dir():
            raise FamilyError(
                f"{said}: is a folder; a folder needs no unpacking, check it with family check"
            )
        with file.open("rb") as stream:
            start = stream.read(4)
    except FileNotFoundError as error:
        raise FamilyError(f"{said}: there is no such file; name a family's .zip") from error
    except OSError as error:
        raise FamilyError(f"{said}: cannot be read: {error.strerror or error}") from error
    if not start:
        raise FamilyError(f"{said}: the file is empty; {ASK_AGAIN}")
    if start[:2] != b"PK":
        raise FamilyError(f"{said}: is no ZIP archive; expected a family written by family export")
    if not zipfile.is_zipfile(file):
        raise FamilyError(f"{said}: is cut short, its end is missing; {ASK_AGAIN}")


def harmless_members(archive: zipfile.ZipFile, said: str) -> dict[str, zipfile.ZipInfo]:
    """What is in an archive, when every name and kind is harmless and nothing is too large.

    Parameters
    ----------
    archive
        Open.
    said
        What it is called in sentences.

    Returns
    -------
    dict
        By name.

    Raises
    ------
    FamilyError
        One sentence on the first member that is refused.
    """
    found: dict[str, zipfile.ZipInfo] = {}
    infos = archive.infolist()
    if len(infos) > MAX_FILES + 1:
        raise FamilyError(
            f"{said}: holds {len(infos)} files, a family at most {MAX_FILES}; it is something else"
        )
    for info in infos:
        name = info.orig_filename
        if not is_plain_name(name):
            raise FamilyError(
                f"{said}: holds '{name!s}', which could be written outside the family's folder or "
                "to a device; nothing was unpacked, and a file made so is not to be trusted"
            )
        mode = info.external_attr >> 16
        if info.is_dir() or (stat.S_IFMT(mode) not in (0, stat.S_IFREG)):
            raise FamilyError(
                f"{said}: holds '{name}', which is a link or no plain file; nothing was unpacked, "
                "and a file made so is not to be trusted"
            )
        if info.flag_bits & 1:
            raise FamilyError(f"{said}: '{name}' in it is encrypted; pack it without a password")
        if info.compress_type not in _METHODS:
            raise FamilyError(f"{said}: '{name}' in it is packed in a way that is not known")
        if any(name.casefold() == other.casefold() for other in found):
            raise FamilyError(f"{said}: holds '{name}' twice; {ASK_AGAIN}")
        if info.file_size > MAX_FILE_BYTES:
            raise too_large(said, f"'{name}' in it", MAX_FILE_BYTES)
        found[name] = info
    if sum(info.file_size for info in infos) > MAX_BYTES:
        raise too_large(said, "what is in it", MAX_BYTES)
    return found


def copy_member(archive: zipfile.ZipFile, info: zipfile.ZipInfo, target: Path, size: int) -> str:
    """Unpack one file, never more of it than its list says.

    Parameters
    ----------
    archive
        Open.
    info
        Of the file.
    target
        Where to.
    size
        What the list says, bytes.

    Returns
    -------
    str
        SHA-256 of what was unpacked.

    Raises
    ------
    zipfile.BadZipFile
        If it goes on beyond its size, or does not fit its checksum.
    """
    digest, left = hashlib.sha256(), size
    with archive.open(info) as source, target.open("wb") as stream:
        while chunk := source.read(min(CHUNK, left + 1)):
            left -= len(chunk)
            if left < 0:
                raise zipfile.BadZipFile(f"'{info.filename}' is longer than it says")
            digest.update(chunk)
            stream.write(chunk)
        stream.flush()
        os.fsync(stream.fileno())
    return digest.hexdigest()


def too_large(said: str, what: str, limit: int) -> FamilyError:
    """The refusal of something that passes a limit in bytes."""
    return FamilyError(
        f"{said}: {what} is larger when unpacked than {limit / 1e6:g} MB, the most a family has; "
        "nothing was unpacked"
    )
