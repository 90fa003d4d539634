"""Papers as plain values."""

from collections.abc import Sequence
from typing import cast

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased, joinedload

from needlewright.records.tables import Job, Paper
from needlewright.records.views import PaperView
from needlewright.records.words import PaperKind


def papers_of(session: Session, job_ids: Sequence[int]) -> dict[int, tuple[PaperView, ...]]:
    """The papers of some jobs.

    Parameters
    ----------
    session
        Of the shop.
    job_ids
        Which jobs.

    Returns
    -------
    dict
        By job, in the order they were issued; jobs without one are left out.
    """
    older, newer = aliased(Paper), aliased(Paper)
    found = session.execute(
        select(Paper, Job.tag, older.name, newer.name)
        .join(Job, Job.id == Paper.job_id)
        .outerjoin(older, older.id == Paper.replaces_id)
        .outerjoin(newer, newer.replaces_id == Paper.id)
        .where(Paper.job_id.in_(job_ids))
        .order_by(Paper.id)
        .options(joinedload(Paper.person))
    ).all()
    papers: dict[int, list[PaperView]] = {}
    for row, tag, replaces, replaced_by in found:
        papers.setdefault(row.job_id, []).append(paper_view(row, tag, replaces, replaced_by))
    return {job_id: tuple(views) for job_id, views in papers.items()}


def paper_view(row: Paper, tag: str, replaces: str | None, replaced_by: str | None) -> PaperView:
    """As plain values."""
    return PaperView(
        id=row.id,
        tag=tag,
        kind=cast("PaperKind", row.kind),
        number=row.number,
        version=row.version,
        name=row.name,
        replaces=replaces,
        replaces_because=row.replaces_because,
        replaced_by=replaced_by,
        pdf_sha256=row.pdf_sha256,
        json_sha256=row.json_sha256,
        label_sha256=row.label_sha256,
        issued=row.issued,
        issued_at=row.issued_at,
        by=row.person.name,
    )
