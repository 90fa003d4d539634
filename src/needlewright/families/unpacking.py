"""A family out of one file from elsewhere: nothing in it is trusted until it has been checked."""

import json
import os
import shutil
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final
from uuid import uuid4

from pydantic import ValidationError

from needlewright.errors import FamilyError
from needlewright.families.archive_guards import (
    ASK_AGAIN,
    copy_member,
    harmless_members,
    refuse_no_zip,
    too_large,
)
from needlewright.families.content import content_hash_of, databases_named_in
from needlewright.families.folder import (
    FACE_FILE,
    FAMILY_FILE,
    check_family,
    load_family,
    write_family,
)
from needlewright.families.model import Family
from needlewright.families.packing import FORMAT, FORMAT_VERSION, MANIFEST, PackedList

LARGEST_LIST: Final = 65_536
_BROKEN: Final = (
    zipfile.BadZipFile,
    EOFError,
    NotImplementedError,
    RuntimeError,
    ValueError,
    zlib.error,
)


@dataclass(frozen=True, slots=True)
class Unpacked:
    """A family that came in one file."""

    family: Family
    """In the folder it was unpacked to."""
    listed: PackedList
    """What the file's own list says."""


@contextmanager
def unpacked(file: Path, said: str | None = None) -> Iterator[Unpacked]:
    """Unpack a family's file into a folder that is there while it is looked at.

    Parameters
    ----------
    file
        As `packing.write_packed` wrote it.
    said
        What the file is called in sentences; None: its path.

    Yields
    ------
    Unpacked
        Every hash verified, and the family checked.

    Raises
    ------
    FamilyError
        One sentence that says why the file is refused.
    """
    with TemporaryDirectory(prefix="needlewright-family-") as made:
        folder = Path(made) / "family"
        folder.mkdir()
        yield _unpack(file, folder, said or str(file))


def unpack_to(file: Path, folder: Path, *, name: str | None = None) -> Unpacked:
    """Unpack a family's file into a new folder, which appears whole or not at all.

    Parameters
    ----------
    file
        As `packing.write_packed` wrote it.
    folder
        Not there yet, or empty; nothing is ever written over.
    name
        What the family is to be called here; None: as it calls itself.

    Returns
    -------
    Unpacked
        The family, in its folder.

    Raises
    ------
    FamilyError
        One sentence that says why the file is refused, or the folder cannot be used; nothing is
        left behind then.
    """
    _refuse_used(folder)
    part = folder.absolute().with_name(f".{folder.absolute().name}.{uuid4().hex}.part")
    try:
        part.mkdir(parents=True)
        found = _unpack(file, part, str(file))
        if name is not None:
            rename(found.family, name)
        if folder.exists():
            folder.rmdir()  # refuses, should somebody have put something there meanwhile
        os.replace(part, folder)
    except OSError as error:
        raise FamilyError(
            f"{folder}: not written ({error.strerror or error}); name a new folder that can be made"
        ) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return replace(found, family=load_family(folder))


def rename(family: Family, name: str) -> Family:
    """Give an unpacked family another name in its own file.

    Parameters
    ----------
    family
        In a folder of its own.
    name
        The new one.

    Returns
    -------
    Family
        Loaded again.

    Raises
    ------
    FamilyError
        If the name is empty or cannot be printed.
    """
    if not name.strip() or not name.isprintable():
        raise FamilyError(f"'{name}' is no name for a family; expected a few printable letters")
    write_family(replace(family, name=" ".join(name.split())), family.folder)
    return load_family(family.folder)


def _refuse_used(folder: Path) -> None:
    if folder.is_file():
        raise FamilyError(f"{folder}: is a file; name a new folder for the family")
    if folder.is_dir() and any(folder.iterdir()):
        raise FamilyError(
            f"{folder}: is there already and not empty; nothing is written over: name a new folder "
            "for this family"
        )


def _unpack(file: Path, folder: Path, said: str) -> Unpacked:
    refuse_no_zip(file, said)
    try:
        with zipfile.ZipFile(file) as archive:
            members = harmless_members(archive, said)
            listed = _list(archive, members, said)
            _compare(listed, members, said)
            for entry in listed.files:
                target = folder / entry.name
                target.parent.mkdir(parents=True, exist_ok=True)
                if copy_member(archive, members[entry.name], target, entry.size) != entry.sha256:
                    raise _changed(said, entry.name)
    except _BROKEN as error:
        raise FamilyError(
            f"{said}: is damaged or cut short, so it cannot be unpacked ({_plain(error)}); "
            f"{ASK_AGAIN}"
        ) from error
    except OSError as error:
        raise FamilyError(f"{said}: cannot be unpacked ({error.strerror or error})") from error
    return Unpacked(_checked(folder, listed, said), listed)


def _list(archive: zipfile.ZipFile, members: dict[str, zipfile.ZipInfo], said: str) -> PackedList:
    if MANIFEST not in members:
        raise FamilyError(
            f"{said}: has no {MANIFEST}, so nothing says what should be in it; expected a family "
            "written by family export"
        )
    if members[MANIFEST].file_size > LARGEST_LIST:
        raise too_large(said, f"its {MANIFEST}", LARGEST_LIST)
    with archive.open(members[MANIFEST]) as stream:
        # a size that is told may be a lie: without a limit here all that is packed is inflated
        content = stream.read(LARGEST_LIST + 1)
    document = _parsed(content)
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise FamilyError(f"{said}: its {MANIFEST} is not that of a family; {ASK_AGAIN}")
    version = document.get("format_version")
    if isinstance(version, int) and version > FORMAT_VERSION:
        raise FamilyError(
            f"{said}: was made by a newer version of this program (its form is {version}, this "
            f"program knows forms up to {FORMAT_VERSION}); use the newer program"
        )
    try:
        return PackedList.model_validate(document)
    except ValidationError as error:
        place = ".".join(str(step) for step in error.errors()[0]["loc"])
        raise FamilyError(
            f"{said}: its {MANIFEST} is not that of a family ({place}); {ASK_AGAIN}"
        ) from error


def _parsed(content: bytes) -> Any:
    try:
        return json.loads(content)
    except (ValueError, RecursionError):
        return None


def _compare(listed: PackedList, members: dict[str, zipfile.ZipInfo], said: str) -> None:
    named = [entry.name for entry in listed.files]
    for name in members:
        if name != MANIFEST and name not in named:
            raise FamilyError(
                f"{said}: holds '{name}', which its {MANIFEST} does not name; something was put "
                f"into it; {ASK_AGAIN}"
            )
    for name in (FAMILY_FILE, FACE_FILE):
        if name not in named:
            raise FamilyError(f"{said}: its {MANIFEST} names no {name}; {ASK_AGAIN}")
    for entry in listed.files:
        if entry.name not in members or named.count(entry.name) > 1 or entry.name == MANIFEST:
            raise FamilyError(f"{said}: lacks '{entry.name}', which its list names; {ASK_AGAIN}")
        if members[entry.name].file_size != entry.size:
            raise _changed(said, entry.name)
    if content_hash_of({e.name: e.sha256 for e in listed.files}) != listed.content_hash:
        raise _changed(said, MANIFEST)


def _checked(folder: Path, listed: PackedList, said: str) -> Family:
    for note in check_family(folder):
        if note.kind == "error":
            words = note.sentence.replace(f"{folder}{os.sep}", "").replace(str(folder), "family")
            raise FamilyError(f"{said}: the family in it cannot be used: {words}")
    family = load_family(folder)
    known = {FAMILY_FILE, FACE_FILE, *databases_named_in(family.raw or {})}
    for entry in listed.files:
        if entry.name not in known:
            raise FamilyError(
                f"{said}: holds '{entry.name}', which the family in it does not use; a family is "
                f"{FAMILY_FILE}, {FACE_FILE} and the databases its signals name"
            )
    for name in known - {entry.name for entry in listed.files}:
        raise FamilyError(
            f"{said}: lacks '{name}', which a signal of the family names; {ASK_AGAIN}"
        )
    return family


def _changed(said: str, name: str) -> FamilyError:
    return FamilyError(
        f"{said}: '{name}' in it is not what was packed, its SHA-256 differs; {ASK_AGAIN}"
    )


def _plain(error: BaseException) -> str:
    return " ".join(str(error).split()) or type(error).__name__
