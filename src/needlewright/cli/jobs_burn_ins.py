"""`needlewright jobs burn-ins`: the burn-ins of a job, and setting one aside."""

from typing import Annotated

import typer

from needlewright.cli import console
from needlewright.cli.job_words import moment_words
from needlewright.cli.shop_options import AsJson, By, ShopFolder, Tag, plain, say, shop_at
from needlewright.composing.burn_in_job import catch_up
from needlewright.errors import UsageError
from needlewright.records.burn_ins import burn_in, burn_ins_of, set_aside_burn_in
from needlewright.records.views.burn_ins import BurnInView

SetAside = Annotated[
    int | None,
    typer.Option("--set-aside", metavar="N", help="The burn-in that counts no more."),
]
Why = Annotated[str, typer.Option(metavar="TEXT", help="Why it is set aside.")]


def burn_ins(
    tag: Tag,
    *,
    set_aside: SetAside = None,
    why: Why = "",
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """List the burn-ins of a job with what came of each, or set one aside with its reason."""
    if why and set_aside is None:
        raise UsageError("--why goes with --set-aside N")
    with shop_at(shop) as opened:
        views = [
            one if one.state == "finished" else catch_up(opened, one)
            for one in burn_ins_of(opened, tag)
        ]
        if set_aside is not None:
            if all(one.id != set_aside for one in views):
                known = ", ".join(str(one.id) for one in views) or "none"
                raise UsageError(f"--set-aside {set_aside}: job {tag} has {known}")
            set_aside_burn_in(opened, set_aside, why, by)
            views = [burn_in(opened, one.id) for one in views]
    if as_json:
        console.emit_json({"burn_ins": [plain(one) for one in views]})
        return
    if not views:
        say(f"job {tag}: no burn-in yet")
    for one in views:
        _show(one)


def _show(one: BurnInView) -> None:
    result = one.said.get("line") or "nothing written yet"
    say(f"{one.id}  {moment_words(one.at)}  {one.by}  {one.state.replace('_', ' ')}: {result}")
    if one.rehearsed is not None:
        say(f"   {one.rehearsed}; nothing of this was seen on a real cluster")
    if not one.counts:
        say(f"   set aside: {one.set_aside_why}")


def add_to(app: typer.Typer) -> None:
    """Put the command into the group of jobs."""
    app.command("burn-ins")(burn_ins)
