"""The inspection of a board: photos of both sides, and pins on them."""

from typing import Final, cast

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from needlewright.errors import NotThereError, RecordError
from needlewright.findings.board_pins import SIDE_WORDS, BoardMoment, BoardSide
from needlewright.records.board_pins import board_photo, pin_view, pins_in
from needlewright.records.changes import Change, change
from needlewright.records.entries import Entry, Name, checked
from needlewright.records.find import LARGEST_ID, job_tagged
from needlewright.records.keeping import keep
from needlewright.records.opening import Shop
from needlewright.records.pictures import keep_picture
from needlewright.records.tables import BoardPhoto, JobPhoto
from needlewright.records.views.board import BoardPhotoView, BoardView

MOMENT_WORDS: Final[dict[BoardMoment, str]] = {"before": "before the work", "after": "after it"}
MOST_PHOTOS: Final = 24


class _PhotoEntry(Entry):
    side: BoardSide
    moment: BoardMoment
    name: Name = "photo"


def board_of(shop: Shop, tag: str) -> BoardView:
    """Photos and pins of a job's board.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.

    Returns
    -------
    BoardView
        Without what was taken off or taken back.

    Raises
    ------
    NotThereError
        If there is no such job.
    """
    with shop.reading() as session:
        job = job_tagged(session, tag)
        photos = _photos(session, job.id)
        shown = {photo.id for photo in photos}
        pins = [pin for pin in pins_in(session, job.id) if pin.photo_id in shown]
        numbers = {pin.number for pin in pins}
        return BoardView(
            job.tag,
            job.version,
            tuple(_photo_view(photo) for photo in photos),
            tuple(pin_view(pin, numbers) for pin in pins),
        )


def add_board_photo(
    shop: Shop,
    tag: str,
    content: bytes,
    name: str,
    by: str | None = None,
    *,
    side: BoardSide,
    moment: BoardMoment,
) -> BoardPhotoView:
    """Keep a photo of a board's side.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    content
        The picture's file.
    name
        As the camera or the person called it.
    by
        Who does it.
    side
        Which side it shows.
    moment
        Whether it was taken before the work or after it.

    Returns
    -------
    BoardPhotoView
        As stored.

    Raises
    ------
    PictureError
        If it is no picture.
    JobError
        If side or moment is not known.
    RecordError
        If the same photo is on the board already, or it cannot be stored.
    """
    entry = _photo_entry(tag, side, moment, name)
    picture = keep_picture(shop, content, entry.name, must_be_whole=True)
    with change(shop, tag, _photo_words(entry), by) as one:
        return _add(one, entry, keep(shop, one.session, picture.file))


def take_job_photo(
    shop: Shop,
    tag: str,
    photo_id: int,
    by: str | None = None,
    *,
    side: BoardSide,
    moment: BoardMoment,
) -> BoardPhotoView:
    """Have a photo the job has already be one of the board.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    photo_id
        Of the job's photo.
    by
        Who does it.
    side
        Which side it shows.
    moment
        Whether it was taken before the work or after it.

    Returns
    -------
    BoardPhotoView
        As stored.

    Raises
    ------
    NotThereError
        If the job has no such photo.
    RecordError
        If the same photo is on the board already.
    """
    entry = _photo_entry(tag, side, moment, "photo")
    with change(shop, tag, _photo_words(entry), by) as one:
        there = one.session.get(JobPhoto, photo_id) if 0 < photo_id < LARGEST_ID else None
        if there is None or there.job_id != one.job.id or there.withdrawn_at is not None:
            raise NotThereError(f"job {tag}: has no photo {photo_id}; open the job again")
        return _add(one, entry.model_copy(update={"name": there.name}), there.sha256)


def withdraw_board_photo(shop: Shop, tag: str, photo_id: int, by: str | None = None) -> None:
    """Take a photo off the board with the pins on it; undo brings them back.

    Raises NotThereError if the board has no such photo.
    """
    with change(shop, tag, "board photo taken off", by) as one:
        board_photo(one.session, one.job, photo_id).withdrawn_at = one.at


def _photo_entry(tag: str, side: str, moment: str, name: str) -> _PhotoEntry:
    typed = {"side": side, "moment": moment, "name": name}
    return checked(_PhotoEntry, typed, f"job {tag}, board")


def _photo_words(entry: _PhotoEntry) -> str:
    return f"board photo: {SIDE_WORDS[entry.side]} {MOMENT_WORDS[entry.moment]}"


def _add(one: Change, entry: _PhotoEntry, sha256: str) -> BoardPhotoView:
    there = _photos(one.session, one.job.id)
    for photo in there:
        if photo.sha256 == sha256:
            view = _photo_view(photo)
            raise RecordError(
                f"job {one.job.tag}: {entry.name} is the same photo as the one of "
                f"{SIDE_WORDS[view.side]} {MOMENT_WORDS[view.moment]}; choose another"
            )
    if len(there) >= MOST_PHOTOS:
        raise RecordError(
            f"job {one.job.tag}: its board has {MOST_PHOTOS} photos, which is the most; "
            "take one off"
        )
    row = BoardPhoto(
        job_id=one.job.id,
        sha256=sha256,
        name=entry.name,
        side=entry.side,
        moment=entry.moment,
        at=one.at,
        person=one.person,
    )
    one.add(row)
    one.session.flush()
    return _photo_view(row)


def _photos(session: Session, job_id: int) -> list[BoardPhoto]:
    query = select(BoardPhoto).where(BoardPhoto.job_id == job_id, BoardPhoto.withdrawn_at.is_(None))
    query = query.order_by(BoardPhoto.id).options(joinedload(BoardPhoto.person))
    return list(session.scalars(query))


def _photo_view(row: BoardPhoto) -> BoardPhotoView:
    return BoardPhotoView(
        row.id,
        cast("BoardSide", row.side),
        cast("BoardMoment", row.moment),
        row.name,
        row.sha256,
        row.person.name,
        row.at,
    )
