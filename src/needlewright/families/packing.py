"""A family as one file: a ZIP archive with a list of its members' hashes.

The same folder gives the same bytes: members are stored as they are, in one order, without times.
"""

import io
import os
import zipfile
from pathlib import Path
from typing import Annotated, Final, Literal
from uuid import uuid4

from pydantic import BaseModel, ConfigDict, Field

from needlewright.errors import FamilyError
from needlewright.families.content import (
    content_hash_of,
    database_names,
    hashes_of,
    read_files,
)
from needlewright.families.folder import load_family

FORMAT: Final = "needlewright family"
FORMAT_VERSION: Final = 1
MANIFEST: Final = "manifest.json"
FIRST_DAY: Final = (1980, 1, 1, 0, 0, 0)
"""The oldest time a ZIP archive can state: it says that no time is stated."""
PLAIN_FILE: Final = 0o100644 << 16


class PackedFile(BaseModel):
    """One member."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    size: Annotated[int, Field(strict=True, ge=0)]
    """In bytes."""


class PackedList(BaseModel):
    """The list in a family's file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal["needlewright family"]
    format_version: Annotated[int, Field(strict=True, ge=1)]
    family: str
    """Its name, for people; what counts is in family.json."""
    content_hash: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    """As `content.content_hash_of` makes it of the files below."""
    files: tuple[PackedFile, ...]


def packed(folder: Path) -> tuple[bytes, PackedList]:
    """Make one file of a family folder.

    Parameters
    ----------
    folder
        Holds `family.json`, `face.png` and the message databases its signals name; anything else
        in it stays there.

    Returns
    -------
    tuple
        The archive's bytes, and the list that is in it.

    Raises
    ------
    FamilyError
        If the family cannot be used, or lacks a file it names.
    """
    family = load_family(folder)
    files = read_files(family)
    hashes = hashes_of(files)
    listed = PackedList(
        format=FORMAT,
        format_version=FORMAT_VERSION,
        family=family.name,
        content_hash=content_hash_of(hashes),
        files=tuple(
            PackedFile(name=name, sha256=hashes[name], size=len(content))
            for name, content in files.items()
        ),
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        archive.writestr(_member(MANIFEST), listed.model_dump_json(indent=1) + "\n")
        for name, content in files.items():
            archive.writestr(_member(name), content)
    return out.getvalue(), listed


def write_packed(folder: Path, file: Path) -> PackedList:
    """Write a family folder as one new file, which appears whole or not at all.

    Parameters
    ----------
    folder
        As for `packed`.
    file
        A new file whose name ends in .zip; an older one is not written over, unless it is the same.

    Returns
    -------
    PackedList
        What is in it.

    Raises
    ------
    FamilyError
        If the family cannot be packed, another file of that name is there, or it cannot be
        written.
    """
    if file.suffix.lower() != ".zip":
        raise FamilyError(f"{file}: expected a file name that ends in .zip; give another name")
    content, listed = packed(folder)
    if file.exists():
        if file.is_file() and file.read_bytes() == content:
            return listed
        raise FamilyError(f"{file}: is there already with other content; name a new file")
    part = file.with_name(f".{file.name}.{uuid4().hex}.part")
    try:
        with part.open("xb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(part, file)
    except OSError as error:
        raise FamilyError(
            f"{file}: not written ({error.strerror or error}); name a file in a folder that is "
            "there and can be written"
        ) from error
    finally:
        part.unlink(missing_ok=True)
    return listed


def left_behind(folder: Path) -> tuple[str, ...]:
    """Names in a family folder that are no part of the family and do not travel with it."""
    family = load_family(folder)
    known = {"family.json", "face.png", *database_names(family)}
    inside = (path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    return tuple(sorted(name for name in inside if name not in known))


def _member(name: str) -> zipfile.ZipInfo:
    member = zipfile.ZipInfo(name, FIRST_DAY)
    member.create_system = 3
    member.external_attr = PLAIN_FILE
    return member
