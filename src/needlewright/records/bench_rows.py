"""A run that a bench takes by itself: what it really told, and what was left out.

What the bench states of its own stimuli is no one's edit and is not in the journal (0012).
"""

from collections.abc import Collection, Sequence

from sqlalchemy import select

from needlewright.errors import RecordError
from needlewright.records.changes import change
from needlewright.records.find import run_with
from needlewright.records.opening import Shop
from needlewright.records.runs import ROWS, run_sheet, tag_of_run
from needlewright.records.tables import BenchRun, RunPhoto, RunRowTold
from needlewright.records.told import Told, put_rows, rows_of
from needlewright.records.views import RunSheet


def state_told(shop: Shop, run_id: int, rows: Sequence[Told]) -> None:
    """Put down what the dials were really told at a step, in place of what was planned.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run.
    rows
        Of dials that are told something at that step by the plan; others are passed over.

    Raises
    ------
    RecordError
        If the run was set aside meanwhile, or it cannot be saved.
    """
    with shop.writing(f"storing what was told in run {run_id}") as session:
        run = run_with(session, run_id)
        require_whole(run)
        planned = select(RunRowTold).where(RunRowTold.run_id == run_id)
        known = {(row.step, row.dial): row for row in session.scalars(planned)}
        for told in rows:
            row = known.get((told.step, told.dial))
            if row is None or row.approach != told.approach:
                continue
            row.commanded, row.u_commanded = told.commanded, told.u_commanded
            row.temperature_c, row.key_cycle = told.temperature_c, told.key_cycle
            row.supply_v, row.time = told.supply_v, told.time


def withdraw_photo(shop: Shop, run_id: int, step: int, by: str | None = None) -> None:
    """Let the photo of a step count no more, because the step is taken again or skipped.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run.
    step
        Its number; one without a photo is passed over. The photo stays kept, and undo brings it
        back.
    by
        Who does it.

    Raises
    ------
    RecordError
        If the run was set aside meanwhile, or it cannot be saved.
    """
    query = select(RunPhoto).where(
        RunPhoto.run_id == run_id, RunPhoto.step == step, RunPhoto.shown.is_(True)
    )
    with shop.reading() as session:
        require_whole(run_with(session, run_id))
        if session.scalars(query).first() is None:
            return
    with change(shop, tag_of_run(shop, run_id), "photo withdrawn", by) as one:
        run = run_with(one.session, run_id)
        require_whole(run)
        one.what = f"run {run.name}: photo of step {step} withdrawn at the bench"
        for photo in one.session.scalars(query):
            photo.shown = False


def require_whole(run: BenchRun | RunSheet) -> None:
    """Raise RecordError if a run was set aside."""
    if run.set_aside_at is not None:
        raise RecordError(
            f"run {run.name}: was set aside on the job sheet, so that nothing more is stored "
            "in it; begin another run there"
        )


def leave_out(shop: Shop, run_id: int, steps: Collection[int], by: str | None = None) -> RunSheet:
    """Take steps that were skipped out of what a run was told; undo brings them back.

    Parameters
    ----------
    shop
        The shop.
    run_id
        The run.
    steps
        Their numbers; one that has a photo stays.
    by
        Who skipped them.

    Returns
    -------
    RunSheet
        As it now is.

    Raises
    ------
    RecordError
        If the run was set aside meanwhile, or it cannot be saved.
    """
    before = run_sheet(shop, run_id)
    require_whole(before)
    out = sorted(set(steps) & set(before.steps_without_photo))
    if out:
        with change(shop, tag_of_run(shop, run_id), "steps left out", by) as one:
            run = run_with(one.session, run_id)
            one.what = f"run {run.name}: left out at the bench: step {', '.join(map(str, out))}"
            old = rows_of(one.session, run_id)
            put_rows(one.session, run, [row for row in old if row["step"] not in out])
            one.fields["run", run_id, ROWS] = (old, rows_of(one.session, run_id))
    return run_sheet(shop, run_id)
