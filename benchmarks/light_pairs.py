"""What the work did to lamps, told from drawn pairs of photos: `python benchmarks/light_pairs.py`.

Each unit is photographed as found and as left: lamps that were wrong were replaced or not, some
that were right were spoilt, the camera stood where it stood or was another one. Printed is how
often `mended`, `newly wrong` and `still wrong` are so, with exact binomial intervals, how often
the two looks' own probabilities say they are, and what became of what truly was mended or spoilt.
"""

import argparse
import json
import sys
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import cv2
import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table
from scipy.stats import binomtest

from benchmarks.light import (
    DEMO,
    DIM_TO,
    DRAWN,
    RehearsalCameras,
    shares_of,
    signs_of,
    sound,
    taken,
)
from benchmarks.lit_faces import Lit, draw_lit, with_lamps
from benchmarks.tables import as_document
from needlewright.composing.lamp_photos import LampShot
from needlewright.composing.light_measuring import Wish
from needlewright.composing.lights import check_lights
from needlewright.families.face import open_face
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.findings.lamps.after_work import UNSEEN, Compared, after_work
from needlewright.findings.lamps.looked import Looked, looked_at

REPLACED = 0.6
"""Share of wrong lamps that the work replaces."""
SPOILT = 0.1
"""Share of right ones that it spoils."""
TOLD = ("mended", "new", "still", "worse", "better", "right")
WORDS = {
    "mended": "mended",
    "new": "newly wrong",
    "still": "still wrong",
    "worse": "worse",
    "better": "less wrong",
    "right": "right",
}
Lights = dict[str, float]


@dataclass(frozen=True)
class Unit:
    """A unit as found and as left: its lights, and a photo of each."""

    family: Family
    lamps: tuple[Lights, Lights]
    signs: tuple[Lights, Lights]
    halos: tuple[Lights, Lights]
    photos: tuple[NDArray[np.uint8], NDArray[np.uint8]]
    healthy: NDArray[np.uint8]


@dataclass(frozen=True)
class Said:
    """What was said of one thing, beside what became of it."""

    kind: str
    true: str
    said: str
    stated: float
    """Probability of it by the two looks; each look's own, multiplied."""


def worked_on(rng: np.random.Generator, found: Mapping[str, float], spoils: float) -> Lights:
    """Lamps after the work."""
    left = {}
    for lamp, light in found.items():
        drifts = light * float(np.exp(0.01 * rng.standard_normal()))
        if light <= DIM_TO:
            new = float(np.clip(rng.normal(1.03, 0.06), 0.85, 1.2))
            left[lamp] = new if rng.random() < REPLACED else drifts
        elif rng.random() < spoils:
            left[lamp] = 0.0 if rng.random() < 0.5 else float(rng.uniform(0.25, DIM_TO))
        else:
            left[lamp] = drifts
    return left


def signs_after(rng: np.random.Generator, found: Mapping[str, float]) -> Lights:
    """Tell-tales after the work; one at least is lit."""
    left = dict(found)
    for sign, light in found.items():
        if light == 0 and rng.random() < REPLACED:
            left[sign] = float(0.35 * np.exp(0.5 * rng.standard_normal()))
        elif light > 0 and rng.random() < SPOILT and sum(v > 0 for v in left.values()) > 1:
            left[sign] = 0.0
    return left


def halos_after(rng: np.random.Generator, family: Family, found: Mapping[str, float]) -> Lights:
    """Hubs after needles were pressed on again: most halos are gone, and some are new."""
    left = {dial: light for dial, light in found.items() if rng.random() >= REPLACED}
    for dial in family.dials:
        if dial.id not in found and rng.random() < SPOILT:
            left[dial.id] = float(rng.uniform(0.1, 0.6))
    return left


def drawn_units(count: int, seed: int) -> Iterator[Unit]:
    """Faces drawn by rules of their own; every other one by one camera that stood still."""
    rng = np.random.default_rng(seed)
    families = [with_lamps(load_family(folder)) for folder in DRAWN]
    arts = [np.ascontiguousarray(open_face(f.face_path)[..., ::-1]) for f in families]
    for number in range(count):
        family, art = families[number % len(families)], arts[number % len(families)]
        lamps = [lamp.id for lamp in family.lamps]
        found, signs = shares_of(rng, lamps), signs_of(rng, [s.id for s in family.tell_tales])
        halos = {d.id: float(rng.uniform(0.1, 0.6)) for d in family.dials if rng.random() < 0.15}
        left, signs_left = worked_on(rng, found, SPOILT), signs_after(rng, signs)
        halos_left = halos_after(rng, family, halos)
        camera, another = taken(rng), taken(rng)
        stood = {**camera, "seed": another["seed"]} if number % 8 < 4 else another
        yield Unit(
            family,
            (found, left),
            (signs, signs_left),
            (halos, halos_left),
            (
                draw_lit(family, art, Lit(found, signs, halos, **camera)),
                draw_lit(family, art, Lit(left, signs_left, halos_left, **stood)),
            ),
            draw_lit(family, art, Lit(sound(rng, lamps), {}, {}, **taken(rng))),
        )


def rehearsed_units(count: int, seed: int) -> Iterator[Unit]:
    """Faces lit by the rehearsal: its own lamps, needles, noise and lens."""
    rng = np.random.default_rng(seed)
    family = load_family(DEMO)
    lamps = [lamp.id for lamp in family.lamps]
    names = [lamp.id for lamp in family.tell_tales]
    rehearsal = RehearsalCameras(family)
    for number in range(count):
        found = shares_of(rng, lamps)
        left = worked_on(rng, found, SPOILT)
        signs = {n: float(s > 0) for n, s in signs_of(rng, names).items()}
        signs_left = {n: float(s > 0) for n, s in signs_after(rng, signs).items()}
        cameras = [number % 2, (number + number // 2) % 2, 1 - number % 2]
        lit = ({**found, **signs}, {**left, **signs_left}, sound(rng, lamps))
        seen = [rehearsal.photo(which, one, rng) for which, one in zip(cameras, lit, strict=True)]
        yield Unit(
            family, (found, left), (signs, signs_left), ({}, {}), (seen[0], seen[1]), seen[2]
        )


def judge(unit: Unit, folder: Path, *, with_healthy: bool) -> Iterator[Said]:
    """What is said of a unit's two photos, thing by thing."""
    healthy = folder / "healthy.png"
    cv2.imwrite(str(healthy), unit.healthy)
    lit = frozenset({*unit.lamps[0], *unit.signs[0]})
    looks = []
    for name, photo in zip(("found", "left"), unit.photos, strict=True):
        path = folder / f"{name}.png"
        cv2.imwrite(str(path), photo)
        shots = [LampShot(path, lit)]
        report = check_lights(unit.family, shots, healthy if with_healthy else None, Wish())
        looks.append(looked_at(report.face, report.signs, report.hubs))
    lamp_of = {zone.id: zone.lamp or "" for zone in report.zoning.zones}
    for one in after_work(*looks):
        kind = one.kind
        if kind == "zone":
            kind = f"zone, {'healthy' if with_healthy else 'print'}"
        elif kind == "hub" and not with_healthy:
            continue  # a hub is held against the healthy unit's
        yield Said(kind, truth(unit, one, lamp_of), one.outcome, stated(one))


def truth(unit: Unit, one: Compared, lamp_of: Mapping[str, str]) -> str:
    """What became of a thing."""
    if one.kind == "zone":
        found, left = (_how_bad(lights[lamp_of[one.id]]) for lights in unit.lamps)
    elif one.kind == "tell_tale":
        found, left = (2 * (lights[one.id] == 0) for lights in unit.signs)
    else:
        found, left = (2 * (one.id in lights) for lights in unit.halos)
    if not left:
        return "mended" if found else "right"
    if not found:
        return "new"
    return "still" if left == found else "worse" if left > found else "better"


def _how_bad(share: float) -> int:
    return 2 if share == 0 else 1 if share <= DIM_TO else 0


def stated(one: Compared) -> float:
    """How probable the two looks say it is that what is said of them is so."""
    wrong = [_wrong(look) for look in (one.found, one.left)]
    match one.outcome:
        case "mended":
            return wrong[0] * (1 - wrong[1])
        case "new":
            return (1 - wrong[0]) * wrong[1]
        case "right":
            return (1 - wrong[0]) * (1 - wrong[1])
        case _:
            return wrong[0] * wrong[1]


def _wrong(look: Looked | None) -> float:
    """Probability that a thing is not right, by what is called; another wrong one is left out."""
    if look is None or look.probability is None:
        return 0.0
    return 1 - look.probability if look.condition == "right" else look.probability


def _interval(hits: int, count: int) -> str:
    """Of a share, 95 %: Clopper and Pearson, 1934 (exact), by scipy."""
    if not count:
        return ""
    low, high = binomtest(hits, count).proportion_ci(0.95, method="exact")
    return f"{low:.3f} to {high:.3f}"


def _table(title: str, *headings: str) -> Table:
    table = Table(title=title, title_justify="left")
    table.add_column("")
    for heading in headings:
        table.add_column(heading, justify="right")
    return table


KINDS = {
    "zone, healthy": "zones, against a healthy unit",
    "zone, print": "zones, against print",
    "tell_tale": "tell-tales",
    "hub": "hubs",
}


def claims_table(said: Sequence[Said]) -> Table:
    """How often what is said of two looks is so."""
    table = _table("said after the work", "times", "so", "share", "95 %", "by the looks")
    for kind, words in KINDS.items():
        for outcome in TOLD:
            some = [one for one in said if (one.kind, one.said) == (kind, outcome)]
            if not some:
                continue
            so = sum(is_so(one) for one in some)
            table.add_row(
                f"{WORDS[outcome]}, {words}",
                str(len(some)),
                str(so),
                f"{so / len(some):.3f}",
                _interval(so, len(some)),
                f"{np.mean([one.stated for one in some]):.3f}",
            )
    return table


def is_so(one: Said) -> bool:
    """Whether what is said holds; of a thing that is wrong both times, that it is."""
    both = {"still", "worse", "better"}
    return one.said == one.true or (one.said == "still" and one.true in both)


def truths_table(said: Sequence[Said]) -> Table:
    """What is said of what truly was mended, spoilt, left wrong, left right."""
    columns = ("mended", "new", "still", "worse", "better", "right")
    table = _table(
        "what became of it",
        "things",
        *(WORDS[one] for one in columns),
        "not seen",
        "share called so",
    )
    for kind, words in KINDS.items():
        for true in ("mended", "new", "still", "right"):
            some = [one for one in said if (one.kind, one.true) == (kind, true)]
            if not some:
                continue
            counts = Counter(one.said for one in some)
            unseen = sum(counts[one] for one in (*UNSEEN, "wrong"))
            seen = len(some) - unseen
            table.add_row(
                f"{WORDS[true]}, {words}",
                str(len(some)),
                *(str(counts[one]) for one in columns),
                str(unseen),
                f"{counts[true] / max(seen, 1):.3f}",
            )
    return table


def all_said(count: int) -> list[Said]:
    """Every pair of both sources, every other one against print alone."""
    said: list[Said] = []
    with TemporaryDirectory() as folder:
        for units in (drawn_units(count, 7600), rehearsed_units(count, 7601)):
            for number, unit in enumerate(units):
                # the four drawn families take turns, so that fours of them are alternated
                said += judge(unit, Path(folder), with_healthy=number // 4 % 2 == 0)
    return said


def claims_too_much(said: Sequence[Said]) -> list[str]:
    """Claims that are so less often than the looks state, beyond what chance explains."""
    beyond = []
    for kind, words in KINDS.items():
        for outcome in ("mended", "new", "still"):
            some = [one for one in said if (one.kind, one.said) == (kind, outcome)]
            if not some:
                continue
            so = sum(is_so(one) for one in some)
            expected = min(float(np.mean([one.stated for one in some])), 1.0)
            if binomtest(so, len(some), expected, alternative="less").pvalue < 0.05:
                beyond.append(f"{WORDS[outcome]}, {words}")
    return beyond


def main() -> int:
    """Judge and print; leaves with 1 where more is claimed than holds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=120, help="pairs of each source")
    parser.add_argument("--json", type=Path, help="file for the tables")
    parser.add_argument("--kept", type=Path, help="file for what was said, thing by thing")
    arguments = parser.parse_args()
    cv2.setNumThreads(1)
    said = all_said(arguments.count)
    tables = [claims_table(said), truths_table(said)]
    for table in tables:
        Console(width=150).print(table)
    if arguments.kept:
        rows: list[dict[str, Any]] = [one.__dict__ for one in said]
        arguments.kept.write_text(json.dumps(rows), encoding="utf-8")
    if arguments.json:
        document = {"tables": [as_document(table) for table in tables]}
        arguments.json.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")
    beyond = claims_too_much(said)
    print(f"claimed more often than it holds: {', '.join(beyond) or 'nowhere'}")
    return int(bool(beyond))


if __name__ == "__main__":
    sys.exit(main())
