"""Needle height, thickness and pitch from drawn photos: `python benchmarks/calibrate.py`.

Each family is one built unit whose needles rest somewhere: seen once from about straight on and
four times from 18 to 32 degrees, by one camera. Heights in the family the search begins with are
off by up to 40 %. Printed: errors, and how often the stated 95 % interval holds the truth, with the
Clopper-Pearson bounds of that share.
"""

import argparse
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parents[1]))

import cv2
import numpy as np
from rich.console import Console
from rich.table import Table
from scipy.stats import beta

from needlewright.families.model import Family
from needlewright.readings.standing.measure import Measured, measure_standing
from needlewright.rehearsal.resting import RestingUnit, draw_resting

WRONG = (0.65, 1.4)
"""Factors by which heights are off in the family the search begins with."""
FIRST_SEED, FACES = 9200, 12
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"
ALL = 5
"""Photos of a unit; the first is the one from about straight on."""
KINDS = ("height_mm", "thickness_mm", "pitch_deg")


@dataclass(frozen=True, slots=True)
class Told:
    """One number of one needle."""

    kind: str
    seed: int
    dial: str
    true: float
    value: float | None
    u: float | None

    @property
    def holds(self) -> bool:
        """Whether the stated 95 % interval holds the truth."""
        assert self.value is not None
        assert self.u is not None
        return abs(self.value - self.true) <= 1.96 * self.u


def wrong_heights(family: Family, rng: np.random.Generator) -> Family:
    """The family as somebody would guess its needles."""
    dials = tuple(
        replace(
            dial,
            needle=replace(
                dial.needle,
                height_mm=dial.needle.height_mm * float(rng.uniform(*WRONG)),
                thickness_mm=0.8,
            ),
        )
        for dial in family.dials
    )
    return replace(family, dials=dials)


def measure(seed: int, photos: int = ALL) -> list[Told]:
    """Draw a unit and measure it, from all of its photos or only the last so many."""
    cv2.setNumThreads(1)
    with TemporaryDirectory() as place:
        unit = draw_resting(Path(place), seed)
        guessed = wrong_heights(unit.family, np.random.default_rng([seed, 5]))
        found = measure_standing(guessed, unit.photos[-photos:])
        return list(_told(seed, unit, {one.dial: one for one in found.needles}))


def _told(seed: int, unit: RestingUnit, needles: dict) -> Iterator[Told]:  # type: ignore[type-arg]
    for dial in unit.family.dials:
        truths = (
            dial.needle.height_mm,
            dial.needle.thickness_mm,
            unit.seats[dial.id].pitch_deg,
        )
        for kind, true in zip(KINDS, truths, strict=True):
            said: Measured = getattr(needles[dial.id], kind)
            yield Told(kind, seed, dial.id, true, said.value, said.u)


def bounds(held: int, of: int) -> tuple[float, float]:
    """Clopper-Pearson, 95 %."""
    low = float(beta.ppf(0.025, held, of - held + 1)) if held else 0.0
    high = float(beta.ppf(0.975, held + 1, of - held)) if held < of else 1.0
    return low, high


def table_of(told: list[Told]) -> Table:
    """Printed: one line for each kind of number."""
    table = Table(title="from drawn photos", title_justify="left")
    for column in (
        "what", "needles", "told", "median error", "95 %", "largest", "median u",
        "95 % intervals that hold", "bounds",
    ):  # fmt: skip
        table.add_column(column, justify="left" if column == "what" else "right")
    for kind in KINDS:
        every = [one for one in told if one.kind == kind]
        some = [one for one in every if one.value is not None and one.u is not None]
        errors = np.abs([(one.value or 0.0) - one.true for one in some])
        held = sum(one.holds for one in some)
        low, high = bounds(held, len(some))
        table.add_row(
            kind.replace("_", ", "),
            str(len(every)),
            str(len(some)),
            f"{np.median(errors):.3f}",
            f"{np.percentile(errors, 95):.3f}",
            f"{errors.max():.3f}",
            f"{np.median([one.u or 0.0 for one in some]):.3f}",
            f"{100 * held / len(some):.1f} %",
            f"{100 * low:.1f} to {100 * high:.1f} %",
        )
    return table


def put_into(page: Path, told: list[Told], seeds: range) -> None:
    """Write the figures into a page, between its marks."""
    text = page.read_text(encoding="utf-8")
    before, rest = text.split(BEGIN)
    _, after = rest.split(END)
    table = table_of(told)
    heads = [str(column.header) for column in table.columns]
    rows = zip(*(list(column.cells) for column in table.columns), strict=True)
    lines = [f"Faces {seeds[0]} to {seeds[-1]}:", "", f"| {' | '.join(heads)} |"]
    lines.append("| --- |" + " ---: |" * (len(heads) - 1))
    lines += [f"| {' | '.join(str(cell) for cell in row)} |" for row in rows]
    middle = "\n\n" + "\n".join(lines) + "\n\n"
    page.write_text(f"{before}{BEGIN}{middle}{END}{after}", encoding="utf-8")


def main() -> None:
    """Draw, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first-seed", type=int, default=FIRST_SEED)
    parser.add_argument("--faces", type=int, default=FACES)
    parser.add_argument("--photos", type=int, default=ALL, help="of the oblique ones, the last")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--each", action="store_true", help="print every number")
    parser.add_argument("--into", type=Path, help="a page to write the figures into")
    asked = parser.parse_args()
    seeds = range(asked.first_seed, asked.first_seed + asked.faces)
    told: list[Told] = []
    if asked.processes > 1:
        with ProcessPoolExecutor(asked.processes, mp_context=get_context("spawn")) as pool:
            for part in pool.map(partial(measure, photos=asked.photos), seeds):
                told += part
    else:
        for seed in seeds:
            told += measure(seed, asked.photos)
    console = Console(width=140)
    if asked.each:
        for one in told:
            console.print(one)
    console.print(table_of(told))
    if asked.into is not None:
        put_into(asked.into, told, seeds)


if __name__ == "__main__":
    main()
