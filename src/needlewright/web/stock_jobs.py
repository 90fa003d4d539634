"""The parts of one job: what it used, of which batch, given back, and one more."""

from collections.abc import Callable

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.composing.undoing import undo_last
from needlewright.errors import ConflictError, NeedlewrightError
from needlewright.records.sheet import job_sheet
from needlewright.records.stock import give_back, parts_of_job, use_part
from needlewright.records.views.stock import UsedPartView
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.session_pages import own_path
from needlewright.web.sheet_view import SheetView
from needlewright.web.shop import WrongForm
from needlewright.web.stock_view import JobStock, is_of_stock

router = APIRouter()


@router.get("/jobs/{tag}/stock", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag) -> Response:
    """What a job used, and what more it can take."""
    return _page(asked, tag)


@router.post("/jobs/{tag}/stock/use")
def save_use(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Use a part in the job; the form's `next` says where to go on."""
    return _saving(
        asked,
        sent,
        tag,
        "use",
        lambda: use_part(
            asked.shop,
            tag,
            sent.text("part"),
            sent.text("count") or 1,
            asked.by,
            batch=_batch(sent),
            why=sent.text("why"),
            seen=line_seen(sent),
        ),
    )


@router.post("/jobs/{tag}/stock/undo")
def undo(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Take back what was saved last, where it is of the job's parts, and stay here."""

    def save() -> tuple[UsedPartView, ...]:
        last = SheetView(asked.shop, asked.texts, tag).undoable
        if last is None or not is_of_stock(last.what):
            what = "" if last is None else last.what
            raise ConflictError(asked.texts("stock.job.other", what=what))
        undo_last(asked.shop, tag, asked.by)
        return parts_of_job(asked.shop, tag)

    return _saving(asked, sent, tag, "undo", save)


@router.post("/jobs/{tag}/stock/give-back")
def save_give_back(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Put parts of the job back into stock."""
    return _saving(
        asked,
        sent,
        tag,
        "used",
        lambda: give_back(
            asked.shop,
            tag,
            sent.text("part"),
            sent.text("count") or 1,
            asked.by,
            batch=_batch(sent),
            why=sent.text("why"),
            seen=line_seen(sent),
        ),
    )


def line_seen(sent: SentForm) -> int | None:
    """Newest line of the stock's ledger a form was made by; none where it carries none."""
    seen = sent.text("stock_seen") or sent.text("seen")
    return int(seen) if seen.isdecimal() and len(seen) < 10 else None


def _saving(
    asked: Asking,
    sent: SentForm,
    tag: str,
    form: str,
    save: Callable[[], tuple[UsedPartView, ...]],
) -> Response:
    try:
        used = save()
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        return _page(asked, tag, WrongForm(form, wrong_of(error), sent), status_of(error))
    where = own_path(sent.text("next")) if sent.text("next") else asked.at("/jobs", tag, "stock")
    return asked.saved(where, used=sum(one.count for one in used))


def _page(
    asked: Asking, tag: str, wrong: WrongForm | None = None, status: int = 200
) -> HTMLResponse:
    last = SheetView(asked.shop, asked.texts, tag).undoable
    return asked.page(
        "stock_job.html",
        status,
        last=last,
        undoes=last is not None and is_of_stock(last.what),
        stocked=JobStock(asked.shop, job_sheet(asked.shop, tag)),
        wrong=wrong or WrongForm(),
    )


def _batch(sent: SentForm) -> int | str | None:
    """A delivery by its number, or a mark that was typed; empty: the oldest, or the newest."""
    text = sent.text("batch_id")
    if text.isdecimal() and len(text) < 10:
        return int(text)
    return sent.text("batch").strip() or None
