"""What was written down as done, over all jobs, without their sheets."""

from sqlalchemy import select

from needlewright.records.opening import Shop
from needlewright.records.tables import Job


def work_done_of_all(shop: Shop) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Lines of work done of every job that has some.

    Parameters
    ----------
    shop
        The shop.

    Returns
    -------
    tuple
        Tag and lines, in the order the jobs were opened.
    """
    with shop.reading() as session:
        rows = session.execute(select(Job.tag, Job.work_done).order_by(Job.id)).all()
    return tuple((tag, tuple(lines)) for tag, lines in rows if lines)
