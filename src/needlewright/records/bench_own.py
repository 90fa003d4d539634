"""What a bench took in a run beside its rows: found by its name, and let count no more."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import InstrumentedAttribute

from needlewright.records.bench_rows import require_whole
from needlewright.records.changes import Change, change
from needlewright.records.find import run_with
from needlewright.records.opening import Shop
from needlewright.records.runs import tag_of_run
from needlewright.records.tables import BenchRun, JobPhoto, Sweep

Own = Callable[[BenchRun], Select[Any]]
"""What is the run's own."""


def own_named(
    table: type[JobPhoto | Sweep], since: InstrumentedAttribute[datetime], name: str
) -> Own:
    """Find what is a run's own: of its name, and no older than the run.

    Parameters
    ----------
    table
        Of what was taken.
    since
        When it came; what is older is of a run that was set aside.
    name
        The same for every one of its kind in the run.

    Returns
    -------
    Callable
        The rows of a run that count.
    """

    def own(run: BenchRun) -> Select[Any]:
        return select(table).where(
            table.job_id == run.job_id,
            table.name == name,
            since >= run.started_at,
            table.withdrawn_at.is_(None),
        )

    return own


def withdraw_in(one: Change, run: BenchRun, own: Own) -> None:
    """Let what is a run's own count no more, as part of a change."""
    for earlier in one.session.scalars(own(run)):
        earlier.withdrawn_at = one.at


def withdraw_own(shop: Shop, run_id: int, own: Own, what: str, by: str | None) -> None:
    """Let what is a run's own count no more, because it is taken again or skipped.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run.
    own
        Which; where there is none, nothing is changed. It stays kept, and undo brings it back.
    what
        What it is, for people.
    by
        Who does it.

    Raises
    ------
    RecordError
        If the run was set aside, or it cannot be saved.
    """
    with shop.reading() as session:
        run = run_with(session, run_id)
        require_whole(run)
        if session.scalars(own(run)).first() is None:
            return
    with change(shop, tag_of_run(shop, run_id), f"{what} withdrawn", by) as one:
        run = run_with(one.session, run_id)
        one.what = f"run {run.name}: {what} withdrawn at the bench"
        withdraw_in(one, run, own)
