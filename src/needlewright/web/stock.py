"""Stock: the parts of the shop, what came and went, and where it is now."""

from collections.abc import Callable
from datetime import date
from typing import Final

from fastapi import APIRouter
from starlette.responses import HTMLResponse, Response

from needlewright.composing.stock_catalogue import add_catalogue_parts
from needlewright.composing.stock_table import stock_csv, stock_lines
from needlewright.errors import NeedlewrightError, RecordError
from needlewright.papers.part_label import part_label_pdf
from needlewright.records.shop import settings
from needlewright.records.stock import (
    count_stock,
    receive,
    scrap,
    stock,
    stock_part,
    take_back,
    use_part,
)
from needlewright.records.stock_import import import_stock
from needlewright.records.stock_parts import add_part, change_batch, change_part
from needlewright.records.views.stock import StockPartView
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentForm
from needlewright.web.refusals import status_of, wrong_of
from needlewright.web.shop import WrongForm
from needlewright.web.stock_view import FOLDS, StockList, StockPartPage

PLACE: Final = "/shop/stock"
PART_FIELDS: Final = ("code", "words", "unit", "reorder_point", "place", "price", "currency")
BATCH_FIELDS: Final = ("mark", "received_on", "note", "price", "currency")
LARGEST: Final = 10**9

router = APIRouter()


@router.get("/shop/stock", response_class=HTMLResponse)
def show(asked: Asked, q: str = "", retired: str = "", done: str = "") -> Response:
    """Every part, what is to be ordered, and the list as a table."""
    return _list_page(asked, q, with_retired=bool(retired), done=done)


@router.post("/shop/stock")
def save_new(asked: Asked, sent: Sent) -> Response:
    """Add a part."""
    typed = sent.stated(*PART_FIELDS)
    return _saving(asked, sent, "new", lambda: add_part(asked.shop, typed, asked.by))


@router.post("/shop/stock-catalogue")
def save_catalogue(asked: Asked, sent: Sent) -> Response:
    """Add every part of the catalogue that is not there yet."""
    try:
        done = add_catalogue_parts(asked.shop, asked.by)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongForm("catalogue", wrong_of(error), sent)
        return _list_page(asked, wrong=wrong, status=status_of(error))
    return asked.saved(PLACE, parts=done.parts_new)


@router.get("/shop/stock-list.csv", response_class=Response)
def download(asked: Asked) -> Response:
    """The list as a table."""
    return Response(
        stock_csv(stock(asked.shop)),
        media_type="text/csv; charset=utf-8",
        headers={
            "Content-Disposition": f'attachment; filename="stock-{_today(asked)}.csv"',
            "Cache-Control": "no-store",
        },
    )


@router.post("/shop/stock-list")
def take_in(asked: Asked, sent: Sent) -> Response:
    """Take a table in, all of it or nothing."""
    try:
        files = sent.files("file")
        if not files:
            raise RecordError("no file was chosen; choose the list, a CSV file")
        lines = stock_lines(files[0].name, files[0].content())
        done = import_stock(asked.shop, lines, files[0].name, asked.by)
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong = WrongForm("list", wrong_of(error), sent)
        return _list_page(asked, wrong=wrong, status=status_of(error))
    counts = (done.parts_new, done.parts_changed, done.batches_received, done.batches_counted)
    said = "-".join(map(str, counts))
    return asked.saved(f"{PLACE}?done={said}#list", lines=done.lines)


@router.get("/shop/stock/{part}", response_class=HTMLResponse)
def show_part(asked: Asked, part: Tag, do: str = "", ledger: str = "") -> Response:
    """One part with its batches and its ledger."""
    return _part_page(asked, part, do, whole=ledger == "all")


@router.get("/shop/stock/{part}/label", response_class=Response)
def label(asked: Asked, part: Tag) -> Response:
    """The label of its drawer."""
    kept, said = stock_part(asked.shop, part), settings(asked.shop)
    banner = asked.texts("stock.label_invented") if said.invented else ""
    pdf = part_label_pdf(kept.code, kept.words, kept.place, said.name, _today(asked), banner=banner)
    return Response(
        pdf,
        media_type="application/pdf",
        headers={
            "Content-Disposition": 'inline; filename="drawer.pdf"',
            "Cache-Control": "no-store",
        },
    )


@router.post("/shop/stock/{part}/change")
def save_change(asked: Asked, sent: Sent, part: Tag) -> Response:
    """Change what is said of a part."""
    changes: dict[str, object] = dict(sent.stated(*PART_FIELDS))
    if sent.maybe("has_retired") is not None:
        changes["retired"] = sent.ticked("retired")
    return _saving(
        asked,
        sent,
        "change",
        lambda: change_part(asked.shop, part, changes, asked.by, seen=_whole(sent, "seen")),
        part,
    )


@router.post("/shop/stock/{part}/receive")
def save_receive(asked: Asked, sent: Sent, part: Tag) -> Response:
    """Take a delivery in."""
    return _saving(
        asked,
        sent,
        "receive",
        lambda: receive(
            asked.shop,
            part,
            sent.text("count"),
            sent.text("mark"),
            asked.by,
            received_on=sent.text("received_on"),
            note=sent.text("note"),
            price=sent.text("price"),
            currency=sent.text("currency"),
            seen=_whole(sent, "seen"),
        ),
        part,
    )


@router.post("/shop/stock/{part}/count")
def save_count(asked: Asked, sent: Sent, part: Tag) -> Response:
    """Put what was counted in place of what the ledger says."""
    return _saving(
        asked,
        sent,
        "count",
        lambda: count_stock(
            asked.shop,
            part,
            sent.text("count"),
            sent.text("why"),
            asked.by,
            batch=_whole(sent, "batch"),
            seen=_whole(sent, "seen"),
        ),
        part,
    )


@router.post("/shop/stock/{part}/scrap")
def save_scrap(asked: Asked, sent: Sent, part: Tag) -> Response:
    """Throw parts away."""
    return _saving(
        asked,
        sent,
        "scrap",
        lambda: scrap(
            asked.shop,
            part,
            sent.text("count"),
            sent.text("why"),
            asked.by,
            batch=_whole(sent, "batch"),
            seen=_whole(sent, "seen"),
        ),
        part,
    )


@router.post("/shop/stock/{part}/use")
def save_use(asked: Asked, sent: Sent, part: Tag) -> Response:
    """Use parts in a job."""

    def save() -> StockPartView:
        use_part(
            asked.shop,
            sent.text("tag"),
            part,
            sent.text("count"),
            asked.by,
            batch=_whole(sent, "batch"),
            why=sent.text("why"),
            seen=_whole(sent, "seen"),
        )
        return stock_part(asked.shop, part)

    return _saving(asked, sent, "use", save, part)


@router.post("/shop/stock/{part}/lines/{line_id}/back")
def save_back(asked: Asked, sent: Sent, part: Tag, line_id: int) -> Response:
    """Take a line of the ledger back."""
    return _saving(
        asked, sent, "ledger", lambda: take_back(asked.shop, line_id, asked.by, part=part), part
    )


@router.post("/shop/stock/{part}/batches/{batch_id}")
def save_batch(asked: Asked, sent: Sent, part: Tag, batch_id: int) -> Response:
    """Correct what is said of a delivery."""
    typed = sent.stated(*BATCH_FIELDS)
    return _saving(
        asked,
        sent,
        f"batch-{batch_id}",
        lambda: change_batch(asked.shop, batch_id, typed, asked.by, part=part),
        part,
    )


def _saving(
    asked: Asking,
    sent: SentForm,
    form: str,
    save: Callable[[], StockPartView],
    part: str | None = None,
) -> Response:
    """Save; what cannot be saved stays where it was typed, with the sentence beside it."""
    try:
        kept = save()
    except NeedlewrightError as error:
        if asked.is_script:
            raise
        wrong, status = WrongForm(form, wrong_of(error), sent), status_of(error)
        if part is None:
            return _list_page(asked, wrong=wrong, status=status)
        return _part_page(asked, part, form, wrong, status)
    where = "batches" if form.startswith("batch") else "ledger" if form == "ledger" else "part"
    return asked.saved(f"{asked.at(PLACE, kept.code)}#{where}", on_hand=kept.on_hand)


def _list_page(
    asked: Asking,
    words: str = "",
    *,
    with_retired: bool = False,
    done: str = "",
    wrong: WrongForm | None = None,
    status: int = 200,
) -> HTMLResponse:
    counts = [int(n) for n in done.split("-") if n.isdecimal() and len(n) < 7]
    return asked.page(
        "stock.html",
        status,
        shown=StockList(asked.shop, words[:200], with_retired),
        wrong=wrong or WrongForm(),
        done=counts if len(counts) == 4 else None,
    )


def _part_page(
    asked: Asking,
    part: str,
    opened: str,
    wrong: WrongForm | None = None,
    status: int = 200,
    *,
    whole: bool = False,
) -> HTMLResponse:
    return asked.page(
        "stock_part.html",
        status,
        shown=StockPartPage(asked.shop, part, opened if opened in FOLDS else "", whole),
        wrong=wrong or WrongForm(),
        today=_today(asked),
    )


def _whole(sent: SentForm, name: str) -> int | None:
    """A number a form carries unseen, or chose; none where it is none."""
    text = sent.text(name)
    return int(text) if text.isdecimal() and len(text) < len(str(LARGEST)) else None


def _today(asked: Asking) -> date:
    return asked.shop.now().astimezone().date()
