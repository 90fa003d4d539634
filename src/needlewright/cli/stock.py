"""`needlewright stock`: parts, their batches, and which jobs they went into."""

from pathlib import Path
from typing import Annotated, Any

import typer

from needlewright.cli import console, stock_list, stock_moves
from needlewright.cli.shop_options import AsJson, By, ShopFolder, emit_view, plain, shop_at
from needlewright.cli.stock_options import Code, Currency, Price
from needlewright.cli.stock_words import (
    show_batches,
    show_ledger,
    show_needed,
    show_part,
    show_parts,
    show_to_reorder,
)
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.stock import needed_in_job, parts_with, to_reorder
from needlewright.composing.stock_batches import batch_record, batch_records
from needlewright.composing.stock_catalogue import add_catalogue_parts
from needlewright.papers.part_label import part_label_pdf
from needlewright.records.shop import settings
from needlewright.records.stock import stock, stock_part
from needlewright.records.stock_history import ledger
from needlewright.records.stock_parts import add_part, change_part
from needlewright.records.views.stock import StockPartView

app = typer.Typer(
    help="Parts in stock: what there is, what came, and what went into which job.",
    no_args_is_help=True,
)

What = Annotated[str | None, typer.Option("--words", metavar="TEXT", help="What it is.")]
Unit = Annotated[str | None, typer.Option(metavar="TEXT", help="What is counted; else pieces.")]
ReorderPoint = Annotated[
    str | None,
    typer.Option(metavar="N", help="To be ordered with N left or fewer; empty: never by itself."),
]
Shelf = Annotated[str | None, typer.Option("--place", metavar="TEXT", help="Where it lies.")]


@app.command("list")
def list_(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="[WORDS]", help="Each in code, words, place or a batch's mark."),
    ] = None,
    *,
    retired: Annotated[
        bool, typer.Option("--retired", help="Parts that are kept no more as well.")
    ] = False,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """List the parts in stock."""
    with shop_at(shop) as opened:
        parts = parts_with(stock(opened, retired=retired), " ".join(words or ()))
    if as_json:
        console.emit_json({"parts": [plain(one) for one in parts]})
    else:
        show_parts(parts)


@app.command("add")
def add(
    code: Annotated[
        str,
        typer.Argument(
            metavar="PART", help="Its id in the catalogue of operations, or your own code."
        ),
    ],
    *,
    words: What = None,
    unit: Unit = None,
    reorder_point: ReorderPoint = None,
    place: Shelf = None,
    price: Price = None,
    currency: Currency = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Add a part, with none on hand yet."""
    typed = _stated(
        words=words,
        unit=unit,
        reorder_point=reorder_point,
        place=place,
        price=price,
        currency=currency,
    )
    with shop_at(shop) as opened:
        _part_out(add_part(opened, {"code": code, **typed}, by), as_json)


@app.command("add-catalogue")
def add_catalogue(*, by: By = None, shop: ShopFolder = None, as_json: AsJson = False) -> None:
    """Add every part plans may need that is not there yet, with none on hand."""
    with shop_at(shop) as opened:
        add_catalogue_parts(opened, by)
        parts = stock(opened)
    if as_json:
        console.emit_json({"parts": [plain(one) for one in parts]})
    else:
        show_parts(parts)


@app.command("change")
def change(
    part: Code,
    *,
    code: Annotated[
        str | None, typer.Option(metavar="PART", help="Another code, from now on.")
    ] = None,
    words: What = None,
    unit: Unit = None,
    reorder_point: ReorderPoint = None,
    place: Shelf = None,
    price: Price = None,
    currency: Currency = None,
    retired: Annotated[
        bool | None, typer.Option("--retired/--kept", help="Kept no more, or kept again.")
    ] = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Change what is said of a part; what is not named stays."""
    typed = _stated(
        code=code,
        words=words,
        unit=unit,
        reorder_point=reorder_point,
        place=place,
        price=price,
        currency=currency,
        retired=retired,
    )
    with shop_at(shop) as opened:
        _part_out(change_part(opened, part, typed, by), as_json)


stock_moves.add_to(app)


@app.command("history")
def history(part: Code, *, shop: ShopFolder = None, as_json: AsJson = False) -> None:
    """Show the ledger of a part: who took or brought what, when and why."""
    with shop_at(shop) as opened:
        kept, lines = stock_part(opened, part), ledger(opened, part)
    if as_json:
        console.emit_json({"part": plain(kept), "moves": [plain(one) for one in lines]})
    else:
        show_ledger(kept, lines)


@app.command("reorder")
def reorder(*, shop: ShopFolder = None, as_json: AsJson = False) -> None:
    """List what is to be ordered, with what accepted plans still need."""
    with shop_at(shop) as opened:
        listed = to_reorder(opened)
    if as_json:
        console.emit_json({"parts": [plain(one) for one in listed]})
    else:
        show_to_reorder(listed)


@app.command("batch")
def batch(
    part: Code,
    mark: Annotated[
        str | None, typer.Argument(metavar="[MARK]", help="Of one batch; nothing: of all.")
    ] = None,
    *,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Show which jobs have parts of a batch, and how many of those came back."""
    with shop_at(shop) as opened:
        records = (
            batch_records(opened, part) if mark is None else (batch_record(opened, part, mark),)
        )
    if as_json:
        console.emit_json({"batches": [plain(one) for one in records]})
    else:
        show_batches(records)


@app.command("needs")
def needs(
    tag: Annotated[str, typer.Argument(metavar="TAG", help="The job's tag.")],
    *,
    option: Annotated[
        str | None,
        typer.Option(metavar="ID", help="Of its plan; else what was accepted, or recommended."),
    ] = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Hold what a job's plan needs against the stock."""
    with shop_at(shop) as opened:
        needed = needed_in_job(opened, tag, option)
    if as_json:
        emit_view(needed)
    else:
        show_needed(needed)


@app.command("label")
def label(
    part: Code,
    *,
    out: Annotated[Path, typer.Option(metavar="FILE.pdf", help="The label, to write.")],
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Write the label of a part's drawer, with its code as a QR code."""
    refuse_missing_folder(out)
    with shop_at(shop) as opened:
        kept, said = stock_part(opened, part), settings(opened)
        day = opened.now().astimezone().date()
    banner = "invented, for demonstration" if said.invented else ""
    write_file(
        out, part_label_pdf(kept.code, kept.words, kept.place, said.name, day, banner=banner)
    )
    if as_json:
        console.emit_json({"part": plain(kept), "file": str(out)})
    else:
        console.out.print(f"wrote {out}", markup=False)


stock_list.add_to(app)


def _stated(**typed: Any) -> dict[str, Any]:
    return {name: value for name, value in typed.items() if value is not None}


def _part_out(part: StockPartView, as_json: bool) -> None:
    emit_view(part) if as_json else show_part(part)
