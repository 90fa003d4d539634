"""Faces beside each other: two versions of a family, a unit and the family, or two units."""

from functools import lru_cache
from pathlib import Path
from threading import BoundedSemaphore
from typing import Annotated, Final, Literal

from fastapi import APIRouter, Query
from fastapi import Path as InPath
from starlette.responses import HTMLResponse, RedirectResponse, Response

from needlewright.composing.face_pair import FacePair, version_pair
from needlewright.errors import PictureError
from needlewright.families.folder import load_family
from needlewright.records.families import load_version, version_at
from needlewright.records.views import FamilyView
from needlewright.web.families_changes import what_changed
from needlewright.web.families_pairs import SLOTS, PairStore, UnitPair
from needlewright.web.families_travel import VersionId
from needlewright.web.originals import FOREVER
from needlewright.web.pages import SEE_OTHER, Asked, Asking
from needlewright.web.posted import Sent, SentForm

VERSION_PAIRS_KEPT: Final = 16
FACE_ONLY: Final = "face_only"
Slot = Literal["first", "second"]
OtherId = Annotated[int | None, Query(ge=1, lt=2**63)]
PairId = Annotated[str, InPath(max_length=40)]
router = APIRouter()
_comparing = BoundedSemaphore(1)
"""Two large photos are open while they are compared: one comparison after the other."""


@router.get("/families/{version_id}/beside", response_class=Response)
def choose(asked: Asked, version_id: VersionId, other: OtherId = None) -> Response:
    """Go to the page of the two versions that were chosen."""
    parts = (version_id,) if other is None else (version_id, "beside", other)
    return RedirectResponse(asked.at("/families", *parts), SEE_OTHER)


@router.get("/families/{version_id}/beside/{other_id}", response_class=HTMLResponse)
def show_versions(asked: Asked, version_id: VersionId, other_id: VersionId) -> Response:
    """Two versions of a family, their faces beside each other, and what differs in the file."""
    older, newer = _in_order(asked, version_id, other_id)
    first, second = (load_version(asked.shop, one.version_id) for one in (older, newer))
    found = _versions(str(first.folder), str(second.folder))
    pair, wrong = (None, found) if isinstance(found, str) else (found, "")
    here = asked.at("/families", version_id, "beside", other_id)
    return asked.page(
        "beside.html",
        family=first,
        kept=version_at(asked.shop, version_id),
        versions=(older, newer),
        pair=pair,
        unit=None,
        wrong=wrong,
        fields=what_changed(asked.shop, older, newer),
        pictures=(f"{here}/first", f"{here}/second"),
        captions=[
            asked.texts("beside.version", name=one.name, number=one.number)
            for one in (older, newer)
        ],
    )


@router.get("/families/{version_id}/beside/{other_id}/{slot}", response_class=Response)
def version_face(asked: Asked, version_id: VersionId, other_id: VersionId, slot: Slot) -> Response:
    """One of the two faces."""
    older, newer = _in_order(asked, version_id, other_id)
    first, second = (load_version(asked.shop, one.version_id) for one in (older, newer))
    found = _versions(str(first.folder), str(second.folder))
    if isinstance(found, str):  # each as it is, since neither lies over the other
        face = (first, second)[SLOTS.index(slot)].face_path
        return _picture(face.read_bytes(), "image/png")
    return _picture(found.first if slot == "first" else found.second)


@router.post("/families/{version_id}/units")
def begin(asked: Asked, version_id: VersionId, sent: Sent) -> Response:
    """Compare a photo of a unit with the family's face, or with a photo of another unit."""
    version_at(asked.shop, version_id)
    store = PairStore(asked.shop)
    pair = store.load(version_id, store.make(version_id))
    return _compared(asked, store, pair, sent)


@router.get("/families/{version_id}/units/{pair_id}", response_class=HTMLResponse)
def show_units(asked: Asked, version_id: VersionId, pair_id: PairId) -> Response:
    """Two units beside each other, or what is to be mended before they can be compared."""
    kept = version_at(asked.shop, version_id)
    family = load_version(asked.shop, version_id)
    unit = PairStore(asked.shop).load(version_id, pair_id)
    here = asked.at("/families", version_id, "units", pair_id)
    own = asked.texts("beside.own_face", name=kept.name, number=kept.number)
    return asked.page(
        "beside.html",
        family=family,
        kept=kept,
        versions=(),
        pair=unit.pair,
        unit=unit,
        wrong=unit.wrongs.get("", ""),
        fields=(),
        pictures=(f"{here}/first", f"{here}/second"),
        captions=[unit.names.get("first", own), unit.names.get("second", "")],
    )


@router.post("/families/{version_id}/units/{pair_id}")
def put(asked: Asked, version_id: VersionId, pair_id: PairId, sent: Sent) -> Response:
    """Put another photo in the place of one, and compare again; the other one stays."""
    store = PairStore(asked.shop)
    return _compared(asked, store, store.load(version_id, pair_id), sent)


@router.get("/families/{version_id}/units/{pair_id}/{slot}", response_class=Response)
def unit_face(asked: Asked, version_id: VersionId, pair_id: PairId, slot: Slot) -> Response:
    """One of the two faces as it was laid flat."""
    store = PairStore(asked.shop)
    content = store.picture(store.load(version_id, pair_id), slot)
    return Response(content, media_type="image/jpeg")  # another photo may take its place


def _compared(asked: Asking, store: PairStore, pair: UnitPair, sent: SentForm) -> Response:
    """Take what a form brings, compare, and go to the page that shows it or says what is wrong."""
    files = {slot: sent.files(slot)[0] for slot in SLOTS if sent.files(slot)}
    if sent.ticked(FACE_ONLY):
        pair = store.take_out(pair, "first")
        files.pop("first", None)
    if files:
        pair = store.put(pair, files)
    if "second" not in pair.names:
        pair = store.say(pair, {"second": asked.texts("beside.missing")})
    else:
        with _comparing:
            pair = store.compare(pair, load_version(asked.shop, pair.version_id))
    where = asked.at("/families", pair.version_id, "units", pair.id)
    return asked.saved(where, id=pair.id, wrongs=pair.wrongs)


def _in_order(asked: Asking, one_id: int, other_id: int) -> tuple[FamilyView, FamilyView]:
    """Two versions, the older one first."""
    one, other = version_at(asked.shop, one_id), version_at(asked.shop, other_id)
    return (one, other) if one.number <= other.number else (other, one)


@lru_cache(VERSION_PAIRS_KEPT)
def _versions(first: str, second: str) -> FacePair | str:
    """A version's folder is named by its content, so what was found stays true; or why not."""
    with _comparing:
        try:
            return version_pair(load_family(Path(first)), load_family(Path(second)))
        except PictureError as error:
            return str(error)


def _picture(content: bytes, kind: str = "image/jpeg") -> Response:
    return Response(content, media_type=kind, headers={"Cache-Control": FOREVER})
