"""A shop for tests: a clock that can be set, people, a family, jobs brought up to a given part."""

import atexit
import io
import os
import random
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from PIL import Image
from sqlalchemy import create_engine, text

from needlewright.readings.model import PhotoReadings, Reading
from needlewright.records import families, intake, jobs, shop, stages
from needlewright.records.opening import Shop, open_shop
from needlewright.records.place import ADDRESS
from needlewright.records.run_photos import add_run_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import start_run
from needlewright.records.told import Told
from needlewright.records.views import JobSheet, RunSheet
from proofs.drawn_job import DATA, FAMILY, true_run

FAMILY_FOLDER = DATA / "families" / "fam-job"
ANNA, BERT = "Anna Invented", "Bert Invented"
SERVER = os.environ.get("NEEDLEWRIGHT_TEST_POSTGRES", "")
"""Address of an empty PostgreSQL database; every shop of these tests lies in it then."""

sqlite_only = pytest.mark.skipif(bool(SERVER), reason="about the shop's own database file")


class Clock:
    """Noon of an invented day, a second later at every look."""

    def __init__(self, days: int = 0) -> None:
        self.at = datetime(2026, 3, 2, 12, tzinfo=UTC) + timedelta(days=days)

    def __call__(self) -> datetime:
        self.at += timedelta(seconds=1)
        return self.at

    def days(self, number: int) -> None:
        self.at += timedelta(days=number)


@contextmanager
def bench(folder: Path, days: int = 0, **settings: Any) -> Iterator[tuple[Shop, Clock]]:
    """An open shop with two people, settings and the drawn job's family."""
    if SERVER and not (folder / ADDRESS).exists():
        folder.mkdir(parents=True, exist_ok=True)
        (folder / ADDRESS).write_text(on_server() + "\n")
        _furnish(folder)
    elif not SERVER and not (folder / "shop.db").exists():
        shutil.copytree(furnished(), folder, dirs_exist_ok=True)
    clock = Clock(days)
    with open_shop(folder, now=clock) as opened:
        if settings:
            shop.change_settings(opened, settings)
        yield opened, clock


@cache
def furnished() -> Path:
    """A new shop, made once: making one takes longer than most tests."""
    folder = Path(tempfile.mkdtemp(prefix="needlewright-tests-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    _furnish(folder / "shop")
    return folder / "shop"


def _furnish(folder: Path) -> None:
    with open_shop(folder, now=Clock()) as opened:
        shop.add_person(opened, ANNA)
        shop.add_person(opened, BERT)
        said = {"name": "Test Bench", "place": "2 Test Road", "authorised_by": "A. Uthor"}
        shop.change_settings(opened, said)
        families.keep_family(opened, FAMILY_FOLDER)


def on_server() -> str:
    """The address of a new, empty place in the server's database; it goes when the tests end."""
    name = f"needlewright_{uuid4().hex[:12]}"
    database = create_engine(SERVER)
    with database.begin() as connection:
        connection.execute(text(f"CREATE SCHEMA {name}"))
    atexit.register(_drop, name)
    database.dispose()
    joint = "&" if "?" in SERVER else "?"
    return f"{SERVER}{joint}options=-csearch_path%3D{name}"


def _drop(name: str) -> None:
    database = create_engine(SERVER)
    with database.begin() as connection:
        connection.execute(text(f"DROP SCHEMA IF EXISTS {name} CASCADE"))
    database.dispose()


def new(opened: Shop, tag: str = "T-77", **more: Any) -> JobSheet:
    said = {
        "tag": tag,
        "family": "fam-job",
        "serial": "S-123",
        "owner": "C. Ustomer",
        "vehicle": "an invented van",
        "complaint": "speedometer sticks at 60",
    }
    return jobs.new_job(opened, said | more, by=ANNA)


ALL_OK = {f"{what}_ok": True for what in ("family", "variant", "face", "connector")}
RECEIVED = {
    "sender": "C. Ustomer",
    "contents": [{"what": "cluster", "ticked": True}],
    "packing": "double box",
    "condition": "two screws missing",
    "odometer_in": 184213,
    **ALL_OK,
}


def received(opened: Shop, tag: str = "T-77", **more: Any) -> JobSheet:
    new(opened, tag, **more)
    intake.receive(opened, tag, RECEIVED, ANNA)
    return stages.finish_stage(opened, tag, "received", ANNA)


@cache
def jpeg(number: int, side_px: int = 80) -> bytes:
    """A picture like no other."""
    noise = random.Random(number).randbytes(side_px * side_px)
    stream = io.BytesIO()
    Image.frombytes("L", (side_px, side_px), noise).save(stream, "JPEG", quality=60)
    return stream.getvalue()


def told(name: str = "as-found") -> list[Told]:
    """What the drawn job's dials were told, with a stated stimulus."""
    return [
        Told(
            row.step or 0,
            row.dial,
            row.unit,
            row.approach,
            row.commanded,
            21.5,
            None if row.commanded is None else 0.05,
        )
        for row in true_run(name).rows
    ]


def outcomes(name: str = "as-found") -> dict[int, PhotoReadings]:
    """What a perfect reader sees, by step."""
    by_step: dict[int, list[Reading]] = {}
    for row in true_run(name).rows:
        dial = FAMILY.dial(row.dial)
        value = dial.scale.value_at(row.angle_deg)
        reading = Reading(
            row.dial,
            "read",
            row.unit,
            None,
            row.angle_deg,
            0.05,
            value,
            0.3 if row.unit == "km/h" else 0.01,
            0.1,
            ("oblique",),
            (("fit", 0.04), ("registration", 0.03)),
            ((10.0, 20.0), (30.0, 40.0)),
        )
        by_step.setdefault(row.step or 0, []).append(reading)
    return {step: PhotoReadings("x", True, None, tuple(r)) for step, r in by_step.items()}


def measured_side(opened: Shop, tag: str, side: str, first_number: int = 0) -> RunSheet:
    """A whole run of a job: told, photographed, read."""
    name = {"found": "as-found", "left": "as-left"}[side]
    run = start_run(opened, tag, side, told(name), ANNA)
    for step, outcome in outcomes(name).items():
        number = first_number + step + {"found": 1000, "left": 2000}[side]
        photo = add_run_photo(opened, run.id, jpeg(number), f"{name}-{step}.jpg", ANNA, step=step)
        store_outcome(opened, photo.id, outcome, jpeg(number + 5000))
    return run
