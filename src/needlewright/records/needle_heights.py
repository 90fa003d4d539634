"""Needle heights of a job: what was typed and measured, with the photos it was measured in.

How a height is worked out is not known here; it is kept as its document.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import select

from needlewright.errors import RecordError
from needlewright.records.changes import Change, change
from needlewright.records.entries import Entry, Name, Text, checked
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.pictures import keep_picture
from needlewright.records.sheet import analyses_in, job_sheet
from needlewright.records.shop import settings_row
from needlewright.records.tables import Analysis, JobPhoto, Note
from needlewright.records.views import JobSheet
from needlewright.records.words import PhotoKind, PhotoStage

KIND: Final[PhotoKind] = "other"
STAGE: Final[PhotoStage] = "received"
_PREFIX: Final = "needle height of "


@dataclass(frozen=True, slots=True)
class HeightPhoto:
    """A photo of a resting needle, as it came in."""

    content: bytes
    name: str
    note: str
    """What it was used for."""


class _Kept(Entry):
    name: Name
    note: Text = ""


def height_name(dial: str) -> str:
    """What the height of a dial's needle is called among the analyses of a job."""
    return f"{_PREFIX}{dial}"


def is_height(name: str) -> bool:
    """Whether an analysis is a needle's height, which speaks of no cause."""
    return name.startswith(_PREFIX)


def keep_needle_height(
    shop: Shop,
    tag: str,
    dial: str,
    document: Mapping[str, Any],
    *,
    photos: Sequence[HeightPhoto] = (),
    by: str | None = None,
    note: str = "",
) -> JobSheet:
    """Keep a needle's height in one step, in place of the one before.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    dial
        Id of its dial.
    document
        What was typed and measured; ids of its photos stand under `photo_ids`.
    photos
        New ones, in the order the document speaks of them; those measured before then count no
        more. None: the document's own stay.
    by
        Who keeps it.
    note
        Written on the job beside it; empty: none.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    PictureError
        If a photo is no picture.
    JobError, RecordError
        If a name cannot be used, there is no such job or person, or it cannot be saved.
    """
    what = f"job {tag}, needle height"
    entry = checked(_Kept, {"name": height_name(dial), "note": note}, what)
    names = [checked(_Kept, {"name": one.name, "note": one.note}, what) for one in photos]
    pictures = [
        keep_picture(shop, one.content, said.name) for one, said in zip(photos, names, strict=True)
    ]
    rehearsed = [said.name for kept, said in zip(pictures, names, strict=True) if kept.rehearsed]
    with change(shop, tag, _said(entry.name, len(photos)), by) as one:
        if rehearsed and not settings_row(one.session).invented:
            raise RecordError(
                f"{what}: {rehearsed[0]} is a photo of a rehearsal, as its file says, and shows no "
                "real needle; photograph the needle on the cluster"
            )
        stays = () if photos else tuple(document.get("photo_ids", ()))
        _withdraw(one, entry.name, stays)
        rows = [
            JobPhoto(
                job_id=one.job.id,
                stage=STAGE,
                kind=KIND,
                sha256=keep(shop, one.session, picture.file),
                name=said.name,
                note=f"{said.note} (rehearsed)".strip() if picture.rehearsed else said.note,
                at=one.at,
                person_id=one.person.id,
            )
            for picture, said in zip(pictures, names, strict=True)
        ]
        for row in rows:
            one.add(row)
        one.session.flush()  # photos get their ids
        ids = [row.id for row in rows] or list(stays)
        one.add(
            Analysis(
                job_id=one.job.id,
                name=entry.name,
                pieces=[{**document, "photo_ids": ids}],
                at=one.at,
                person_id=one.person.id,
            )
        )
        if entry.note:
            one.add(Note(job_id=one.job.id, text=entry.note, at=one.at, person_id=one.person.id))
    return job_sheet(shop, tag)


def take_off_needle_height(shop: Shop, tag: str, dial: str, by: str | None = None) -> JobSheet:
    """Let a needle's height and its photos count no more; undo brings them back.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    dial
        Id of its dial.
    by
        Who does it.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    RecordError
        If none is kept.
    """
    name = height_name(dial)
    with change(shop, tag, f"{name} taken off", by) as one:
        if not _withdraw(one, name, ()):
            raise RecordError(f"job {tag}: no {name[:80]} is kept; open the page again")
    return job_sheet(shop, tag)


def _said(name: str, photos: int) -> str:
    return f"{name}, {photos} photos" if photos else name


def _withdraw(one: Change, name: str, stays: Sequence[int]) -> bool:
    """Withdraw what is kept under a name, and its photos but those that stay; whether any was."""
    found = False
    for row in analyses_in(one.session, one.job.id):
        if row.name != name:
            continue
        found, row.withdrawn_at = True, one.at
        gone = [n for piece in row.pieces for n in piece.get("photo_ids", ()) if n not in stays]
        for photo in one.session.scalars(
            select(JobPhoto).where(
                JobPhoto.id.in_(gone),
                JobPhoto.job_id == one.job.id,
                JobPhoto.withdrawn_at.is_(None),
            )
        ):
            photo.withdrawn_at = one.at
    return found
