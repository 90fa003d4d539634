"""A stored run as the proofs take it: rows, and the evidence behind them."""

from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.families.model import Family
from needlewright.proofs.certificate import MeasuredRun
from needlewright.readings.commands import Command
from needlewright.readings.complete import complete_run
from needlewright.readings.evidence import (
    Evidence,
    NeedleEvidence,
    PhotoEvidence,
    ProjectionEvidence,
)
from needlewright.readings.join import JoinedRun, join_run
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.runs import Approach, Run, RunRow, as_rehearsed
from needlewright.records.families import load_version
from needlewright.records.find import run_with
from needlewright.records.opening import Shop
from needlewright.records.run_views import sheet_of_run
from needlewright.records.tables import RunPhoto, RunRowTold
from needlewright.records.views import ReadingView, RunPhotoView, RunSheet

REJECTED = "rejected"


def joined(shop: Shop, run_id: int, family: Family | None = None) -> JoinedRun:
    """A run's rows out of what was told and what was read.

    Parameters
    ----------
    shop
        The shop.
    run_id
        Which run.
    family
        As `families.load_version` gives it; None: loaded here.

    Returns
    -------
    JoinedRun
        Steps without a photo, and photos not read yet, have no rows; a rejected reading's row is
        not read. Photos are named by their place in the store, from the shop's folder.

    Raises
    ------
    RecordError
        If there is no such run.
    RunError
        If what was told cannot be of the family.
    """
    with shop.reading() as session:
        run = sheet_of_run(session, run_with(session, run_id))
        rows = _rows(session, run_id)
        taken = _taken(session, run_id)
    cluster = family or load_version(shop, run.family_version_id)
    if any(row.typed for row in rows):
        return JoinedRun(complete_run(_typed(run, rows), cluster), tuple(_rehearsed(run)))
    by_step = {photo.step: photo for photo in run.photos if photo.read_at is not None}
    commands = [_command(row) for row in rows if row.step in by_step]
    readings = {str(step): _readings(shop, photo) for step, photo in by_step.items()}
    whole = join_run(run.name, cluster, commands, readings, shop.folder)
    if run.rehearsed is not None:
        whole = replace(whole, run=as_rehearsed(whole.run))
    return replace(whole, remarks=(*_rehearsed(run), *whole.remarks, *_order_remarks(taken)))


def measured_run(shop: Shop, run_id: int, family: Family | None = None) -> MeasuredRun:
    """A run with its evidence, as certificates and reports take it.

    Parameters
    ----------
    shop
        The shop.
    run_id
        Which run.
    family
        As `families.load_version` gives it; None: loaded here.

    Returns
    -------
    MeasuredRun
        Its folder is the shop's, from which its photos are named.

    Raises
    ------
    RecordError, RunError
        As `joined`.
    """
    return measured_and_remarks(shop, run_id, family)[0]


def measured_and_remarks(
    shop: Shop, run_id: int, family: Family | None = None
) -> tuple[MeasuredRun, tuple[str, ...]]:
    """A run with its evidence, and what is to be looked at before it is trusted.

    Parameters
    ----------
    shop
        The shop.
    run_id
        Which run.
    family
        As `families.load_version` gives it; None: loaded here.

    Returns
    -------
    tuple of MeasuredRun and tuple of str
        As `measured_run`, and the remarks of `joined`.

    Raises
    ------
    RecordError, RunError
        As `joined`.
    """
    with shop.reading() as session:
        run = sheet_of_run(session, run_with(session, run_id))
    evidence = Evidence(
        photos=tuple(
            PhotoEvidence(
                photo=shop.originals.relative(photo.sha256),
                sha256=photo.sha256,
                projection=None
                if photo.projection is None
                else ProjectionEvidence.model_validate(photo.projection),
                needles=tuple(_needles(photo)),
            )
            for photo in run.photos
            if photo.read_at is not None and not _is_lost(shop, photo)
        )
    )
    whole = joined(shop, run_id, family)
    return MeasuredRun(whole.run, evidence, shop.folder), whole.remarks


def _is_lost(shop: Shop, photo: RunPhotoView) -> bool:
    """Whether it could not be used, and could not be found either: it shows nothing then."""
    return photo.problem is not None and shop.originals.find(photo.sha256) is None


def _place_of(shop: Shop, photo: RunPhotoView) -> Path:
    """Where it lies; one that is lost is called by its name."""
    if _is_lost(shop, photo):
        return shop.folder / photo.name
    return shop.originals.path(photo.sha256)


def _rehearsed(run: RunSheet) -> list[str]:
    if run.rehearsed is None:
        return []
    return [f"{run.rehearsed}; nothing of this run was seen on a real cluster"]


def _rows(session: Session, run_id: int) -> list[RunRowTold]:
    query = select(RunRowTold).where(RunRowTold.run_id == run_id).order_by(RunRowTold.position)
    return list(session.scalars(query))


def _taken(session: Session, run_id: int) -> list[tuple[int, str, datetime]]:
    """Step, name and time of the photos whose camera said when."""
    query = (
        select(RunPhoto.step, RunPhoto.name, RunPhoto.taken_at)
        .where(
            RunPhoto.run_id == run_id,
            RunPhoto.shown.is_(True),
            RunPhoto.taken_at.is_not(None),
            RunPhoto.replaces_id.is_(None),
        )
        .order_by(RunPhoto.step)
    )
    return [
        (step, name, datetime.fromisoformat(taken))
        for step, name, taken in session.execute(query)
        if taken is not None
    ]


def _order_remarks(taken: list[tuple[int, str, datetime]]) -> list[str]:
    return [
        f"{name} (step {step}) was taken at {later:%H:%M:%S}, before {before} (step {first}) at "
        f"{earlier:%H:%M:%S}; look whether the photos are at their steps"
        for (first, before, earlier), (step, name, later) in pairwise(taken)
        if later < earlier
    ]


def _command(row: RunRowTold) -> Command:
    return Command(
        photo=str(row.step),
        dial=row.dial,
        unit=row.unit,
        approach=_approach(row),
        step=row.step,
        commanded=row.commanded,
        temperature_c=row.temperature_c,
        u_commanded=row.u_commanded,
        key_cycle=row.key_cycle,
        supply_v=row.supply_v,
        time=row.time,
    )


def _approach(row: RunRowTold) -> Approach:
    return "up" if row.approach == "up" else "down" if row.approach == "down" else "rest"


def _readings(shop: Shop, photo: RunPhotoView) -> PhotoReadings:
    return PhotoReadings(
        photo=str(_place_of(shop, photo)),
        found=bool(photo.found),
        reason=_why_unread(photo),
        readings=tuple(_reading(reading) for reading in photo.readings),
    )


def _why_unread(photo: RunPhotoView) -> str | None:
    if photo.rejected_why is not None:
        return REJECTED
    return photo.reason if photo.problem is None else "picture cannot be used"


def _reading(view: ReadingView) -> Reading:
    if view.rejected_at is not None:
        return Reading(view.dial, "refused", view.unit, REJECTED)
    return Reading(
        dial=view.dial,
        status="read" if view.status == "read" else "refused",
        unit=view.unit,
        reason=view.reason,
        angle_deg=view.angle_deg,
        u_angle_deg=view.u_angle_deg,
        value=view.value,
        u_value=view.u_value,
        offset_mm=view.offset_mm,
        flags=view.flags,
        components_deg=view.components_deg,
        line_px=view.line_px,
    )


def _needles(photo: RunPhotoView) -> list[NeedleEvidence]:
    return [
        NeedleEvidence(
            dial=reading.dial,
            components_deg=dict(reading.components_deg),
            line_px=reading.line_px,
        )
        for reading in photo.readings
        if reading.status == "read" and reading.rejected_at is None
    ]


def _typed(run: RunSheet, rows: list[RunRowTold]) -> Run:
    return Run(
        run.name,
        tuple(
            RunRow(
                run=run.name,
                dial=row.dial,
                unit=row.unit,
                approach=_approach(row),
                commanded=row.commanded,
                temperature_c=row.temperature_c,
                angle_deg=row.angle_deg,
                u_angle_deg=row.u_angle_deg,
                indicated=row.indicated,
                u_indicated=row.u_indicated,
                flags=tuple(row.flags),
                step=row.step,
                u_commanded=row.u_commanded,
                key_cycle=row.key_cycle,
                supply_v=row.supply_v,
                time=row.time,
            )
            for row in rows
        ),
    )
