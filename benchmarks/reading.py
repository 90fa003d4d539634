"""How well the reader reads the photos with truth, and how fast: `python benchmarks/reading.py`.

The project's reader and a plain textbook reader see the same photos on one core. Printed are
tables per condition, per family and per visible needle length, refusals by reason, the stated
uncertainty against the errors made, both readers side by side, and the rows of the gate.
"""

import argparse
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

# "on one core" must be so, for OpenCV and NumPy alike: before either is imported
if __name__ == "__main__" and hasattr(os, "sched_setaffinity"):
    os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
sys.path.insert(0, str(Path(__file__).parents[1]))

import cv2
from rich.console import Console
from rich.progress import track

from benchmarks import tables
from benchmarks.batch_rate import measured
from benchmarks.photo_set import (
    FAMILIES,
    Said,
    Shot,
    all_shots,
    crossed_shots,
    family_folder,
    needles_of,
)
from benchmarks.scoring import Needle, Times
from benchmarks.textbook import TextbookReader
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.readings.reader import FaceReader

Read = Callable[[Path], dict[str, Said]]
Cache = dict[str, dict[str, Any]]

WARM_UP = 1
"""Photos of a family read once, untimed, before its times count."""
COLD_RUNS = 3
FOUR_DIALS = "fam-a"
"""The family whose photos are read over and over on one core and on two."""

out = Console(width=max(100, Console().width), highlight=False)


def main() -> None:
    options = _options()
    cv2.setNumThreads(1)
    families = {name: load_family(family_folder(name)) for name in FAMILIES}
    shots, crossed = all_shots(), crossed_shots()
    cache = _cached(options.cache)
    _read_all("needlewright", families, [*shots, *crossed], _project_reader, cache)
    _read_all("textbook", families, shots, _textbook_reader, cache)
    if options.cache:
        options.cache.write_text(json.dumps(cache, indent=1), encoding="utf-8")
    ours = _needles(cache["needlewright"], shots, families)
    theirs = _needles(cache["textbook"], shots, families)
    strangers = _needles(cache["needlewright"], crossed, families)
    warm = {name: _warm(cache[name], shots, families) for name in cache}
    cold = None if options.no_cold else _cold(shots[0])
    wrong_face = _times(cache["needlewright"], crossed)
    batch = None
    if hasattr(os, "sched_setaffinity") and not options.no_batch:
        batch = measured(family_folder(FOUR_DIALS), _photos(shots, FOUR_DIALS))
    speed = tables.speed(warm["needlewright"], wrong_face, cold, batch)
    printed = [*tables.report(ours, strangers, theirs, warm), speed]
    for table in printed:
        out.print(table)
    if options.json:
        document = {"tables": [tables.as_document(table) for table in printed]}
        options.json.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")
    if options.dials:
        out.print(tables.every_dial(ours))
    if options.errors:
        out.print(tables.worst(ours, options.errors))


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--cache", type=Path, help="keep readings in this file and reuse them")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the tables to this file")
    parser.add_argument("--dials", action="store_true", help="list every dial of every photo")
    parser.add_argument("--errors", type=int, metavar="N", help="list the N worst readings")
    parser.add_argument("--no-cold", action="store_true", help="skip timing the cold command")
    parser.add_argument("--no-batch", action="store_true", help="skip reading 200 photos twice")
    return parser.parse_args()


def _cached(path: Path | None) -> Cache:
    if path is None or not path.exists():
        return {}
    cache: Cache = json.loads(path.read_text(encoding="utf-8"))
    return cache


def _project_reader(family: Family) -> Read:
    reader = FaceReader(family)

    def read(path: Path) -> dict[str, Said]:
        photo = reader.read_photo(path)
        said = {
            r.dial: Said(r.angle_deg, r.u_angle_deg, r.reason or photo.reason)
            for r in photo.readings
        }
        return {d.id: said.get(d.id, Said(None, None, photo.reason)) for d in family.dials}

    return read


def _textbook_reader(family: Family) -> Read:
    reader = TextbookReader(family)

    def read(path: Path) -> dict[str, Said]:
        return {
            dial: Said(angle_deg, None, None if angle_deg is not None else "not found")
            for dial, angle_deg in reader.read(path).items()
        }

    return read


def _read_all(
    name: str,
    families: dict[str, Family],
    shots: list[Shot],
    make: Callable[[Family], Read],
    cache: Cache,
) -> None:
    known = cache.setdefault(name, {})
    wanted = [shot for shot in shots if shot.name not in known]
    readers: dict[str, Read] = {}
    for shot in track(wanted, f"{name} reads", console=Console(stderr=True), transient=True):
        if shot.family not in readers:
            readers[shot.family] = make(families[shot.family])
            for _ in range(WARM_UP):
                readers[shot.family](shot.path)
        begun, begun_cpu = time.perf_counter(), time.process_time()
        said = readers[shot.family](shot.path)
        cpu_s, wall_s = time.process_time() - begun_cpu, time.perf_counter() - begun
        known[shot.name] = {
            "cpu_s": cpu_s,
            "wall_s": wall_s,
            "dials": {dial: [s.angle_deg, s.u_deg, s.reason] for dial, s in said.items()},
        }


def _needles(known: dict[str, Any], shots: list[Shot], families: dict[str, Family]) -> list[Needle]:
    needles = []
    for shot in shots:
        said = {dial: Said(*saying) for dial, saying in known[shot.name]["dials"].items()}
        needles += needles_of(shot, families[shot.family], said)
    return needles


def _photos(shots: list[Shot], family: str) -> list[Path]:
    return [shot.path for shot in shots if shot.name.startswith(family)]


def _warm(known: dict[str, Any], shots: list[Shot], families: dict[str, Family]) -> Times:
    """Times of photos of families with at least four dials."""
    return _times(known, [s for s in shots if len(families[s.family].dials) >= 4])


def _times(known: dict[str, Any], shots: list[Shot]) -> Times:
    timed = [known[s.name] for s in shots]
    return Times([t["cpu_s"] for t in timed], [t["wall_s"] for t in timed])


def _cold(shot: Shot) -> Times:
    """Times of the whole command for one photo."""
    command = Path(sys.executable).with_name("needlewright")
    words = [command, "read", "--family", family_folder(shot.family), "--json", shot.path]
    times = Times([], [])
    for _ in range(COLD_RUNS):
        begun, begun_cpu = time.perf_counter(), _children_s()
        subprocess.run(words, check=True, capture_output=True)
        times.cpu_s.append(_children_s() - begun_cpu)
        times.wall_s.append(time.perf_counter() - begun)
    return times


def _children_s() -> float:
    spent = os.times()
    return spent.children_user + spent.children_system


if __name__ == "__main__":
    main()
