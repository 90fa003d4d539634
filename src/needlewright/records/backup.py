"""One file that holds the whole shop, checked when it is made."""

import hashlib
import os
import sqlite3
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from needlewright.errors import RecordError
from needlewright.records.backup_form import DATABASE, FORMAT, MANIFEST, BackupEntry, Manifest
from needlewright.records.opening import Shop
from needlewright.records.trouble import said_plainly
from needlewright.records.views import BackupSummary

CHUNK: Final = 1 << 20


def backup(shop: Shop, file: Path, *, leave_out_damaged: bool = False) -> BackupSummary:
    """Write the whole shop into one file.

    Parameters
    ----------
    shop
        The shop; others may go on working.
    file
        A new file; it appears whole or not at all.
    leave_out_damaged
        Whether originals that are damaged or gone are left out and named, instead of refused.

    Returns
    -------
    BackupSummary
        What it holds; every hash has been verified while it was written.

    Raises
    ------
    RecordError
        If there is a file of that name, an original is damaged, the database is not in the
        shop's folder, or the file cannot be written.
    """
    if file.exists():
        raise RecordError(f"{file}: is there already; name a new file for this backup")
    if not file.parent.is_dir():
        raise RecordError(f"{file}: there is no folder {file.parent}; make it or name another one")
    if not shop.database_path.is_file() or shop.engine.dialect.name != "sqlite":
        raise RecordError(
            f"{shop.folder}: its database is kept elsewhere; back it up with that database's own "
            "tools, and the folder 'originals' beside it"
        )
    with said_plainly("making the backup", file), _whole_file(file) as part:
        manifest = _write(shop, part, leave_out_damaged)
    return summary_of(file, manifest)


def summary_of(file: Path, manifest: Manifest) -> BackupSummary:
    """What a backup holds, for people."""
    return BackupSummary(
        file=file,
        jobs=manifest.jobs,
        originals=len(manifest.files) - 1,
        size=sum(entry.size for entry in manifest.files),
        made_at=manifest.made_at,
        left_out=manifest.left_out,
    )


@contextmanager
def _whole_file(file: Path) -> Iterator[Path]:
    part = file.with_name(f".{file.name}.{os.getpid()}.part")
    try:
        yield part
        with part.open("rb") as stream:
            os.fsync(stream.fileno())
        _name(part, file)
    finally:
        part.unlink(missing_ok=True)


def _name(part: Path, file: Path) -> None:
    """Give the whole file its name, never that of another one."""
    try:
        os.link(part, file)
    except FileExistsError:
        raise RecordError(f"{file}: is there already; name a new file for this backup") from None
    except OSError:  # a disk without links, as memory sticks are
        os.replace(part, file)


def _write(shop: Shop, part: Path, leave_out_damaged: bool) -> Manifest:
    entries: list[BackupEntry] = []
    left_out: list[str] = []
    with (
        TemporaryDirectory(prefix=".backup-", dir=part.parent) as folder,
        zipfile.ZipFile(part, "w", zipfile.ZIP_STORED, allowZip64=True) as archive,
    ):
        snapshot = Path(folder) / DATABASE
        _snapshot(shop.database_path, snapshot)
        # The originals come after the snapshot: whatever it names is in the store by then.
        jobs, revision, named = _looked_into(snapshot)
        entries.append(_add(archive, snapshot, DATABASE))
        for sha256, extension in named:
            name = f"originals/{sha256[:2]}/{sha256[2:]}.{extension}"
            try:
                entries.append(_add_original(archive, shop, sha256, name))
            except RecordError:
                if not leave_out_damaged:
                    raise
                left_out.append(name)
        manifest = Manifest(
            format=FORMAT,
            made_at=shop.now(),
            revision=revision,
            jobs=jobs,
            files=tuple(entries),
            left_out=tuple(left_out),
        )
        archive.writestr(MANIFEST, manifest.model_dump_json(indent=1))
    return manifest


def _snapshot(database: Path, into: Path) -> None:
    """One state of the database, taken while others write."""
    with closing(sqlite3.connect(database)) as source, closing(sqlite3.connect(into)) as target:
        source.backup(target)
        target.execute("PRAGMA journal_mode = DELETE")


def _looked_into(snapshot: Path) -> tuple[int, str, list[tuple[str, str]]]:
    with closing(sqlite3.connect(snapshot)) as database:
        jobs = database.execute("SELECT count(*) FROM job").fetchone()[0]
        revision = database.execute("SELECT version_num FROM alembic_version").fetchone()[0]
        named = database.execute("SELECT sha256, extension FROM original ORDER BY sha256")
        return jobs, revision, named.fetchall()


def _add(archive: zipfile.ZipFile, path: Path, name: str) -> BackupEntry:
    digest, size = hashlib.sha256(), 0
    with path.open("rb") as source, archive.open(_info(name), "w", force_zip64=True) as target:
        while chunk := source.read(CHUNK):
            digest.update(chunk)
            size += len(chunk)
            target.write(chunk)
    return BackupEntry(name=name, sha256=digest.hexdigest(), size=size)


def _add_original(archive: zipfile.ZipFile, shop: Shop, sha256: str, name: str) -> BackupEntry:
    content = shop.originals.read(sha256)  # verified, before a byte of it is written
    archive.writestr(_info(name), content)
    return BackupEntry(name=name, sha256=sha256, size=len(content))


def _info(name: str) -> zipfile.ZipInfo:
    """A name without a time: the same shop gives the same list."""
    return zipfile.ZipInfo(name)
