"""Taking back the last thing that was saved."""

from collections.abc import Callable, Sequence
from typing import Final

from sqlalchemy import Select, exists, select
from sqlalchemy.orm import aliased, joinedload, selectinload

from needlewright.errors import ConflictError, RecordError
from needlewright.records.changes import JOURNALED, MADE, Change, change, from_json
from needlewright.records.find import job_tagged
from needlewright.records.opening import Shop
from needlewright.records.runs import ROWS
from needlewright.records.stock_rows import taken_back
from needlewright.records.tables import (
    Analysis,
    Base,
    BenchRun,
    BoardPhoto,
    BoardPin,
    BurnIn,
    Decision,
    Edit,
    EditValue,
    FindingAnswer,
    JobPhoto,
    JobPlan,
    Note,
    Opinion,
    PlanAcceptance,
    RunPhoto,
    StageEvent,
    StockMove,
    Sweep,
    Tick,
)
from needlewright.records.told import put_rows, rows_of
from needlewright.records.views import EditView, Undone

_TAKEN_BACK: Final = {"finished": "reopened", "started": "taken_back", "reopened": "finished"}
UNDONE: Final = "undone"


def undo_last(
    shop: Shop,
    tag: str,
    by: str | None = None,
    *,
    is_on: Callable[[int], bool] | None = None,
) -> Undone:
    """Take back the last thing that was saved on a job; called again, the one before it.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    by
        Who does it.
    is_on
        Whether a burn-in is on at a bench, which the records do not know; None: not asked. One
        that is on is passed over: the power would stay on with nothing on record, and what people
        saved before it must not wait a day to be taken back.

    Returns
    -------
    Undone
        What was taken back.

    Raises
    ------
    ConflictError
        If there is nothing but a burn-in that is on.
    RecordError
        If there is nothing, or the last thing saved cannot be taken back: a paper that was
        issued, the job itself.
    """
    with change(shop, tag, "undo", by) as one:
        last, passed = _last(one, is_on)
        one.what = f"undo: {last.what}"
        one.undoable = False
        one.undoes = last
        _take_back_rows(one, last.values)
        one.session.flush()  # what was made goes before what it took the place of comes back
        _put_back_fields(one, last.values)
        return Undone(last.what, last.person.name, last.at, passed)


def history(
    shop: Shop, tag: str, limit: int = 50, *, is_on: Callable[[int], bool] | None = None
) -> tuple[EditView, ...]:
    """Who saved what on a job.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    limit
        How many at most.
    is_on
        As in `undo_last`.

    Returns
    -------
    tuple of EditView
        Newest first.

    Raises
    ------
    RecordError
        If there is no such job.
    """
    with shop.reading() as session:
        job = job_tagged(session, tag)
        query = select(Edit).where(Edit.job_id == job.id).order_by(Edit.id.desc()).limit(limit)
        edits = session.scalars(
            query.options(selectinload(Edit.values), joinedload(Edit.person))
        ).all()
        undone = {edit.undoes_id for edit in edits}
        return tuple(_edit_view(edit, edit.id in undone, is_on) for edit in edits)


def _last(one: Change, is_on: Callable[[int], bool] | None) -> tuple[Edit, str | None]:
    """The edit to take back, and what was passed over because it is on; None: nothing was."""
    passed: str | None = None
    for edit in one.session.scalars(_standing(one.job.id)):
        if _goes_on(edit, is_on):
            passed = edit.what
            continue
        if not edit.undoable:
            raise _fixed(one.job.tag, edit.what, passed)
        return edit, passed
    if passed is not None:
        raise ConflictError(
            f"job {one.job.tag}: the only thing saved is '{passed}', and it is on; nothing was "
            "taken back; stop it first, then take it back"
        )
    raise RecordError(f"job {one.job.tag}: nothing has been saved that could be undone")


def _fixed(tag: str, what: str, passed: str | None) -> RecordError:
    if passed is None:
        return RecordError(
            f"job {tag}: the last thing saved is '{what}', which cannot be undone; correct it with "
            "a new one"
        )
    return RecordError(
        f"job {tag}: '{passed}' is on and was passed over, and the last thing saved before it is "
        f"'{what}', which cannot be undone; to take the burn-in back, stop it first"
    )


def _standing(job_id: int) -> Select[Edit]:
    """What was saved and not taken back yet, newest first."""
    undoing = aliased(Edit)
    return (
        select(Edit)
        .where(
            Edit.job_id == job_id,
            Edit.undoes_id.is_(None),
            ~exists().where(undoing.undoes_id == Edit.id),
        )
        .order_by(Edit.id.desc())
    )


def _goes_on(edit: Edit, is_on: Callable[[int], bool] | None) -> bool:
    begun = BurnIn.__tablename__
    return is_on is not None and any(
        v.entity == begun and v.field == MADE and is_on(v.entity_id) for v in edit.values
    )


def _take_back_rows(one: Change, values: Sequence[EditValue]) -> None:
    for value in reversed(values):  # what came last goes first
        if value.field != MADE:
            continue
        row = one.session.get_one(JOURNALED[value.entity], value.entity_id)
        match row:
            case StageEvent():
                step = _TAKEN_BACK[row.step]
                one.session.add(
                    StageEvent(
                        job_id=row.job_id,
                        stage=row.stage,
                        step=step,
                        at=one.at,
                        person_id=one.person.id,
                    )
                )
            case StockMove():
                one.add(taken_back(one.session, row, one.at, one.person))
            case RunPhoto():
                row.shown = False
            case BenchRun() | BurnIn():
                row.set_aside_at, row.set_aside_by_id = one.at, one.person.id
                row.set_aside_why = UNDONE
            case (
                JobPhoto()
                | Decision()
                | Note()
                | Sweep()
                | FindingAnswer()
                | Analysis()
                | Opinion()
            ):
                row.withdrawn_at = one.at
            case BoardPhoto() | BoardPin() | Tick():
                row.withdrawn_at = one.at
            case JobPlan() | PlanAcceptance():
                row.withdrawn_at = one.at


def _put_back_fields(one: Change, values: Sequence[EditValue]) -> None:
    for value in values:
        if value.field == MADE:
            continue
        if (value.entity, value.field) == (BenchRun.__tablename__, ROWS):
            run_id, now = value.entity_id, rows_of(one.session, value.entity_id)
            put_rows(one.session, one.session.get_one(BenchRun, run_id), value.old or [])
            # without a field of its own this undoing would not be in the journal
            one.fields[value.entity, run_id, ROWS] = (now, rows_of(one.session, run_id))
            continue
        table = JOURNALED[value.entity]
        row: Base = one.session.get_one(table, value.entity_id)
        setattr(row, value.field, from_json(table, value.field, value.old))


def _edit_view(edit: Edit, undone: bool, is_on: Callable[[int], bool] | None) -> EditView:
    changes = tuple((v.field, v.old, v.new) for v in edit.values if v.field != MADE)
    goes_on = not undone and _goes_on(edit, is_on)
    return EditView(edit.what, edit.person.name, edit.at, edit.undoable, undone, changes, goes_on)
