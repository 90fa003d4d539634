"""Families the shop keeps: each version of a folder by its content, so that jobs can name it."""

import hashlib
import os
import shutil
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final
from uuid import uuid4

from sqlalchemy import func, select
from sqlalchemy.orm import Session, selectinload

from needlewright.errors import FamilyError, NotThereError, RecordError
from needlewright.families.content import content_hash_of, read_files
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.people import name_key, person_named
from needlewright.records.tables import FamilyFile, FamilyVersion, Job, Person
from needlewright.records.trouble import said_plainly
from needlewright.records.views import FamilyView

FOLDER: Final = "families"
LONGEST_NOTE: Final = 2_000


def keep_family(shop: Shop, folder: Path, by: str | None = None, *, note: str = "") -> FamilyView:
    """Check and store a family folder.

    Parameters
    ----------
    shop
        The shop.
    folder
        Holds `family.json`, `face.png` and the message databases its signals name; one that is
        not there is done without.
    by
        Who puts it in; None: the only person of the shop, else nobody is named.
    note
        What is new in it, in words.

    Returns
    -------
    FamilyView
        The version; a folder of the same content is the version it was, with who put it in and
        the note it had.

    Raises
    ------
    FamilyError
        If the folder cannot be used.
    RecordError
        If it cannot be stored.
    """
    family = load_family(folder)
    said = " ".join(note.split())[:LONGEST_NOTE]
    stored = {
        name: shop.originals.put(content, name.rpartition(".")[2].lower())
        for name, content in read_files(family, whole=False).items()
    }
    content_hash = content_hash_of({name: file.sha256 for name, file in stored.items()})
    with shop.writing(f"storing the family '{family.name}'") as session:
        who, key = _who(session, by), name_key(family.name)
        moment = _after_all(session, key, shop.now())
        query = select(FamilyVersion).where(FamilyVersion.content_hash == content_hash)
        version = session.scalars(query).first()
        if version is None:
            last = select(func.max(FamilyVersion.number)).where(FamilyVersion.name_key == key)
            version = FamilyVersion(
                name=family.name,
                name_key=key,
                number=(session.scalar(last) or 0) + 1,
                content_hash=content_hash,
                stored_at=shop.now(),
                chosen_at=moment,
                kept_by=who,
                note=said,
            )
            version.files = [
                FamilyFile(path=name, sha256=keep(shop, session, file))
                for name, file in stored.items()
            ]
            session.add(version)
        version.chosen_at = moment
        session.flush()
        return version_views(session, version.name_key)[version.id]


def families(shop: Shop) -> tuple[FamilyView, ...]:
    """The version of each family that was put in last, by name."""
    with shop.reading() as session:
        current = [one for one in version_views(session).values() if one.is_current]
    return tuple(sorted(current, key=lambda one: one.name))


def version_views(session: Session, key: str | None = None) -> dict[int, FamilyView]:
    """Versions as plain values, by id.

    Parameters
    ----------
    session
        Of the shop.
    key
        Of one family's name, as `people.name_key` makes it; None: of every family.

    Returns
    -------
    dict
        In the order they were put in last, the oldest first.
    """
    which = () if key is None else (FamilyVersion.name_key == key,)
    found = session.scalars(
        select(FamilyVersion)
        .where(*which)
        .order_by(FamilyVersion.chosen_at, FamilyVersion.id)
        .options(selectinload(FamilyVersion.files))
    ).all()
    current = {version.name_key: version.id for version in found}
    counting = select(Job.family_version_id, func.count()).group_by(Job.family_version_id)
    jobs: dict[int, int] = {row[0]: row[1] for row in session.execute(counting)}
    return {
        version.id: FamilyView(
            version_id=version.id,
            name=version.name,
            number=version.number,
            content_hash=version.content_hash,
            stored_at=version.stored_at,
            chosen_at=version.chosen_at,
            kept_by=version.kept_by,
            note=version.note,
            is_current=current[version.name_key] == version.id,
            jobs=jobs.get(version.id, 0),
            files=tuple((file.path, file.sha256) for file in version.files),
        )
        for version in found
    }


def version_at(shop: Shop, version_id: int) -> FamilyView:
    """A version by its id, as jobs and runs name it; raises NotThereError if there is none."""
    with shop.reading() as session:
        found = version_views(session).get(version_id)
    if found is None:
        raise _not_there(version_id)
    return found


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
            raise _not_there(version_id)
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
    query = select(FamilyVersion).where(FamilyVersion.name_key == name_key(name))
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


def _not_there(version_id: int) -> NotThereError:
    return NotThereError(f"there is no version {version_id} of any family; open the job again")


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
                (part / name).parent.mkdir(parents=True, exist_ok=True)
                (part / name).write_bytes(shop.originals.read(sha256))
            if folder.exists():
                shutil.rmtree(folder)
            os.replace(part, folder)
        except OSError:
            if not _is_whole(folder, files):
                raise
        finally:
            shutil.rmtree(part, ignore_errors=True)


def _after_all(session: Session, key: str, now: datetime) -> datetime:
    """Now, and after every other version was put in, though the clock was set back since."""
    last = session.scalar(
        select(func.max(FamilyVersion.chosen_at)).where(FamilyVersion.name_key == key)
    )
    return now if last is None or last < now else last + timedelta(milliseconds=1)


def _who(session: Session, by: str | None) -> str | None:
    if by is not None and by.strip():
        return person_named(session, by).name
    working = session.scalars(select(Person.name).where(Person.has_left.is_(False))).all()
    return working[0] if len(working) == 1 else None
