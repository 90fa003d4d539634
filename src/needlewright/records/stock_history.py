"""Where parts went: a part's ledger, and the jobs that have parts of a batch."""

from collections import defaultdict
from typing import cast

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from needlewright.records.opening import Shop
from needlewright.records.stock_rows import batches_meant, last_move, part_coded, standing_uses
from needlewright.records.tables import Job, StockMove
from needlewright.records.views.stock import BatchJobView, StockMoveView
from needlewright.records.words import StockMoveKind


def ledger(shop: Shop, part: str) -> tuple[StockMoveView, ...]:
    """Every line of a part's ledger, oldest first, with what was on hand after it.

    Raises NotThereError if there is no such part.
    """
    with shop.reading() as session:
        row = part_coded(session, part)
        query = select(StockMove).where(StockMove.part_id == row.id).order_by(StockMove.id)
        moves = session.scalars(
            query.options(
                joinedload(StockMove.person), joinedload(StockMove.batch), joinedload(StockMove.job)
            )
        ).all()
    undone = {move.undoes_id for move in moves}
    lines, on_hand = list[StockMoveView](), 0
    for move in moves:
        on_hand += move.count
        lines.append(
            StockMoveView(
                id=move.id,
                part=row.code,
                kind=cast("StockMoveKind", move.kind),
                count=move.count,
                on_hand=on_hand,
                batch=None if move.batch is None else move.batch.mark,
                batch_id=move.batch_id,
                tag=None if move.job is None else move.job.tag,
                why=move.why,
                by=move.person.name,
                at=move.at,
                undoes=move.undoes_id,
                undone=move.id in undone,
            )
        )
    return tuple(lines)


def newest_line(shop: Shop) -> int:
    """Number of the newest line of the whole ledger; 0 where there is none.

    A form carries it as `seen`, so that what is sent twice is told from what is meant twice.
    """
    with shop.reading() as session:
        return last_move(session)


def jobs_with(
    shop: Shop, part: str, batch: str | int | None = None
) -> dict[int, tuple[BatchJobView, ...]]:
    """The jobs that have parts of a batch in them, by the number of its delivery.

    Parameters
    ----------
    shop
        The shop.
    part
        Its code.
    batch
        A mark, which may have come in several deliveries, or the number of one; None: every one.

    Returns
    -------
    dict
        By delivery, oldest first; jobs in the order the parts were first used. Parts that were
        given back are in none.

    Raises
    ------
    NotThereError
        If there is no such part or batch.
    """
    with shop.reading() as session:
        batches = batches_meant(session, part_coded(session, part), batch)
        ids = [row.id for row in batches]
        query = select(StockMove).where(StockMove.batch_id.in_(ids), StockMove.job_id.is_not(None))
        rows = defaultdict[tuple[int, int], list[StockMove]](list)
        for move in session.scalars(query.order_by(StockMove.id)):
            rows[cast("int", move.batch_id), cast("int", move.job_id)].append(move)
        kept = {key: moves for key, moves in rows.items() if sum(m.count for m in moves)}
        jobs = _jobs(session, {job_id for _, job_id in kept})
        back = _came_back(session, jobs)
        found: dict[int, list[BatchJobView]] = {one: [] for one in ids}
        for (batch_id, job_id), moves in kept.items():
            found[batch_id].append(_job_view(jobs[job_id], moves, back.get(job_id)))
    return {batch_id: tuple(views) for batch_id, views in found.items()}


def _jobs(session: Session, ids: set[int]) -> dict[int, Job]:
    query = select(Job).where(Job.id.in_(ids))
    query = query.options(joinedload(Job.cluster), joinedload(Job.family_version))
    return {job.id: job for job in session.scalars(query)}


def _came_back(session: Session, jobs: dict[int, Job]) -> dict[int, Job]:
    """The first job that is marked a return of each."""
    query = select(Job).where(Job.return_of_id.in_(jobs)).order_by(Job.id.desc())
    return {cast("int", job.return_of_id): job for job in session.scalars(query)}


def _job_view(job: Job, moves: list[StockMove], back: Job | None) -> BatchJobView:
    return BatchJobView(
        tag=job.tag,
        family=job.family_version.name,
        serial=job.cluster.serial,
        owner=job.owner,
        count=-sum(move.count for move in moves),
        used_at=standing_uses(moves)[0].at,
        closed_at=job.closed_at,
        came_back=None if back is None else back.tag,
        came_back_at=None if back is None else back.opened_at,
    )
