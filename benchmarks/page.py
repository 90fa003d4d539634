"""How long the page takes: `python benchmarks/page.py`, printed as a table.

The shelf with 10,000 jobs and its search, a job sheet with 200 photos, the demonstration's twelve
photos from the first byte sent to the whole table, and the memory of all processes meanwhile. The
page is served by the command as a technician starts it, and asked over loopback.
"""

import json
import os
import re
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.resources import as_file, files
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Event, Thread
from typing import Any

import httpx2
import numpy as np
from PIL import Image

from needlewright.composing.steps import proposed_steps
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.records.families import families, keep_family, load_version
from needlewright.records.intake import receive
from needlewright.records.jobs import new_job
from needlewright.records.opening import Shop, open_shop
from needlewright.records.run_photos import add_run_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import start_run
from needlewright.records.shop import add_person, change_settings
from needlewright.records.stages import finish_stage
from needlewright.records.told import Told
from records import fill

JOBS = 10_000
PHOTOS = 200
TIMES = 15
DEMO = files("needlewright") / "demo_data"
RIGHT = {f"{what}_ok": True for what in ("family", "variant", "face", "connector")}
LIMITS_MS = {"shelf": 150.0, "search": 150.0, "sheet": 300.0, "photos": 10_000.0}
LIMIT_MB = 600.0


@dataclass(frozen=True)
class Line:
    """One line of the table."""

    what: str
    measured: float
    unit: str
    limit: float
    beside: str = ""


def main() -> int:
    """Measure, print, and say by the exit code whether every figure holds."""
    with TemporaryDirectory() as folder:
        shop_folder = Path(folder) / "shop"
        _fill(shop_folder)
        lines: list[Line] = []
        with _served(shop_folder) as (url, process), _Memory(process.pid) as memory:
            with httpx2.Client(base_url=url, timeout=120) as client:
                lines += _shelf(client)
                lines += _sheet(client)
                lines.append(_photos(client))
            time.sleep(1)
            lines.append(Line("memory, all processes", memory.most_mb, "MB", LIMIT_MB, "largest"))
    return _print(lines)


def _shelf(client: httpx2.Client) -> Iterator[Line]:
    shelf = _median_ms(lambda: client.get("/"))
    yield Line(f"shelf of {JOBS:,} jobs", shelf, "ms", LIMITS_MS["shelf"], _of(TIMES))
    words = iter(f"/?words=EX-0{number * 613:04}" for number in range(TIMES + 1))
    search = _median_ms(lambda: client.get(next(words)))
    yield Line("search in it", search, "ms", LIMITS_MS["search"], _of(TIMES))


def _sheet(client: httpx2.Client) -> Iterator[Line]:
    """The first look works every dial out, which is told beside and held to no limit."""
    began = time.perf_counter()
    client.get("/jobs/LONG").raise_for_status()
    first = (time.perf_counter() - began) * 1000
    sheet = _median_ms(lambda: client.get("/jobs/LONG"))
    beside = f"{_of(TIMES)}; the first, every dial judged anew: {first:,.0f} ms"
    yield Line(f"job sheet with {PHOTOS} photos", sheet, "ms", LIMITS_MS["sheet"], beside)


def _photos(client: httpx2.Client) -> Line:
    """From sending the table and the first photo until every photo is read and the table whole."""
    token = re.search(r'name="form-token" content="([^"]+)"', client.get("/keys").text)
    assert token
    headers = {"accept": "application/json", "x-form-token": token.group(1)}
    folder = DEMO / "as-found"
    table = ("files", ("commands.csv", (folder / "commands.csv").read_bytes(), "text/csv"))
    began = time.perf_counter()
    said = client.post("/jobs/DEMO/runs/found/files", files=[table], headers=headers).json()
    for name, step in said["steps"].items():
        photo = {"photo": (name, (folder / name).read_bytes(), "image/jpeg")}
        address = f"/jobs/DEMO/run/{said['run']}/photos"
        client.post(address, data={"step": step}, files=photo, headers=headers).raise_for_status()
    while True:
        far = client.get(f"/jobs/DEMO/run/{said['run']}/progress", headers=headers).json()
        if far["read"] == far["of"] == len(said["steps"]):
            break
        time.sleep(0.5)
    page = client.get("/jobs/DEMO").text
    took = (time.perf_counter() - began) * 1000
    assert page.count('data-state="read"') == len(said["steps"])
    assert "does not conform" in page
    return Line("12 photos sent and read, table whole", took, "ms", LIMITS_MS["photos"], "once")


def _median_ms(ask: Callable[[], httpx2.Response]) -> float:
    times = []
    for number in range(TIMES + 1):
        began = time.perf_counter()
        ask().raise_for_status()
        if number:  # the first one opens the connection
            times.append((time.perf_counter() - began) * 1000)
    return statistics.median(times)


def _of(count: int) -> str:
    return f"median of {count}"


def _fill(folder: Path) -> None:
    with open_shop(folder) as shop, as_file(DEMO / "family") as family:
        add_person(shop, "R. Example")
        change_settings(shop, {"name": "Example Instrument Bench", "invented": True})
        keep_family(shop, family)
        version = families(shop)[0]
        fill(shop, version.version_id, version.name, JOBS - 2)
        for tag in ("LONG", "DEMO"):
            _job(shop, tag)
            _received(shop, tag)
        _long_run(shop)


def _job(shop: Shop, tag: str) -> None:
    new_job(
        shop,
        {
            "tag": tag,
            "family": "invented-estate",
            "serial": f"INVENTED-{tag}",
            "owner": "A. Sample",
            "vehicle": "an invented estate car",
            "complaint": "speedometer sticks, then jumps",
        },
    )


def _received(shop: Shop, tag: str) -> None:
    changes = {
        "sender": "A. Sample",
        "condition": "as new",
        "contents": [{"what": "cluster", "ticked": True}],
        "odometer_in": 771627,
        **RIGHT,
    }
    receive(shop, tag, changes)
    finish_stage(shop, tag, "received")


def _long_run(shop: Shop) -> None:
    """A run of as many steps as photos, every needle on its programme."""
    family = load_version(shop, families(shop)[0].version_id)
    steps = proposed_steps(family)
    once = max(row.step for row in steps) + 1
    rows = [
        Told(number, row.dial, row.unit, row.approach, row.commanded)
        for number in range(PHOTOS)
        for row in steps
        if row.step == number % once
    ]
    run = start_run(shop, "LONG", "found", rows)
    for number in range(PHOTOS):
        photo = add_run_photo(shop, run.id, _picture(number), f"{number:03}.jpg", step=number)
        told = {row.dial: row.commanded for row in rows if row.step == number}
        readings = []
        for dial in family.dials:
            value = told[dial.id]
            angle = dial.rest_angle_deg if value is None else dial.programme_angle_deg(value)
            shown = dial.scale.value_at(angle)
            readings.append(
                Reading(
                    dial.id,
                    "read",
                    dial.unit,
                    angle_deg=angle,
                    u_angle_deg=0.05,
                    value=shown,
                    u_value=abs(dial.scale.slope_at(angle)) * 0.05,
                )
            )
        store_outcome(shop, photo.id, PhotoReadings("x", True, None, tuple(readings)))


def _picture(number: int) -> bytes:
    pixels = np.full((96, 128, 3), 30 + number % 200, np.uint8)
    pixels[number % 96, :] = 255
    stream = BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG")
    return stream.getvalue()


@contextmanager
def _served(folder: Path) -> Iterator[tuple[str, "subprocess.Popen[str]"]]:
    command = Path(sys.executable).with_name("needlewright")
    words = [str(command), "serve", "--shop", str(folder), "--port", "0", "--json"]
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=environment) as process:
        try:
            yield _said(process)["url"], process
        finally:
            process.terminate()
            process.wait(30)


def _said(process: "subprocess.Popen[str]") -> dict[str, Any]:
    """The document the command prints when browsers are answered, on one line or on many."""
    said = ""
    assert process.stdout is not None
    for line in process.stdout:
        said += line
        try:
            document: dict[str, Any] = json.loads(said)
        except ValueError:
            continue
        return document
    raise SystemExit(f"the page did not start; it said: {said or 'nothing'}")


class _Memory:
    """The largest sum of memory a process and those it started hold, shared pages counted once."""

    def __init__(self, pid: int) -> None:
        self._pid = pid
        self.most_mb = 0.0
        self._over = Event()
        self._thread = Thread(target=self._watch, daemon=True)

    def __enter__(self) -> "_Memory":
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _watch(self) -> None:
        while not self._over.wait(0.2):
            self.most_mb = max(self.most_mb, sum(map(_held_mb, _family_of(self._pid))))


def _family_of(pid: int) -> list[int]:
    found = [pid]
    for one in found:
        for task in Path(f"/proc/{one}/task").glob("*/children"):
            try:
                found += [int(child) for child in task.read_text().split()]
            except OSError:
                continue
    return found


def _held_mb(pid: int) -> float:
    """Proportional set size."""
    try:
        rolled = Path(f"/proc/{pid}/smaps_rollup").read_text()
    except OSError:
        return 0.0
    found = re.search(r"^Pss:\s+(\d+) kB", rolled, re.MULTILINE)
    return int(found.group(1)) / 1024 if found else 0.0


def _print(lines: list[Line]) -> int:
    print(f"{'what':40} {'measured':>12} {'at most':>12}")
    holds = True
    for line in lines:
        within = line.measured <= line.limit
        holds = holds and within
        said = "" if within else "   MISSED"
        measured = f"{line.measured:,.0f} {line.unit}"
        limit = f"{line.limit:,.0f} {line.unit}"
        print(f"{line.what:40} {measured:>12} {limit:>12}   {line.beside}{said}")
    cores = len(os.sched_getaffinity(0))
    print(f"on {cores} cores, load {os.getloadavg()[0]:.1f}")
    return 0 if holds else 1


if __name__ == "__main__":
    sys.exit(main())
