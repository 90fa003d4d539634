"""Burn-ins that have not ended, over all jobs, for the shelf."""

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from needlewright.records.burn_ins import view_of
from needlewright.records.opening import Shop
from needlewright.records.tables import BurnIn, Job
from needlewright.records.views.burn_ins import BurnInView


def burn_ins_under_way(shop: Shop) -> tuple[BurnInView, ...]:
    """Burn-ins that count and have not ended.

    Parameters
    ----------
    shop
        The shop.

    Returns
    -------
    tuple of BurnInView
        In time; one that was cut off is among them, for the records do not know what is on.
    """
    with shop.reading() as session:
        rows = session.execute(
            select(BurnIn, Job.tag)
            .join(Job, Job.id == BurnIn.job_id)
            .where(BurnIn.state == "under_way", BurnIn.set_aside_at.is_(None))
            .order_by(BurnIn.id)
            .options(joinedload(BurnIn.person))
        ).all()
        return tuple(view_of(row, tag) for row, tag in rows)
