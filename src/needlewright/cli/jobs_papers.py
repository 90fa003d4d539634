"""`needlewright jobs report`, `certify`, `papers`, `notice` and `return`."""

from datetime import date
from pathlib import Path
from typing import Annotated, Any

import typer

from needlewright.cli import console
from needlewright.cli.job_words import show_sheet
from needlewright.cli.jobs_received import Items, Missing, Photos, box_items, opened_photos
from needlewright.cli.shop_options import (
    AsJson,
    By,
    Seen,
    ShopFolder,
    Tag,
    emit_view,
    plain,
    say,
    shop_at,
)
from needlewright.cli.written import write_file
from needlewright.composing.issuing import issue, issue_notice
from needlewright.errors import RecordError, UsageError
from needlewright.papers.wording import sentences_for_people
from needlewright.records.intake import add_job_photo
from needlewright.records.opening import Shop
from needlewright.records.overdue import overdue_on_paper
from needlewright.records.papers import paper_bytes
from needlewright.records.returning import record_return
from needlewright.records.sheet import job_sheet
from needlewright.records.stages import finish_stage
from needlewright.records.views import PaperView

Out = Annotated[
    Path | None, typer.Option(metavar="DIR", help="Folder to put a copy of the files into.")
]
Because = Annotated[
    str | None,
    typer.Option(metavar="TEXT", help="Why it replaces the one before it, where there is one."),
]
AuthorisedBy = Annotated[
    str | None,
    typer.Option(metavar="NAME", help="Who authorises it; else as the shop's settings say."),
]
IssueDay = Annotated[
    str | None, typer.Option("--day", metavar="DAY", help="Day of issue; today unless stated.")
]


def report(
    tag: Tag,
    *,
    because: Because = None,
    authorised_by: AuthorisedBy = None,
    day: IssueDay = None,
    out: Out = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Issue the report of how a cluster came in, out of its run as found."""
    with shop_at(shop) as opened:
        kept, document = issue(
            opened,
            tag,
            "report",
            by,
            day=_day(day),
            authorised_by=authorised_by,
            because=because,
        )
        _answer(opened, kept, document, out, as_json)


def certify(
    tag: Tag,
    *,
    because: Because = None,
    authorised_by: AuthorisedBy = None,
    day: IssueDay = None,
    out: Out = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Issue a job's certificate, or the report why it cannot be certified."""
    with shop_at(shop) as opened:
        kept, document = issue(
            opened,
            tag,
            "certificate",
            by,
            day=_day(day),
            authorised_by=authorised_by,
            because=because,
        )
        _answer(opened, kept, document, out, as_json)


def notice(
    tag: Tag,
    *,
    because: Because = None,
    day: IssueDay = None,
    out: Out = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Print the notice of an odometer that could not keep its mileage."""
    with shop_at(shop) as opened:
        kept, document = issue_notice(opened, tag, by, day=_day(day), because=because)
        _answer(opened, kept, document, out, as_json)


def papers(tag: Tag, *, out: Out = None, shop: ShopFolder = None, as_json: AsJson = False) -> None:
    """List a job's papers, and put copies of their files into a folder."""
    with shop_at(shop) as opened:
        kept = job_sheet(opened, tag).papers
        files = {paper.name: _copied(opened, paper, out) for paper in kept}
    if as_json:
        listed = [{"paper": plain(paper), "files": files[paper.name]} for paper in kept]
        console.emit_json({"papers": listed})
        return
    for paper in kept:
        old = f", replaced by {paper.replaced_by}" if paper.replaced_by else ""
        say(f"{paper.name}: {paper.kind.replace('_', ' ')}, {paper.issued}, {paper.by}{old}")
        for what, path in files[paper.name].items():
            say(f"  {what}: {path}")
    if not kept:
        say("no paper has been issued")


def give_back(
    tag: Tag,
    *,
    odometer: Annotated[
        float | None, typer.Option(metavar="N", help="The mileage it goes out with.")
    ] = None,
    item: Items = None,
    missing: Missing = None,
    packing: Annotated[str | None, typer.Option(metavar="TEXT", help="How it is packed.")] = None,
    carrier: Annotated[str | None, typer.Option(metavar="TEXT", help="Who carries it.")] = None,
    day: Annotated[
        str | None, typer.Option(metavar="DAY", help="When it leaves; today unless stated.")
    ] = None,
    photo: Photos = None,
    law: Annotated[
        str | None,
        typer.Option(
            metavar="us|local",
            help="Which law's procedure was followed, where the odometer could not keep its "
            "mileage: 49 USC 32704(a), or the local one.",
        ),
    ] = None,
    procedure: Annotated[
        str | None, typer.Option(metavar="TEXT", help="What was done under the local law.")
    ] = None,
    notice_before: Annotated[
        float | None, typer.Option(metavar="N", help="The mileage before, as the notice states it.")
    ] = None,
    notice_day: Annotated[
        str | None, typer.Option(metavar="DAY", help="The notice's date.")
    ] = None,
    attached_to: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Where the notice is; the left door frame.")
    ] = None,
    not_yet: Annotated[
        bool, typer.Option("--not-yet", help="Only write it down; it has not left.")
    ] = False,
    seen: Seen = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Write down how a cluster goes back, and close the job."""
    typed: dict[str, Any] = {
        "odometer_out": odometer,
        "contents": box_items(item, missing),
        "packing": packing,
        "carrier": carrier,
        "day": day,
        "law": law,
        "procedure": procedure,
        "notice_mileage_before": notice_before,
        "notice_day": notice_day,
        "notice_attached_to": attached_to,
    }
    with shop_at(shop) as opened:
        pictures = opened_photos(photo)
        said = {name: value for name, value in typed.items() if value is not None}
        sheet = record_return(opened, tag, said, by, seen=seen)
        for kind, file, content in pictures:
            add_job_photo(opened, tag, content, file.name, by, stage="returned", kind=kind)
        sheet = job_sheet(opened, tag) if not_yet else finish_stage(opened, tag, "returned", by)
    emit_view(sheet) if as_json else show_sheet(sheet)


def _answer(
    shop: Shop, kept: PaperView, document: dict[str, Any], out: Path | None, as_json: bool
) -> None:
    files = _copied(shop, kept, out)
    why_not, exceptions = document.get("why_not", []), document.get("exceptions", [])
    if as_json:
        said = {"why_not": why_not, "exceptions": exceptions}
        console.emit_json({"paper": plain(kept), **said, "files": files})
        return
    say(f"{document['title']}, number {kept.name}")
    for sentence in sentences_for_people([*why_not, *exceptions]):
        say(f"  {sentence}")
    for sentence in overdue_on_paper(document) if "instruments" in document else ():
        say(f"  look: {sentence}")
    for what, path in files.items():
        say(f"{what}: {path}")


def _copied(shop: Shop, paper: PaperView, out: Path | None) -> dict[str, str]:
    """Copies of a paper's files; nothing where no folder is named."""
    if out is None:
        return {}
    stem = paper.number if paper.version == 1 else f"{paper.number}-v{paper.version}"
    parts = {"paper": ("pdf", ".pdf"), "data": ("json", ".json"), "label": ("label", "-label.pdf")}
    copied = {}
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RecordError(f"{out}: cannot be made a folder ({error.strerror or error})") from error
    for what, (part, ending) in parts.items():
        if part == "label" and paper.label_sha256 is None:
            continue
        path = out / f"{stem}{ending}"
        write_file(path, paper_bytes(shop, paper.name, part))  # type: ignore[arg-type]
        copied[what] = str(path)
    return copied


def _day(typed: str | None) -> date | None:
    if typed is None:
        return None
    try:
        return date.fromisoformat(typed)
    except ValueError:
        raise UsageError(f"--day '{typed}': expected a day such as 2026-03-02") from None


def add_to(app: typer.Typer) -> None:
    """Put these commands into the group."""
    app.command("report")(report)
    app.command("certify")(certify)
    app.command("notice")(notice)
    app.command("return")(give_back)
    app.command("papers")(papers)
