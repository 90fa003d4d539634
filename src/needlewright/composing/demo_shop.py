"""An invented shop, so that the page can be looked at with something in it.

Its jobs stand in different parts of the work. The photos of two of them have not been read: the
page reads them when it is first served.
"""

import os
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any, Final

import platformdirs

from needlewright.composing.demo_stock import fill_stock
from needlewright.composing.run_reading import reader_settings
from needlewright.errors import UsageError
from needlewright.proofs.job_facts import JobFacts
from needlewright.proofs.job_file import load_job
from needlewright.readings.commands import read_commands
from needlewright.records.families import keep_family, load_version
from needlewright.records.intake import receive
from needlewright.records.jobs import edit_job, new_job, use_instruments, wait_for
from needlewright.records.opening import Shop, open_shop
from needlewright.records.place import DATABASE
from needlewright.records.run_photos import add_run_photo
from needlewright.records.runs import start_run
from needlewright.records.shop import add_instrument, add_person, change_settings, settings
from needlewright.records.stages import finish_stage
from needlewright.records.told import told_from
from needlewright.records.views import FamilyView
from needlewright.records.words import RunSide, WaitsFor

LEAD: Final = "R. Example"
SECOND: Final = "S. Sample"
RUNS: Final[Mapping[RunSide, str]] = {"found": "as-found", "left": "as-left"}
ALL_OK: Final = {f"{what}_ok": True for what in ("family", "variant", "face", "connector")}


@dataclass(frozen=True, slots=True)
class _Invented:
    """A job of the demonstration."""

    tag: str
    serial: str
    owner: str
    vehicle: str
    complaint: str
    promised_days: int
    """From today."""
    waits_for: WaitsFor
    is_received: bool = True
    runs: tuple[RunSide, ...] = ()


_OTHERS: Final = (
    _Invented(
        "EX-0405",
        "INVENTED-640",
        "B. Nobody",
        "an invented van",
        "fuel gauge hangs at a quarter whatever is in the tank",
        1,
        "bench",
        runs=("found", "left"),
    ),
    _Invented(
        "EX-0398",
        "INVENTED-512",
        "C. Pretend",
        "an invented lorry of no maker",
        "all needles dead in the morning, alive once the cabin is warm",
        -2,
        "parts",
    ),
    _Invented(
        "EX-0409",
        "INVENTED-733",
        "D. Madeup",
        "an invented coupé",
        "display dim, worse when warm; speedometer 10 over at motorway speed",
        4,
        "owner",
    ),
    _Invented(
        "EX-0415",
        "INVENTED-802",
        "E. Fiction",
        "an invented delivery van",
        "temperature needle sits below its mark with the ignition off",
        9,
        "cluster",
        is_received=False,
    ),
)


def demo_folder() -> Path:
    """Where the invented shop lies unless another folder is named."""
    return platformdirs.user_data_path("needlewright-demo", appauthor=False)


def make_demo_shop(folder: Path) -> bool:
    """Make the invented shop, unless it is there already.

    Parameters
    ----------
    folder
        Of the shop; made whole under another name first.

    Returns
    -------
    bool
        Whether it was made now.

    Raises
    ------
    UsageError
        If the folder holds anything but an invented shop.
    RecordError
        If it cannot be written.
    """
    if (folder / DATABASE).is_file():
        _refuse_real_shop(folder)
        return False
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(f"--shop {folder}: holds something else; name an empty or a new folder")
    folder.parent.mkdir(parents=True, exist_ok=True)
    part = folder.with_name(f".{folder.name}.{os.getpid()}.part")
    shutil.rmtree(part, ignore_errors=True)
    try:
        with open_shop(part) as shop, as_file(files("needlewright") / "demo_data") as data:
            _fill(shop, data)
        if folder.exists():
            folder.rmdir()
        os.replace(part, folder)
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return True


def _refuse_real_shop(folder: Path) -> None:
    with open_shop(folder) as shop:
        if not settings(shop).invented:
            raise UsageError(
                f"--shop {folder}: holds a real shop; leave --demo out, or name another folder"
            )


def _fill(shop: Shop, data: Path) -> None:
    facts = load_job(data / "job.toml")
    family = keep_family(shop, data / "family")
    add_person(shop, LEAD)
    add_person(shop, SECOND)
    change_settings(
        shop,
        {
            "invented": True,
            "name": facts.shop,
            "place": facts.place,
            "authorised_by": facts.authorised_by,
            "supply": facts.supply or "",
        },
    )
    today = shop.now().astimezone().date()
    for number, (instrument, due_days) in enumerate(
        ((facts.instruments[0].name, None), (facts.instruments[1].name, 120))
    ):
        due = None if due_days is None else today + timedelta(due_days)
        add_instrument(shop, instrument, facts.instruments[number].number, due)
    add_instrument(shop, "ohmmeter for senders", "EX-R3", today - timedelta(12), "an invented lab")
    _open_demo_job(shop, data, facts, family)
    for job in _OTHERS:
        _open_other(shop, data, family, job)
    fill_stock(shop, _OTHERS[0].tag, SECOND, LEAD)


def _open_demo_job(shop: Shop, data: Path, facts: JobFacts, family: FamilyView) -> None:
    today = shop.now().astimezone().date()
    new_job(
        shop,
        {
            "tag": facts.tag,
            "family": family.name,
            "serial": facts.serial,
            "variant": facts.variant,
            "owner": facts.customer,
            "owner_contact": facts.customer_contact,
            "vehicle": facts.vehicle,
            "max_speed": facts.max_speed,
            "complaint": "speedometer sticks at 60, then jumps; rev counter rests above zero",
            "promised": today + timedelta(2),
            "odometer_unit": facts.odometer.unit,
        },
        LEAD,
    )
    _receive(shop, facts.tag, facts.customer, facts.condition, facts.odometer.as_received)
    use_instruments(shop, facts.tag, [one.number for one in facts.instruments], LEAD)
    _photograph(shop, data, facts.tag, family, "found")


def _open_other(shop: Shop, data: Path, family: FamilyView, job: _Invented) -> None:
    today = shop.now().astimezone().date()
    new_job(
        shop,
        {
            "tag": job.tag,
            "family": family.name,
            "serial": job.serial,
            "owner": job.owner,
            "vehicle": job.vehicle,
            "complaint": job.complaint,
            "promised": today + timedelta(job.promised_days),
        },
        SECOND,
    )
    if job.is_received:
        edit_job(shop, job.tag, {"variant": "kmh-220", "max_speed": 200}, SECOND)
        _receive(shop, job.tag, job.owner, "lens clear; all screws there", 184_213)
    for side in job.runs:
        _photograph(shop, data, job.tag, family, side)
    wait_for(shop, job.tag, job.waits_for, SECOND)


def _receive(shop: Shop, tag: str, sender: str, condition: str, odometer_in: float | None) -> None:
    changes: dict[str, Any] = {
        "day": shop.now().astimezone().date(),
        "sender": sender,
        "contents": [
            {"what": "cluster", "ticked": True},
            {"what": "mounting screws", "ticked": True, "note": "4"},
        ],
        "packing": "double box, foam on all sides",
        "condition": condition,
        "odometer_in": odometer_in,
        **ALL_OK,
    }
    receive(shop, tag, changes, LEAD)
    finish_stage(shop, tag, "received", LEAD)


def _photograph(shop: Shop, data: Path, tag: str, family: FamilyView, side: RunSide) -> None:
    folder = data / RUNS[side]
    commands = read_commands(folder / "commands.csv", load_version(shop, family.version_id))
    rows, steps = told_from(commands)
    run = start_run(shop, tag, side, rows, LEAD, reader=reader_settings())
    for name, step in steps.items():
        add_run_photo(shop, run.id, (folder / name).read_bytes(), name, LEAD, step=step)
