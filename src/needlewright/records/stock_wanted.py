"""Jobs in the house whose customer accepted a plan: what is still to be fitted is theirs."""

from sqlalchemy import select

from needlewright.records.opening import Shop
from needlewright.records.tables import Job, PlanAcceptance


def jobs_with_acceptance(shop: Shop) -> tuple[str, ...]:
    """Tags of the jobs in the house of which something was ever accepted, oldest first."""
    accepted = select(PlanAcceptance.job_id).where(PlanAcceptance.withdrawn_at.is_(None))
    query = select(Job.tag).where(Job.closed_at.is_(None), Job.id.in_(accepted)).order_by(Job.id)
    with shop.reading() as session:
        return tuple(session.scalars(query))
