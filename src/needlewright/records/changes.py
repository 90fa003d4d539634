"""One change to one job: in one transaction, with its journal, and noticed by whoever else saves.

What a field was and what it became is written beside every change. From it comes undo, and it
tells whether two people who had the same job open changed the same thing.
"""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Final

from sqlalchemy import event, inspect, select
from sqlalchemy.orm import Session

from needlewright.errors import ConflictError
from needlewright.records.find import job_tagged
from needlewright.records.opening import Shop
from needlewright.records.people import person_named
from needlewright.records.tables import (
    Analysis,
    Base,
    BenchRun,
    BoardPhoto,
    BoardPin,
    BurnIn,
    Cluster,
    Decision,
    Edit,
    EditValue,
    FindingAnswer,
    Job,
    JobPhoto,
    JobPlan,
    Note,
    Opinion,
    Person,
    PlanAcceptance,
    Received,
    Returned,
    RunPhoto,
    RunReading,
    StageEvent,
    StockMove,
    Sweep,
    Tick,
)

JOURNALED: Final[dict[str, type[Base]]] = {
    table.__tablename__: table
    for table in (
        Job,
        Cluster,
        Received,
        Returned,
        BenchRun,
        RunPhoto,
        RunReading,
        JobPhoto,
        Decision,
        Note,
        StageEvent,
        Sweep,
        FindingAnswer,
        Analysis,
        Opinion,
        BoardPhoto,
        BoardPin,
        StockMove,
        Tick,
        BurnIn,
        JobPlan,
        PlanAcceptance,
    )
}
NOT_JOURNALED: Final = {"version", "search"}
MADE: Final = ""
"""In place of a field's name: the row itself was made."""

FIELD_WORDS: Final = {
    "odometer_in": "odometer in",
    "odometer_out": "odometer out",
    "waits_for": "waits for",
    "owner_contact": "owner's contact",
    "max_speed": "maximum speed",
    "work_done": "work done",
}


@dataclass(slots=True)
class Change:
    """A change under way."""

    shop: Shop
    session: Session
    job: Job
    person: Person
    at: datetime
    what: str
    undoable: bool = True
    undoes: Edit | None = None
    made: list[Base] = field(default_factory=list)
    fields: dict[tuple[str, int, str], tuple[Any, Any]] = field(default_factory=dict)
    """Before and after, by table, row and field."""

    def add(self, row: Base) -> None:
        """Put a new row in, so that undo finds it."""
        self.session.add(row)
        self.made.append(row)

    def note_fields(self, session: Session, *_flush: Any) -> None:
        """Remember what is about to be written over."""
        for key, old, new in _changed(session):
            self.fields[key] = (self.fields[key][0] if key in self.fields else old, new)


@contextmanager
def change(shop: Shop, tag: str, what: str, by: str | None) -> Iterator[Change]:
    """Change a job: everything inside is saved as one step, or nothing is.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    what
        In a few words for the journal, as in "owner, promised day".
    by
        Who does it.

    Yields
    ------
    Change
        With the job, locked against other writers.

    Raises
    ------
    RecordError
        If there is no such job or person, or it cannot be saved.
    """
    with shop.writing(f"'{what}' on job {tag}") as session:
        job = job_tagged(session, tag, lock=True)
        one = Change(shop, session, job, person_named(session, by), shop.now(), what)
        event.listen(session, "before_flush", one.note_fields)
        yield one
        session.flush()
        if values := [*_values(one)]:
            _write(one, values)


def settle(
    session: Session,
    job: Job,
    row: Base,
    typed: Mapping[str, Any],
    seen: int | None,
) -> dict[str, Any]:
    """What of the typed fields is to be saved.

    Parameters
    ----------
    session
        Of the change.
    job
        The job.
    row
        Whose fields they are.
    typed
        Field by field.
    seen
        The job's version the person was looking at; None: not compared.

    Returns
    -------
    dict
        Without those that somebody else changed and this person left as they were.

    Raises
    ------
    ConflictError
        If both changed the same field to different values.
    """
    if seen is None or seen >= job.version:
        return dict(typed)
    kept = dict(typed)
    for name, theirs in _since(session, job, row, seen).items():
        if name not in typed:
            continue
        mine = to_json(typed[name])
        if mine == to_json(getattr(row, name)):
            continue
        if mine != theirs.old:
            raise _conflict(job, name, theirs, row, mine)
        del kept[name]  # this person did not touch it
    return kept


def put_settled(one: Change, row: Base, typed: Mapping[str, Any], seen: int | None) -> None:
    """Put what `settle` leaves of the typed fields into their row; it may raise ConflictError."""
    for name, value in settle(one.session, one.job, row, typed, seen).items():
        setattr(row, name, value)


def named(fields: Iterable[str]) -> str:
    """Names of fields, for the journal: `odometer in, work done`."""
    return ", ".join(name.replace("_", " ") for name in fields)


def to_json(value: Any) -> Any:
    """A field's value as the journal keeps it."""
    if isinstance(value, datetime | date):
        return value.isoformat()
    return value


def from_json(row: type[Base], name: str, value: Any) -> Any:
    """A field's value out of the journal."""
    kind = inspect(row).columns[name].type.python_type if isinstance(value, str) else None
    if kind is datetime:
        return datetime.fromisoformat(value)
    return date.fromisoformat(value) if kind is date else value


def refresh_search(job: Job) -> None:
    """Bring up what the shelf's search looks through."""
    cluster = job.cluster
    parts = (
        job.tag,
        cluster.family,
        cluster.serial,
        cluster.variant,
        job.owner,
        job.vehicle,
        job.complaint,
    )
    job.search = "\n".join(part for part in parts if part).casefold()


@dataclass(frozen=True, slots=True)
class _Theirs:
    """What somebody else did to a field."""

    old: Any
    """Before the first of their changes."""
    by: str
    at: datetime


def _since(session: Session, job: Job, row: Base, seen: int) -> dict[str, _Theirs]:
    found = session.execute(
        select(EditValue, Edit, Person.name)
        .join(Edit, Edit.id == EditValue.edit_id)
        .join(Person, Person.id == Edit.person_id)
        .where(
            Edit.job_id == job.id,
            Edit.job_version > seen,
            EditValue.entity == row.__tablename__,
            EditValue.entity_id == _key(row),
        )
        .order_by(EditValue.id)
    ).all()
    theirs: dict[str, _Theirs] = {}
    for value, edit, name in found:
        first = theirs.get(value.field)
        theirs[value.field] = _Theirs(first.old if first else value.old, name, edit.at)
    return theirs


def _conflict(job: Job, name: str, theirs: _Theirs, row: Base, mine: Any) -> ConflictError:
    word = FIELD_WORDS.get(name, name.replace("_", " "))
    at = theirs.at.astimezone()
    return ConflictError(
        f"job {job.tag}: {theirs.by} saved '{word}' at {at:%H:%M} after you opened it: it is now "
        f"{_said(to_json(getattr(row, name)))}, you typed {_said(mine)}; yours was not saved and "
        "theirs stands; look at both and save again"
    )


def _said(value: Any) -> str:
    text = "empty" if value in (None, "") else f"'{value}'"
    return text if len(text) <= 80 else text[:77] + "...'"


def _key(row: Base) -> int:
    key = inspect(row, raiseerr=True).identity
    return int(key[0]) if key else 0


def _values(one: Change) -> Iterator[EditValue]:
    for row in one.made:
        yield EditValue(entity=row.__tablename__, entity_id=_key(row), field=MADE)
    for (entity, entity_id, name), (old, new) in one.fields.items():
        if old != new:
            yield EditValue(entity=entity, entity_id=entity_id, field=name, old=old, new=new)


def _changed(session: Session) -> Iterator[tuple[tuple[str, int, str], Any, Any]]:
    for row in session.dirty:
        if row.__tablename__ not in JOURNALED:
            continue
        state = inspect(row)
        for name in state.mapper.columns.keys():  # noqa: SIM118 - not a dict
            history = state.attrs[name].history
            if name in NOT_JOURNALED or not history.has_changes():
                continue
            old = to_json(history.deleted[0]) if history.deleted else None
            new = to_json(history.added[0]) if history.added else None
            yield (row.__tablename__, _key(row), name), old, new


def _write(one: Change, values: list[EditValue]) -> None:
    one.job.version += 1
    refresh_search(one.job)
    one.session.add(
        Edit(
            job_id=one.job.id,
            job_version=one.job.version,
            what=one.what,
            at=one.at,
            person_id=one.person.id,
            undoable=one.undoable,
            undoes_id=one.undoes.id if one.undoes else None,
            values=values,
        )
    )
