"""Burn-ins of a job: begun, found again, set aside.

What a bench measures is no one's edit and is not in the journal of edits (0012); that a burn-in was
begun or set aside is. What comes of one stands in `burn_in_journals`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, cast

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from needlewright.errors import NotThereError, RecordError
from needlewright.records.changes import change
from needlewright.records.find import LARGEST_ID, job_tagged
from needlewright.records.opening import Shop
from needlewright.records.tables import BurnIn, Job
from needlewright.records.views.burn_ins import BurnInView
from needlewright.records.words import BurnInState


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
        row = row_of(session, burn_in_id)
        return view_of(row, tag_of_burn_in(session, row))


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
        row = row_of(one.session, burn_in_id)
        if row.set_aside_at is not None:
            raise RecordError(f"job {before.tag}: this burn-in is set aside already")
        row.set_aside_at, row.set_aside_by_id = one.at, one.person.id
        row.set_aside_why = " ".join(why.split())
    return burn_in(shop, burn_in_id)


def row_of(session: Session, burn_in_id: int, *, lock: bool = False) -> BurnIn:
    """The row of a burn-in; raises NotThereError if there is none."""
    query = select(BurnIn).where(BurnIn.id == burn_in_id)
    row = None
    if 0 < burn_in_id < LARGEST_ID:
        row = session.scalars(query.with_for_update() if lock else query).first()
    if row is None:
        raise NotThereError(f"there is no burn-in {burn_in_id}; open the job again")
    return row


def tag_of_burn_in(session: Session, row: BurnIn) -> str:
    """The tag of a burn-in's job."""
    return session.scalars(select(Job.tag).where(Job.id == row.job_id)).one()


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
