"""`needlewright family export`, `import`: a family as one file, out of and into folder or shop."""

from pathlib import Path
from typing import Annotated, Any

import typer

from needlewright.cli import console
from needlewright.cli.shop_options import AsJson, By, ShopFolder, plain, say, shop_at
from needlewright.cli.written import refuse_missing_folder
from needlewright.errors import UsageError
from needlewright.families.packing import PackedList, left_behind, write_packed
from needlewright.families.unpacking import unpack_to
from needlewright.records.families import load_version
from needlewright.records.family_versions import family_version, take_in
from needlewright.records.views import FamilyView

Note = Annotated[
    str,
    typer.Option("--note", metavar="TEXT", help="What is new in it, or where it came from."),
]


def export(
    what: Annotated[
        str,
        typer.Argument(
            metavar="DIR",
            help="Folder that holds family.json and face.png; with --from-shop the name of a "
            "family the shop keeps.",
        ),
    ],
    file: Annotated[Path, typer.Argument(metavar="FILE.zip", help="The file to write.")],
    *,
    from_shop: Annotated[
        bool, typer.Option("--from-shop", help="A family of the shop, by its name.")
    ] = False,
    version: Annotated[
        int | None,
        typer.Option(
            metavar="N",
            min=1,
            help="With --from-shop, which version; by default the one new jobs are worked by.",
        ),
    ] = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Write a family as one file that can be checked and taken in elsewhere."""
    if version is not None and not from_shop:
        raise UsageError(
            "--version: only the shop keeps versions; add --from-shop, or leave it out"
        )
    refuse_missing_folder(file)
    kept: FamilyView | None = None
    stays: tuple[str, ...] = ()
    if from_shop:
        with shop_at(shop) as opened:
            kept = family_version(opened, what, version)
            listed = write_packed(load_version(opened, kept.version_id).folder, file)
    else:
        listed = write_packed(Path(what), file)
        stays = left_behind(Path(what))
    if as_json:
        number = None if kept is None else kept.number
        said = {"version": number, "left_behind": list(stays)}
        console.emit_json({"file": str(file), **_content(listed), **said})
        return
    of = "" if kept is None else f", version {kept.number}"
    say(f"{file}: family {listed.family}{of}, content {listed.content_hash[:12]}")
    for entry in listed.files:
        say(f"  {entry.name}  {entry.size} bytes  SHA-256 {entry.sha256[:12]}")
    if stays:
        say(f"  stays behind, as no part of the family: {', '.join(stays)}")


def import_(
    file: Annotated[Path, typer.Argument(metavar="FILE.zip", help="Written by family export.")],
    *,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="A new folder for it; by default it goes into the shop."),
    ] = None,
    as_: Annotated[
        str | None, typer.Option("--as", metavar="NAME", help="Give it another name here.")
    ] = None,
    new_version: Annotated[
        bool,
        typer.Option(
            "--new-version",
            help="Let it become the next version of the shop's family of that name.",
        ),
    ] = False,
    note: Note = "",
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Check a family's file and take it in: into a new folder, or into the shop."""
    if out is not None:
        for given, option in ((new_version, "--new-version"), (note, "--note"), (by, "--by")):
            if given:
                raise UsageError(f"{option}: only the shop keeps that; leave --out or it out")
        found = unpack_to(file, out, name=as_)
        if as_json:
            console.emit_json(_taken(file, found.family.name, out, None))
        else:
            say(f"{out}: family {found.family.name}, every file as it was packed")
        return
    with shop_at(shop, may_be_new=True) as opened:
        kept = take_in(opened, file, by, note=note, name=as_, as_new_version=new_version)
    if as_json:
        console.emit_json(_taken(file, kept.name, None, kept))
    else:
        say(f"family {kept.name}, version {kept.number}, content {kept.content_hash[:12]}")


def add_to(app: typer.Typer) -> None:
    """Put these commands into the group."""
    app.command("export")(export)
    app.command("import")(import_)


def _taken(
    file: Path, family: str, folder: Path | None, version: FamilyView | None
) -> dict[str, Any]:
    return {
        "file": str(file),
        "family": family,
        "folder": None if folder is None else str(folder),
        "version": None if version is None else plain(version),
    }


def _content(listed: PackedList) -> dict[str, Any]:
    return {
        "family": listed.family,
        "content_hash": listed.content_hash,
        "files": [entry.model_dump() for entry in listed.files],
    }
