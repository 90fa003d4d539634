"""The shelf: every job in one line, searched and filtered by what it waits for."""

from typing import Final, cast

from sqlalchemy import ColumnElement, func, nulls_last, select

from needlewright.records.opening import Shop
from needlewright.records.tables import Cluster, Job
from needlewright.records.views import Shelf, ShelfLine
from needlewright.records.words import Stage, WaitsFor

FARTHEST: Final = 1_000_000_000
"""No shelf is longer."""


def shelf(
    shop: Shop,
    words: str = "",
    *,
    waits_for: WaitsFor | None = None,
    stage: Stage | None = None,
    returned: bool = False,
    limit: int = 100,
    offset: int = 0,
) -> Shelf:
    """Jobs in the house, the one promised first in front.

    Parameters
    ----------
    shop
        The shop.
    words
        Each must stand somewhere in tag, family, serial, variant, owner, vehicle or complaint,
        without regard to case.
    waits_for
        Only jobs that wait for this; None: all.
    stage
        Only jobs at this part of the work; None: all.
    returned
        Whether jobs that have left are shown too, after the others.
    limit
        At most so many lines.
    offset
        How many lines to pass over first.

    Returns
    -------
    Shelf
        That part, and the number of lines of the whole.
    """
    wanted: list[ColumnElement[bool]] = [
        Job.search.contains(word, autoescape=True)
        for word in words.encode(errors="replace").decode().casefold().split()
    ]
    if waits_for is not None:
        wanted.append(Job.waits_for == waits_for)
    if stage is not None:
        wanted.append(Job.stage == stage)
    if not returned:
        wanted.append(Job.closed_at.is_(None))
    lines = (
        select(
            Job.tag,
            Cluster.family,
            Cluster.variant,
            Cluster.serial,
            Job.owner,
            Job.complaint,
            Job.stage,
            Job.waits_for,
            Job.promised,
            Job.opened_at,
            Job.closed_at,
        )
        .join(Cluster, Cluster.id == Job.cluster_id)
        .where(*wanted)
        .order_by(
            Job.closed_at.is_not(None), Job.closed_at.desc(), nulls_last(Job.promised), Job.id
        )
        .limit(min(limit, FARTHEST))
        .offset(min(offset, FARTHEST))
    )
    with shop.reading() as session:
        found = session.execute(lines).all()
        count = session.scalar(select(func.count()).select_from(Job).where(*wanted))
    return Shelf(
        tuple(
            ShelfLine(*row[:6], cast("Stage", row[6]), cast("WaitsFor", row[7]), *row[8:])
            for row in found
        ),
        count or 0,
    )
