"""Lamps judged from photos nobody tuned anything to: `python benchmarks/light.py`.

Faces of five families lit by lamps that are sound, dim or dead, drawn by rules of their own
(`lit_faces`) and by the rehearsal; each judged against a healthy unit's photo by another camera,
and against the family's print alone. Printed are what was found and what was called that is not
there, whether stated uncertainties hold, and how large a ratio of likelihoods those rates support.
"""

import argparse
import json
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

import cv2
import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table
from scipy.stats import beta

import needlewright
from benchmarks.lit_faces import Lit, draw_lit, level_at, with_lamps
from benchmarks.tables import as_document
from needlewright.composing.lamp_photos import LampShot
from needlewright.composing.light_measuring import Wish
from needlewright.composing.lights import LightReport, check_lights
from needlewright.families.face import open_face
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.findings.lamps.fading import FadingPoint, fit_fading
from needlewright.findings.lamps.rates import MOST
from needlewright.rehearsal.cluster.camera import DARK, view_of
from needlewright.rehearsal.lamp_light import LampLight
from needlewright.rehearsal.sheet import sheet_of

ROOT = Path(__file__).parents[1]
DRAWN = tuple(ROOT / "tests" / "data" / "families" / f"fam-{letter}" for letter in "abcd")
DEMO = Path(needlewright.__file__).parent / "demo_data" / "family"
DISPLAY_MM = (30.0, 8.0)
DIM_TO = 0.75
LEAST_SHARE = 0.8
"""A sound lamp's light lies between this and its inverse."""


@dataclass(frozen=True)
class Case:
    """One unit, with what is wrong with its lamps."""

    family: Family
    shares: Mapping[str, float]
    signs: Mapping[str, float]
    halos: Mapping[str, float]
    dark_bar: int | None
    photo: NDArray[np.uint8]
    healthy: NDArray[np.uint8]
    level: Any
    """Of places and lamps' shares: light behind the print."""
    healthy_shares: Mapping[str, float]


@dataclass(frozen=True)
class Judged:
    """What was said of one thing, beside what it is."""

    kind: str
    reference: str
    true: str
    said: str
    off_u: float | None = None
    """Light less true light, in its uncertainty."""


def shares_of(rng: np.random.Generator, lamps: Sequence[str]) -> dict[str, float]:
    """Half of the units are sound; of the others one or two lamps are dead or dim."""
    shares = {lamp: float(np.clip(rng.normal(1, 0.06), LEAST_SHARE, 1.2)) for lamp in lamps}
    if rng.random() < 0.5:
        return shares
    most = 1 if len(lamps) < 3 else 2
    for lamp in rng.choice(lamps, size=rng.integers(1, most + 1), replace=False):
        shares[str(lamp)] = 0.0 if rng.random() < 0.5 else float(rng.uniform(0.25, DIM_TO))
    return shares


def signs_of(rng: np.random.Generator, signs: Sequence[str]) -> dict[str, float]:
    """One in ten dead; the others of very different light, and one at least lit."""
    lit = {sign: float(0.35 * np.exp(0.5 * rng.standard_normal())) for sign in signs}
    dark = [sign for sign in signs if rng.random() < 0.12][: len(signs) - 1]
    return {**lit, **dict.fromkeys(dark, 0.0)}


def sound(rng: np.random.Generator, lamps: Sequence[str]) -> dict[str, float]:
    """Lamps of a healthy unit."""
    return {lamp: float(np.clip(rng.normal(1, 0.04), 0.9, 1.1)) for lamp in lamps}


def taken(rng: np.random.Generator) -> dict[str, Any]:
    """A camera and where it stands."""
    return {
        "room": float(rng.uniform(0.001, 0.01)),
        "exposure": float(np.exp(rng.uniform(np.log(0.3), np.log(1.5)))),
        "gamma": float(1 + 0.06 * rng.standard_normal()),
        "balance": tuple(rng.uniform(0.85, 1.15, 3)),
        "noise": float(rng.uniform(0.003, 0.012)),
        "jpeg": [None, 75, 85, 92][rng.integers(4)],
        "size_px": [(800, 480), (1000, 600)][rng.integers(2)],
        "yaw_deg": float(rng.uniform(-10, 10)),
        "pitch_deg": float(rng.uniform(-7, 7)),
        "seed": int(rng.integers(1 << 30)),
    }


def drawn_cases(count: int, seed: int) -> Iterator[Case]:
    """Faces drawn by rules of their own."""
    rng = np.random.default_rng(seed)
    families = [with_lamps(load_family(folder)) for folder in DRAWN]
    arts = [np.ascontiguousarray(open_face(f.face_path)[..., ::-1]) for f in families]
    for number in range(count):
        plain, art = families[number % len(families)], arts[number % len(families)]
        wide, high = plain.face_size_mm
        at = (wide / 2, high - 20.0)
        display = {"id": "d", "centre_mm": list(at), "size_mm": list(DISPLAY_MM)}
        family = replace(plain, raw={**(plain.raw or {}), "displays": [display]})
        lamps = [lamp.id for lamp in family.lamps]
        shares, healthy = shares_of(rng, lamps), sound(rng, lamps)
        signs = signs_of(rng, [lamp.id for lamp in family.tell_tales])
        halos = {d.id: float(rng.uniform(0.1, 0.6)) for d in family.dials if rng.random() < 0.1}
        bar = int(rng.integers(10)) if rng.random() < 0.3 else None
        shown = (*at, *DISPLAY_MM)
        photo = Lit(shares, signs, halos, (*shown, 0.35), bar, **taken(rng))
        other = Lit(healthy, {}, {}, (*shown, 0.3), None, **taken(rng))

        def level(lit: Mapping[str, float], x: Any, y: Any, family: Family = family) -> Any:
            return level_at(family, lit, x, y)

        yield Case(
            family,
            shares,
            signs,
            halos,
            bar,
            draw_lit(family, art, photo),
            draw_lit(family, art, other),
            level,
            healthy,
        )


class RehearsalCameras:
    """Two cameras of the rehearsal before one face, in the dark."""

    def __init__(self, family: Family) -> None:
        sizes = enumerate(((800, 533), (960, 640)))
        views = [view_of(family, size_px=size, seed=n) for n, size in sizes]
        self.family, self.dark = family, [view.in_light(DARK) for view in views]
        self.lights = [LampLight(family, v.camera, v.pose, sheet_of(family)) for v in views]

    def photo(self, which: int, lit: Mapping[str, float], rng: np.random.Generator) -> Any:
        """One photo by one of them, needles anywhere on their scales; BGR."""
        angles = {dial.id: float(rng.choice(dial.scale.angles_deg)) for dial in self.family.dials}
        return self.dark[which].frame(angles, glow=self.lights[which].glow(lit))[..., ::-1]


def rehearsed_cases(count: int, seed: int) -> Iterator[Case]:
    """Faces lit by the rehearsal: its own lamps, needles, noise and lens."""
    rng = np.random.default_rng(seed)
    family = load_family(DEMO)
    lamps = [lamp.id for lamp in family.lamps]
    names = [lamp.id for lamp in family.tell_tales]
    cameras = RehearsalCameras(family)
    for _ in range(count):
        shares, healthy = shares_of(rng, lamps), sound(rng, lamps)
        signs = {n: float(s > 0) for n, s in signs_of(rng, names).items()}
        seen = []
        for lit in ({**shares, **signs}, healthy):
            seen.append(cameras.photo(int(rng.integers(2)), lit, rng))

        def level(lit: Mapping[str, float], x: Any, y: Any) -> Any:
            given, whole = np.zeros(np.shape(x)), np.full(np.shape(x), 1e-12)
            for lamp in family.lamps:
                across, down = lamp.centre_mm or (0.0, 0.0)
                off = ((x - across) ** 2 + (y - down) ** 2) / (lamp.reach_mm or 1.0) ** 2
                near = np.exp(-np.minimum(off, 12.0))
                whole += near
                given += lit.get(lamp.id, 0.0) * near
            return given / whole

        yield Case(family, shares, signs, {}, None, seen[0], seen[1], level, healthy)


def judge(case: Case, folder: Path) -> Iterator[Judged]:
    """Everything that is said of one unit."""
    photo, healthy = folder / "photo.png", folder / "healthy.png"
    cv2.imwrite(str(photo), case.photo)
    cv2.imwrite(str(healthy), case.healthy)
    shot = LampShot(photo, frozenset({*case.shares, *case.signs}))
    displays = bool((case.family.raw or {}).get("displays"))
    for reference in ("healthy", "print"):
        with_it = reference == "healthy"
        start = time.process_time()
        report = check_lights(
            case.family,
            [shot],
            healthy if with_it else None,
            Wish(every_segment=displays and with_it),
        )
        cpu_s = time.process_time() - start
        yield Judged("time", reference, "", "", cpu_s)
        yield from _zones(case, report, reference)
        if with_it:
            yield from _signs(case, report)


def _zones(case: Case, report: LightReport, reference: str) -> Iterator[Judged]:
    face, numbers = report.face, report.zone_of
    if face is None or numbers is None:
        yield Judged("zone", reference, "?", "not judged")
        return
    true_light = _true_lights(case, report, reference)
    states = []
    for one in face.zones:
        share = case.shares[one.seen.zone.lamp or ""]
        state = "dark" if share == 0 else "dim" if share <= DIM_TO else "sound"
        states.append(state)
        said = one.state or "not seen"
        true = true_light.get(one.seen.zone.number)
        off = None
        if one.seen.light is not None and one.seen.u_light and true is not None:
            off = (one.seen.light - true) / one.seen.u_light
        yield Judged("zone", reference, state, said, off)
    for state in ("dark", "dim"):
        said = any(one.state == state for one in face.zones)
        yield Judged(state, reference, "yes" if state in states else "no", "yes" if said else "no")


def _true_lights(case: Case, report: LightReport, reference: str) -> dict[int, float]:
    """Of every zone, in the middle of those within a fifth of the brightest."""
    assert report.zone_of is not None
    high, wide = report.zone_of.shape
    x, y = np.meshgrid(
        (np.arange(wide) + 0.5) / report.px_per_mm, (np.arange(high) + 0.5) / report.px_per_mm
    )
    level = case.level(case.shares, x, y)
    if reference == "healthy":
        level = level / np.maximum(case.level(case.healthy_shares, x, y), 1e-9)
    art = cv2.resize(
        np.asarray(open_face(case.family.face_path)), (wide, high), interpolation=cv2.INTER_AREA
    ).max(axis=2)
    printed = art > 140
    lights = {}
    for zone in report.zoning.zones:
        inside = (report.zone_of == zone.number) & printed
        if inside.any():
            lights[zone.number] = float(np.median(level[inside]))
    seen = {
        one.seen.zone.number
        for one in (report.face.zones if report.face else ())
        if one.seen.light is not None
    }
    lights = {number: light for number, light in lights.items() if number in seen}
    top = max(lights.values(), default=1.0)
    middle = float(np.median([light for light in lights.values() if light >= 0.8 * top]))
    return {number: light / middle for number, light in lights.items()}


def _signs(case: Case, report: LightReport) -> Iterator[Judged]:
    tell_tales = [one for one in report.signs if one.kind == "tell_tale"]
    for one in tell_tales:
        true = "dark" if case.signs[one.id] == 0 else "lit"
        said = "not seen" if one.dark is None else "dark" if one.dark > 0.5 else "lit"
        yield Judged("sign", "", true, said)
    seen = [one for one in tell_tales if one.dark is not None]
    if seen:
        true = "yes" if any(case.signs[one.id] == 0 for one in seen) else "no"
        said = "yes" if any((one.dark or 0) > 0.5 for one in seen) else "no"
        yield Judged("tell-tales", "", true, said)
    pieces = [one for one in report.signs if one.kind == "segment"]
    if pieces:
        said = "yes" if any((one.dark or 0) > 0.5 for one in pieces) else "no"
        yield Judged("segment", "", "no" if case.dark_bar is None else "yes", said)
    for hub in report.hubs:
        true = "halo" if hub.dial in case.halos else "none"
        said = "not seen" if hub.halo is None else "halo" if hub.halo > 0.5 else "none"
        yield Judged("hub", "", true, said)


def fadings(count: int, seed: int) -> Iterator[Judged]:
    """Series that lose a fifth to a half of their light in half an hour, or nearly none."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        fades = rng.random() < 0.5
        lost = float(rng.uniform(0.2, 0.5) if fades else rng.uniform(-0.03, 0.03))
        at = np.sort(rng.uniform(0, 30, rng.integers(4, 9)))
        at[0], at[-1] = 0.0, 30.0
        u = float(rng.uniform(0.01, 0.04))
        light = (1 - lost) ** (at / 30) * np.exp(u * rng.standard_normal(len(at)))
        points = [FadingPoint(str(t), t, float(y), u * y) for t, y in zip(at, light, strict=True)]
        found = fit_fading(points, "minutes")
        off = (found.lost - lost) / found.u_lost
        said = "yes" if found.fades > 0.5 else "no"
        yield Judged("fading", "", "yes" if fades else "no", said, off)


def bound(errors: int, count: int) -> float:
    """Rate of errors that lies below this with 95 %: Clopper and Pearson, 1934 (from memory)."""
    return float(beta.ppf(0.95, errors + 1, count - errors)) if errors < count else 1.0


def supported(said: Sequence[Judged], yes: str = "yes") -> tuple[float, float]:
    """The largest ratios for a yes and for a no that the rates of errors support."""
    is_yes = [one for one in said if one.true == yes and one.said != "not seen"]
    is_no = [one for one in said if one.true != yes and one.said != "not seen"]
    missed = sum(one.said != yes for one in is_yes)
    false = sum(one.said == yes for one in is_no)
    found = 1 - missed / max(len(is_yes), 1)
    return found / bound(false, len(is_no)), (1 - false / max(len(is_no), 1)) / bound(
        missed, len(is_yes)
    )


def _table(title: str, *headings: str) -> Table:
    table = Table(title=title, title_justify="left")
    table.add_column("")
    for heading in headings:
        table.add_column(heading, justify="right")
    return table


def zones_table(said: Sequence[Judged]) -> Table:
    """Who was taken for whom, by what zones were held against."""
    table = _table("zones", "zones", "called sound", "dim", "dark", "not seen", "right")
    for reference in ("healthy", "print"):
        for state in ("sound", "dim", "dark"):
            some = [o for o in said if (o.kind, o.reference, o.true) == ("zone", reference, state)]
            counts = [sum(o.said == s for o in some) for s in ("sound", "dim", "dark", "not seen")]
            seen = len(some) - counts[3]
            right = sum(o.said == state for o in some) / max(seen, 1)
            words = "a healthy unit" if reference == "healthy" else "print"
            table.add_row(
                f"{state}, against {words}", str(len(some)), *map(str, counts), f"{right:.3f}"
            )
    return table


def others_table(said: Sequence[Judged]) -> Table:
    """Signs, hubs, displays."""
    table = _table("signs, hubs, displays", "how many", "not seen", "called so", "share")
    rows = (
        ("dark tell-tales", "sign", "dark", "dark"),
        ("lit tell-tales called dark", "sign", "lit", "dark"),
        ("hubs with a halo", "hub", "halo", "halo"),
        ("hubs without, called halo", "hub", "none", "halo"),
        ("displays with a dark bar", "segment", "yes", "yes"),
        ("whole displays called dark in part", "segment", "no", "yes"),
        ("fading displays", "fading", "yes", "yes"),
        ("steady displays called fading", "fading", "no", "yes"),
    )
    for words, kind, true, called in rows:
        some = [one for one in said if (one.kind, one.true) == (kind, true)]
        unseen = sum(one.said == "not seen" for one in some)
        hits = sum(one.said == called for one in some)
        share = hits / max(len(some) - unseen, 1)
        table.add_row(words, str(len(some)), str(unseen), str(hits), f"{share:.3f}")
    return table


def uncertainty_table(said: Sequence[Judged]) -> Table:
    """Whether twice the stated uncertainty holds the true light."""
    table = _table("do uncertainties hold?", "values", "within U, k = 2", "spread of error / u")
    for words, kind, reference in (
        ("zones, against a healthy unit", "zone", "healthy"),
        ("zones, against print", "zone", "print"),
        ("light lost in a series", "fading", ""),
    ):
        off = [
            one.off_u
            for one in said
            if (one.kind, one.reference) == (kind, reference) and one.off_u is not None
        ]
        within = float(np.mean(np.abs(off) <= 2))
        table.add_row(words, str(len(off)), f"{within:.3f}", f"{np.std(off):.2f}")
    return table


KINDS = {
    "dark": ("dark", "healthy", "yes"),
    "dark, print": ("dark", "print", "yes"),
    "dim": ("dim", "healthy", "yes"),
    "dim, print": ("dim", "print", "yes"),
    "sign": ("tell-tales", "", "yes"),
    "segment": ("segment", "", "yes"),
    "fading": ("fading", "", "yes"),
}


def ratios_table(said: Sequence[Judged]) -> Table:
    """The largest ratios that the rates of errors support."""
    table = _table("ratios of likelihoods", "supported for a yes", "for a no")
    for name, (kind, reference, yes) in KINDS.items():
        some = [one for one in said if (one.kind, one.reference) == (kind, reference)]
        table.add_row(name, *(f"{ratio:.1f}" for ratio in supported(some, yes)))
    return table


def claims_too_much(ratios: Table) -> list[str]:
    """Kinds whose evidence goes beyond what is supported."""
    rows = zip(*(column.cells for column in ratios.columns), strict=True)
    return [
        str(name)
        for name, for_yes, for_no in rows
        if MOST[str(name)][0] > float(str(for_yes)) or MOST[str(name)][1] > float(str(for_no))
    ]


def all_judged(count: int) -> list[Judged]:
    """Every case of both sources, and the series."""
    said: list[Judged] = []
    with TemporaryDirectory() as folder:
        for cases in (drawn_cases(count, 5100), rehearsed_cases(count, 5101)):
            for case in cases:
                said += judge(case, Path(folder))
    return [*said, *fadings(500, 5102)]


def main() -> int:
    """Judge and print; leaves with 1 where evidence claims more than is supported."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=120, help="faces of each source")
    parser.add_argument("--json", type=Path, help="file for the tables")
    arguments = parser.parse_args()
    cv2.setNumThreads(1)
    said = all_judged(arguments.count)
    times = [one.off_u or 0.0 for one in said if one.kind == "time"]
    tables = [zones_table(said), others_table(said), uncertainty_table(said), ratios_table(said)]
    for table in tables:
        Console(width=140).print(table)
    print(f"{np.median(times):.2f} s of processor a photo, in the middle")
    if arguments.json:
        document = {"tables": [as_document(table) for table in tables]}
        arguments.json.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")
    beyond = claims_too_much(tables[-1])
    print(f"evidence claims too much: {', '.join(beyond) or 'nowhere'}")
    return int(bool(beyond))


if __name__ == "__main__":
    sys.exit(main())
