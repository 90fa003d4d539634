"""Runs, photos and readings as plain values."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, cast

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session, joinedload

from needlewright.records.find import tag_of
from needlewright.records.shop import settings_row
from needlewright.records.tables import BenchRun, Person, RunPhoto, RunReading, RunRowTold
from needlewright.records.unread_photos import advice, unread_sentences
from needlewright.records.views import (
    ReadingView,
    RunLine,
    RunPhotoView,
    RunSheet,
    ToldView,
)
from needlewright.records.words import RunSide


def run_lines(session: Session, job_ids: Sequence[int]) -> dict[int, tuple[RunLine, ...]]:
    """The runs of some jobs, each in one line.

    Parameters
    ----------
    session
        Of the shop.
    job_ids
        Which jobs.

    Returns
    -------
    dict
        By job, in the order they were started.
    """
    photos = (
        select(
            RunPhoto.run_id,
            func.count().label("photos"),
            func.sum(case((RunPhoto.read_at.is_(None), 1), else_=0)).label("unread"),
        )
        .where(RunPhoto.shown.is_(True))
        .group_by(RunPhoto.run_id)
        .subquery()
    )
    steps = (
        select(
            RunRowTold.run_id,
            func.count(RunRowTold.step.distinct()).label("steps"),
            func.max(case((RunRowTold.typed.is_(True), 1), else_=0)).label("typed"),
        )
        .group_by(RunRowTold.run_id)
        .subquery()
    )
    found = session.execute(
        select(BenchRun, photos.c.photos, photos.c.unread, steps.c.steps, steps.c.typed)
        .outerjoin(photos, photos.c.run_id == BenchRun.id)
        .outerjoin(steps, steps.c.run_id == BenchRun.id)
        .where(BenchRun.job_id.in_(job_ids))
        .order_by(BenchRun.id)
        .options(joinedload(BenchRun.person))
    ).all()
    lines: dict[int, list[RunLine]] = {}
    for run, photo_count, unread, step_count, typed in found:
        line = RunLine(
            id=run.id,
            name=run.name,
            side=cast("RunSide", run.side),
            by=run.person.name,
            started_at=run.started_at,
            steps=step_count or 0,
            photos=photo_count or 0,
            unread=unread or 0,
            typed=bool(typed),
            set_aside_at=run.set_aside_at,
            set_aside_why=run.set_aside_why,
            rehearsed=run.rehearsed,
        )
        lines.setdefault(run.job_id, []).append(line)
    return {job_id: tuple(of_job) for job_id, of_job in lines.items()}


def sheet_of_run(session: Session, run: BenchRun) -> RunSheet:
    """Photos and readings of a run that has been found."""
    photos = session.scalars(
        select(RunPhoto)
        .where(RunPhoto.run_id == run.id)
        .order_by(RunPhoto.step, RunPhoto.id)
        .options(joinedload(RunPhoto.person))
    ).all()
    readings = _readings(session, [photo.id for photo in photos])
    views = [photo_view(photo, readings.get(photo.id, ())) for photo in photos]
    shown = {photo.id for photo in photos if photo.shown}
    told = session.execute(
        select(*RunRowTold.__table__.columns)
        .where(RunRowTold.run_id == run.id)
        .order_by(RunRowTold.position)
    )
    return RunSheet(
        id=run.id,
        tag=tag_of(session, run.job_id),
        name=run.name,
        side=cast("RunSide", run.side),
        family_version_id=run.family_version_id,
        family_number=run.family_version.number,
        reader=run.reader,
        by=run.person.name,
        started_at=run.started_at,
        set_aside_at=run.set_aside_at,
        set_aside_why=run.set_aside_why,
        reading_stopped_at=run.reading_stopped_at,
        rehearsed=run.rehearsed,
        told=tuple(_told_view(row) for row in told),
        photos=tuple(view for view in views if view.id in shown),
        older_photos=tuple(view for view in views if view.id not in shown),
    )


def problems_of_run(session: Session, run: BenchRun) -> Iterator[str]:
    """What keeps a run from being whole, in the order of the work; single needles do not.

    Parameters
    ----------
    session
        Of the shop.
    run
        Which.

    Yields
    ------
    str
        One sentence each, without a capital or a full stop.
    """
    told = select(RunRowTold.step, RunRowTold.typed).where(RunRowTold.run_id == run.id)
    rows = session.execute(told.order_by(RunRowTold.position)).all()
    shown = select(RunPhoto).where(RunPhoto.run_id == run.id, RunPhoto.shown.is_(True))
    photos = session.scalars(shown.order_by(RunPhoto.step)).all()
    if run.rehearsed is not None and not settings_row(session).invented:
        yield (
            f"run {run.name} was rehearsed ({run.rehearsed}): nothing of it was seen on a real "
            "cluster; set it aside and take the run on the cluster"
        )
    if not rows:
        yield f"run {run.name} does not say what was commanded"
    have = {photo.step for photo in photos}
    without = dict.fromkeys(row.step for row in rows if row.step not in have)
    if without and not any(row.typed for row in rows):
        yield f"run {run.name} has no photo at step {', '.join(map(str, without))}"
    if unread := sum(photo.read_at is None for photo in photos):
        yield f"{unread} photos of run {run.name} are not read yet"
    yield from unread_sentences(run.name, photos)
    if photos and all(photo.rejected_why for photo in photos):
        yield f"every photo of run {run.name} is rejected; set it aside and take the run again"


def photo_and_readings(session: Session, photo: RunPhoto) -> RunPhotoView:
    """One photo with its readings."""
    return photo_view(photo, _readings(session, [photo.id]).get(photo.id, ()))


def photo_view(photo: RunPhoto, readings: Iterable[ReadingView]) -> RunPhotoView:
    """As plain values."""
    return RunPhotoView(
        id=photo.id,
        run_id=photo.run_id,
        step=photo.step,
        sha256=photo.sha256,
        name=photo.name,
        by=photo.person.name,
        added_at=photo.added_at,
        read_at=photo.read_at,
        found=photo.found,
        reason=photo.reason,
        problem=photo.problem,
        projection=photo.projection,
        overlay_sha256=photo.overlay_sha256,
        replaces_id=photo.replaces_id,
        rejected_why=photo.rejected_why,
        rejected_by=photo.rejected_by,
        rejected_at=photo.rejected_at,
        advice=advice(photo),
        readings=tuple(readings),
    )


def _readings(session: Session, photo_ids: Sequence[int]) -> dict[int, list[ReadingView]]:
    """Those that count, by photo; columns alone, for a long run has a thousand of them."""
    views: dict[int, list[ReadingView]] = {}
    query = (
        select(*RunReading.__table__.columns, Person.name.label("rejected_by"))
        .outerjoin(Person, Person.id == RunReading.rejected_by_id)
        .where(RunReading.photo_id.in_(photo_ids), RunReading.shown.is_(True))
        .order_by(RunReading.id)
    )
    for row in session.execute(query):
        views.setdefault(row.photo_id, []).append(_reading_view(row))
    return views


def _reading_view(row: Any) -> ReadingView:
    line = row.line_px
    return ReadingView(
        id=row.id,
        dial=row.dial,
        status=row.status,
        unit=row.unit,
        reason=row.reason,
        angle_deg=row.angle_deg,
        u_angle_deg=row.u_angle_deg,
        value=row.value,
        u_value=row.u_value,
        offset_mm=row.offset_mm,
        flags=tuple(row.flags),
        components_deg=tuple((name, u) for name, u in row.components_deg),
        line_px=None if line is None else ((line[0][0], line[0][1]), (line[1][0], line[1][1])),
        read_at=row.read_at,
        rejected_why=row.rejected_why,
        rejected_by=row.rejected_by,
        rejected_at=row.rejected_at,
    )


def _told_view(row: Any) -> ToldView:
    return ToldView(
        position=row.position,
        step=row.step,
        dial=row.dial,
        unit=row.unit,
        approach=row.approach,
        commanded=row.commanded,
        temperature_c=row.temperature_c,
        u_commanded=row.u_commanded,
        key_cycle=row.key_cycle,
    )
