"""Out of a backup into a new folder, with every hash verified before the shop is there."""

import hashlib
import os
import shutil
import sqlite3
import zipfile
import zlib
from contextlib import closing
from pathlib import Path
from typing import Final
from uuid import uuid4

from pydantic import ValidationError

from needlewright.errors import RecordError
from needlewright.records.backup import CHUNK, summary_of
from needlewright.records.backup_form import DATABASE, LARGEST_MANIFEST, MANIFEST, Manifest
from needlewright.records.migrations import REVISIONS
from needlewright.records.trouble import said_plainly
from needlewright.records.views import BackupSummary

_BROKEN: Final = (
    zipfile.BadZipFile,
    EOFError,
    NotImplementedError,
    RuntimeError,
    ValueError,
    zlib.error,
)


def restore(file: Path, into: Path) -> BackupSummary:
    """Put a backup into a new place.

    Parameters
    ----------
    file
        As `backup.backup` wrote it.
    into
        A folder that is not there yet, or is empty; nothing is ever written over.

    Returns
    -------
    BackupSummary
        What was put there.

    Raises
    ------
    RecordError
        If the place is not empty, or the file is no backup, cut short, damaged or of a newer
        version; nothing is left behind then.
    """
    _require_empty(into)
    if not file.is_file():
        raise RecordError(f"{file}: there is no such file; name a backup of a shop")
    part = into.absolute().with_name(f".{into.absolute().name}.{uuid4().hex}.part")
    with said_plainly("restoring the backup", into):
        try:
            part.mkdir(parents=True)
            manifest = _unpack(file, part)
            _check_database(file, part / DATABASE, manifest)
            (part / "originals").mkdir(exist_ok=True)
            if into.exists():
                into.rmdir()  # refuses, should somebody have put something there meanwhile
            os.replace(part, into)
        finally:
            shutil.rmtree(part, ignore_errors=True)
    return summary_of(file, manifest)


def _require_empty(into: Path) -> None:
    if into.is_file():
        raise RecordError(f"{into}: is a file; name a new folder for the shop")
    if into.is_dir() and any(into.iterdir()):
        raise RecordError(
            f"{into}: is not empty; a backup is restored into a new or empty folder only, so that "
            "nothing is written over"
        )


def _unpack(file: Path, part: Path) -> Manifest:
    try:
        with zipfile.ZipFile(file) as archive:
            manifest = _manifest(file, archive)
            names = [entry.name for entry in manifest.files]
            if sorted(archive.namelist()) != sorted([*names, MANIFEST]):
                raise _no_backup(file, "its list does not fit what is in it")
            for entry in manifest.files:
                target = part / entry.name
                target.parent.mkdir(parents=True, exist_ok=True)
                if _copy(archive, entry.name, target, entry.size) != entry.sha256:
                    raise RecordError(
                        f"{file}: is damaged: '{entry.name}' in it is not what was backed up; use "
                        "another backup"
                    )
            return manifest
    except _BROKEN as error:
        raise _no_backup(file, f"cut short, damaged or another kind of file ({error})") from error


def _manifest(file: Path, archive: zipfile.ZipFile) -> Manifest:
    if MANIFEST not in archive.namelist():
        raise _no_backup(file, f"it has no {MANIFEST}")
    if archive.getinfo(MANIFEST).file_size > LARGEST_MANIFEST:
        raise _no_backup(file, f"its {MANIFEST} is far too large")
    try:
        manifest = Manifest.model_validate_json(archive.read(MANIFEST))
    except ValidationError as error:
        raise _no_backup(file, f"its {MANIFEST} is of another form") from error
    if manifest.revision not in REVISIONS:
        raise RecordError(
            f"{file}: was made by a newer version of this program (form '{manifest.revision}', "
            f"known are forms up to '{REVISIONS[-1]}'); use the newer program"
        )
    if DATABASE not in [entry.name for entry in manifest.files]:
        raise _no_backup(file, "it has no database")
    return manifest


def _copy(archive: zipfile.ZipFile, name: str, target: Path, size: int) -> str:
    """Unpack one file, never more of it than the list says; its hash."""
    digest, left = hashlib.sha256(), size
    with archive.open(name) as source, target.open("wb") as stream:
        while chunk := source.read(min(CHUNK, left + 1)):
            left -= len(chunk)
            if left < 0:
                raise zipfile.BadZipFile(f"'{name}' is longer than its list says")
            digest.update(chunk)
            stream.write(chunk)
        stream.flush()
        os.fsync(stream.fileno())
    if name != DATABASE:
        target.chmod(0o444)
    return digest.hexdigest()


def _check_database(file: Path, path: Path, manifest: Manifest) -> None:
    have = {entry.sha256 for entry in manifest.files}
    have |= {name.split("/")[1] + name.split("/")[2].split(".")[0] for name in manifest.left_out}
    with closing(sqlite3.connect(path)) as database:
        sound = database.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        whole = database.execute("PRAGMA foreign_key_check").fetchone() is None
        named = {row[0] for row in database.execute("SELECT sha256 FROM original")}
    if not sound or not whole:
        raise RecordError(f"{file}: the database in it is damaged; use another backup")
    if missing := named - have:
        raise RecordError(
            f"{file}: lacks {len(missing)} originals its database names; use another backup"
        )


def _no_backup(file: Path, why: str) -> RecordError:
    return RecordError(f"{file}: cannot be used as a backup of a shop: {why}; use another one")
