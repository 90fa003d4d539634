"""Burn-ins of a job: begun, taken over from their journals as they go on, set aside.

The journal's file is what is true while a burn-in runs. Its lines come here in their order, each
under its number, so that taking over again after whatever happened stores none of them twice. What
a bench measures is no one's edit and is not in the journal of edits (0012); that a burn-in was
begun or set aside is.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, cast

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from needlewright.errors import ConflictError, NotThereError, RecordError
from needlewright.records.changes import change
from needlewright.records.find import LARGEST_ID, job_tagged
from needlewright.records.keeping import keep as keep_file
from needlewright.records.opening import Shop
from needlewright.records.tables import BurnIn, BurnInLine, BurnInPicture, Job
from needlewright.records.views.burn_ins import BurnInJournal, BurnInView
from needlewright.records.words import BurnInState

PICTURE: Final = "jpg"


@dataclass(frozen=True, slots=True)
class NewBurnIn:
    """A burn-in that is begun.

    Parameters
    ----------
    unit
        Which cluster, as people tell it from others.
    rehearsed
        What stands on the bench in place of a cluster, in words; None: a real one.
    plan
        What is to be done.
    known
        What is known beforehand.
    """

    unit: str
    rehearsed: str | None
    plan: Mapping[str, Any]
    known: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class TakenOver:
    """A burn-in as far as it has come.

    Parameters
    ----------
    lines
        Of the journal, from its first on.
    pictures
        Those the records have not yet, by name.
    powered_s, sweeps, key_ons
        As the last line counts them.
    state
        How far it is.
    words
        How it ended; empty while it is under way.
    said
        What came of it in few words.
    """

    lines: Sequence[str]
    pictures: Mapping[str, bytes]
    powered_s: float
    sweeps: int
    key_ons: int
    state: BurnInState
    words: str
    said: Mapping[str, Any]


def begin(shop: Shop, tag: str, new: NewBurnIn, by: str | None = None) -> BurnInView:
    """Begin a burn-in.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    new
        What is begun.
    by
        Who does it.

    Returns
    -------
    BurnInView
        With nothing done.

    Raises
    ------
    RecordError
        If it cannot be saved, or there is no such job or person.
    """
    hours = float(new.plan.get("hours", 0.0))
    with change(shop, tag, f"burn-in of {hours:g} h begun", by) as one:
        row = BurnIn(
            job_id=one.job.id,
            family_version_id=one.job.family_version_id,
            unit=new.unit,
            rehearsed=new.rehearsed,
            plan=dict(new.plan),
            known=dict(new.known),
            at=one.at,
            person=one.person,
            state="under_way",
            words="",
            powered_s=0.0,
            sweeps=0,
            key_ons=0,
            lines=0,
            said={},
            ended_at=None,
            set_aside_at=None,
            set_aside_by_id=None,
            set_aside_why="",
        )
        one.add(row)
        one.session.flush()
        return view_of(row, one.job.tag)


def keep(shop: Shop, burn_in_id: int, taken: TakenOver) -> BurnInView:
    """Take over what a burn-in's journal has by now; again and again, as it goes on.

    Parameters
    ----------
    shop
        The shop.
    burn_in_id
        Which.
    taken
        As far as it has come; what the records have already is not stored again.

    Returns
    -------
    BurnInView
        As it now is; what comes of one that was set aside meanwhile is kept too.

    Raises
    ------
    ConflictError
        If the journal is not the one the records know the beginning of.
    RecordError
        If it cannot be saved.
    """
    files = {name: shop.originals.put(content, PICTURE) for name, content in taken.pictures.items()}
    with shop.writing(f"taking over burn-in {burn_in_id}") as session:
        row = _row(session, burn_in_id, lock=True)
        if _is_behind(session, row, taken.lines):
            return view_of(row, _tag(session, row))
        for number, line in enumerate(taken.lines[row.lines :], start=row.lines + 1):
            session.add(BurnInLine(burn_in_id=row.id, number=number, line=line))
        known = set(_pictures(session, row.id))
        for name, file in files.items():
            if name not in known:
                sha256 = keep_file(shop, session, file)
                session.add(BurnInPicture(burn_in_id=row.id, name=name, sha256=sha256))
        row.lines = len(taken.lines)
        row.powered_s, row.sweeps, row.key_ons = taken.powered_s, taken.sweeps, taken.key_ons
        if row.state != taken.state:
            row.ended_at = None if taken.state == "under_way" else shop.now()
        row.state, row.words, row.said = taken.state, taken.words, dict(taken.said)
        session.flush()
        return view_of(row, _tag(session, row))


def burn_ins_of(shop: Shop, tag: str) -> tuple[BurnInView, ...]:
    """The burn-ins of a job.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.

    Returns
    -------
    tuple of BurnInView
        In time, those set aside among them.

    Raises
    ------
    NotThereError
        If there is no such job.
    """
    with shop.reading() as session:
        job = job_tagged(session, tag)
        rows = session.scalars(
            select(BurnIn)
            .where(BurnIn.job_id == job.id)
            .order_by(BurnIn.id)
            .options(joinedload(BurnIn.person))
        )
        return tuple(view_of(row, job.tag) for row in rows)


def burn_in(shop: Shop, burn_in_id: int) -> BurnInView:
    """A burn-in.

    Parameters
    ----------
    shop
        The shop.
    burn_in_id
        Which.

    Returns
    -------
    BurnInView
        As far as the records have it.

    Raises
    ------
    NotThereError
        If there is none.
    """
    with shop.reading() as session:
        row = _row(session, burn_in_id)
        return view_of(row, _tag(session, row))


def journal_kept(shop: Shop, burn_in_id: int) -> BurnInJournal:
    """The journal of a burn-in, as far as the records have it.

    Parameters
    ----------
    shop
        The shop.
    burn_in_id
        Which.

    Returns
    -------
    BurnInJournal
        Line by line.

    Raises
    ------
    NotThereError
        If there is none.
    """
    with shop.reading() as session:
        row = _row(session, burn_in_id)
        lines = session.scalars(
            select(BurnInLine.line)
            .where(BurnInLine.burn_in_id == row.id)
            .order_by(BurnInLine.number)
        ).all()
        view = view_of(row, _tag(session, row))
        return BurnInJournal(view, tuple(lines), _pictures(session, row.id))


def pictures_kept(shop: Shop, burn_in_id: int) -> Mapping[str, str]:
    """SHA-256 of the pictures the records have of a burn-in, by name."""
    with shop.reading() as session:
        return _pictures(session, burn_in_id)


def set_aside_burn_in(shop: Shop, burn_in_id: int, why: str, by: str | None = None) -> BurnInView:
    """Say that a burn-in counts no more; it stays, with the reason.

    Parameters
    ----------
    shop
        The shop.
    burn_in_id
        Which.
    why
        The reason.
    by
        Who does it.

    Returns
    -------
    BurnInView
        As it now is.

    Raises
    ------
    RecordError
        If there is no reason, or it is set aside already.
    """
    before = burn_in(shop, burn_in_id)
    if not why.strip():
        raise RecordError(f"job {before.tag}: say why the burn-in is set aside")
    with change(shop, before.tag, "burn-in set aside", by) as one:
        row = _row(one.session, burn_in_id)
        if row.set_aside_at is not None:
            raise RecordError(f"job {before.tag}: this burn-in is set aside already")
        row.set_aside_at, row.set_aside_by_id = one.at, one.person.id
        row.set_aside_why = " ".join(why.split())
    return burn_in(shop, burn_in_id)


def _is_behind(session: Session, row: BurnIn, lines: Sequence[str]) -> bool:
    """Whether the records have more of a journal already, from whoever was quicker.

    A journal that does not begin as the one that was taken over until now is refused.
    """
    if not row.lines:
        return False
    last = min(row.lines, len(lines))
    numbers = dict.fromkeys((1, last))
    known = session.scalars(
        select(BurnInLine.line)
        .where(BurnInLine.burn_in_id == row.id, BurnInLine.number.in_(numbers))
        .order_by(BurnInLine.number)
    ).all()
    if not lines or list(known) != [lines[number - 1] for number in numbers]:
        raise ConflictError(
            f"burn-in {row.id}: its journal is not the one the records have the first {row.lines} "
            "lines of; put the file back from a copy, or begin another burn-in"
        )
    return len(lines) < row.lines


def _row(session: Session, burn_in_id: int, *, lock: bool = False) -> BurnIn:
    query = select(BurnIn).where(BurnIn.id == burn_in_id)
    row = None
    if 0 < burn_in_id < LARGEST_ID:
        row = session.scalars(query.with_for_update() if lock else query).first()
    if row is None:
        raise NotThereError(f"there is no burn-in {burn_in_id}; open the job again")
    return row


def _tag(session: Session, row: BurnIn) -> str:
    return session.scalars(select(Job.tag).where(Job.id == row.job_id)).one()


def _pictures(session: Session, burn_in_id: int) -> dict[str, str]:
    found = session.execute(
        select(BurnInPicture.name, BurnInPicture.sha256).where(
            BurnInPicture.burn_in_id == burn_in_id
        )
    )
    return {row.name: row.sha256 for row in found}


def view_of(row: BurnIn, tag: str) -> BurnInView:
    """A row as it is given back."""
    return BurnInView(
        id=row.id,
        tag=tag,
        family_version_id=row.family_version_id,
        unit=row.unit,
        rehearsed=row.rehearsed,
        plan=row.plan,
        known=row.known,
        at=row.at,
        by=row.person.name,
        state=cast("BurnInState", row.state),
        words=row.words,
        hours=row.powered_s / 3600.0,
        sweeps=row.sweeps,
        key_ons=row.key_ons,
        lines=row.lines,
        said=row.said,
        ended_at=row.ended_at,
        set_aside_at=row.set_aside_at,
        set_aside_why=row.set_aside_why,
    )
