"""`needlewright shop family`, `families`: the families the shop keeps, and their versions."""

from pathlib import Path
from typing import Annotated

import typer

from needlewright.cli import console
from needlewright.cli.family_travel import Note
from needlewright.cli.shop_options import AsJson, By, ShopFolder, plain, say, shop_at
from needlewright.errors import UsageError
from needlewright.records.families import families as current_families
from needlewright.records.families import keep_family
from needlewright.records.family_versions import family_versions, what_is_new
from needlewright.records.opening import Shop
from needlewright.records.views import FamilyView


def family(
    folder: Annotated[
        Path | None,
        typer.Argument(metavar="DIR", help="A family folder to keep; nothing: those kept."),
    ] = None,
    *,
    note: Note = "",
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """List the families the shop keeps, or keep one; each change of a folder is a new version."""
    if folder is None and (note or by):
        raise UsageError("--note, --by: there is no folder to keep; name one, or leave them out")
    with shop_at(shop, may_be_new=folder is not None) as opened:
        if folder is not None:
            keep_family(opened, folder, by, note=note)
        found = current_families(opened)
    if as_json:
        console.emit_json({"families": [plain(one) for one in found]})
        return
    for one in found:
        say(_line(one, one.name))


def families(
    name: Annotated[
        str | None, typer.Argument(metavar="NAME", help="Of one family; nothing: of all.")
    ] = None,
    *,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """List every version of the families the shop keeps, with what is new in each."""
    with shop_at(shop) as opened:
        names = [one.name for one in current_families(opened)] if name is None else [name]
        found = [(one, _new_in(opened, one)) for each in names for one in _of(opened, each)]
    if as_json:
        console.emit_json(
            {"versions": [{**plain(one), "differs": list(new)} for one, new in found]}
        )
        return
    for one, new in found:
        say(_line(one, one.name))
        if one.note:
            say(f"    {one.note}")
        for sentence in new:
            say(f"    {sentence}")


def add_to(app: typer.Typer) -> None:
    """Put these commands into the group."""
    app.command("family")(family)
    app.command("families")(families)


def _of(shop: Shop, name: str) -> tuple[FamilyView, ...]:
    return family_versions(shop, name)


def _new_in(shop: Shop, one: FamilyView) -> tuple[str, ...]:
    return what_is_new(shop, one)[1]


def _line(one: FamilyView, name: str) -> str:
    by = "" if one.kept_by is None else f" by {one.kept_by}"
    jobs = "" if not one.jobs else f", {one.jobs} job{'' if one.jobs == 1 else 's'}"
    current = ", new jobs are worked by it" if one.is_current else ""
    day = f"{one.stored_at.astimezone():%Y-%m-%d}"
    return f"{name}  version {one.number}  {one.content_hash[:12]}  kept {day}{by}{jobs}{current}"
