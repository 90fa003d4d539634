"""Sweep videos of a job: kept as they came, and what was followed in them."""

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.errors import ConflictError, NotThereError, PictureError, RecordError
from needlewright.readings.video import Video
from needlewright.records.changes import Change, change
from needlewright.records.find import LARGEST_ID, job_tagged
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.tables import Job, Sweep
from needlewright.records.trouble import said_plainly
from needlewright.records.views.sweeps import FollowedSweep, SweepToFollow, SweepView

MAX_BYTES: Final = 60 * 1024 * 1024
"""Largest file that is taken in as a sweep video."""
REHEARSED: Final = "rehearsed"
"""In the document of a sweep that shows no real cluster: what stood there, in words."""
_OTHER: Final = "video"
_APPLE: Final = b"ftypqt"


def add_sweep(shop: Shop, tag: str, content: bytes, name: str, by: str | None = None) -> SweepView:
    """Keep a video of needles that sweep; they are followed later (`sweeps_to_follow`).

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    content
        The video's file.
    name
        As the camera or the person called it.
    by
        Who does it.

    Returns
    -------
    SweepView
        As stored.

    Raises
    ------
    PictureError
        If it is too large, or no video.
    RecordError
        If the job has the same video already, or it cannot be saved.
    """
    require_video(shop, content, name)
    with change(shop, tag, "sweep video", by) as one:
        sweep = put_sweep(one, content, name)
        one.session.flush()
        return _view(sweep, one.job.tag)


def sweeps_of(shop: Shop, tag: str) -> tuple[SweepView, ...]:
    """The sweep videos of a job.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.

    Returns
    -------
    tuple of SweepView
        In the order they were added, without those taken back.

    Raises
    ------
    NotThereError
        If there is no such job.
    """
    with shop.reading() as session:
        job = job_tagged(session, tag)
        found = session.execute(
            select(Sweep, Sweep.document[REHEARSED].as_string())
            .where(Sweep.job_id == job.id, Sweep.withdrawn_at.is_(None))
            .order_by(Sweep.id)
        )
        return tuple(_view(sweep, job.tag, rehearsed) for sweep, rehearsed in found)


def followed_sweep(shop: Shop, tag: str, sweep_id: int) -> FollowedSweep:
    """A sweep video of a job and what was followed in it.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    sweep_id
        Which.

    Returns
    -------
    FollowedSweep
        As it now is.

    Raises
    ------
    NotThereError
        If the job has no such video, or it was taken back.
    """
    with shop.reading() as session:
        job = job_tagged(session, tag)
        sweep = _sweep_with(session, sweep_id)
        if sweep.job_id != job.id or sweep.withdrawn_at is not None:
            raise _not_there(sweep_id)
        document = sweep.document
        rehearsed = None if document is None else document.get(REHEARSED)
        return FollowedSweep(_view(sweep, job.tag, rehearsed), document)


def sweeps_to_follow(shop: Shop) -> tuple[SweepToFollow, ...]:
    """Sweep videos of the whole shop nobody has followed yet, in the order they were added."""
    query = (
        select(Sweep, Job.tag)
        .join(Job, Job.id == Sweep.job_id)
        .where(Sweep.followed_at.is_(None), Sweep.withdrawn_at.is_(None))
        .order_by(Sweep.id)
    )
    with shop.reading() as session:
        found = session.execute(query).all()
    return tuple(
        SweepToFollow(
            sweep.id,
            tag,
            sweep.name,
            sweep.family_version_id,
            shop.originals.find(sweep.sha256),
        )
        for sweep, tag in found
    )


def store_sweep(
    shop: Shop,
    sweep_id: int,
    document: Mapping[str, Any] | None,
    *,
    problem: str | None = None,
    damaged: str | None = None,
) -> None:
    """Keep what was followed in a sweep video, or why nothing could be.

    Parameters
    ----------
    shop
        The shop.
    sweep_id
        Which.
    document
        As `needlewright sweep --json` writes it; None: nothing could be followed.
    problem
        The sentence why; with a document None.
    damaged
        The sentence where the file broke off.

    Raises
    ------
    NotThereError
        If there is no such video.
    ConflictError
        If somebody has stored what was followed in it already; that stands.
    RecordError
        If it cannot be saved.
    """
    with shop.writing(f"storing what was followed in sweep video {sweep_id}") as session:
        sweep = _sweep_with(session, sweep_id)
        if sweep.followed_at is not None:
            raise ConflictError(
                f"sweep video {sweep_id}: was followed meanwhile, and what was found then stands"
            )
        put_followed(sweep, shop.now(), document, problem, damaged)


def put_sweep(one: Change, content: bytes, name: str) -> Sweep:
    """Put a video that has been looked at (`require_video`) into a change to its job.

    Raises RecordError if the job has the same video already.
    """
    file = one.shop.originals.put(content, _kind(content))
    _refuse_same(one.session, one.job, file.sha256, name)
    sweep = Sweep(
        job_id=one.job.id,
        sha256=keep(one.shop, one.session, file),
        name=name,
        family_version_id=one.job.family_version_id,
        added_at=one.at,
        person=one.person,
    )
    one.add(sweep)
    one.what = f"sweep video {name}"
    return sweep


def put_followed(
    sweep: Sweep,
    at: datetime,
    document: Mapping[str, Any] | None,
    problem: str | None,
    damaged: str | None,
) -> None:
    """Put what was followed into a sweep, or why nothing could be."""
    sweep.followed_at = at
    sweep.document = None if document is None else dict(document)
    sweep.events = None if document is None else len(document["events"])
    sweep.problem, sweep.damaged = problem, damaged


def require_video(shop: Shop, content: bytes, name: str) -> None:
    """Raise PictureError unless it is a video of a size that is taken in."""
    if len(content) > MAX_BYTES:
        raise PictureError(
            f"{name}: has {len(content) // 1024**2} MB; at most {MAX_BYTES // 1024**2} MB are "
            "taken in; film the sweep shorter or in a smaller size"
        )
    with said_plainly("looking at a video", shop.folder), TemporaryDirectory() as folder:
        path = Path(folder) / "video"
        path.write_bytes(content)
        try:
            with Video(path):
                pass
        except PictureError as error:
            said = str(error).replace(str(path), name).replace(f"{path.name}: ", f"{name}: ", 1)
            raise PictureError(said) from error


def _kind(content: bytes) -> str:
    """The ending for what the content is."""
    if content[4:8] == b"ftyp":
        return "mov" if content[4:10] == _APPLE else "mp4"
    if content[:4] == b"\x1aE\xdf\xa3":  # EBML, which says its kind in the first bytes
        return "webm" if b"webm" in content[:64] else "mkv"
    return _OTHER


def _refuse_same(session: Session, job: Job, sha256: str, name: str) -> None:
    same = session.scalars(
        select(Sweep.name).where(
            Sweep.job_id == job.id, Sweep.sha256 == sha256, Sweep.withdrawn_at.is_(None)
        )
    ).first()
    if same is not None:
        raise RecordError(
            f"job {job.tag}: {name} is the same video as {same}, which is there already; choose "
            "another one"
        )


def _sweep_with(session: Session, sweep_id: int) -> Sweep:
    sweep = session.get(Sweep, sweep_id) if 0 < sweep_id < LARGEST_ID else None
    if sweep is None:
        raise _not_there(sweep_id)
    return sweep


def _not_there(sweep_id: int) -> NotThereError:
    return NotThereError(f"there is no sweep video {sweep_id} of this job; open the job again")


def _view(sweep: Sweep, tag: str, rehearsed: str | None = None) -> SweepView:
    return SweepView(
        id=sweep.id,
        tag=tag,
        name=sweep.name,
        sha256=sweep.sha256,
        family_version_id=sweep.family_version_id,
        added_at=sweep.added_at,
        by=sweep.person.name,
        followed_at=sweep.followed_at,
        events=sweep.events,
        problem=sweep.problem,
        damaged=sweep.damaged,
        rehearsed=rehearsed,
    )
