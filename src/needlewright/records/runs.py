"""Runs on the bench: what was told, the photos, and what was read in them."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any, Final

from sqlalchemy import select

from needlewright.errors import RecordError
from needlewright.readings.runs import Run
from needlewright.records.changes import Change, change
from needlewright.records.families import load_version
from needlewright.records.find import job_tagged, newest_run, run_with, tag_of
from needlewright.records.of_job import Named, refuse_others
from needlewright.records.opening import Shop
from needlewright.records.run_views import sheet_of_run
from needlewright.records.stages import begin
from needlewright.records.tables import BenchRun
from needlewright.records.told import Told, check_told, put_rows, rows_of
from needlewright.records.views import RunSheet
from needlewright.records.words import RUN_NAMES, RunSide, Stage

STAGE_OF: Final[dict[RunSide, Stage]] = {
    "found": "bench_check",
    "left": "final_check",
    "other": "needles",
}
REHEARSED_FILE: Final = "rehearsed, as its file says"
ROWS: Final = "rows"
"""In the journal, the rows of a run as one field of it."""


def run_sheet(shop: Shop, run_id: int) -> RunSheet:
    """Photos and readings of one run.

    Raises RecordError if there is no such run.
    """
    with shop.reading() as session:
        return sheet_of_run(session, run_with(session, run_id))


def start_run(
    shop: Shop,
    tag: str,
    side: RunSide,
    rows: Sequence[Told] = (),
    by: str | None = None,
    *,
    name: str | None = None,
    reader: Mapping[str, Any] | None = None,
    rehearsed: str | None = None,
) -> RunSheet:
    """Start a run: as found, as left, or a look in between.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    side
        Which; the part of the work it belongs to is started with it.
    rows
        What each dial is told at each step, in time order; may be stated later with `tell_run`.
    by
        Who does it.
    name
        Of the run; None: `as-found`, `as-left`, with a number from the second on.
    reader
        Settings the photos will be read with.
    rehearsed
        What stands on the bench in place of a cluster, in words, and stays with the run for good;
        None: a real cluster.

    Returns
    -------
    RunSheet
        Of the new run.

    Raises
    ------
    RecordError
        If the cluster has not been received, a row cannot be of its family, or the name is taken.
    """
    family_rows = _checked_rows(shop, tag, side, rows)
    with change(shop, tag, f"run {name or RUN_NAMES[side]} started", by) as one:
        run = _new_run(one, side, name, None if reader is None else dict(reader))
        run.rehearsed = rehearsed
        put_rows(one.session, run, family_rows)
        run_id = run.id
    return run_sheet(shop, run_id)


def tell_run(shop: Shop, run_id: int, rows: Sequence[Told], by: str | None = None) -> RunSheet:
    """State what the dials were told in a run, in place of what was stated.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run; photos stay at their steps.
    rows
        In time order.
    by
        Who does it.

    Returns
    -------
    RunSheet
        As it now is.

    Raises
    ------
    RecordError
        If a row cannot be of the run's family, or the run was typed in.
    """
    before = run_sheet(shop, run_id)
    family = load_version(shop, before.family_version_id)
    check_told(family, rows, f"job {before.tag}, run {before.name}")
    with change(shop, before.tag, f"run {before.name}: what was told", by) as one:
        run = run_with(one.session, run_id)
        old = rows_of(one.session, run_id)
        if any(row["typed"] for row in old):
            raise RecordError(
                f"job {before.tag}: run {run.name} was typed in; set it aside and type it again"
            )
        put_rows(one.session, run, [asdict(row) for row in rows])
        one.fields["run", run_id, ROWS] = (old, rows_of(one.session, run_id))
    return run_sheet(shop, run_id)


def type_run(shop: Shop, tag: str, side: RunSide, run: Run, by: str | None = None) -> RunSheet:
    """Keep a run that was typed in, without photos.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    side
        Which.
    run
        As read from its CSV; one that was rehearsed stays so for good.
    by
        Who does it.

    Returns
    -------
    RunSheet
        Of the new run.

    Raises
    ------
    RecordError
        If the cluster has not been received, or a row cannot be of its family.
    """
    told = [
        Told(
            number if row.step is None else row.step,
            row.dial,
            row.unit,
            row.approach,
            row.commanded,
            row.temperature_c,
            row.u_commanded,
            row.key_cycle,
            row.supply_v,
            row.time,
        )
        for number, row in enumerate(run.rows, start=1)
    ]
    if len({(row.step, row.dial) for row in told}) != len(told):
        told = [_numbered(row, number) for number, row in enumerate(told, start=1)]
    checked = _checked_rows(shop, tag, side, told)
    for kept, row in zip(checked, run.rows, strict=True):
        kept |= {
            "typed": True,
            "angle_deg": row.angle_deg,
            "u_angle_deg": row.u_angle_deg,
            "indicated": row.indicated,
            "u_indicated": row.u_indicated,
            "flags": list(row.flags),
        }
    with change(shop, tag, f"run {RUN_NAMES[side]} typed in", by) as one:
        kept_run = _new_run(one, side, None, None)
        kept_run.rehearsed = REHEARSED_FILE if run.is_rehearsed else None
        put_rows(one.session, kept_run, checked)
        run_id = kept_run.id
    return run_sheet(shop, run_id)


def set_aside_run(shop: Shop, run_id: int, why: str, by: str | None = None) -> RunSheet:
    """Say that a run counts no more; it stays, with the reason.

    Parameters
    ----------
    shop
        The shop.
    run_id
        Which.
    why
        The reason.
    by
        Who does it.

    Returns
    -------
    RunSheet
        As it now is.

    Raises
    ------
    RecordError
        If there is no reason, or it is set aside already.
    """
    before = run_sheet(shop, run_id)
    if not why.strip():
        raise RecordError(f"job {before.tag}: say why run {before.name} is set aside")
    with change(shop, before.tag, f"run {before.name} set aside", by) as one:
        run = run_with(one.session, run_id)
        if run.set_aside_at is not None:
            raise RecordError(f"job {before.tag}: run {run.name} is set aside already")
        run.set_aside_at, run.set_aside_by_id = one.at, one.person.id
        run.set_aside_why = " ".join(why.split())
    return run_sheet(shop, run_id)


def run_that_counts(shop: Shop, tag: str, side: RunSide) -> int:
    """The newest run of a side that is not set aside.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    side
        Which.

    Returns
    -------
    int
        The run's id.

    Raises
    ------
    RecordError
        If there is none.
    """
    with shop.reading() as session:
        job = job_tagged(session, tag)
        run = newest_run(session, job.id, side)
        if run is None:
            raise RecordError(
                f"job {job.tag}: there is no run {RUN_NAMES[side]}; take one first, with "
                f"needlewright jobs {'bench' if side == 'found' else 'final'} {job.tag}"
            )
        return run.id


def tag_of_run(shop: Shop, run_id: int) -> str:
    """The tag of a run's job."""
    with shop.reading() as session:
        return tag_of(session, run_with(session, run_id).job_id)


def refuse_other_job(shop: Shop, tag: str, run_id: int) -> None:
    """Raise NotThereError where a run is not of the job that is open."""
    refuse_others(shop, tag, Named(run=run_id))


def _checked_rows(
    shop: Shop, tag: str, side: RunSide, rows: Sequence[Told]
) -> list[dict[str, Any]]:
    if side not in RUN_NAMES:
        raise RecordError(f"'{side}' is no kind of run; expected one of {', '.join(RUN_NAMES)}")
    with shop.reading() as session:
        version_id = job_tagged(session, tag).family_version_id
    check_told(load_version(shop, version_id), rows, f"job {tag}, run {RUN_NAMES[side]}")
    return [asdict(row) for row in rows]


def _new_run(
    one: Change, side: RunSide, name: str | None, reader: dict[str, Any] | None
) -> BenchRun:
    job, session = one.job, one.session
    begin(one, STAGE_OF[side])
    taken = set(session.scalars(select(BenchRun.name).where(BenchRun.job_id == job.id)))
    if name is not None and name in taken:
        raise RecordError(f"job {job.tag}: there is a run '{name}' already; give it another name")
    run = BenchRun(
        job_id=job.id,
        name=name or _free_name(RUN_NAMES[side], taken),
        side=side,
        family_version_id=job.family_version_id,
        reader=reader,
        started_at=one.at,
        person_id=one.person.id,
    )
    one.add(run)
    session.flush()
    return run


def _free_name(name: str, taken: set[str]) -> str:
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name}-{number}"
    return free


def _numbered(row: Told, step: int) -> Told:
    return Told(**{**asdict(row), "step": step})
