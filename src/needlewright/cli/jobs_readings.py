"""`needlewright jobs retake`, `read`, `reject-photo` and others: photos and readings of a run."""

from pathlib import Path
from typing import Annotated

import typer

from needlewright.cli.jobs_runs import RunName, read_waiting, run_named, show, show_and_finish
from needlewright.cli.shop_options import AsJson, By, ShopFolder, Tag, shop_at
from needlewright.errors import RecordError
from needlewright.records.pictures import picture_bytes
from needlewright.records.run_photos import add_run_photo, photo_at, retake_photo
from needlewright.records.run_photos import reject_photo as reject_whole
from needlewright.records.run_readings import reading_id_at
from needlewright.records.run_readings import reject_reading as reject
from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.waiting_photos import read_on as go_on
from needlewright.records.waiting_photos import stop_reading as stop

Step = Annotated[int, typer.Argument(metavar="STEP", help="Which step of the run.")]


def retake(
    tag: Tag,
    run: RunName,
    step: Step,
    photo: Annotated[str, typer.Argument(metavar="PHOTO", help="The newer photo.")],
    *,
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Put a newer photo in the place of one of a run, and read it; the older stays kept."""
    with shop_at(shop) as opened:
        run_id = run_named(opened, tag, run)
        older = next((p for p in run_sheet(opened, run_id).photos if p.step == step), None)
        content = picture_bytes(Path(photo))
        if older is None:
            add_run_photo(opened, run_id, content, Path(photo).name, by, step=step)
        else:
            retake_photo(opened, older.id, content, Path(photo).name, by)
        read_waiting(opened, run_id)
        show_and_finish(opened, tag, run_id, by, as_json)


def read_again(
    tag: Tag, *, by: By = None, shop: ShopFolder = None, as_json: AsJson = False
) -> None:
    """Read the photos of a job that nobody has read yet, as after a stop."""
    with shop_at(shop) as opened:
        sheet = job_sheet(opened, tag)
        runs = [run for run in sheet.runs if run.unread and run.set_aside_at is None]
        for run in runs:
            read_waiting(opened, run.id)
        if runs:
            show_and_finish(opened, tag, runs[-1].id, by, as_json)
            return
        raise RecordError(f"job {sheet.tag}: every photo has been read")


def stop_reading(
    tag: Tag, run: RunName, *, by: By = None, shop: ShopFolder = None, as_json: AsJson = False
) -> None:
    """Leave the photos of a run that are not read yet as they are; those in hand are finished."""
    with shop_at(shop) as opened:
        run_id = run_named(opened, tag, run)
        stop(opened, run_id, by)
        show(opened, tag, run_id, as_json)


def read_on(
    tag: Tag, run: RunName, *, by: By = None, shop: ShopFolder = None, as_json: AsJson = False
) -> None:
    """Read the rest of a run whose reading was stopped."""
    with shop_at(shop) as opened:
        run_id = run_named(opened, tag, run)
        go_on(opened, run_id, by)
        read_waiting(opened, run_id)
        show_and_finish(opened, tag, run_id, by, as_json)


def reject_reading(
    tag: Tag,
    run: RunName,
    step: Step,
    dial: Annotated[str, typer.Argument(metavar="DIAL", help="Whose needle.")],
    *,
    why: Annotated[str, typer.Option(metavar="TEXT", help="The reason.")],
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Say that a reading is not to be trusted; its row counts as not read."""
    with shop_at(shop) as opened:
        run_id = run_named(opened, tag, run)
        reject(opened, reading_id_at(run_sheet(opened, run_id), step, dial), why, by)
        show(opened, tag, run_id, as_json)


def reject_photo(
    tag: Tag,
    run: RunName,
    step: Step,
    *,
    why: Annotated[str, typer.Option(metavar="TEXT", help="The reason.")],
    by: By = None,
    shop: ShopFolder = None,
    as_json: AsJson = False,
) -> None:
    """Say why a photo in which nothing was read may stay so; its rows count as not read."""
    with shop_at(shop) as opened:
        run_id = run_named(opened, tag, run)
        reject_whole(opened, photo_at(run_sheet(opened, run_id), step).id, why, by)
        show_and_finish(opened, tag, run_id, by, as_json)


def add_to(app: typer.Typer) -> None:
    """Put these commands into the group."""
    app.command("retake")(retake)
    app.command("read")(read_again)
    app.command("stop-reading")(stop_reading)
    app.command("read-on")(read_on)
    app.command("reject-reading")(reject_reading)
    app.command("reject-photo")(reject_photo)
