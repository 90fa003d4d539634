"""What became of clusters that were burnt in: they went back, and some came again."""

from typing import Final

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from needlewright.records.burn_ins import view_of
from needlewright.records.opening import Shop
from needlewright.records.tables import BurnIn, Job, Opinion
from needlewright.records.views.burn_ins import BurntIn

_OVER: Final = ("finished", "stopped", "failed")


def burnt_in(shop: Shop) -> tuple[BurntIn, ...]:
    """The jobs of the shop with a burn-in of a real cluster that is not under way and counts.

    Parameters
    ----------
    shop
        The shop.

    Returns
    -------
    tuple of BurntIn
        In the order the jobs were opened.
    """
    query = (
        select(BurnIn)
        .where(
            BurnIn.rehearsed.is_(None),
            BurnIn.set_aside_at.is_(None),
            BurnIn.state.in_(_OVER),
        )
        .order_by(BurnIn.job_id, BurnIn.id)
        .options(joinedload(BurnIn.person))
    )
    with shop.reading() as session:
        by_job: dict[int, list[BurnIn]] = {}
        for row in session.scalars(query):
            by_job.setdefault(row.job_id, []).append(row)
        return tuple(_became(session, job_id, rows) for job_id, rows in by_job.items())


def _became(session: Session, job_id: int, rows: list[BurnIn]) -> BurntIn:
    job = session.get_one(Job, job_id)
    again = session.scalars(
        select(Job).where(Job.return_of_id == job_id).order_by(Job.id).limit(1)
    ).first()
    found: tuple[tuple[str | None, str | None], ...] = ()
    if again is not None:
        newest = {  # a later opinion of the same subject counts in the place of an earlier one
            (one.dial, one.system): one.decided
            for one in session.scalars(
                select(Opinion)
                .where(Opinion.job_id == again.id, Opinion.withdrawn_at.is_(None))
                .order_by(Opinion.id)
            )
        }
        found = tuple(subject for subject, decided in newest.items() if decided)
    return BurntIn(
        tag=job.tag,
        burn_ins=tuple(view_of(row, job.tag) for row in rows),
        closed_at=job.closed_at,
        back_at=None if again is None else again.opened_at,
        found=found,
    )
