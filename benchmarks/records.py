"""How quick the records are with ten thousand jobs: `python benchmarks/records.py [JOBS]`.

Everything is invented. The limits are those the page is held to; the page's own time comes on top.
"""

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from random import Random
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any, get_args

from sqlalchemy import insert

from needlewright.readings.model import PhotoReadings, Reading
from needlewright.records import families, jobs, shop
from needlewright.records.changes import refresh_search
from needlewright.records.opening import Shop, open_shop
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.shelf import shelf
from needlewright.records.tables import (
    BenchRun,
    Cluster,
    Job,
    Original,
    Received,
    Returned,
    RunPhoto,
    RunRowTold,
)
from needlewright.records.words import STAGES, WaitsFor

FAMILY = Path(__file__).parents[1] / "src" / "needlewright" / "demo_data" / "family"
JOBS, PHOTOS, TIMES = 10_000, 200, 15
NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
COMPLAINTS = (
    "speedometer rests above zero",
    "all needles dead",
    "display dim, worse warm",
    "works once the cabin is warm",
    "fuel gauge never full",
)


@contextmanager
def full_shop(count: int) -> Iterator[Shop]:
    """A shop with many jobs, one of them with many photos."""
    with TemporaryDirectory() as folder, open_shop(Path(folder), now=lambda: NOW) as opened:
        shop.add_person(opened, "Anna Invented")
        family = families.keep_family(opened, FAMILY)
        fill(opened, family.version_id, family.name, count)
        jobs.new_job(opened, {"tag": "MANY", "family": family.name, "serial": "INV-MANY"})
        photograph(opened, "MANY", family.version_id)
        yield opened


def fill(opened: Shop, version_id: int, family: str, count: int) -> None:
    """Put jobs in as they stand after years: most have left."""
    dice = Random(1)
    with opened.writing("filling") as session:
        session.execute(
            insert(Cluster),
            [{"id": n, "family": family, "serial": f"INV-{n:05}"} for n in range(1, count + 1)],
        )
        session.execute(
            insert(Job), [job(dice, n, version_id, family) for n in range(1, count + 1)]
        )
        for table in (Received, Returned):
            session.execute(insert(table), [{"job_id": n} for n in range(1, count + 1)])


def job(dice: Random, number: int, version_id: int, family: str) -> dict[str, Any]:
    """One invented job."""
    row = Job(
        tag=f"EX-{number:05}",
        owner=f"Owner {dice.randrange(3000)} of {dice.choice(('Nowhere', 'Elsewhere'))}",
        vehicle=f"an invented vehicle of {dice.randrange(1980, 2020)}",
        complaint=dice.choice(COMPLAINTS),
    )
    row.cluster = Cluster(family=family, serial=f"INV-{number:05}")
    refresh_search(row)
    left = number % 4 == 0
    return {
        "id": number,
        "tag": row.tag,
        "tag_key": row.tag.casefold(),
        "cluster_id": number,
        "family_version_id": version_id,
        "owner": row.owner,
        "vehicle": row.vehicle,
        "complaint": row.complaint,
        "search": row.search,
        "promised": date(2026, 3, 1) + timedelta(days=dice.randrange(60)),
        "stage": dice.choice(STAGES),
        "waits_for": "nothing" if left else dice.choice(get_args(WaitsFor)[:-1]),
        "opened_at": NOW,
        "closed_at": NOW if left else None,
    }


def photograph(opened: Shop, tag: str, version_id: int) -> None:
    """A run of many photos with four readings each."""
    with opened.writing("photographing") as session:
        owner = job_sheet(opened, tag).id
        run = BenchRun(
            job_id=owner,
            name="as-found",
            side="found",
            family_version_id=version_id,
            started_at=NOW,
            person_id=1,
        )
        session.add(run)
        session.flush()
        for n in range(PHOTOS):
            session.add(
                Original(sha256=f"{n:064x}", extension="jpg", size=4_000_000, stored_at=NOW)
            )
            session.flush()
            session.add(
                RunPhoto(
                    run_id=run.id,
                    step=n,
                    sha256=f"{n:064x}",
                    name=f"IMG_{n}.jpg",
                    added_at=NOW,
                    person_id=1,
                )
            )
            for place, dial in enumerate(("engine", "speed", "temp", "fuel")):
                session.add(
                    RunRowTold(
                        run_id=run.id,
                        position=4 * n + place,
                        step=n,
                        dial=dial,
                        unit="km/h",
                        approach="up",
                        commanded=float(n),
                    )
                )
        run_id = run.id
    readings = tuple(
        Reading(dial, "read", "km/h", None, 10.0, 0.05, 40.0, 0.3, 0.1, (), (("fit", 0.05),))
        for dial in ("engine", "speed", "temp", "fuel")
    )
    for photo in run_sheet(opened, run_id).photos:
        store_outcome(opened, photo.id, PhotoReadings("x", True, None, readings))


def measured(words: str, limit_ms: float, ask: Callable[[], Any]) -> bool:
    """Print the median and the slowest of some runs; whether the slowest is within the limit."""
    took_ms = []
    for _ in range(TIMES):
        started_s = time.perf_counter()
        ask()
        took_ms.append(1e3 * (time.perf_counter() - started_s))
    ok = max(took_ms) <= limit_ms
    print(
        f"{words:<44} {median(took_ms):7.1f} {max(took_ms):7.1f}   {limit_ms:5.0f}"
        f"   {'within' if ok else 'MISSED'}"
    )
    return ok


def main(count: int) -> int:
    """Measure everything; 1 where a limit is missed."""
    with full_shop(count) as opened:
        whole = shelf(opened, returned=True)
        run_id = job_sheet(opened, "MANY").runs[0].id
        print(f"{whole.count} jobs, {PHOTOS} photos in one of them; milliseconds of {TIMES} runs\n")
        print(f"{'':<44} {'median':>7} {'slowest':>7}   limit")
        asked: list[tuple[str, float, Callable[[], Any]]] = [
            ("shelf, first 100 of those in the house", 150, lambda: shelf(opened)),
            (
                "shelf, last 100 of all",
                150,
                lambda: shelf(opened, returned=True, offset=count - 100),
            ),
            ("shelf, what waits for parts", 150, lambda: shelf(opened, waits_for="parts")),
            ("search: one word, many found", 150, lambda: shelf(opened, "warm")),
            ("search: two words, few found", 150, lambda: shelf(opened, "nowhere ex-0042")),
            ("search: nothing found", 150, lambda: shelf(opened, "zebra", returned=True)),
            ("job sheet", 300, lambda: job_sheet(opened, "MANY")),
            ("its run, every photo and reading", 300, lambda: run_sheet(opened, run_id)),
            ("opening the shop", 300, lambda: open_shop(opened.folder).close()),
        ]
        within = [measured(*one) for one in asked]
        return 0 if all(within) else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else JOBS))
