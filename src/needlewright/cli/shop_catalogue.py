"""`needlewright shop catalogue`: the operations, parts and prices the shop plans with."""

from pathlib import Path
from typing import Annotated

import typer

from needlewright.cli import console
from needlewright.cli.job_words import moment_words
from needlewright.cli.shop_options import AsJson, By, ShopFolder, plain, say, shop_at
from needlewright.cli.written import refuse_missing_folder, write_file
from needlewright.composing.shop_catalogue import take_catalogue, text_in_use
from needlewright.plans.catalogue.load import CatalogueText
from needlewright.records.catalogues import catalogues, reset_catalogue
from needlewright.records.opening import Shop
from needlewright.records.views import CatalogueView

app = typer.Typer(
    help="The catalogue of operations the shop plans with: its own, or the program's.",
    no_args_is_help=True,
)


@app.command("show")
def show(
    *,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE.toml", help="Write the text to a file, to be edited and set."),
    ] = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Say which catalogue the shop plans with, and those before it; write its text to a file."""
    if out is not None:
        refuse_missing_folder(out)
    with shop_at(shop) as opened:
        text, found = text_in_use(opened), catalogues(opened)
    if out is not None:
        write_file(out, text.content)
    _say(text, found, out, as_json)


@app.command("set")
def put(
    file: Annotated[Path, typer.Argument(metavar="FILE.toml", help="The catalogue.")],
    *,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Plan with this catalogue from now on; it is checked first and kept whole."""
    with shop_at(shop) as opened:
        take_catalogue(opened, file, by)
        _say_now(opened, as_json)


@app.command("reset")
def reset(*, by: By = None, shop: ShopFolder = None, as_json: AsJson = False) -> None:
    """Plan with the catalogue that comes with the program again; the shop's own stay kept."""
    with shop_at(shop) as opened:
        reset_catalogue(opened, by)
        _say_now(opened, as_json)


def _say_now(shop: Shop, as_json: bool) -> None:
    _say(text_in_use(shop), catalogues(shop), None, as_json)


def _say(
    text: CatalogueText, found: tuple[CatalogueView, ...], out: Path | None, as_json: bool
) -> None:
    is_own = bool(found) and found[0].sha256 is not None
    if as_json:
        console.emit_json(
            {
                "name": text.name,
                "sha256": text.sha256,
                "is_own": is_own,
                "set": [plain(one) for one in found],
                "file": None if out is None else str(out),
            }
        )
        return
    whose = "the shop's own" if is_own else "comes with the program"
    say(f"planned with: {text.name} ({whose}), {text.sha256[:12]}")
    for one in found:
        which = one.name if one.sha256 is None else f"{one.name}, {one.sha256[:12]}"
        say(f"    since {moment_words(one.at)} ({one.by}): {which}")
    if out is not None:
        say(f"text written to {out}")
