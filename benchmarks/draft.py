"""How near drafted families come to the truth: `python benchmarks/draft.py PHOTOS`.

PHOTOS holds the photos with truth, a folder for each family with bare.jpg, photos and truth.json.
Printed are, for a draft from the bare photo alone and from one photo with needles on, how far
centres and marks are off; how photos that took no part in the draft are read with the drafted
folder and with the true one; and the same offs on invented faces that nothing was tuned on. The
draft sees rough clicks, two typed values a dial, and one length from hub to hub.
"""

import argparse
import json
import os
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

if __name__ == "__main__" and hasattr(os, "sched_setaffinity"):
    os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
sys.path.insert(0, str(Path(__file__).parents[1]))

import cv2
import numpy as np
from rich.console import Console
from rich.progress import track
from rich.table import Table

from benchmarks.draft_cases import (
    CLICK_PX,
    Off,
    clicks_from_truth,
    drawn_bare,
    offs,
    printed_radii,
    truths,
    worst,
)
from benchmarks.scoring import Row, duty_of
from needlewright.errors import NeedlewrightError
from needlewright.families.folder import load_family
from needlewright.families.model import Dial, Family
from needlewright.readings.drafting.drafting import Drafted, NamedPicture, draft_family
from needlewright.readings.drafting.saving import save
from needlewright.readings.model import PhotoReadings
from needlewright.readings.picture import open_picture
from needlewright.readings.reader import FaceReader
from needlewright.rehearsal.invent import generate_family

FAMILIES = ("fam-a", "fam-b", "fam-c", "fam-d")
NEEDLES_ON = "001.jpg"
WITH_BARE = ("001.jpg", "002.jpg", "004.jpg")
"""Photos with needles that a draft from the bare photo is given for the needles' measures."""
FIRST_SEED = 7000

out = Console(width=max(110, Console().width), highlight=False)


@dataclass(frozen=True, slots=True)
class Read:
    """How one needle was read with a folder."""

    family: str
    error_deg: float | None
    """None: refused."""


def main() -> None:
    options = _options()
    cv2.setNumThreads(1)
    families = [name for name in FAMILIES if (options.photos / name / "bare.jpg").is_file()]
    tables = []
    with TemporaryDirectory() as place:
        folders: dict[str, Path] = {}
        for title, first, others in (
            ("from the bare photo", "bare.jpg", ()),
            ("from one photo with needles on", NEEDLES_ON, ()),
            (f"from the bare photo, needles from {', '.join(WITH_BARE)}", "bare.jpg", WITH_BARE),
        ):
            made = {}
            for name in track(families, title, console=Console(stderr=True), transient=True):
                made[name] = _drafts(options, name, first, others)
                if others and made[name][0] is not None:
                    folders[name] = Path(place) / name
                    save(made[name][0].draft, made[name][0].face, folders[name])
            if not others:
                tables.append(_offs_table(title, options.photos, made))
        if not options.no_reading:
            tables.append(_reading_table(options.photos, folders))
        if options.faces:
            tables.append(_invented_table(options.faces, Path(place)))
    for table in tables:
        out.print(table)
    if options.json:
        document = {"tables": [_as_document(table) for table in tables]}
        options.json.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("photos", type=Path, help="folder of the families' photos with truth")
    parser.add_argument("--hands", type=int, default=2, metavar="N", help="sets of rough clicks")
    parser.add_argument("--faces", type=int, default=12, metavar="N", help="invented faces")
    parser.add_argument("--no-reading", action="store_true", help="skip reading the other photos")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the tables to this file")
    return parser.parse_args()


def _drafts(
    options: argparse.Namespace, name: str, first: str, others: Sequence[str]
) -> list[Drafted | None]:
    """A draft for each set of rough clicks; one where more photos are given, as it is for them."""
    folder = options.photos / name
    family, truth = load_family(folder), truths(folder)
    photo = truth["bare"] if first == "bare.jpg" else _entry(truth, first)
    clicked = _named(folder, first)
    more = [_named(folder, other) for other in others]
    drafts: list[Drafted | None] = []
    for hand in range(1 if others else options.hands):
        inputs = clicks_from_truth(family, photo, np.random.default_rng([hand, 5]))
        try:
            drafts.append(draft_family(inputs, clicked, more, bare=first == "bare.jpg"))
        except NeedlewrightError as error:
            out.print(f"{name}, clicks {hand}: {error}")
            drafts.append(None)
    return drafts


def _named(folder: Path, name: str) -> NamedPicture:
    path = folder / name if name == "bare.jpg" else folder / "photos" / name
    return NamedPicture(name, open_picture(path))


def _entry(truth: Row, name: str) -> Row:
    return next(photo for photo in truth["photos"] if photo["file"] == name)


def _offs_table(title: str, photos: Path, made: dict[str, list[Drafted | None]]) -> Table:
    table = _table(
        f"{title}; clicks {CLICK_PX:g} px (k = 1) off, {len(next(iter(made.values())))} hands"
    )
    every: list[Off] = []
    missing = 0
    for name, drafts in made.items():
        family = load_family(photos / name)
        found = [off for one in drafts if one is not None for off in offs(one.draft, family)]
        lost = sum(one is None for one in drafts) * len(family.dials)
        every, missing = every + found, missing + lost
        _offs_row(table, name, found, lost)
    table.add_section()
    _offs_row(table, "all", every, missing)
    _offs_row(table, "large dials", [off for off in every if not off.small], 0)
    _offs_row(table, "small dials", [off for off in every if off.small], 0)
    return table


def _table(title: str) -> Table:
    table = Table(title=title, title_justify="left")
    table.add_column("family")
    for column in (
        "dials",
        "values right",
        "centre, mm: median",
        "largest",
        "marks, deg: median",
        "95 %",
        "largest",
        "within 0.15",
        "in 2 u",
    ):
        table.add_column(column, justify="right")
    return table


def _offs_row(table: Table, name: str, found: Sequence[Off], lost: int) -> None:
    if not found:
        table.add_row(name, f"0 of {lost}", *[""] * 8)
        return
    marks = np.abs(_finite(off.marks_deg for off in found))
    doubts = _finite(off.u_marks_deg for off in found)
    centres = [off.centre_mm for off in found]
    table.add_row(
        name,
        str(len(found) + lost),
        f"{sum(off.values_right for off in found)} of {len(found) + lost}",
        f"{np.median(centres):.3f}",
        f"{max(centres):.3f}",
        f"{np.median(marks):.3f}",
        f"{np.percentile(marks, 95):.3f}",
        f"{worst(list(marks)):.3f}",
        f"{np.mean(marks <= 0.15):.1%}",
        f"{np.mean(marks <= 2 * doubts):.1%}",
    )


def _finite(rows: Iterable[Sequence[float]]) -> np.ndarray:
    values = np.array([value for row in rows for value in row])
    return values[np.isfinite(values)]


def _reading_table(photos: Path, folders: dict[str, Path]) -> Table:
    table = Table(
        title="photos that took no part in the draft, read with the drafted and the true folder",
        title_justify="left",
    )
    table.add_column("family")
    for column in (
        "needles",
        "refused: true",
        "drafted",
        "ratio",
        "median, deg: true",
        "drafted",
        "ratio",
        "95 %: true",
        "drafted",
        "ratio",
        "largest, drafted",
    ):
        table.add_column(column, justify="right")
    every: list[tuple[Read, Read]] = []
    for name, folder in track(
        folders.items(), "reading", console=Console(stderr=True), transient=True
    ):
        pairs = _read_pairs(photos / name, name, folder)
        every += pairs
        _reading_row(table, name, pairs)
    table.add_section()
    _reading_row(table, "all", every)
    return table


def _read_pairs(folder: Path, name: str, drafted: Path) -> list[tuple[Read, Read]]:
    """Needles that must be read, with both folders."""
    true, other = load_family(folder), load_family(drafted)
    readers = FaceReader(true), FaceReader(other)
    pairs = []
    for photo in truths(folder)["photos"]:
        if photo["file"] in WITH_BARE:
            continue
        path = folder / "photos" / photo["file"]
        said = [reader.read_photo(path) for reader in readers]
        for dial in true.dials:
            if duty_of(photo, dial.id)[0] != "read":
                continue
            angle = photo["dials"][dial.id]["true_angle_deg"]
            pairs.append(
                (
                    Read(name, _error_deg(said[0], dial, true, angle)),
                    Read(name, _error_deg(said[1], dial, other, angle)),
                )
            )
    return pairs


def _error_deg(said: PhotoReadings, dial: Dial, used: Family, true_deg: float) -> float | None:
    """Error of the value shown, in degrees of needle: a draft's frame may be turned as a whole."""
    reading = next((r for r in said.readings if r.dial == dial.id), None)
    own = used.dial(dial.id)
    if reading is None or reading.angle_deg is None or own is None:
        return None
    # beyond the end marks of the scale the last segment goes on, on both sides alike
    share = _place(reading.angle_deg, own.scale.angles_deg)
    return share_to_deg(share, dial.scale.angles_deg) - true_deg


def _place(angle_deg: float, marks_deg: Sequence[float]) -> float:
    """Where an angle lies among marks: 2.5 is half way from the third to the fourth."""
    marks = np.array(marks_deg)
    sense = 1.0 if marks[-1] > marks[0] else -1.0
    i = int(np.clip(np.searchsorted(sense * marks, sense * angle_deg) - 1, 0, len(marks) - 2))
    return i + float((angle_deg - marks[i]) / (marks[i + 1] - marks[i]))


def share_to_deg(place: float, marks_deg: Sequence[float]) -> float:
    """The angle at a place among marks, see `_place`."""
    i = int(np.clip(np.floor(place), 0, len(marks_deg) - 2))
    return marks_deg[i] + (place - i) * (marks_deg[i + 1] - marks_deg[i])


def _reading_row(table: Table, name: str, pairs: Sequence[tuple[Read, Read]]) -> None:
    true = np.abs([p.error_deg for p, _ in pairs if p.error_deg is not None])
    drafted = np.abs([p.error_deg for _, p in pairs if p.error_deg is not None])
    refused = [sum(pair[k].error_deg is None for pair in pairs) for k in (0, 1)]
    cells = [name, str(len(pairs)), str(refused[0]), str(refused[1])]
    cells.append(f"{refused[1] / refused[0]:.2f}" if refused[0] else "")
    for share in (50, 95):
        ours, base = np.percentile(drafted, share), np.percentile(true, share)
        cells += [f"{base:.3f}", f"{ours:.3f}", f"{ours / base:.2f}"]
    table.add_row(*cells, f"{drafted.max():.3f}")


def _invented_table(count: int, place: Path) -> Table:
    table = _table(f"{count} invented faces, bare, drawn straight on or a little aslant")
    every: list[Off] = []
    lost = 0
    for seed in track(
        range(FIRST_SEED, FIRST_SEED + count),
        "invented",
        console=Console(stderr=True),
        transient=True,
    ):
        family = generate_family(seed, place / f"drawn-{seed}")
        coded, photo = drawn_bare(family, seed)
        path = place / f"{seed}.jpg"
        path.write_bytes(coded)
        rng = np.random.default_rng([seed, 5])
        inputs = clicks_from_truth(family, photo, rng, printed_radii(family))
        try:
            made = draft_family(inputs, NamedPicture(path.name, open_picture(path)), bare=True)
        except NeedlewrightError as error:
            out.print(f"face {seed}, {photo['tilt_deg']:.0f} deg: {error}")
            lost += len(family.dials)
            continue
        found = offs(made.draft, family)
        every += found
        _offs_row(table, f"{seed}, {photo['tilt_deg']:.0f} deg", found, 0)
    table.add_section()
    _offs_row(table, "all", every, lost)
    _offs_row(table, "large dials", [off for off in every if not off.small], 0)
    _offs_row(table, "small dials", [off for off in every if off.small], 0)
    return table


def _as_document(table: Table) -> dict[str, Any]:
    columns = [str(column.header) for column in table.columns]
    rows = zip(*(list(column.cells) for column in table.columns), strict=True)
    return {"title": str(table.title), "columns": columns, "rows": [list(row) for row in rows]}


if __name__ == "__main__":
    main()
