"""`needlewright jobs bench`, `needles`, `final` and `set-aside`: a run as a whole."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from needlewright.cli import console
from needlewright.cli.measured import say_rehearsed
from needlewright.cli.needles import needles_document, show_needles
from needlewright.cli.progress import progress_bar
from needlewright.cli.run import run_document, show_run
from needlewright.cli.shop_options import AsJson, By, ShopFolder, Tag, plain, say, shop_at
from needlewright.composing.needle_turn import needle_set_of
from needlewright.composing.run_reading import read_stored_photos, reader_settings
from needlewright.errors import RecordError, RunError, UsageError
from needlewright.readings.commands import read_commands
from needlewright.readings.photo_order import check_pictures, match_photos
from needlewright.readings.run_csv import read_run
from needlewright.records.families import load_version
from needlewright.records.measured import joined
from needlewright.records.opening import Shop
from needlewright.records.overdue import overdue_at_run
from needlewright.records.pictures import picture_bytes
from needlewright.records.run_photos import add_run_photo
from needlewright.records.runs import (
    STAGE_OF,
    run_sheet,
    run_that_counts,
    set_aside_run,
    start_run,
    type_run,
)
from needlewright.records.sheet import job_sheet
from needlewright.records.stages import finish_stage, what_is_missing
from needlewright.records.told import told_from
from needlewright.records.waiting_photos import photos_to_read
from needlewright.records.words import RunSide

Photos = Annotated[list[str] | None, typer.Argument(metavar="PHOTO...", help="Photos of one run.")]
Commands = Annotated[
    Path | None,
    typer.Option(metavar="CSV", help="What each dial was told in each photo."),
]
Typed = Annotated[
    Path | None,
    typer.Option("--typed", metavar="RUN.csv", help="A run typed in, in place of photos."),
]
AnyOrder = Annotated[
    bool, typer.Option("--any-order", help="Photos were taken again later: trust the steps.")
]
RunName = Annotated[str, typer.Argument(metavar="RUN", help="The run's name, as as-found.")]
_SIDE: Final[dict[str, RunSide]] = {"bench": "found", "final": "left"}


def taking(side: RunSide, words: str, *, finishes: bool) -> Callable[..., None]:
    """A command that keeps and reads a run.

    Parameters
    ----------
    side
        Whose run it is.
    words
        Said by `--help`.
    finishes
        Whether its part of the work is finished when nothing is missing.

    Returns
    -------
    callable
        To be put into a group.
    """

    def take(
        tag: Tag,
        photos: Photos = None,
        *,
        commands: Commands = None,
        typed: Typed = None,
        any_order: AnyOrder = False,
        by: By = None,
        shop: ShopFolder = None,
        as_json: AsJson = False,
    ) -> None:
        with shop_at(shop) as opened:
            run_id = take_in(
                opened, tag, side, photos, commands, typed=typed, any_order=any_order, by=by
            )
            if finishes:
                show_and_finish(opened, tag, run_id, by, as_json)
            else:
                show(opened, tag, run_id, as_json)

    take.__doc__ = words
    return take


bench = taking(
    "found",
    "Keep and read the run as found; Bench check is finished when nothing is missing.",
    finishes=True,
)
final = taking(
    "left",
    "Keep and read the run as left; Final check is finished when nothing is missing.",
    finishes=True,
)


def needles(
    tag: Tag,
    *,
    side: Annotated[
        str, typer.Option(metavar="found|left", help="Which run to set the needles by.")
    ] = "found",
    done: Annotated[bool, typer.Option("--done", help="The needles are set.")] = False,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Tell of a job's run which needle to leave, to turn, or not to blame."""
    if side not in ("found", "left"):
        raise UsageError(f"--side '{side}': expected found or left")
    with shop_at(shop) as opened:
        sheet = job_sheet(opened, tag)
        run_id = run_that_counts(opened, tag, "left" if side == "left" else "found")
        cluster = load_version(opened, run_sheet(opened, run_id).family_version_id)
        run = joined(opened, run_id, cluster).run
        found = [
            (dial, one)
            for dial in cluster.dials
            if (one := needle_set_of(cluster, run, dial, max_speed=sheet.max_speed))
        ]
        if not found:
            raise RunError(f"job {tag}: run '{run.name}' has no row of any dial")
        if done:
            finish_stage(opened, tag, "needles", by)
    say_rehearsed(run, as_json=as_json)
    if as_json:
        console.emit_json(needles_document([one for _, one in found]))
        return
    show_needles(cluster, run.name, found)


def set_aside(
    tag: Tag,
    run: RunName,
    *,
    why: Annotated[str, typer.Option(metavar="TEXT", help="The reason.")],
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Say that a run counts no more; it stays, with the reason."""
    with shop_at(shop) as opened:
        run_id = run_named(opened, tag, run)
        set_aside_run(opened, run_id, why, by)
        show(opened, tag, run_id, as_json)


def take_in(
    shop: Shop,
    tag: str,
    side: RunSide,
    photos: list[str] | None,
    commands: Path | None,
    *,
    typed: Path | None,
    any_order: bool,
    by: str | None,
) -> int:
    """Keep a run of a side and read its photos; the run's id."""
    if typed is not None:
        if photos or commands is not None:
            raise UsageError("--typed goes without photos and without --commands")
        return type_run(shop, tag, side, read_run(typed), by).id
    if not photos or commands is None:
        raise UsageError("give the run's photos and --commands, or --typed")
    cluster = load_version(shop, job_sheet(shop, tag).family_version_id)
    told = read_commands(commands, cluster)
    matched = match_photos(commands, told, photos)
    check_pictures(told, matched, any_order=any_order)
    contents = {name: picture_bytes(Path(given)) for name, given in matched.items()}
    rows, steps = told_from(told)
    run = start_run(shop, tag, side, rows, by, reader=reader_settings())
    for name, content in contents.items():
        add_run_photo(shop, run.id, content, Path(name).name, by, step=steps[name])
    read_waiting(shop, run.id)
    return run.id


def read_waiting(shop: Shop, run_id: int) -> None:
    """Read what is not read yet of a run, with a bar."""
    with progress_bar("reading", len(photos_to_read(shop, run_id))) as on_progress:
        read_stored_photos(shop, run_id, on_progress)


def run_named(shop: Shop, tag: str, name: str) -> int:
    """The id of a job's run by its name; raises RecordError if there is none."""
    sheet = job_sheet(shop, tag)
    for run in sheet.runs:
        if run.name == name:
            return run.id
    names = ", ".join(run.name for run in sheet.runs) or "none"
    raise RecordError(f"job {sheet.tag}: there is no run '{name}'; it has {names}")


def show_and_finish(shop: Shop, tag: str, run_id: int, by: str | None, as_json: bool) -> None:
    """Finish the run's part of the work where nothing is missing, and show the run."""
    stage = STAGE_OF[run_sheet(shop, run_id).side]
    lacking = what_is_missing(shop, tag, stage)
    if not lacking and job_sheet(shop, tag).stage_of(stage).state != "finished":
        finish_stage(shop, tag, stage, by)
    show(shop, tag, run_id, as_json)


def show(shop: Shop, tag: str, run_id: int, as_json: bool) -> None:
    """The run, for programs or for people, and what keeps its part open."""
    run = run_sheet(shop, run_id)
    cluster = load_version(shop, run.family_version_id)
    whole = joined(shop, run_id, cluster)
    overdue = overdue_at_run(job_sheet(shop, tag), run)
    whole = replace(whole, remarks=(*whole.remarks, *overdue))
    stage = STAGE_OF[run.side]
    lacking = what_is_missing(shop, tag, stage)
    if as_json:
        document: dict[str, Any] = run_document(whole, None)
        extra = {"sheet": plain(run), "missing": list(lacking)}
        console.emit_json({k: v for k, v in document.items() if k != "out"} | extra)
        return
    show_run(cluster, whole)
    for sentence in lacking:
        say(f"\nnot finished: {sentence}")


def add_to(app: typer.Typer) -> None:
    """Put these commands into the group."""
    app.command("bench")(bench)
    app.command("needles")(needles)
    app.command("final")(final)
    app.command("set-aside")(set_aside)
