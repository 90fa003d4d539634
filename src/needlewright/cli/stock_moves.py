"""`needlewright stock receive`, `count`, `scrap`, `use`, `give-back`, `take-back`: what moves."""

import re
from itertools import pairwise
from typing import Annotated, Any, Final

import typer
from typer.core import TyperCommand

from needlewright.cli import console
from needlewright.cli.shop_options import (
    AsJson,
    By,
    ShopFolder,
    Tag,
    emit_view,
    plain,
    shop_at,
)
from needlewright.cli.stock_options import Batch, Code, Count, Currency, OneOrMore, Price
from needlewright.cli.stock_words import show_part, show_used
from needlewright.errors import UsageError
from needlewright.records import stock as ledger
from needlewright.records.stock_entries import MOST
from needlewright.records.views.stock import StockPartView, UsedPartView

Why = Annotated[str, typer.Option(metavar="TEXT", help="The reason; it must be said.")]
_BELOW_0: Final = re.compile(r"-\d+([.,]\d+)?")
_WHY: Final = {"count": "counted at the end of the month", "scrap": "a pin broke off"}
MaybeWhy = Annotated[str, typer.Option(metavar="TEXT", help="What for, in words.")]


def receive(
    part: Code,
    count: Count,
    *,
    batch: Annotated[
        str | None,
        typer.Option(metavar="MARK", help="Its batch or date code; else it is called by its day."),
    ] = None,
    on: Annotated[str | None, typer.Option(metavar="DAY", help="When it came; else today.")] = None,
    note: Annotated[
        str, typer.Option(metavar="TEXT", help="Who supplied it, and anything else.")
    ] = "",
    price: Price = None,
    currency: Currency = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Take a delivery in, as a batch of its own."""
    with shop_at(shop) as opened:
        kept = ledger.receive(
            opened,
            part,
            count,
            batch,
            by,
            received_on=on,
            note=note,
            price=price,
            currency=currency,
        )
    _part_out(kept, as_json)


def count_(
    part: Code,
    count: Count,
    *,
    why: Why = "",
    batch: Annotated[
        str | None, typer.Option(metavar="MARK", help="This batch alone was counted.")
    ] = None,
    seen: Annotated[
        int | None,
        typer.Option(
            metavar="LINE",
            min=0,
            help="The ledger's newest line you saw; refused where something came or went since.",
        ),
    ] = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Put what was counted in place of what the ledger says."""
    _refuse_no_reason("count", why)
    with shop_at(shop) as opened:
        kept = ledger.count_stock(opened, part, count, why, by, batch=batch, seen=seen)
    _part_out(kept, as_json)


def scrap(
    part: Code,
    count: Count,
    *,
    why: Why = "",
    batch: Batch = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Throw parts away, for a reason."""
    _refuse_no_reason("scrap", why)
    with shop_at(shop) as opened:
        kept = ledger.scrap(opened, part, count, why, by, batch=batch)
    _part_out(kept, as_json)


def use(
    tag: Tag,
    part: Code,
    count: OneOrMore = "1",
    *,
    batch: Batch = None,
    why: MaybeWhy = "",
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Use parts in a job, which remembers their batch; `jobs undo` gives them back."""
    with shop_at(shop) as opened:
        used = ledger.use_part(opened, tag, part, count, by, batch=batch, why=why)
    _used_out(tag, used, as_json)


def give_back(
    tag: Tag,
    part: Code,
    count: OneOrMore = "1",
    *,
    batch: Annotated[
        str | None, typer.Option(metavar="MARK", help="Of this batch; else the newest first.")
    ] = None,
    why: MaybeWhy = "",
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Put parts that a job used back into stock, into the batch they came from."""
    with shop_at(shop) as opened:
        used = ledger.give_back(opened, tag, part, count, by, batch=batch, why=why)
    _used_out(tag, used, as_json)


def take_back(
    line: Annotated[
        int, typer.Argument(metavar="LINE", help="Number of a line of `stock history`.")
    ],
    *,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Take a line of the ledger back by one that reverses it; a job's are undone on the job."""
    with shop_at(shop) as opened:
        _part_out(ledger.take_back(opened, line, by), as_json)


class _Counting(TyperCommand):
    """A command with a number in its place, of which a minus makes no option."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        for before, given in pairwise(["", *args]):
            if _BELOW_0.fullmatch(given) and not before.startswith("--"):
                least = f"from {0 if self.name == 'count' else 1} to {MOST}"
                raise UsageError(
                    f"stock {self.name}: expected a whole number {least}, found '{given}'; what "
                    "went is told by 'stock use' or 'stock scrap', a wrong line by 'stock "
                    "take-back'"
                )
        return super().parse_args(ctx, args)


def add_to(app: typer.Typer) -> None:
    """Put these commands into the group."""
    for name, command in (
        ("receive", receive),
        ("count", count_),
        ("scrap", scrap),
        ("use", use),
        ("give-back", give_back),
        ("take-back", take_back),
    ):
        app.command(name, cls=_Counting)(command)


def _refuse_no_reason(command: str, why: str) -> None:
    if not why.strip():
        raise UsageError(
            f"stock {command}: the reason is missing; say it with --why TEXT, such as "
            f"--why '{_WHY[command]}'"
        )


def _part_out(part: StockPartView, as_json: bool) -> None:
    emit_view(part) if as_json else show_part(part)


def _used_out(tag: str, used: tuple[UsedPartView, ...], as_json: bool) -> None:
    if as_json:
        console.emit_json({"tag": tag, "parts": [plain(one) for one in used]})
    else:
        show_used(tag, used)
