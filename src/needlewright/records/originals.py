"""Files that never change, each named by its content.

A file is written under another name, flushed to the disk and then given its name, so that a name
in `originals/` always stands for a whole file, whatever happens on the way.
"""

import hashlib
import os
import re
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from uuid import uuid4

from needlewright.errors import RecordError
from needlewright.records.trouble import said_plainly

FOLDER: Final = "originals"
PART: Final = ".part"
OLD_PART_S: Final = 3600.0
"""A part this old was left by a process that is no more."""
SHA256: Final = re.compile(r"[0-9a-f]{64}")
_EXTENSION: Final = re.compile(r"[a-z0-9]{1,8}")
_READ_ONLY: Final = 0o444


@dataclass(frozen=True, slots=True)
class StoredFile:
    """A file in the store."""

    sha256: str
    extension: str
    size: int
    """In bytes."""


class Originals:
    """The store of one shop."""

    def __init__(self, shop_folder: Path) -> None:
        self.shop_folder = shop_folder
        self.folder = shop_folder / FOLDER

    def put(self, content: bytes, extension: str) -> StoredFile:
        """Keep a file.

        Parameters
        ----------
        content
            All of it.
        extension
            Without a point: what the content is, whatever the file was called.

        Returns
        -------
        StoredFile
            A file of the same content is kept once, under its first extension.

        Raises
        ------
        DiskFullError
            If there is no room; nothing is left behind then.
        RecordError
            If it cannot be written.
        """
        if not _EXTENSION.fullmatch(extension):
            raise RecordError(
                f"'{extension}' is no ending for a file; expected a few letters such as jpg"
            )
        sha256 = hashlib.sha256(content).hexdigest()
        with said_plainly("storing a file", self.folder):
            kept = self._find(sha256)
            if kept is None or _sha256_of(kept) != sha256:  # a damaged one is put right
                kept = self._write(content, sha256, kept.suffix[1:] if kept else extension)
            _flush_folder(kept.parent)  # whoever gave it its name may have died before doing so
        return StoredFile(sha256, kept.suffix[1:], len(content))

    def path(self, sha256: str) -> Path:
        """Where a file lies; it is not verified.

        Parameters
        ----------
        sha256
            Of its content, 64 hexadecimal digits.

        Returns
        -------
        Path
            An existing file.

        Raises
        ------
        RecordError
            If the store does not have it.
        """
        kept = self.find(sha256)
        if kept is None:
            raise RecordError(
                f"{self.folder}: the file {sha256[:12]}... is not there; put it back from a backup"
            )
        return kept

    def find(self, sha256: str) -> Path | None:
        """Where a file lies, or None where the store does not have it; it is not verified."""
        return self._find(sha256) if SHA256.fullmatch(sha256) else None

    def read(self, sha256: str) -> bytes:
        """A file's content, verified.

        Parameters
        ----------
        sha256
            Of its content, 64 hexadecimal digits.

        Returns
        -------
        bytes
            Content of exactly that hash.

        Raises
        ------
        RecordError
            If the store does not have it, or what it has is not what was stored.
        """
        path = self.path(sha256)
        with said_plainly("reading a file", path):
            content = path.read_bytes()
        if hashlib.sha256(content).hexdigest() != sha256:
            raise damaged(path)
        return content

    def verify(self, sha256: str) -> None:
        """Raise RecordError unless the file is there and is what was stored."""
        path = self.path(sha256)
        with said_plainly("reading a file", path):
            found = _sha256_of(path)
        if found != sha256:
            raise damaged(path)

    def relative(self, sha256: str) -> str:
        """A file's path from the shop's folder, as runs name their photos."""
        return self.path(sha256).relative_to(self.shop_folder).as_posix()

    def tidy(self) -> None:
        """Remove what processes that died left unfinished."""
        for part in self.folder.glob(f"*{PART}"):
            try:
                if time.time() - part.stat().st_mtime > OLD_PART_S:
                    part.unlink(missing_ok=True)
            except OSError:  # another process was quicker
                continue

    def _find(self, sha256: str) -> Path | None:
        folder, start = self.folder / sha256[:2], f"{sha256[2:]}."
        try:
            names = os.listdir(folder)
        except OSError:  # no file that begins so was stored yet
            return None
        return next((folder / name for name in names if name.startswith(start)), None)

    def _write(self, content: bytes, sha256: str, extension: str) -> Path:
        final = self.folder / sha256[:2] / f"{sha256[2:]}.{extension}"
        if not final.parent.is_dir():
            final.parent.mkdir(parents=True, exist_ok=True)
            _flush_folder(self.folder)
        part = self.folder / f"{uuid4().hex}{PART}"
        try:
            with part.open("wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            part.chmod(_READ_ONLY)
            os.replace(part, final)
        finally:
            part.unlink(missing_ok=True)
        return final


def damaged(path: Path) -> RecordError:
    """The error for a file that is not what was stored."""
    return RecordError(
        f"{path}: is not the file that was stored (its SHA-256 differs from its name); put it back "
        "from a backup"
    )


def _sha256_of(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _flush_folder(folder: Path) -> None:
    """Make a name in a folder survive a loss of power, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
