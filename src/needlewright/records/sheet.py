"""The job sheet: everything of one job, gathered in few questions to the database."""

from collections.abc import Sequence
from typing import cast

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from needlewright.records.find import job_tagged, tag_of
from needlewright.records.opening import Shop
from needlewright.records.paper_views import papers_of
from needlewright.records.run_views import run_lines
from needlewright.records.shop import instrument_view
from needlewright.records.stage_views import stage_views
from needlewright.records.stock_rows import used_views
from needlewright.records.tables import (
    Analysis,
    Decision,
    FindingAnswer,
    Instrument,
    Job,
    JobPhoto,
    Note,
    Opinion,
    Received,
    Returned,
)
from needlewright.records.views import (
    AnalysisView,
    AnswerView,
    BoxItemView,
    DecisionView,
    InstrumentView,
    JobPhotoView,
    JobSheet,
    NoteView,
    OpinionView,
    ReceivedView,
    ReturnedView,
    UnitCheckView,
    Visit,
)
from needlewright.records.words import (
    UNIT_CHECK_WORDS,
    UNIT_CHECKS,
    AnswerSource,
    DecisionKind,
    Law,
    PhotoKind,
    PhotoStage,
    Stage,
    WaitsFor,
)


def job_sheet(shop: Shop, tag: str) -> JobSheet:
    """Everything of one job but its readings.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.

    Returns
    -------
    JobSheet
        One state of the records.

    Raises
    ------
    RecordError
        If there is no such job.
    """
    with shop.reading() as session:
        return sheet_of(session, job_tagged(session, tag))


def sheet_of(session: Session, job: Job) -> JobSheet:
    """The sheet of a job that has been found."""
    cluster = job.cluster
    return JobSheet(
        id=job.id,
        version=job.version,
        tag=job.tag,
        family=job.family_version.name,
        family_version_id=job.family_version_id,
        family_number=job.family_version.number,
        serial=cluster.serial,
        variant=cluster.variant,
        built=cluster.built,
        owner=job.owner,
        owner_contact=job.owner_contact,
        vehicle=job.vehicle,
        max_speed=job.max_speed,
        complaint=job.complaint,
        promised=job.promised,
        odometer_unit=job.odometer_unit,
        odometer_in=job.odometer_in,
        odometer_out=job.odometer_out,
        odometer_none=job.odometer_none,
        work_done=tuple(job.work_done),
        remarks=tuple(job.remarks),
        deviations=job.deviations,
        external_results=job.external_results,
        temperature=job.temperature,
        stage=cast("Stage", job.stage),
        waits_for=cast("WaitsFor", job.waits_for),
        opened_at=job.opened_at,
        closed_at=job.closed_at,
        return_of=None if job.return_of_id is None else tag_of(session, job.return_of_id),
        stages=stage_views(session, job.id),
        received=received_view(session.get_one(Received, job.id)),
        returned=returned_view(session.get_one(Returned, job.id)),
        photos=_photos(session, job.id),
        instruments=_instruments(session, job.instruments),
        runs=run_lines(session, [job.id]).get(job.id, ()),
        decisions=_decisions(session, job.id),
        notes=_notes(session, job.id),
        answers=tuple(answer_view(row) for row in answers_in(session, job.id)),
        analyses=tuple(_analysis_view(row) for row in analyses_in(session, job.id)),
        opinions=opinions_in(session, job.id),
        parts=used_views(session, [job.id]).get(job.id, ()),
        papers=papers_of(session, [job.id]).get(job.id, ()),
        visits=_visits(session, job),
    )


def received_view(row: Received) -> ReceivedView:
    """As plain values."""
    return ReceivedView(
        day=row.day,
        sender=row.sender,
        contents=tuple(BoxItemView(**item) for item in row.contents),
        packing=row.packing,
        damage=row.damage,
        condition=row.condition,
        odometer_unreadable=row.odometer_unreadable,
        checks=tuple(
            UnitCheckView(
                what,
                UNIT_CHECK_WORDS[what],
                getattr(row, f"{what}_ok"),
                getattr(row, f"{what}_note"),
            )
            for what in UNIT_CHECKS
        ),
    )


def returned_view(row: Returned) -> ReturnedView:
    """As plain values."""
    return ReturnedView(
        day=row.day,
        contents=tuple(BoxItemView(**item) for item in row.contents),
        packing=row.packing,
        carrier=row.carrier,
        law=cast("Law | None", row.law),
        procedure=row.procedure,
        notice_mileage_before=row.notice_mileage_before,
        notice_day=row.notice_day,
        notice_attached_to=row.notice_attached_to,
    )


def job_photo_view(row: JobPhoto, by: str) -> JobPhotoView:
    """As plain values."""
    return JobPhotoView(
        row.id,
        cast("PhotoStage", row.stage),
        cast("PhotoKind", row.kind),
        row.sha256,
        row.name,
        row.note,
        by,
        row.at,
    )


def _photos(session: Session, job_id: int) -> tuple[JobPhotoView, ...]:
    query = select(JobPhoto).where(JobPhoto.job_id == job_id, JobPhoto.withdrawn_at.is_(None))
    found = session.scalars(query.order_by(JobPhoto.id).options(joinedload(JobPhoto.person)))
    return tuple(job_photo_view(row, row.person.name) for row in found)


def _instruments(session: Session, ids: Sequence[int]) -> tuple[InstrumentView, ...]:
    if not ids:
        return ()
    found = session.scalars(select(Instrument).where(Instrument.id.in_(ids)))
    by_id = {row.id: instrument_view(row) for row in found}
    return tuple(by_id[one] for one in ids if one in by_id)


def _decisions(session: Session, job_id: int) -> tuple[DecisionView, ...]:
    query = select(Decision).where(Decision.job_id == job_id, Decision.withdrawn_at.is_(None))
    found = session.scalars(query.order_by(Decision.id).options(joinedload(Decision.person)))
    return tuple(
        DecisionView(
            row.id, cast("DecisionKind", row.kind), row.text, row.why, row.person.name, row.at
        )
        for row in found
    )


def _notes(session: Session, job_id: int) -> tuple[NoteView, ...]:
    query = select(Note).where(Note.job_id == job_id, Note.withdrawn_at.is_(None))
    found = session.scalars(query.order_by(Note.id).options(joinedload(Note.person)))
    return tuple(NoteView(row.id, row.text, row.person.name, row.at) for row in found)


def answers_in(session: Session, job_id: int) -> Sequence[FindingAnswer]:
    """The answers of a job that stand, in the order they were given."""
    query = select(FindingAnswer).where(
        FindingAnswer.job_id == job_id, FindingAnswer.withdrawn_at.is_(None)
    )
    return session.scalars(
        query.order_by(FindingAnswer.id).options(joinedload(FindingAnswer.person))
    ).all()


def analyses_in(session: Session, job_id: int) -> Sequence[Analysis]:
    """What analyses saw and stands, in the order it was taken in."""
    query = select(Analysis).where(Analysis.job_id == job_id, Analysis.withdrawn_at.is_(None))
    return session.scalars(query.order_by(Analysis.id).options(joinedload(Analysis.person))).all()


def _analysis_view(row: Analysis) -> AnalysisView:
    return AnalysisView(row.id, row.name, tuple(row.pieces), row.person.name, row.at)


def answer_view(row: FindingAnswer) -> AnswerView:
    """As plain values."""
    source = cast("AnswerSource", row.source)
    return AnswerView(row.finding, row.dial, row.yes, source, row.person.name, row.at)


def opinions_in(session: Session, job_id: int) -> tuple[OpinionView, ...]:
    """The opinions on a job, oldest first; the last of a dial or a system counts."""
    query = select(Opinion).where(Opinion.job_id == job_id, Opinion.withdrawn_at.is_(None))
    rows = session.scalars(query.order_by(Opinion.id).options(joinedload(Opinion.person)))
    return opinion_views(rows.all())


def opinion_views(found: Sequence[Opinion]) -> tuple[OpinionView, ...]:
    """Opinions on one job as plain values; of each dial and system the last counts."""
    counting = {(row.dial, row.system): row.id for row in found}
    return tuple(
        OpinionView(
            dial=row.dial,
            system=row.system,
            said=row.said,
            decided=tuple(row.decided),
            part=row.part,
            why=row.why,
            by=row.person.name,
            at=row.at,
            counts=counting[row.dial, row.system] == row.id,
        )
        for row in found
    )


def _visits(session: Session, job: Job) -> tuple[Visit, ...]:
    """Other jobs of the same cluster; one without a serial is known by its own job alone."""
    query = select(Job).where(Job.cluster_id == job.cluster_id, Job.id != job.id)
    others = session.scalars(query.order_by(Job.id.desc())).all()
    if not others:
        return ()
    ids = [other.id for other in others]
    papers, runs = papers_of(session, ids), run_lines(session, ids)
    return tuple(
        Visit(
            tag=other.tag,
            complaint=other.complaint,
            opened_at=other.opened_at,
            closed_at=other.closed_at,
            papers=papers.get(other.id, ()),
            work_done=tuple(other.work_done),
            runs=runs.get(other.id, ()),
        )
        for other in others
    )
