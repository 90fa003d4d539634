"""`needlewright jobs plan`, `accept`: the plan a job has, its papers, what was accepted of it."""

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from needlewright.cli import console
from needlewright.cli.answers_text import answers_text
from needlewright.cli.job_words import moment_words
from needlewright.cli.plan_of_job import acceptance_words, said_words
from needlewright.cli.plan_papers import Papers
from needlewright.cli.plan_words import show_plan
from needlewright.cli.shop_options import AsJson, By, ShopFolder, Tag, plain, say, shop_at
from needlewright.composing.job_plan import (
    accept_text,
    quote_of_plan,
    sender,
    sheet_of_plan,
    stored_plan,
)
from needlewright.composing.plan_reading import read_document
from needlewright.errors import PlanError, UsageError
from needlewright.plans.rebuild.acceptance import day_typed
from needlewright.records.plan_acceptances import accept_plan, take_back_acceptance
from needlewright.records.views import AcceptanceView, PlanView

Number = Annotated[
    str | None, typer.Option("--plan", metavar="NUMBER", help="Of the plan; else the job's own.")
]


def plan(
    tag: Tag,
    *,
    number: Number = None,
    option: Annotated[
        str | None,
        typer.Option(
            metavar="NAME", help="Which option the sheet follows; else what was accepted."
        ),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE.pdf", help="The sheet of the work, to write.")
    ] = None,
    quote: Annotated[
        Path | None, typer.Option(metavar="FILE.html", help="The quote, to write.")
    ] = None,
    sent_by: Annotated[
        str | None,
        typer.Option(
            metavar="TEXT", help="Who sends the quote; the shop's name and place otherwise."
        ),
    ] = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Show the plan kept with a job, whether it is accepted, and the plans before it.

    Its papers are written from what was kept, with the day it was made.
    """
    papers = Papers(option, out, quote, sent_by)
    papers.refuse_missing_folders()
    with shop_at(shop) as opened:
        kept = stored_plan(opened, tag, number)
        files = papers.write(
            lambda: sheet_of_plan(kept, option),
            lambda: quote_of_plan(kept, sent_by or sender(opened)),
        )
    if as_json:
        console.emit_json({"plan": plain(kept), "files": files})
        return
    _show(kept, files)


def accept(
    tag: Tag,
    *,
    text: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The text the customer sent back; - is standard input."),
    ] = None,
    option: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="recommended, only_failed or everything."),
    ] = None,
    who: Annotated[str | None, typer.Option(metavar="TEXT", help="Who accepted it.")] = None,
    when: Annotated[
        str | None, typer.Option(metavar="DAY", help="On which day, as 2026-03-02.")
    ] = None,
    how: Annotated[
        str | None,
        typer.Option(metavar="TEXT", help="In person, by message, by telephone, on paper."),
    ] = None,
    number: Number = None,
    take_back: Annotated[
        str | None,
        typer.Option(metavar="WHY", help="What was accepted is accepted no more: the reason."),
    ] = None,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Write down which option of a job's plan the customer accepted, or that they take it back."""
    typed = {"--option": option, "--who": who, "--when": when, "--how": how}
    said = [name for name, value in typed.items() if value is not None]
    ways = [text is not None, bool(said or number), take_back is not None]
    if sum(ways) != 1:
        raise UsageError(
            "give the customer's text with --text FILE, or --option, --who, --when and --how, or "
            "--take-back WHY; one of the three"
        )
    with shop_at(shop) as opened:
        if text is not None:
            kept = accept_text(opened, tag, _sent_back(text), by)
        elif take_back is not None:
            take_back_acceptance(opened, tag, take_back, by)
            kept = stored_plan(opened, tag)
        else:
            missing = [name for name in typed if name not in said]
            if missing or option is None or who is None or when is None or how is None:
                raise UsageError(f"an acceptance needs {', '.join(missing)} too")
            meant = stored_plan(opened, tag, number).number
            day = _day(when)
            accept_plan(opened, tag, meant, by, option=option, who=who, when=day, how=how)
            kept = stored_plan(opened, tag)
    if as_json:
        console.emit_json({"plan": plain(kept), "files": {}})
        return
    say(f"plan {kept.number} of job {kept.tag}: {acceptance_words(kept)}")


def add_to(app: typer.Typer) -> None:
    """Put these commands into the group."""
    app.command("plan")(plan)
    app.command("accept")(accept)


def _sent_back(file: Path) -> str:
    """The text of an acceptance."""
    cut = "cut it down to the lines from 'acceptance of plan NUMBER' on"
    return answers_text(file, "an acceptance", cut)


def _day(typed: str) -> date:
    try:
        return day_typed(typed)
    except ValueError as error:
        raise PlanError(
            f"--when: expected a day such as 2026-03-02 or 2.3.2026, found '{typed[:40]}'"
        ) from error


def _show(kept: PlanView, files: dict[str, str]) -> None:
    which = "" if kept.is_current else ", an older one"
    say(f"job {kept.tag}{which}: made {moment_words(kept.made_at)} by {kept.by}")
    show_plan(read_document(kept.document), files)
    say(acceptance_words(kept))
    for one in kept.acceptances:
        if one.taken_back is not None:
            say(f"    {_taken_back(one)}")
    for older in kept.superseded:
        say(f"before: plan {older.number}, made {moment_words(older.made_at)} by {older.by}")
        for one in older.acceptances:
            say(f"    {_taken_back(one) if one.taken_back else f'accepted: {said_words(one)}'}")


def _taken_back(one: AcceptanceView) -> str:
    back = one.taken_back
    assert back is not None  # asked for where there is one
    return (
        f"accepted and taken back: {said_words(one)}; taken back {moment_words(back.at)} "
        f"({back.by}): {back.why}"
    )
