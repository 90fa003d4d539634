"""Pins on the photos of a board: set, moved, changed, taken off."""

from collections.abc import Mapping
from math import isfinite
from typing import Annotated, Any, Final, cast

from pydantic import AfterValidator, BeforeValidator, Field
from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload

from needlewright.errors import NotThereError, RecordError
from needlewright.findings.board_pins import (
    STATE_WORDS,
    BoardMoment,
    BoardSide,
    Pin,
    PinPart,
    PinState,
    PinWhat,
    check_pin,
)
from needlewright.records.changes import Change, change, put_settled
from needlewright.records.entries import Entry, Text, checked
from needlewright.records.find import LARGEST_ID
from needlewright.records.opening import Shop
from needlewright.records.tables import BoardPhoto, BoardPin, Job
from needlewright.records.views.board import BoardPinView

MOST_PINS: Final = 400


def _blank(value: Any) -> Any:
    return None if value == "" else value


def _finite(share: float) -> float:
    if not isfinite(share):
        raise ValueError("number")
    return share


Share = Annotated[Annotated[float, AfterValidator(_finite)] | None, BeforeValidator(_blank)]


class PinEntry(Entry):
    """What a person says of a place."""

    what: PinWhat
    state: PinState
    x: Share = None
    y: Share = None
    part: Annotated[PinPart | None, BeforeValidator(_blank)] = None
    dial: Annotated[Annotated[str, Field(max_length=80)] | None, BeforeValidator(_blank)] = None
    note: Text = ""
    of: Annotated[int | None, Field(ge=1, le=10**6), BeforeValidator(_blank)] = None


class _PinChanges(PinEntry):
    what: PinWhat = "via"
    state: PinState = "ok"


def set_pin(
    shop: Shop, tag: str, photo_id: int, typed: Mapping[str, Any], by: str | None = None
) -> BoardPinView:
    """Set a pin.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    photo_id
        Of the board's photo it is set on.
    typed
        Fields of `PinEntry`.
    by
        Who does it.

    Returns
    -------
    BoardPinView
        With its number.

    Raises
    ------
    JobError
        If it lies outside the photo, or says what cannot be of such a place.
    RecordError
        If there is no such photo, or the pin it answers is not one of the same side.
    """
    where = f"job {tag}, board"
    entry = checked(PinEntry, typed, where)
    with change(shop, tag, "", by) as one:
        photo = board_photo(one.session, one.job, photo_id)
        last = select(func.max(BoardPin.number)).where(BoardPin.job_id == one.job.id)
        number = (one.session.scalar(last) or 0) + 1
        if number > MOST_PINS:
            raise RecordError(f"{where}: has {MOST_PINS} pins, which is the most; write a note")
        row = BoardPin(
            job_id=one.job.id,
            photo=photo,
            number=number,
            at=one.at,
            person=one.person,
            **entry.model_dump(),
        )
        _refuse(one, row, where)
        one.add(row)
        one.what = f"board: {_words(row)}"
        one.session.flush()
        return pin_view(row, None)


def change_pin(
    shop: Shop,
    tag: str,
    number: int,
    changes: Mapping[str, Any],
    by: str | None = None,
    *,
    seen: int | None = None,
) -> BoardPinView:
    """Move a pin, or say something else of its place.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    number
        Of the pin.
    changes
        Fields of `PinEntry`; what is not named stays.
    by
        Who does it.
    seen
        The job's version the person was looking at; None: not compared.

    Returns
    -------
    BoardPinView
        As it now is.

    Raises
    ------
    JobError
        If it lies outside the photo, or says what cannot be of such a place.
    ConflictError
        If somebody else changed the same since.
    RecordError
        If there is no such pin.
    """
    where = f"job {tag}, board"
    stated = checked(_PinChanges, changes, where).stated
    with change(shop, tag, "", by) as one:
        row = _pin(one.session, one.job, number)
        put_settled(one, row, stated, seen)
        _refuse(one, row, where)
        moved = set(stated) <= {"x", "y"}
        one.what = f"board: {f'pin {number} moved' if moved else _words(row)}"
        return pin_view(row, None)


def remove_pin(shop: Shop, tag: str, number: int, by: str | None = None) -> None:
    """Take a pin off; undo brings it back.

    Raises RecordError if there is no such pin, or a later pin answers it.
    """
    with change(shop, tag, f"board: pin {number} removed", by) as one:
        row = _pin(one.session, one.job, number)
        answers = select(BoardPin.number).where(
            BoardPin.job_id == one.job.id,
            BoardPin.of == number,
            BoardPin.withdrawn_at.is_(None),
        )
        later = one.session.scalars(answers).first()
        if later is not None:
            raise RecordError(
                f"job {tag}, board: pin {later} says what became of pin {number}; remove pin "
                f"{later} first"
            )
        row.withdrawn_at = one.at


def pins_in(session: Session, job_id: int) -> list[BoardPin]:
    """The pins of a job that are not taken off, by number."""
    query = select(BoardPin).where(BoardPin.job_id == job_id, BoardPin.withdrawn_at.is_(None))
    query = query.order_by(BoardPin.number).options(
        joinedload(BoardPin.person), joinedload(BoardPin.photo)
    )
    return list(session.scalars(query))


def board_photo(session: Session, job: Job, photo_id: int) -> BoardPhoto:
    """A photo of a job's board; raises NotThereError if there is none."""
    row = session.get(BoardPhoto, photo_id) if 0 < photo_id < LARGEST_ID else None
    if row is None or row.job_id != job.id or row.withdrawn_at is not None:
        raise NotThereError(f"job {job.tag}: its board has no photo {photo_id}; open it again")
    return row


def pin_view(row: BoardPin, shown: set[int] | None) -> BoardPinView:
    """As plain values, beside the numbers of the pins that are shown."""
    return BoardPinView(_as_pin(row, shown), row.photo_id, row.person.name, row.at)


def _refuse(one: Change, row: BoardPin, where: str) -> None:
    """Refuse a pin that cannot be meant, by itself or beside the one it answers."""
    check_pin(_as_pin(row, None), where)
    if row.of is None:
        return
    with one.session.no_autoflush:
        first = _pin(one.session, one.job, row.of)
    if first.of is not None or first.number == row.number or first.photo.side != row.photo.side:
        raise RecordError(
            f"{where}, pin {row.number}: cannot say what became of pin {row.of}; choose the first "
            "pin of a place on the same side"
        )
    if first.what != row.what:
        raise RecordError(
            f"{where}, pin {row.number}: pin {row.of} is a {first.what}, not a {row.what}; say the "
            "same kind of both"
        )


def _words(row: BoardPin) -> str:
    return f"{row.what} {STATE_WORDS[cast('PinState', row.state)]} (pin {row.number})"


def _pin(session: Session, job: Job, number: int) -> BoardPin:
    query = select(BoardPin).where(
        BoardPin.job_id == job.id, BoardPin.number == number, BoardPin.withdrawn_at.is_(None)
    )
    row = session.scalars(query).first() if 0 < number < LARGEST_ID else None
    if row is None:
        raise NotThereError(f"job {job.tag}: its board has no pin {number}; open it again")
    return row


def _as_pin(row: BoardPin, shown: set[int] | None) -> Pin:
    """As plain values; one whose first pin is shown no more is a place of its own."""
    of = row.of if shown is None or row.of in shown else None
    return Pin(
        number=row.number,
        side=cast("BoardSide", row.photo.side),
        moment=cast("BoardMoment", row.photo.moment),
        what=cast("PinWhat", row.what),
        state=cast("PinState", row.state),
        x=row.x,
        y=row.y,
        part=cast("PinPart | None", row.part),
        dial=row.dial,
        note=row.note,
        of=of,
    )
