"""Shop: who it is and what it works by, its people, instruments, phones and backup."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp
from typing import Final

from fastapi import APIRouter
from starlette.background import BackgroundTask
from starlette.responses import FileResponse, HTMLResponse, Response

from needlewright.composing.shop_catalogue import text_in_use
from needlewright.composing.shop_record import shop_record
from needlewright.errors import NeedlewrightError, NotThereError, UnusableInput
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.plans.catalogue.load import CatalogueText, check_catalogue
from needlewright.records.backup import backup
from needlewright.records.catalogues import catalogues, reset_catalogue, set_catalogue
from needlewright.records.entries import SettingsEntry
from needlewright.records.shop import (
    add_instrument,
    add_person,
    change_instrument,
    change_settings,
    check_shop,
    instruments,
    people,
    person_left,
    settings,
)
from needlewright.records.views import CatalogueView, InstrumentView, ShopCheck
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import Wrong, status_of, wrong_of

SOON_DAYS: Final = 30
TICKED: Final = ("invented",)
TEXTS: Final = tuple(name for name in SettingsEntry.model_fields if name not in TICKED)

router = APIRouter()


@dataclass(frozen=True, slots=True)
class InstrumentLine:
    """An instrument, and how its own calibration stands today."""

    instrument: InstrumentView
    state: str
    """`overdue`, `soon`, `good`, `unknown` or `retired`."""
    days: int | None
    """To the day it is due; negative when that is past."""


@dataclass(frozen=True, slots=True)
class WrongForm:
    """What could not be saved, in which form, and what was typed there."""

    form: str = ""
    wrong: Wrong | None = None
    typed: SentForm = field(default_factory=SentForm)

    def at(self, form: str) -> Wrong | None:
        """What is wrong in a form, if it is this one."""
        return self.wrong if form == self.form else None

    def beside(self, form: str, name: str) -> str:
        """What is wrong with a field of a form."""
        wrong = self.at(form)
        return "" if wrong is None else wrong.fields.get(name, "")

    def above(self, form: str, *shown: str) -> Wrong | None:
        """What is wrong in a form that is not said beside one of the fields it shows."""
        wrong = self.at(form)
        return None if wrong is not None and set(wrong.fields) & set(shown) else wrong

    def value(self, form: str, name: str, kept: object) -> object:
        """What a field shows: as typed where that could not be saved, else as kept."""
        typed = self.typed.maybe(name) if form == self.form else None
        return ("" if kept is None else kept) if typed is None else typed


@router.get("/shop", response_class=HTMLResponse)
def show(asked: Asked) -> Response:
    """Everything of the shop."""
    return _page(asked)


@router.post("/shop/settings")
def save_settings(asked: Asked, sent: Sent) -> Response:
    """Save who the shop is."""
    changes: dict[str, object] = dict(sent.stated(*TEXTS))
    if sent.maybe("has_invented") is not None:
        changes["invented"] = sent.ticked("invented")
    seen = sent.text("seen")
    return _saving(
        asked,
        sent,
        "settings",
        lambda: change_settings(
            asked.shop, changes, seen=int(seen) if seen.isdecimal() and len(seen) < 10 else None
        ),
    )


@router.post("/shop/people")
def save_person(asked: Asked, sent: Sent) -> Response:
    """Add somebody; whoever adds the first is at work."""
    name = sent.text("name")
    return _saving(asked, sent, "people", lambda: add_person(asked.shop, name))


@router.post("/shop/people/{name}/left")
def save_left(asked: Asked, sent: Sent, name: Tag) -> Response:
    """Say that somebody works here no more."""
    return _saving(asked, sent, "people", lambda: person_left(asked.shop, name))


@router.post("/shop/people/{name}/back")
def save_back(asked: Asked, sent: Sent, name: Tag) -> Response:
    """Say that somebody works here again."""
    return _saving(asked, sent, "people", lambda: add_person(asked.shop, name))


@router.post("/shop/instruments")
def save_instrument(asked: Asked, sent: Sent) -> Response:
    """Add an instrument."""
    return _saving(
        asked,
        sent,
        "instrument-new",
        lambda: add_instrument(
            asked.shop,
            sent.text("name"),
            sent.text("number"),
            sent.text("due"),
            sent.text("traceable_to"),
        ),
    )


@router.post("/shop/instruments/{number}")
def save_instrument_changes(asked: Asked, sent: Sent, number: Tag) -> Response:
    """Change an instrument."""
    changes: dict[str, object] = dict(sent.stated("name", "number", "due", "traceable_to"))
    if sent.maybe("has_retired") is not None:
        changes["retired"] = sent.ticked("retired")
    return _saving(
        asked,
        sent,
        f"instrument-{number}",
        lambda: change_instrument(asked.shop, number, changes),
    )


@router.post("/shop/check", response_class=HTMLResponse)
def check(asked: Asked) -> Response:
    """Verify the database and every original."""
    return _page(asked, checked=check_shop(asked.shop))


@router.post("/shop/backup", response_class=FileResponse)
def download_backup(asked: Asked, sent: Sent) -> Response:
    """One file with everything; every hash in it has been verified."""
    folder = Path(mkdtemp(prefix="needlewright-backup-"))
    name = f"needlewright-{asked.shop.now().astimezone():%Y-%m-%d-%H%M}.zip"
    try:
        backup(asked.shop, folder / name)
    except NeedlewrightError as error:
        rmtree(folder, ignore_errors=True)
        if asked.is_script:
            raise
        return _page(asked, WrongForm("backup", wrong_of(error), sent), status_of(error))
    except BaseException:
        rmtree(folder, ignore_errors=True)
        raise
    return FileResponse(
        folder / name,
        media_type="application/zip",
        filename=name,
        background=BackgroundTask(rmtree, folder, ignore_errors=True),
        headers={"Cache-Control": "no-store"},
    )


@router.get("/shop/catalogue.toml", response_class=Response)
def download_catalogue(asked: Asked) -> Response:
    """The catalogue plans are made with, as it is written."""
    text = text_in_use(asked.shop)
    return Response(
        text.content,
        media_type="application/toml",
        headers={
            "Content-Disposition": 'attachment; filename="catalogue.toml"',
            "Cache-Control": "no-store",
        },
    )


@router.post("/shop/catalogue")
def save_catalogue(asked: Asked, sent: Sent) -> Response:
    """Plan with the shop's own catalogue from now on; what is wrong with it is said."""

    def save() -> CatalogueView:
        files = sent.files("file")
        if not files:
            raise UnusableInput(asked.texts("shop.catalogue.none"))
        return _take(asked, files[0].name or "catalogue.toml", files[0].content())

    return _saving(asked, sent, "catalogue", save)


@router.post("/shop/catalogue/again")
def save_older_catalogue(asked: Asked, sent: Sent) -> Response:
    """Plan with one of those before again."""

    def save() -> CatalogueView:
        older = {one.sha256: one for one in catalogues(asked.shop) if one.sha256 is not None}
        one = older.get(sent.text("sha256"))
        if one is None or one.sha256 is None:
            raise NotThereError(asked.texts("shop.catalogue.gone"))
        return _take(asked, one.name, asked.shop.originals.read(one.sha256))

    return _saving(asked, sent, "catalogue", save)


@router.post("/shop/catalogue/shipped")
def save_shipped_catalogue(asked: Asked, sent: Sent) -> Response:
    """Plan with what comes with the program again."""
    return _saving(asked, sent, "catalogue", lambda: reset_catalogue(asked.shop, asked.by))


def _take(asked: Asking, name: str, content: bytes) -> CatalogueView:
    check_catalogue(CatalogueText(name, content), load_knowledge(None))
    return set_catalogue(asked.shop, name, content, asked.by)


def instrument_line(instrument: InstrumentView, today: date) -> InstrumentLine:
    """How an instrument stands.

    Parameters
    ----------
    instrument
        As kept.
    today
        Where the shop is.

    Returns
    -------
    InstrumentLine
        Due on the day itself is not overdue yet.
    """
    if instrument.retired:
        return InstrumentLine(instrument, "retired", None)
    if instrument.due is None:
        return InstrumentLine(instrument, "unknown", None)
    days = (instrument.due - today).days
    state = "overdue" if days < 0 else "soon" if days <= SOON_DAYS else "good"
    return InstrumentLine(instrument, state, days)


def _saving(asked: Asking, sent: SentForm, form: str, save: Callable[[], object]) -> Response:
    try:
        kept = save()
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        return _page(asked, WrongForm(form, wrong_of(error), sent), status_of(error))
    where = f"/shop#{'instruments' if form.startswith('instrument') else form}"
    return asked.saved(where, version=getattr(kept, "version", None))


def _page(
    asked: Asking,
    wrong: WrongForm | None = None,
    status: int = 200,
    checked: ShopCheck | None = None,
) -> HTMLResponse:
    today = asked.shop.now().astimezone().date()
    return asked.page(
        "shop.html",
        status,
        settings=settings(asked.shop),
        people=people(asked.shop),
        lines=[instrument_line(one, today) for one in instruments(asked.shop)],
        wrong=wrong or WrongForm(),
        checked=checked,
        record=shop_record(asked.shop),
        catalogues=catalogues(asked.shop),
    )
