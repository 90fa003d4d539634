"""Families the shop keeps: each version of a folder by its content, so that jobs can name it."""

import hashlib
import os
import shutil
from pathlib import Path
from typing import Final
from uuid import uuid4

from sqlalchemy import func, select
from sqlalchemy.orm import Session, selectinload

from needlewright.errors import FamilyError, NotThereError, RecordError
from needlewright.families.folder import FACE_FILE, FAMILY_FILE, load_family
from needlewright.families.model import Family
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.tables import FamilyFile, FamilyVersion
from needlewright.records.trouble import said_plainly
from needlewright.records.views import FamilyView

FOLDER: Final = "families"
KEPT: Final = (FAMILY_FILE, FACE_FILE)


def keep_family(shop: Shop, folder: Path) -> FamilyView:
    """Check and store a family folder.

    Parameters
    ----------
    shop
        The shop.
    folder
        Holds `family.json` and `face.png`.

    Returns
    -------
    FamilyView
        The version; a folder of the same content is the version it was.

    Raises
    ------
    FamilyError
        If the folder cannot be used.
    RecordError
        If it cannot be stored.
    """
    family = load_family(folder)
    with said_plainly("reading the family", folder):
        contents = {name: (folder / name).read_bytes() for name in KEPT}
    stored = {
        name: shop.originals.put(content, name.rpartition(".")[2])
        for name, content in contents.items()
    }
    listing = "".join(f"{file.sha256}  {name}\n" for name, file in sorted(stored.items()))
    content_hash = hashlib.sha256(listing.encode()).hexdigest()
    with shop.writing(f"storing the family '{family.name}'") as session:
        query = select(FamilyVersion).where(FamilyVersion.content_hash == content_hash)
        version = session.scalars(query).first()
        if version is None:
            version = FamilyVersion(
                name=family.name,
                content_hash=content_hash,
                stored_at=shop.now(),
                chosen_at=shop.now(),
            )
            version.files = [
                FamilyFile(path=name, sha256=keep(shop, session, file))
                for name, file in stored.items()
            ]
            session.add(version)
        version.chosen_at = shop.now()
        session.flush()
        return _view(version)


def families(shop: Shop) -> tuple[FamilyView, ...]:
    """The newest version of each family, by name."""
    with shop.reading() as session:
        found = session.scalars(
            select(FamilyVersion)
            .order_by(FamilyVersion.chosen_at, FamilyVersion.id)
            .options(selectinload(FamilyVersion.files))
        )
        newest = {version.name: version for version in found}
        return tuple(_view(newest[name]) for name in sorted(newest))


def load_version(shop: Shop, version_id: int) -> Family:
    """Put a stored version together and load it.

    Parameters
    ----------
    shop
        The shop.
    version_id
        As jobs and runs name it.

    Returns
    -------
    Family
        From a folder in `families/` whose files have been verified.

    Raises
    ------
    RecordError
        If there is no such version, or a file of it is damaged.
    """
    with shop.reading() as session:
        version = session.get(FamilyVersion, version_id)
        if version is None:
            raise NotThereError(
                f"there is no version {version_id} of any family; open the job again"
            )
        files = {file.path: file.sha256 for file in version.files}
        content_hash = version.content_hash
    folder = shop.folder / FOLDER / content_hash[:16]
    if not _is_whole(folder, files):
        _put_together(shop, folder, files)
    try:
        return load_family(folder)
    except FamilyError as error:
        raise RecordError(
            f"the stored family cannot be used by this version of the program: {error}"
        ) from error


def newest_version(session: Session, name: str) -> FamilyVersion:
    """The newest version of the family of that name; raises RecordError if there is none."""
    query = select(FamilyVersion).where(func.lower(FamilyVersion.name) == name.lower())
    latest = (FamilyVersion.chosen_at.desc(), FamilyVersion.id.desc())
    version = session.scalars(query.order_by(*latest).limit(1)).first()
    if version is None:
        known = session.scalars(select(FamilyVersion.name).distinct().order_by(FamilyVersion.name))
        names = ", ".join(f"'{one}'" for one in known)
        raise RecordError(
            f"the shop keeps no family '{name}'; "
            + (f"it keeps {names}; " if names else "")
            + "add its folder with needlewright shop family FOLDER"
        )
    return version


def _is_whole(folder: Path, files: dict[str, str]) -> bool:
    try:
        return all(
            hashlib.sha256((folder / name).read_bytes()).hexdigest() == sha256
            for name, sha256 in files.items()
        )
    except OSError:
        return False


def _put_together(shop: Shop, folder: Path, files: dict[str, str]) -> None:
    """Another process may do the same at the same time; either's folder serves."""
    part = folder.with_name(f".{folder.name}.{uuid4().hex}.part")
    with said_plainly("putting a family together", folder):
        try:
            part.mkdir(parents=True)
            for name, sha256 in files.items():
                (part / name).write_bytes(shop.originals.read(sha256))
            if folder.exists():
                shutil.rmtree(folder)
            os.replace(part, folder)
        except OSError:
            if not _is_whole(folder, files):
                raise
        finally:
            shutil.rmtree(part, ignore_errors=True)


def _view(version: FamilyVersion) -> FamilyView:
    return FamilyView(
        version_id=version.id,
        name=version.name,
        content_hash=version.content_hash,
        stored_at=version.stored_at,
        files=tuple((file.path, file.sha256) for file in version.files),
    )
