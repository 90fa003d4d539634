"""`needlewright jobs`: the shelf and the job sheet by command line."""

from typing import Annotated, Any, get_args

import typer

from needlewright.cli import (
    console,
    jobs_burn_ins,
    jobs_findings,
    jobs_papers,
    jobs_plan,
    jobs_readings,
    jobs_received,
    jobs_reread,
    jobs_runs,
    jobs_steps,
)
from needlewright.cli.job_words import moment_words, show_sheet, show_shelf
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
from needlewright.composing.undoing import history as history_of
from needlewright.composing.undoing import undo_last
from needlewright.records import jobs as work
from needlewright.records.sheet import job_sheet
from needlewright.records.shelf import shelf
from needlewright.records.views import JobSheet
from needlewright.records.words import DecisionKind, Stage, WaitsFor

app = typer.Typer(help="The jobs in the house, from the tag to the return.", no_args_is_help=True)

Owner = Annotated[str | None, typer.Option(metavar="TEXT", help="Whose it is.")]
Contact = Annotated[str | None, typer.Option(metavar="TEXT", help="How the owner is reached.")]
Vehicle = Annotated[str | None, typer.Option(metavar="TEXT", help="The vehicle in words.")]
Complaint = Annotated[
    str | None, typer.Option(metavar="TEXT", help="The complaint, in the owner's words.")
]
Promised = Annotated[str | None, typer.Option(metavar="DAY", help="Promised for, as 2026-03-02.")]
Serial = Annotated[str | None, typer.Option(metavar="SERIAL", help="The cluster's serial number.")]
Variant = Annotated[str | None, typer.Option(metavar="ID", help="The family's variant.")]
Built = Annotated[
    str | None,
    typer.Option(
        metavar="DAY", help="When the cluster was built: 2012, 2012-05 or 2012-05-17, as known."
    ),
]
MaxSpeed = Annotated[
    float | None,
    typer.Option(metavar="SPEED", help="The vehicle's maximum design speed, speedometer's unit."),
]
ReturnOf = Annotated[
    str | None, typer.Option(metavar="TAG", help="The earlier job this one is a return of.")
]


def sheet_out(sheet: JobSheet, as_json: bool) -> None:
    """The sheet, for programs or for people."""
    emit_view(sheet) if as_json else show_sheet(sheet)


@app.command("new")
def new(
    tag: Tag,
    *,
    family: Annotated[str, typer.Option(metavar="NAME", help="A family the shop keeps.")],
    serial: Serial = None,
    variant: Variant = None,
    built: Built = None,
    owner: Owner = None,
    contact: Contact = None,
    vehicle: Vehicle = None,
    max_speed: MaxSpeed = None,
    complaint: Complaint = None,
    promised: Promised = None,
    unit: Annotated[
        str | None, typer.Option(metavar="km|mi", help="Of the odometer; else as the shop says.")
    ] = None,
    return_of: ReturnOf = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Open a job; an earlier visit of the same cluster is shown with its results."""
    typed = _stated(
        serial=serial,
        variant=variant,
        built=built,
        owner=owner,
        owner_contact=contact,
        vehicle=vehicle,
        max_speed=max_speed,
        complaint=complaint,
        promised=promised,
        odometer_unit=unit,
        return_of=return_of,
    )
    with shop_at(shop) as opened:
        sheet_out(work.new_job(opened, {"tag": tag, "family": family, **typed}, by), as_json)


@app.command("list")
def list_jobs(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="WORDS...", help="All must stand somewhere in a job's line."),
    ] = None,
    *,
    waits_for: Annotated[
        str | None,
        typer.Option(metavar="WHAT", help="cluster, bench, owner, parts, carrier or nothing."),
    ] = None,
    stage: Annotated[
        str | None, typer.Option(metavar="PART", help="Where it stands: bench_check, needles, ...")
    ] = None,
    returned: Annotated[
        bool, typer.Option("--returned", help="Those that have left, too.")
    ] = False,
    limit: Annotated[int, typer.Option(metavar="N", help="How many lines.", min=1)] = 100,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """List the jobs in the house, the one promised first in front."""
    with shop_at(shop) as opened:
        found = shelf(
            opened,
            " ".join(words or ()),
            waits_for=_word(WaitsFor, waits_for, "--waits-for"),
            stage=_word(Stage, stage, "--stage"),
            returned=returned,
            limit=limit,
        )
    emit_view(found) if as_json else show_shelf(found)


@app.command("show")
def show(tag: Tag, *, shop: ShopFolder = None, as_json: AsJson = False) -> None:
    """Show a job, in the order of the work."""
    with shop_at(shop) as opened:
        sheet_out(job_sheet(opened, tag), as_json)


@app.command("edit")
def edit(
    tag: Tag,
    *,
    new_tag: Annotated[str | None, typer.Option(metavar="TAG", help="Another tag.")] = None,
    family: Annotated[
        str | None, typer.Option(metavar="NAME", help="Another family, or its newest version.")
    ] = None,
    serial: Serial = None,
    variant: Variant = None,
    built: Built = None,
    owner: Owner = None,
    contact: Contact = None,
    vehicle: Vehicle = None,
    max_speed: MaxSpeed = None,
    complaint: Complaint = None,
    promised: Promised = None,
    odometer_in: Annotated[
        float | None, typer.Option(metavar="N", help="The mileage as received.")
    ] = None,
    work_done: Annotated[
        list[str] | None,
        typer.Option(metavar="TEXT", help="What was adjusted or repaired; all of it, once each."),
    ] = None,
    remark: Annotated[
        list[str] | None, typer.Option(metavar="TEXT", help="A remark for the papers; all of them.")
    ] = None,
    temperature: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Where the runs do not state it.")
    ] = None,
    deviations: Annotated[
        str | None, typer.Option(metavar="TEXT", help="From the method, for the papers.")
    ] = None,
    return_of: ReturnOf = None,
    waits_for: Annotated[
        str | None,
        typer.Option(metavar="WHAT", help="cluster, bench, owner, parts, carrier or nothing."),
    ] = None,
    seen: Seen = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Change what is said about a job; an empty text takes what was said away."""
    typed = _stated(
        tag=new_tag,
        family=family,
        serial=serial,
        variant=variant,
        built=built,
        owner=owner,
        owner_contact=contact,
        vehicle=vehicle,
        max_speed=max_speed,
        complaint=complaint,
        promised=promised,
        odometer_in=odometer_in,
        work_done=work_done,
        remarks=remark,
        temperature=temperature,
        deviations=deviations,
        return_of=return_of,
    )
    if not typed and waits_for is None:
        raise typer.BadParameter("state what is to be changed")
    what = _word(WaitsFor, waits_for, "--waits-for")  # refused before anything is saved
    with shop_at(shop) as opened:
        sheet = job_sheet(opened, tag)
        if typed:
            sheet = work.edit_job(opened, tag, typed, by, seen=seen)
        if what is not None:
            sheet = work.wait_for(opened, sheet.tag, what, by)
        sheet_out(sheet, as_json)


@app.command("note")
def note(
    tag: Tag,
    text: Annotated[str, typer.Argument(metavar="TEXT", help="What is worth writing down.")],
    *,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Write a note on a job."""
    with shop_at(shop) as opened:
        sheet_out(work.add_note(opened, tag, text, by), as_json)


@app.command("decide")
def decide(
    tag: Tag,
    text: Annotated[str, typer.Argument(metavar="TEXT", help="What was decided.")],
    *,
    why: Annotated[str, typer.Option(metavar="TEXT", help="The reason.")],
    kind: Annotated[
        str,
        typer.Option(
            metavar="KIND",
            help="wrong_unit: go on although the unit is not as it should be; no_paper: it goes "
            "back without certificate or report; other.",
        ),
    ] = "other",
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Write a decision and its reason on a job."""
    with shop_at(shop) as opened:
        known = _word(DecisionKind, kind, "--kind")
        sheet_out(work.decide(opened, tag, text, why, by, kind=known or "other"), as_json)


@app.command("instruments")
def instruments(
    tag: Tag,
    numbers: Annotated[
        list[str], typer.Argument(metavar="NUMBER...", help="Of instruments of the shop.")
    ],
    *,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Say which instruments a job is done with, in place of those said before."""
    with shop_at(shop) as opened:
        sheet_out(work.use_instruments(opened, tag, numbers, by), as_json)


@app.command("undo")
def undo(tag: Tag, *, by: By = None, shop: ShopFolder = None, as_json: AsJson = False) -> None:
    """Take back the last thing that was saved on a job."""
    with shop_at(shop) as opened:
        undone = undo_last(opened, tag, by)
    if as_json:
        emit_view(undone)
        return
    say(f"taken back: {undone.what} ({moment_words(undone.at)}, {undone.by})")
    if undone.goes_on is not None:
        say(f"passed over: {undone.goes_on}, which is on and goes on")


@app.command("history")
def history(
    tag: Tag,
    *,
    limit: Annotated[int, typer.Option(metavar="N", help="How many lines.", min=1)] = 50,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Say who saved what on a job, newest first."""
    with shop_at(shop) as opened:
        edits = history_of(opened, tag, limit)
    if as_json:
        console.emit_json({"edits": [plain(edit) for edit in edits]})
        return
    for one in edits:
        say(f"{moment_words(one.at)}  {one.by}: {one.what}{' (undone)' if one.undone else ''}")
        for field, before, after in one.changes:
            say(f"    {field}: {before!r} -> {after!r}")


def _stated(**typed: Any) -> dict[str, Any]:
    return {name: value for name, value in typed.items() if value is not None}


def _word(words: Any, typed: str | None, option: str) -> Any:
    known = get_args(words)
    if typed is not None and typed not in known:
        raise typer.BadParameter(f"{option}: '{typed}' is none of {', '.join(known)}")
    return typed


for part in (
    jobs_received,
    jobs_runs,
    jobs_readings,
    jobs_reread,
    jobs_findings,
    jobs_plan,
    jobs_steps,
    jobs_burn_ins,
    jobs_papers,
):
    part.add_to(app)
