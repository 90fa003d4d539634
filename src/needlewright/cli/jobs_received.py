"""`needlewright jobs receive` and `photo`: how a cluster came in, and pictures of it."""

from pathlib import Path
from typing import Annotated, Any, Final, get_args

import typer

from needlewright.cli.job_words import show_sheet
from needlewright.cli.shop_options import AsJson, By, Seen, ShopFolder, Tag, emit_view, say, shop_at
from needlewright.errors import UsageError
from needlewright.records.intake import add_job_photo
from needlewright.records.intake import receive as write_down
from needlewright.records.opening import Shop
from needlewright.records.pictures import picture_bytes
from needlewright.records.sheet import job_sheet
from needlewright.records.stages import finish_stage, what_is_missing
from needlewright.records.views import JobSheet
from needlewright.records.words import UNIT_CHECKS, PhotoKind, PhotoStage

_KINDS: Final[dict[str, PhotoKind]] = {kind: kind for kind in get_args(PhotoKind)}

Items = Annotated[
    list[str] | None, typer.Option("--item", metavar="WHAT", help="In the box; once for each.")
]
Missing = Annotated[
    list[str] | None,
    typer.Option("--missing", metavar="WHAT", help="Should be in the box and is not."),
]
Photos = Annotated[
    list[str] | None,
    typer.Option(
        "--photo",
        metavar="KIND=FILE",
        help="packing, damage, contents, odometer, label or other, and the picture.",
    ),
]


def receive(
    tag: Tag,
    *,
    sender: Annotated[str | None, typer.Option(metavar="TEXT", help="Who sent it.")] = None,
    day: Annotated[
        str | None, typer.Option(metavar="DAY", help="When it came; today unless stated.")
    ] = None,
    item: Items = None,
    missing: Missing = None,
    packing: Annotated[str | None, typer.Option(metavar="TEXT", help="How it was packed.")] = None,
    damage: Annotated[str | None, typer.Option(metavar="TEXT", help="Damage in transit.")] = None,
    condition: Annotated[
        str | None, typer.Option(metavar="TEXT", help="The condition it came in.")
    ] = None,
    odometer: Annotated[float | None, typer.Option(metavar="N", help="The mileage shown.")] = None,
    unit: Annotated[
        str | None, typer.Option(metavar="km|mi", help="Of the odometer; else as the job says.")
    ] = None,
    no_odometer: Annotated[
        str | None, typer.Option(metavar="WHY", help="Why it has none, where it has none.")
    ] = None,
    odometer_unreadable: Annotated[
        str | None, typer.Option(metavar="WHY", help="Why the mileage cannot be read yet.")
    ] = None,
    check: Annotated[
        list[str] | None,
        typer.Option(
            metavar="PART=ok|NOTE",
            help="The wrong-unit check: family, variant, face, connector; ok, or what was found.",
        ),
    ] = None,
    photo: Photos = None,
    seen: Seen = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Write down how a cluster came in; Received is finished when nothing is missing."""
    typed: dict[str, Any] = {
        "sender": sender,
        "day": day,
        "packing": packing,
        "damage": damage,
        "condition": condition,
        "odometer_in": odometer,
        "odometer_unit": unit,
        "odometer_none": no_odometer,
        "odometer_unreadable": odometer_unreadable,
        "contents": box_items(item, missing),
        **_checks(check or []),
    }
    with shop_at(shop) as opened:
        pictures = opened_photos(photo)
        write_down(opened, tag, {k: v for k, v in typed.items() if v is not None}, by, seen=seen)
        for kind, file, content in pictures:
            add_job_photo(opened, tag, content, file.name, by, stage="received", kind=kind)
        finish_if_whole(opened, tag, "received", by, as_json)


def photo(
    tag: Tag,
    photos: Annotated[
        list[str],
        typer.Argument(metavar="KIND=FILE...", help="As for jobs receive."),
    ],
    *,
    stage: Annotated[
        str, typer.Option(metavar="PART", help="received or returned: which way it went.")
    ] = "received",
    note: Annotated[str, typer.Option(metavar="TEXT", help="What is to be seen.")] = "",
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Keep photos of a box, its packing, a damage, an odometer."""
    way: PhotoStage = "returned" if stage == "returned" else "received"
    if stage != way:
        raise UsageError(f"--stage '{stage}': expected received or returned")
    with shop_at(shop) as opened:
        for kind, file, content in opened_photos(photos):
            add_job_photo(opened, tag, content, file.name, by, stage=way, kind=kind, note=note)
        sheet = job_sheet(opened, tag)
    emit_view(sheet) if as_json else show_sheet(sheet)


def finish_if_whole(shop: Shop, tag: str, stage: Any, by: str | None, as_json: bool) -> JobSheet:
    """Finish a part of the work where nothing is missing, and show the sheet."""
    lacking = what_is_missing(shop, tag, stage)
    sheet = job_sheet(shop, tag)
    if not lacking and sheet.stage_of(stage).state != "finished":
        sheet = finish_stage(shop, tag, stage, by)
    if as_json:
        emit_view(sheet)
        return sheet
    show_sheet(sheet)
    for sentence in lacking:
        say(f"\nnot finished: {sentence}")
    return sheet


def box_items(ticked: list[str] | None, missing: list[str] | None) -> list[dict[str, Any]] | None:
    """The box's contents as the records take them; None where nothing was said."""
    if ticked is None and missing is None:
        return None
    return [
        *({"what": what, "ticked": True} for what in ticked or ()),
        *({"what": what, "ticked": False, "note": "missing"} for what in missing or ()),
    ]


def opened_photos(typed: list[str] | None) -> list[tuple[PhotoKind, Path, bytes]]:
    """Kinds, files and contents; all are looked at before anything is written."""
    opened = []
    for text in typed or ():
        word, _, name = text.partition("=")
        kind = _KINDS.get(word)
        if kind is None or not name:
            raise UsageError(
                f"--photo '{text}': expected KIND=FILE, with a kind of {', '.join(_KINDS)}"
            )
        opened.append((kind, Path(name), picture_bytes(Path(name), must_be_whole=True)))
    return opened


def _checks(typed: list[str]) -> dict[str, Any]:
    checks: dict[str, Any] = {}
    for text in typed:
        what, _, said = text.partition("=")
        if what not in UNIT_CHECKS or not said:
            raise UsageError(
                f"--check '{text}': expected PART=ok or PART=NOTE, with a part of "
                f"{', '.join(UNIT_CHECKS)}"
            )
        checks[f"{what}_ok"] = said == "ok"
        checks[f"{what}_note"] = "" if said == "ok" else said
    return checks


def add_to(app: typer.Typer) -> None:
    """Put these commands into the group."""
    app.command("receive")(receive)
    app.command("photo")(photo)
