"""Whether the stated uncertainty holds, on drawn faces: `python benchmarks/coverage.py`.

Photos of invented faces are drawn, each face in every condition once, and read. Printed are per
condition, per visible needle length and per face how many needles are read, how far off they are
and how often the stated 95 % interval misses; the errors in units of the stated uncertainty;
refusals by reason; and the rows of the gate. `--keep` keeps the photos, so that the reader can be
changed and judged again without drawing.

Faces numbered from 7000 judge. Nothing may be tuned on them; draw others with `--seed` for that.
"""

import argparse
import json
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("OMP_NUM_THREADS", "1")
if __name__ in ("__main__", "__mp_main__"):
    # other packages import a `coverage` of their own; from this folder they would get this file
    sys.path[0] = str(Path(__file__).resolve().parents[1])

from rich.console import Console
from rich.progress import Progress

from benchmarks import coverage_tables as tables
from benchmarks.drawn_photos import DrawnNeedle, draw_missing, read_faces, write_csv
from benchmarks.tables import as_document

FIRST_SEED = 7000
FACES = 48
QUICK_FACES = 3

out = Console(width=max(150, Console().width), highlight=False)


def main() -> int:
    options = _options()
    count = QUICK_FACES if options.quick else options.faces
    seeds = range(options.seed, options.seed + count)
    if options.keep is not None:
        needles = _needles(options.keep, seeds, options.processes)
    else:
        with TemporaryDirectory() as folder:
            needles = _needles(Path(folder), seeds, options.processes)
    verdict = tables.verdict_of(needles)
    printed = [*tables.report(needles), tables.gate(verdict)]
    for table in printed:
        out.print(table)
    if options.worst:
        out.print(tables.worst(needles, options.worst))
    if options.csv:
        write_csv(options.csv, needles)
    if options.json:
        document = {
            "first_seed": options.seed,
            "faces": count,
            "tables": [as_document(table) for table in printed],
        }
        options.json.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")
    return 0 if all(line.met for line in verdict) else 1


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--keep", type=Path, metavar="DIR", help="keep photos here, reuse them")
    parser.add_argument("--faces", type=int, default=FACES, help="how many invented faces")
    parser.add_argument("--seed", type=int, default=FIRST_SEED, help="number of the first face")
    parser.add_argument("--quick", action="store_true", help=f"{QUICK_FACES} faces only")
    parser.add_argument("--processes", type=int, default=1, help="how many faces at once")
    parser.add_argument("--csv", type=Path, metavar="FILE", help="write a line for each needle")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the tables to this file")
    parser.add_argument("--worst", type=int, metavar="N", help="list the N worst readings")
    return parser.parse_args()


def _needles(keep: Path, seeds: Sequence[int], processes: int) -> list[DrawnNeedle]:
    """Draw what is missing, read everything."""
    with Progress(console=Console(stderr=True), transient=True) as progress:
        drawing = progress.add_task("drawing", total=len(seeds))
        draw_missing(keep, seeds, processes, lambda: progress.advance(drawing))
        progress.update(drawing, completed=len(seeds))
        reading = progress.add_task("reading", total=len(seeds))
        return list(read_faces(keep, seeds, processes, lambda: progress.advance(reading)))


if __name__ == "__main__":
    sys.exit(main())
