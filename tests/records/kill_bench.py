"""Kill working benches at random moments, and look at what they leave: `python kill_bench.py N`.

One process or two write to one shop. Each is killed (SIGKILL) at a random moment; then the shop is
opened and held against every step that was told as finished.
"""

import hashlib
import json
import os
import random
import select
import signal
import sqlite3
import sys
import time
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from needlewright.records.opening import Shop, open_shop
from needlewright.records.papers import paper, paper_bytes
from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import check_shop
from records.benches import bench
from records.kill_worker import Worker

MOST_TOLD = 12
"""A worker is killed after it has told up to this many beginnings and ends of steps, and then a
moment more: counted in steps, so that a slow machine is killed in all of them too."""
LONGEST_MORE_S = 0.03
GIVEN_UP_S = 180.0


@dataclass
class Tally:
    kills: int = 0
    steps: Counter[str] = field(default_factory=Counter)
    """Finished steps by what they were; none may be lost."""
    killed_during: Counter[str] = field(default_factory=Counter)
    seen: set[str] = field(default_factory=set)
    """Originals that have been verified."""
    told: list[tuple[str, str, dict[str, Any]]] = field(default_factory=list)
    half_written: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    unsound: list[str] = field(default_factory=list)


def kill_round(warm: Shop, number: int, dice: random.Random, tally: Tally) -> None:
    """Every fifth worker opens the shop itself, so that opening is killed too."""
    folder, children = warm.folder, []
    for worker in range(1 + (number % 4 == 0)):
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(reading)
            try:
                shop = open_shop(folder) if (number + worker) % 5 == 0 else warm
                on_bench = "WARM" if number % 2 else None
                Worker(shop, writing, f"R{number}W{worker}").work(on_bench)
            except BaseException as error:  # noqa: BLE001 - anything but a kill is a finding
                os.write(writing, json.dumps(["!", repr(error)]).encode() + b"\n")
            os._exit(1)
        os.close(writing)
        children.append((child, reading))
    told = []
    for child, reading in children:
        early = listen(reading, dice.randrange(MOST_TOLD))
        time.sleep(dice.uniform(0.0, LONGEST_MORE_S))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        tally.kills += 1
        with os.fdopen(reading, "rb") as stream:
            told += heard(early + stream.read(), tally)
    tally.told += told
    look(folder, told, tally)


def listen(reading: int, lines: int) -> bytes:
    """What a worker tells until it has told so much."""
    said, until_s = b"", time.monotonic() + GIVEN_UP_S
    while said.count(b"\n") < lines and time.monotonic() < until_s:
        if select.select([reading], [], [], 0.1)[0]:
            said += os.read(reading, 200)
    return said


def heard(said: bytes, tally: Tally) -> list[tuple[str, str, dict[str, Any]]]:
    lines = [json.loads(line) for line in said.splitlines()]
    begun, told = "opening the shop", []
    for line in lines:
        match line:
            case [">", step]:
                begun = step
            case ["<", step, tag, found]:
                begun = "between steps"
                tally.steps[step] += 1
                told.append((step, tag, found))
            case ["!", error]:
                tally.unsound.append(f"a worker stopped by itself: {error}")
    tally.killed_during[begun] += 1
    return told


def look(folder: Path, told: list[tuple[str, str, dict[str, Any]]], tally: Tally) -> None:
    with closing(sqlite3.connect(folder / "shop.db")) as database:
        sound = database.execute("PRAGMA integrity_check").fetchall()
        broken = database.execute("PRAGMA foreign_key_check").fetchall()
        named = database.execute("SELECT sha256, extension, size FROM original").fetchall()
        paper_files = database.execute("SELECT name, pdf_sha256, json_sha256 FROM paper").fetchall()
    if sound != [("ok",)] or broken:
        tally.unsound.append(f"{sound} {broken}")
    for path in sorted((folder / "originals").glob("??/*")):
        if str(path) in tally.seen:
            continue
        content = path.read_bytes()
        if hashlib.sha256(content).hexdigest() != path.parent.name + path.stem:
            tally.half_written.append(str(path))
        tally.seen.add(str(path))
    for sha256, extension, size in named:
        path = folder / "originals" / sha256[:2] / f"{sha256[2:]}.{extension}"
        if not path.is_file() or path.stat().st_size != size:
            tally.half_written.append(f"{path} is named and not whole")
    whole = {sha256 for sha256, _, _ in named}
    for name, pdf, document in paper_files:
        if not {pdf, document} <= whole:
            tally.half_written.append(f"paper {name}")
    with open_shop(folder) as shop:
        for step, tag, found in told:
            try:
                if why := missing(shop, tag, found):
                    tally.lost.append(f"{tag}, {step}: {why}")
            except Exception as error:  # noqa: BLE001 - what cannot be found is lost
                tally.lost.append(f"{tag}, {step}: {error!r}")


def missing(shop: Any, tag: str, found: dict[str, Any]) -> str:
    """What of a finished step is not there; empty: all is."""
    sheet = job_sheet(shop, tag)
    notes = [note.text for note in sheet.notes]
    checks = {
        "complaint": lambda said: sheet.complaint == said,
        "sender": lambda said: sheet.received.sender == said,
        "original": lambda sha: len(shop.originals.read(sha)) > 0,
        "stage": lambda stage: sheet.stage_of(stage).state == "finished",
        "run": lambda run: (
            run in [line.id for line in sheet.runs] and len(run_sheet(shop, run).told) == 48
        ),
        "photo": lambda photo: any(
            p.id == photo and len(p.readings) == 4 for p in run_sheet(shop, found["run"]).photos
        ),
        "paper": lambda name: (
            paper(shop, name).name == name
            and json.loads(paper_bytes(shop, name, "json"))["name"] == name
        ),
        "note": lambda number: (
            f"kept by {number}" in notes and f"taken back by {number}" not in notes
        ),
    }
    return ", ".join(name for name, said in found.items() if not checks[name](said))


def run(kills: int, seed: int) -> Tally:
    tally, dice = Tally(), random.Random(seed)
    with TemporaryDirectory() as name:
        folder = Path(name) / "shop"
        with bench(folder) as (warm, _), Path(os.devnull).open("wb") as nobody:
            Worker(warm, nobody.fileno(), "WARM").one_job("WARM")
            warm.close()  # no connection may be carried into another process
            number = 0
            while tally.kills < kills:
                kill_round(warm, number, dice, tally)
                number += 1
        look(folder, tally.told, tally)  # and once more, all of them together
        with open_shop(folder) as shop:
            tally.unsound += check_shop(shop).problems
    return tally


def report(tally: Tally, seed: int, took_s: float) -> str:
    steps, during = tally.steps, tally.killed_during
    lines = [
        f"{tally.kills} kills (seed {seed}), {steps.total()} steps finished, {took_s:.0f} s",
        "finished: " + ", ".join(f"{step} {n}" for step, n in sorted(steps.items())),
        "killed during: " + ", ".join(f"{step} {n}" for step, n in sorted(during.items())),
        f"files verified: {len(tally.seen)}; lost steps: {len(tally.lost)}; half-written: "
        f"{len(tally.half_written)}; unsound databases: {len(tally.unsound)}",
    ]
    found = [*tally.lost, *tally.half_written, *tally.unsound]
    return "\n".join([*lines, *found[:20]])


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 120
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else random.SystemRandom().randrange(10**6)
    started_s = time.monotonic()
    tally = run(wanted, seed)
    print(report(tally, seed, time.monotonic() - started_s))
    sys.exit(bool(tally.lost or tally.half_written or tally.unsound))
