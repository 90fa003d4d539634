"""`needlewright shop guides`: guides for the operations of a shop's own catalogue."""

from pathlib import Path
from typing import Annotated

import typer

from needlewright.cli import console
from needlewright.cli.answers_text import read_small
from needlewright.cli.job_words import moment_words
from needlewright.cli.shop_options import AsJson, By, ShopFolder, plain, say, shop_at
from needlewright.composing.own_guides import keep_shop_guide
from needlewright.records.shop_guides import drop_guide, shop_guides


def guides(
    files: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[FILE.toml]...", help="To keep, each by its file's name."),
    ] = None,
    *,
    drop: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="Leave one out from now on.")
    ] = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """List the shop's own guides, keep some, or leave some out; every text stays on record.

    An operation of the shop's catalogue names its guide. It is checked by the rules of the
    program's guides, stands in the place of one that is called so, and has to fit one sheet.
    """
    read = [(path.stem, read_small(path)) for path in files or ()]
    with shop_at(shop) as opened:
        for name, content in read:
            keep_shop_guide(opened, name, content, by)
        for name in drop or ():
            drop_guide(opened, name, by)
        found = shop_guides(opened)
    if as_json:
        console.emit_json({"guides": [plain(one) for one in found]})
        return
    for one in found:
        say(f"{one.name}  {one.by}, {moment_words(one.at)}")
    if not found:
        say("the shop has no guides of its own; needlewright shop guides FILE.toml keeps one")


def add_to(app: typer.Typer) -> None:
    """Put the command into the group."""
    app.command("guides")(guides)
