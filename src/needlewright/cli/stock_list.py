"""`needlewright stock import`, `export`: the stock's list as a table."""

from pathlib import Path
from typing import Annotated

import typer

from needlewright.cli import console
from needlewright.cli.shop_options import AsJson, By, ShopFolder, emit_view, say, shop_at
from needlewright.cli.stock_words import import_words
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.stock_table import read_stock, stock_csv
from needlewright.records.stock import stock
from needlewright.records.stock_import import import_stock


def import_(
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="The list.")],
    *,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Take a list in: new parts are added, new batches received, others counted; all or nothing."""
    lines = read_stock(file)
    with shop_at(shop) as opened:
        done = import_stock(opened, lines, file.name, by)
    if as_json:
        emit_view(done)
    else:
        say(import_words(done))


def export(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE.csv]", help="To write; nothing: to be shown.")
    ] = None,
    *,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Write the list as a table, one line for each batch with any left."""
    if file is not None:
        refuse_missing_folder(file)
    with shop_at(shop) as opened:
        parts = stock(opened)
    text = stock_csv(parts)
    if file is not None:
        write_file(file, text.encode())
    if as_json:
        written = None if file is None else str(file)
        console.emit_json({"file": written, "parts": len(parts), "table": text})
    elif file is None:
        say(text.replace("\r\n", "\n").rstrip())
    else:
        say(f"wrote {file}, {len(parts)} parts")


def add_to(app: typer.Typer) -> None:
    """Put these commands into the group."""
    app.command("import")(import_)
    app.command("export")(export)
