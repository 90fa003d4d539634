"""Families: the cluster designs the shop keeps, with their drawn faces."""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from itertools import zip_longest
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import BoundedSemaphore
from typing import Final

from fastapi import APIRouter
from PIL import Image
from starlette.responses import HTMLResponse, Response

from needlewright.composing.family_facts import marked_face, scale_marks
from needlewright.errors import FamilyError, NeedlewrightError
from needlewright.families.folder import FACE_FILE, FAMILY_FILE, check_family, load_family
from needlewright.families.model import Dial, Family
from needlewright.papers.dial_blocks import rule_words
from needlewright.proofs.verdicts import rule_of
from needlewright.records.families import families, keep_family, load_version, version_at
from needlewright.records.family_versions import family_versions
from needlewright.records.views import FamilyView
from needlewright.web import families_beside, families_travel
from needlewright.web.families_changes import what_changed
from needlewright.web.families_travel import VersionId
from needlewright.web.originals import FOREVER
from needlewright.web.pages import Asked, Asking
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import Wrong, status_of, wrong_of

LARGE_PX: Final = 2000
SMALL_PX: Final = 960
"""Longer sides of the drawn faces."""

PICTURES_KEPT: Final = 60

TYPED: Final = ("form", "as", "note", "new_version")
"""Fields that are put back where what was sent was refused."""
router = APIRouter()
router.include_router(families_travel.router)
router.include_router(families_beside.router)
_drawing = BoundedSemaphore(2)


@dataclass(frozen=True, slots=True)
class FamilyLine:
    """A family as the list shows it."""

    kept: FamilyView
    family: Family | None
    wrong: Wrong | None
    """Why it cannot be used by this program."""


@dataclass(frozen=True, slots=True)
class VersionLine:
    """A version as a family's page lists it."""

    kept: FamilyView
    before: FamilyView | None
    """The version before it."""
    new: tuple[str, ...]
    """What it changed of that one."""


@router.get("/families", response_class=HTMLResponse)
def show_all(asked: Asked) -> Response:
    """Every family the shop keeps."""
    return _list_page(asked)


@router.post("/families")
def add(asked: Asked, sent: Sent) -> Response:
    """Keep a family out of its two files, or out of the one it travels in."""
    try:
        packed = families_travel.is_taken_in(sent)
        kept = families_travel.taken_in(asked, sent) if packed else _keep(asked, sent)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        typed = {name: sent.text(name) for name in TYPED}
        return _list_page(asked, status_of(error), wrong_of(error), typed)
    return asked.saved(asked.at("/families", kept.version_id), version_id=kept.version_id)


@router.get("/families/{version_id}", response_class=HTMLResponse)
def show(asked: Asked, version_id: VersionId) -> Response:
    """One family: its face with what the file says drawn over it, and what it says in words."""
    kept = version_at(asked.shop, version_id)
    family = load_version(asked.shop, version_id)
    return asked.page(
        "family.html",
        family=family,
        version_id=version_id,
        kept=kept,
        versions=_version_lines(asked, family_versions(asked.shop, kept.name)),
        marks={dial.id: scale_marks(dial) for dial in family.dials},
        programmes={dial.id: _programme(dial) for dial in family.dials},
        rules={dial.id: _rule(dial) for dial in family.dials},
        remarks=_remarks(family),
    )


@router.get("/families/{version_id}/marks", response_class=Response)
def marks(asked: Asked, version_id: VersionId) -> Response:
    """The face with its dials drawn over it."""
    return _picture(load_version(asked.shop, version_id), LARGE_PX)


@router.get("/families/{version_id}/marks/small", response_class=Response)
def small_marks(asked: Asked, version_id: VersionId) -> Response:
    """The same at the size of a list."""
    return _picture(load_version(asked.shop, version_id), SMALL_PX, with_key=False)


def _list_page(
    asked: Asking,
    status: int = 200,
    wrong: Wrong | None = None,
    typed: dict[str, str] | None = None,
) -> HTMLResponse:
    lines = [_line(asked, kept) for kept in families(asked.shop)]
    typed = typed or dict.fromkeys(TYPED, "")
    return asked.page("families.html", status, lines=lines, wrong=wrong, typed=typed)


def _version_lines(asked: Asking, versions: Sequence[FamilyView]) -> list[VersionLine]:
    """Every version, the newest first, with what it changed of the one before it."""
    lines = []
    for kept, before in zip_longest(versions, versions[1:]):
        new = () if before is None else what_changed(asked.shop, before, kept)
        lines.append(VersionLine(kept, before, new))
    return lines


def _line(asked: Asking, kept: FamilyView) -> FamilyLine:
    try:
        return FamilyLine(kept, load_version(asked.shop, kept.version_id), None)
    except NeedlewrightError as error:
        return FamilyLine(kept, None, wrong_of(error))


def _keep(asked: Asking, sent: SentForm) -> FamilyView:
    """Under names of our own: what the sender called the files reaches no path."""
    with TemporaryDirectory(prefix="needlewright-family-") as made:
        folder = Path(made) / "family"
        folder.mkdir()
        for field, name in (("family", FAMILY_FILE), ("face", FACE_FILE)):
            files = sent.files(field)
            if not files:
                raise FamilyError(asked.texts("families.add.missing", name=name))
            (folder / name).write_bytes(files[0].content())
        try:
            return keep_family(asked.shop, folder, asked.by, note=sent.text("note"))
        except FamilyError as error:
            said = str(error).replace(f"{folder}{os.sep}", "").replace(str(folder), "family")
            raise FamilyError(said) from error


def _remarks(family: Family) -> list[tuple[str, list[str]]]:
    """What the file leaves to defaults, once for all the dials it is said of."""
    said: dict[str, list[str]] = {}
    for note in check_family(family.folder):
        if note.kind == "remark":
            subjects = said.setdefault(note.words, [])
            subjects += [note.subject.removeprefix("dial ").strip("'")] if note.subject else []
    return list(said.items())


def _programme(dial: Dial) -> list[tuple[float, float]]:
    return list(zip(dial.programme.true_values, dial.programme.shown_values, strict=True))


def _rule(dial: Dial) -> str:
    rule = rule_of(dial)
    return "" if rule is None else rule_words({"title": rule.title, "formula": rule.formula})


def _picture(family: Family, side_px: int, *, with_key: bool = True) -> Response:
    content = _drawn(str(family.folder), side_px, with_key)
    return Response(content, media_type="image/jpeg", headers={"Cache-Control": FOREVER})


@lru_cache(PICTURES_KEPT)
def _drawn(folder: str, side_px: int, with_key: bool) -> bytes:
    """A version's folder is named by its content, so what was drawn from it stays true."""
    family = load_family(Path(folder))
    with _drawing:
        picture = Image.fromarray(marked_face(family))
    if not with_key:  # a list has no room for the words under the face
        width, height = family.face_size_mm
        picture = picture.crop((0, 0, picture.width, round(picture.width * height / width)))
    picture.thumbnail((side_px, side_px), Image.Resampling.LANCZOS)
    out = BytesIO()
    picture.save(out, "JPEG", quality=90, subsampling=0)
    return out.getvalue()
