"""The inspection of a board on the page: photos of both sides, pins, before beside after."""

from typing import Annotated, Any, Final, cast

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import HTMLResponse, JSONResponse, Response

from needlewright.composing.undoing import undo_last
from needlewright.errors import ConflictError, JobError, NeedlewrightError, UnusableInput
from needlewright.findings.board_pins import SIDES, BoardMoment, BoardSide
from needlewright.records.board import (
    add_board_photo,
    board_of,
    take_job_photo,
    withdraw_board_photo,
)
from needlewright.records.board_pins import change_pin, remove_pin, set_pin
from needlewright.records.views.board import BoardPhotoView, BoardView
from needlewright.web import board_pictures
from needlewright.web.board_view import board_page, board_state, dials_of, undoable
from needlewright.web.originals import FOREVER
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentForm

FRESH: Final = {"Cache-Control": "no-store"}
PhotoId = int
router = APIRouter()


class _Pinning(BaseModel):
    """What the page's scripts say of a pin; the records look at it."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    pin: Annotated[dict[str, Any], Field(max_length=12)]
    photo: int = 0
    seen: Annotated[int | None, Field(ge=0)] = None


class _Seen(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)
    seen: Annotated[int, Field(ge=0)]


@router.get("/jobs/{tag}/board", response_class=HTMLResponse)
def show(
    asked: Asked, tag: Tag, side: str = "front", before: int | None = None, after: int | None = None
) -> Response:
    """One side of the board, before beside after, and what the pins say of all of it."""
    return board_page(asked, tag, side, (before, after))


@router.get("/jobs/{tag}/board/state")
def tell(asked: Asked, tag: Tag) -> Response:
    """Everything as it is now, for the page's scripts."""
    return _state(asked, board_of(asked.shop, tag))


@router.post("/jobs/{tag}/board/photos")
def add(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Add photos of a side: new ones, or one the job has already."""
    side = sent.text("side")
    try:
        kept = _keep_photos(asked, sent, tag)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        return board_page(asked, tag, side, error=error, wrong_at=sent.text("moment"))
    moment = {kept.moment: kept.id}
    where = asked.at(
        "/jobs", tag, "board", side=kept.side if kept.side != SIDES[0] else "", **moment
    )
    return asked.saved(where)


@router.post("/jobs/{tag}/board/photos/{photo_id}/off")
def take_off(asked: Asked, tag: Tag, photo_id: PhotoId) -> Response:
    """Take a photo off the board; undo brings it back with its pins."""
    photo = _photo(board_of(asked.shop, tag), photo_id)
    withdraw_board_photo(asked.shop, tag, photo.id, asked.by)
    return asked.saved(asked.at("/jobs", tag, "board", side=photo.side))


@router.get("/jobs/{tag}/board/photos/{photo_id}.jpg", response_class=Response)
def picture(asked: Asked, tag: Tag, photo_id: PhotoId) -> Response:
    """A photo upright, in the size the page shows."""
    photo = _photo(board_of(asked.shop, tag), photo_id)
    content = board_pictures.shown(asked.shop, photo)
    return Response(content, media_type="image/jpeg", headers={"Cache-Control": FOREVER})


@router.get("/jobs/{tag}/board/compare/{before_id}/{after_id}")
def compare(asked: Asked, tag: Tag, before_id: PhotoId, after_id: PhotoId) -> Response:
    """Where two photos of a side differ, and how one lies over the other."""
    pair = _pair(asked, tag, before_id, after_id)
    return JSONResponse(board_pictures.compared(asked.shop, *pair), headers=FRESH)


@router.get("/jobs/{tag}/board/laid/{before_id}/{after_id}.jpg", response_class=Response)
def laid(asked: Asked, tag: Tag, before_id: PhotoId, after_id: PhotoId) -> Response:
    """The after photo as the before photo was seen, in its light."""
    content = board_pictures.laid(asked.shop, *_pair(asked, tag, before_id, after_id))
    return Response(content, media_type="image/jpeg", headers={"Cache-Control": FOREVER})


@router.post("/jobs/{tag}/board/pins")
def pin(asked: Asked, tag: Tag, sent: _Pinning) -> Response:
    """Set a pin."""
    _refuse_dial(asked, tag, sent.pin)
    view = board_of(asked.shop, tag)
    if _is_said_already(view, sent):
        return _state(asked, view)
    kept = set_pin(asked.shop, tag, sent.photo, sent.pin, asked.by)
    return _state(asked, board_of(asked.shop, tag), picked=kept.pin.number)


@router.post("/jobs/{tag}/board/pins/{number}")
def repin(asked: Asked, tag: Tag, number: int, sent: _Pinning) -> Response:
    """Move a pin, or say something else of its place."""
    _refuse_dial(asked, tag, sent.pin)
    change_pin(asked.shop, tag, number, sent.pin, asked.by, seen=sent.seen)
    return _state(asked, board_of(asked.shop, tag), picked=number)


@router.post("/jobs/{tag}/board/pins/{number}/off")
def unpin(asked: Asked, tag: Tag, number: int) -> Response:
    """Take a pin off; undo brings it back."""
    remove_pin(asked.shop, tag, number, asked.by)
    return _state(asked, board_of(asked.shop, tag))


@router.post("/jobs/{tag}/board/undo")
def undo(asked: Asked, tag: Tag, sent: _Seen) -> Response:
    """Take back what was saved last, where it is of the board and nobody saved anything since."""
    view = board_of(asked.shop, tag)
    if view.version != sent.seen:
        raise ConflictError(asked.texts("board.wrong.saved_since"))
    if undoable(asked.shop, tag) is None:
        raise UnusableInput(asked.texts("board.wrong.nothing_to_undo"))
    undo_last(asked.shop, tag, asked.by)
    return _state(asked, board_of(asked.shop, tag))


def _keep_photos(asked: Asking, sent: SentForm, tag: str) -> BoardPhotoView:
    side, moment = (
        cast("BoardSide", sent.text("side")),
        cast("BoardMoment", sent.text("moment")),
    )
    chosen = sent.text("job_photo")
    if chosen:
        number = int(chosen) if chosen.isdecimal() and len(chosen) < 18 else 0
        return take_job_photo(asked.shop, tag, number, asked.by, side=side, moment=moment)
    kept = [
        add_board_photo(
            asked.shop,
            tag,
            one.content(),
            one.name or "photo",
            asked.by,
            side=side,
            moment=moment,
        )
        for one in sent.files("photo")
    ]
    if not kept:
        raise UnusableInput(asked.texts("board.wrong.none_chosen"))
    return kept[-1]


def _photo(view: BoardView, photo_id: int) -> BoardPhotoView:
    return board_pictures.photo_in(view, photo_id)


def _pair(
    asked: Asking, tag: str, before_id: int, after_id: int
) -> tuple[BoardView, BoardPhotoView, BoardPhotoView]:
    view = board_of(asked.shop, tag)
    return view, _photo(view, before_id), _photo(view, after_id)


def _is_said_already(view: BoardView, sent: _Pinning) -> bool:
    """Whether all of a kind on a side was said to be so before; a second tap adds nothing."""
    photo = view.photo(sent.photo)
    if photo is None or sent.pin.keys() != {"what", "state"}:
        return False
    here = (photo.side, photo.moment, sent.pin["what"], sent.pin["state"])
    return any(
        pin.x is None and (pin.side, pin.moment, pin.what, pin.state) == here
        for pin in (one.pin for one in view.pins)
    )


def _refuse_dial(asked: Asking, tag: str, typed: dict[str, Any]) -> None:
    dial = typed.get("dial")
    if dial and dial not in dials_of(asked.shop, tag):
        raise JobError(asked.texts("board.wrong.no_dial", dial=str(dial)[:60]))


def _state(asked: Asking, view: BoardView, **more: Any) -> Response:
    return JSONResponse({**board_state(asked, view), **more}, headers=FRESH)
