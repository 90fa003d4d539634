"""What every command on the shop's records is told in the same words, and how it answers."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any, TypeAlias

import typer
from pydantic import TypeAdapter

from needlewright.cli import console
from needlewright.records.opening import Shop, open_shop
from needlewright.records.place import require_shop

ShopFolder: TypeAlias = Annotated[
    Path | None,
    typer.Option(
        "--shop",
        metavar="DIR",
        help="The shop's folder; else the one NEEDLEWRIGHT_SHOP names, else your own data folder.",
    ),
]
By: TypeAlias = Annotated[
    str | None,
    typer.Option("--by", metavar="NAME", help="Who does it, where several people work here."),
]
Seen: TypeAlias = Annotated[
    int | None,
    typer.Option(
        "--seen",
        metavar="VERSION",
        min=0,
        help="The sheet's version you saw; refused where somebody saved the same field since.",
    ),
]
AsJson: TypeAlias = Annotated[bool, typer.Option("--json", help="One JSON document.")]
Tag: TypeAlias = Annotated[str, typer.Argument(metavar="TAG", help="The job's tag.")]


@contextmanager
def shop_at(folder: Path | None, *, may_be_new: bool = False) -> Iterator[Shop]:
    """The shop, open while a command works; only what furnishes a shop may make one."""
    if not may_be_new:
        require_shop(folder)
    with open_shop(folder) as shop:
        yield shop


def plain(view: Any) -> Any:
    """A record as a JSON document holds it."""
    return TypeAdapter(type(view)).dump_python(view, mode="json")


def emit_view(view: Any) -> None:
    """A record as one JSON document on standard output."""
    console.emit_json(plain(view))


def say(line: str = "") -> None:
    """A line for people, without markup."""
    console.out.print(line, markup=False)
