"""Drafting a family on the page: photos, a few clicks, what was found laid over them."""

from collections.abc import Callable
from dataclasses import replace
from typing import Annotated, Any, Final
from uuid import uuid4

from fastapi import APIRouter
from fastapi import Path as InPath
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import HTMLResponse, JSONResponse, Response

from needlewright.errors import (
    ConflictError,
    FamilyError,
    NeedlewrightError,
    PictureError,
    UnusableInput,
)
from needlewright.families.fields import id_fault
from needlewright.readings.drafting.changed import Rename
from needlewright.readings.drafting.changes import corrected
from needlewright.units import UNITS
from needlewright.web.drafts_desk import DraftDesk
from needlewright.web.drafts_saving import keep_draft, wrongs_of_draft
from needlewright.web.drafts_store import Kept, check_serial, now_of
from needlewright.web.drafts_typed import TypedForm, WrongAt, inputs_of, place_of
from needlewright.web.drafts_view import draft_of, far_document, page_state
from needlewright.web.drafts_worker import DraftJob
from needlewright.web.drafts_written import change_document, read_change
from needlewright.web.originals import FOREVER
from needlewright.web.pages import Asked, Asking
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import Wrong, status_of, wrong_of

PLACE: Final = "/drafts"
router = APIRouter()
DraftId = Annotated[str, InPath(max_length=40)]


class _Seen(BaseModel):
    """What every change carries: the state of the draft that the page showed."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    serial: Annotated[int, Field(ge=0)]


class _Typing(_Seen):
    typed: TypedForm


class _Changing(_Seen):
    change: dict[str, Any]


class _Keeping(_Seen):
    note: Annotated[str, Field(max_length=2000)] = ""
    new_version: bool = False


@router.get("/drafts", response_class=HTMLResponse)
def show_all(asked: Asked) -> Response:
    """Every draft in hand, and a form for another."""
    return _list_page(asked)


@router.post("/drafts")
def begin(asked: Asked, sent: Sent) -> Response:
    """Begin a draft with its photos; a bare one is clicked in, else the first."""
    desk = asked.house.drafts
    with desk.lock:
        draft_id = desk.store.make(asked.by, sent.text("name"))
        kept = desk.store.load(draft_id)
        try:
            _take_photos(asked, draft_id, kept, sent)
        except NeedlewrightError as error:
            if not now_of(kept)["photos"]:
                desk.store.remove(draft_id)
                if asked.is_script:
                    raise
                typed = sent.text("name")
                return _list_page(asked, status_of(error), wrong_of(error), typed)
            kept["wrongs"] = [WrongAt("photos", str(error)).document()]
            desk.store.save(draft_id, kept)
    return asked.saved(asked.at(PLACE, draft_id), id=draft_id)


@router.get("/drafts/{draft_id}", response_class=HTMLResponse)
def show(asked: Asked, draft_id: DraftId) -> Response:
    """One draft."""
    desk = asked.house.drafts
    with desk.lock:
        state = page_state(desk, desk.store.load(draft_id))
    return asked.page("draft.html", state=state, units=list(UNITS))


@router.get("/drafts/{draft_id}/state")
def tell(asked: Asked, draft_id: DraftId) -> Response:
    """The draft as it is now, for the page's scripts."""
    desk = asked.house.drafts
    with desk.lock:
        return _fresh(page_state(desk, desk.store.load(draft_id)))


@router.get("/drafts/{draft_id}/progress")
def progress(asked: Asked, draft_id: DraftId) -> Response:
    """How far the drafting is."""
    desk = asked.house.drafts
    desk.store.folder(draft_id)
    return _fresh({"far": far_document(desk.far(draft_id))})


@router.get("/drafts/{draft_id}/photos/{photo_id}", response_class=Response)
def photo(asked: Asked, draft_id: DraftId, photo_id: DraftId) -> Response:
    """A photo of the draft as the page shows it."""
    content = asked.house.drafts.store.view(draft_id, photo_id)
    return Response(content, media_type="image/jpeg", headers={"Cache-Control": FOREVER})


@router.post("/drafts/{draft_id}/photos")
def add_photos(asked: Asked, sent: Sent, draft_id: DraftId) -> Response:
    """Lay more photos to the draft: needles elsewhere in each."""

    def act(desk: DraftDesk, kept: Kept) -> None:
        del desk
        _take_photos(asked, draft_id, kept, sent)

    return _acting(asked, draft_id, None, act)


@router.post("/drafts/{draft_id}/photos/{photo_id}/leave-out")
def leave_out(asked: Asked, draft_id: DraftId, photo_id: DraftId, seen: _Seen) -> Response:
    """Leave a photo out; undo brings it back."""

    def act(desk: DraftDesk, kept: Kept) -> None:
        photos = now_of(kept)["photos"]
        if photos[:1] == [photo_id]:
            raise UnusableInput(asked.texts("drafts.wrong.clicked_photo"))
        desk.store.step(draft_id, kept, photos=[one for one in photos if one != photo_id])

    return _acting(asked, draft_id, seen.serial, act)


@router.post("/drafts/{draft_id}/typed")
def typing(asked: Asked, draft_id: DraftId, sent: _Typing) -> Response:
    """Keep what is clicked and typed, right or wrong."""

    def act(desk: DraftDesk, kept: Kept) -> None:
        desk.store.step(draft_id, kept, typed=sent.typed.model_dump(mode="json"))

    return _acting(asked, draft_id, sent.serial, act)


@router.post("/drafts/{draft_id}/draft")
def draft(asked: Asked, draft_id: DraftId, seen: _Seen) -> Response:
    """Have it drafted in the background, or say everything that is missing for that."""

    def act(desk: DraftDesk, kept: Kept) -> None:
        state = now_of(kept)
        form = TypedForm.model_validate(state["typed"])
        inputs, wrongs = inputs_of(form, asked.texts)
        if inputs is None:
            kept["wrongs"] = [one.document() for one in wrongs]
            desk.store.save(draft_id, kept)
            return
        folder, key = desk.store.folder(draft_id), uuid4().hex[:12]
        names = {one["id"]: one["name"] for one in kept["photos"]}
        resting = tuple(names[one] for one in form.rests_in(state["photos"]))
        inputs = replace(inputs, at_rest=resting)
        photos = [(folder / f"{one}.photo", names[one]) for one in state["photos"]]
        result, face = folder / f"{key}.json", folder / f"{key}.png"
        job = DraftJob(inputs, photos, form.bare, result, face)
        of = {"typed": state["typed"], "photos": state["photos"]}

        def done(problem: str | None) -> None:
            now = desk.store.load(draft_id)
            if problem is None:
                desk.store.step(draft_id, now, result=key, of=of)
                return
            now["wrongs"] = [WrongAt(place_of(problem, form), problem).document()]
            desk.store.save(draft_id, now)

        kept["wrongs"] = []
        desk.store.save(draft_id, kept)
        desk.begin(draft_id, job, done)

    return _acting(asked, draft_id, seen.serial, act)


@router.post("/drafts/{draft_id}/stop")
def stop(asked: Asked, draft_id: DraftId, seen: _Seen) -> Response:
    """Leave the drafting off; what is typed stays."""
    del seen
    asked.house.drafts.stop(draft_id)
    return _acting(asked, draft_id, None, lambda _desk, _kept: None)


@router.post("/drafts/{draft_id}/change")
def change(asked: Asked, draft_id: DraftId, sent: _Changing) -> Response:
    """Change one thing of what was found."""

    def act(desk: DraftDesk, kept: Kept) -> None:
        found = draft_of(desk, kept)
        if found is None:
            raise ConflictError(asked.texts("drafts.wrong.nothing_found"))
        made = read_change(sent.change)
        if isinstance(made, Rename) and (fault := id_fault(made.id)):
            raise FamilyError(asked.texts(f"drafts.wrong.id_{fault}"))
        corrected(found, made)
        desk.store.step(draft_id, kept, change=change_document(made))

    return _acting(asked, draft_id, sent.serial, act)


@router.post("/drafts/{draft_id}/undo")
def undo(asked: Asked, draft_id: DraftId, seen: _Seen) -> Response:
    """Take the last thing back, whatever it was."""
    return _acting(
        asked, draft_id, seen.serial, lambda desk, kept: desk.store.move(draft_id, kept, -1)
    )


@router.post("/drafts/{draft_id}/redo")
def redo(asked: Asked, draft_id: DraftId, seen: _Seen) -> Response:
    """Do again what was taken back."""
    return _acting(
        asked, draft_id, seen.serial, lambda desk, kept: desk.store.move(draft_id, kept, 1)
    )


@router.post("/drafts/{draft_id}/keep")
def keep(asked: Asked, draft_id: DraftId, sent: _Keeping) -> Response:
    """Check it and take it into the shop as a version of a family."""

    def act(desk: DraftDesk, kept: Kept) -> None:
        found = draft_of(desk, kept)
        if found is None:
            raise ConflictError(asked.texts("drafts.wrong.nothing_found"))
        shop = asked.shop
        wrongs = wrongs_of_draft(found, shop, asked.texts, new_version=sent.new_version)
        if not wrongs:
            face = desk.store.folder(draft_id) / f"{now_of(kept)['result']}.png"
            outcome = keep_draft(found, face, shop, asked.by, sent.note)
            if isinstance(outcome, list):
                wrongs = outcome
            else:
                kept["saved"] = {
                    "version_id": outcome.version_id,
                    "name": outcome.name,
                    "number": outcome.number,
                    "at": kept["at"],
                }
        kept["wrongs"] = [one.document() for one in wrongs]
        desk.store.save(draft_id, kept)

    return _acting(asked, draft_id, sent.serial, act)


@router.post("/drafts/{draft_id}/discard")
def discard(asked: Asked, sent: Sent, draft_id: DraftId) -> Response:
    """Lay a draft aside; a family that was kept from it stays."""
    del sent  # its token was looked at
    desk = asked.house.drafts
    desk.stop(draft_id)
    with desk.lock:
        desk.store.discard(draft_id)
    return asked.saved(PLACE)


@router.post("/drafts/{draft_id}/bring-back")
def bring_back(asked: Asked, sent: Sent, draft_id: DraftId) -> Response:
    """Take up a draft again that was discarded."""
    del sent  # its token was looked at
    desk = asked.house.drafts
    with desk.lock:
        desk.store.bring_back(draft_id)
    return asked.saved(asked.at(PLACE, draft_id))


def _acting(
    asked: Asking, draft_id: str, serial: int | None, act: Callable[[DraftDesk, Kept], None]
) -> Response:
    """Do one thing to a draft; the answer is the draft as it is then."""
    desk = asked.house.drafts
    with desk.lock:
        kept = desk.store.load(draft_id)
        if serial is not None:
            check_serial(kept, serial)
        act(desk, kept)
        return _fresh(page_state(desk, desk.store.load(draft_id)))


def _take_photos(asked: Asking, draft_id: str, kept: Kept, sent: SentForm) -> None:
    """Take the photos of a form; each that can be used is kept, the first refusal is raised."""
    store = asked.house.drafts.store
    refused: PictureError | None = None
    bare = sent.files("bare")[:1]
    files = [*bare, *sent.files("photos")]
    if not files:
        raise UnusableInput(asked.texts("drafts.wrong.no_photos"))
    taken, is_bare = [], False
    for file in files:
        try:
            taken.append(store.add_photo(draft_id, kept, file.stream, file.name)["id"])
            is_bare = is_bare or file in bare
        except PictureError as error:
            refused = refused or error
    if taken:
        state = now_of(kept)
        typed = state["typed"] | ({"bare": True} if is_bare and not state["photos"] else {})
        if not state["photos"]:  # there is nothing to go back to before the first photos
            state["photos"], state["typed"] = taken, typed
            store.save(draft_id, kept)
        else:
            store.step(draft_id, kept, photos=[*state["photos"], *taken], typed=typed)
    if refused is not None:
        raise refused


def _list_page(
    asked: Asking, status: int = 200, wrong: Wrong | None = None, name: str = ""
) -> HTMLResponse:
    desk = asked.house.drafts
    with desk.lock:
        every = desk.store.every()
        lines = [
            page_state(desk, kept) | {"by": kept["by"]}
            for kept in every
            if kept["discarded_at"] is None
        ]
    aside = [
        {"id": kept["id"], "name": now_of(kept)["typed"]["name"]}
        for kept in every
        if kept["discarded_at"] is not None
    ]
    return asked.page("drafts.html", status, lines=lines, aside=aside, wrong=wrong, name=name)


def _fresh(facts: dict[str, Any]) -> JSONResponse:
    return JSONResponse(facts, headers={"Cache-Control": "no-store"})
