"""Drafts of faces whose truth is known: rough clicks made from it, and how far off the draft is."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from benchmarks.scoring import Row, project
from needlewright.families.model import Dial, Family
from needlewright.readings.drafting.inputs import DraftInputs, KnownLength, TypedDial, TypedMark
from needlewright.readings.drafting.model import Draft
from needlewright.rehearsal.scene import draw
from needlewright.rehearsal.sensor import to_jpeg
from needlewright.rehearsal.sheet import sheet_of
from needlewright.rehearsal.staging import stage
from needlewright.rehearsal.truth import truth_of

CLICK_PX = 3.0
"""Standard deviation of a rough click in each direction; the largest of twenty is about 7 px."""
SIZE_PX = (1600, 1067)


@dataclass(frozen=True, slots=True)
class Off:
    """How far one dial of a draft is from the truth."""

    dial: str
    small: bool
    """Whether its marks stand within 25 mm of its centre."""
    centre_mm: float
    """Distance of the centres, after the drafts' frame is laid over the true one."""
    marks_deg: tuple[float, ...]
    """Drafted minus true angle of every major mark, each in its own frame, 12 o'clock with it."""
    turned_deg: tuple[float, ...]
    """The same after the frames are laid over each other."""
    values_right: bool
    u_centre_mm: float
    u_marks_deg: tuple[float, ...]


def clicks_from_truth(
    family: Family, photo: Row, rng: np.random.Generator, radii: dict[str, float] | None = None
) -> DraftInputs:
    """What a person would click and type: hubs, first and last marks, one length with a caliper."""
    dials = []
    for dial in family.dials:
        centre = np.array(dial.centre_mm)
        reach = (radii or {}).get(dial.id, dial.needle.length_mm)
        turn = np.radians([dial.scale.angles_deg[0], dial.scale.angles_deg[-1]])
        ends = centre + reach * np.stack([np.sin(turn), -np.cos(turn)], axis=1)
        points = np.column_stack([np.vstack([centre, ends]), np.zeros(3)])
        at = project(photo, points) + rng.normal(0.0, CLICK_PX, (3, 2))
        hub, first, last = ((float(x), float(y)) for x, y in at)
        marks = (
            TypedMark(first, dial.scale.values[0]),
            TypedMark(last, dial.scale.values[-1]),
        )
        dials.append(TypedDial(dial.id, hub, marks, dial.unit))
    return DraftInputs("drafted", tuple(dials), known=_known(family))


def _known(family: Family) -> KnownLength:
    """From hub to hub of the two dials furthest apart; of one dial, nothing can be measured so."""
    pairs = [(a, b) for a in family.dials for b in family.dials if a.id < b.id]
    a, b = max(pairs, key=lambda pair: _apart(*pair))
    return KnownLength(_apart(a, b), (a.id, b.id))


def _apart(a: Dial, b: Dial) -> float:
    return float(np.hypot(*np.subtract(a.centre_mm, b.centre_mm)))


def offs(draft: Draft, family: Family) -> list[Off]:
    """How far each dial is off, the draft's frame turned and shifted onto the true one."""
    true = np.array([dial.centre_mm for dial in family.dials])
    seen = np.array([dial.centre_mm for dial in draft.dials])
    a = (seen - seen.mean(axis=0)) @ np.array([1, 1j])
    b = (true - true.mean(axis=0)) @ np.array([1, 1j])
    turn = np.vdot(a, b)
    turn /= abs(turn)
    apart = np.abs(a * turn - b)
    turned = float(np.degrees(np.angle(turn)))
    found = []
    for dial, drafted, centre in zip(family.dials, draft.dials, apart, strict=True):
        majors = drafted.majors
        right = [round(m.value or 0.0, 6) for m in majors] == [
            round(v, 6) for v in dial.scale.values
        ]
        angles = [m.angle_deg for m in majors]
        off = np.subtract(angles, dial.scale.angles_deg) if right else np.full(1, np.nan)
        found.append(
            Off(
                dial.id,
                dial.needle.length_mm < 25.0,
                float(centre),
                tuple(off.tolist()),
                tuple((off + turned).tolist()),
                right,
                drafted.u_centre_mm or 0.0,
                tuple(m.u_angle_deg or 0.0 for m in majors) if right else (np.nan,),
            )
        )
    return found


def drawn_bare(family: Family, seed: int) -> tuple[bytes, Row]:
    """A clean photo of an invented face with every needle pulled, and its truth."""
    rng = np.random.default_rng([seed, 77])
    staged = stage(family, "clean", rng, SIZE_PX)
    scene = replace(staged.scene, angles_deg={}, seats={})
    drawn = draw(family, sheet_of(family), scene, rng)
    return to_jpeg(drawn.picture, scene.sensor), truth_of(family, scene, None)


def printed_radii(family: Family) -> dict[str, float]:
    """Where a person would click on an invented face's end marks: the middle of their ink.

    Needles of invented faces end anywhere from short of the marks to beyond them.
    """
    art = np.asarray(Image.open(family.face_path).convert("RGB"), dtype=np.float64)
    return {dial.id: _inked_radius(art, family.px_per_mm, dial) for dial in family.dials}


def _inked_radius(art: np.ndarray, px_per_mm: float, dial: Dial) -> float:
    """Radius at which the end marks stand out most from the face beside them, over all majors."""
    radii = np.arange(0.7, 1.45, 0.005) * dial.needle.length_mm
    beside_deg = 0.5 * float(np.min(np.abs(np.diff(dial.scale.angles_deg)))) / 4
    found = np.zeros(len(radii))
    for angle in dial.scale.angles_deg:
        values = [
            _at(art, px_per_mm, dial, angle + turn, radii)
            for turn in (0.0, -beside_deg, beside_deg)
        ]
        beside = np.minimum(
            np.abs(values[0] - values[1]).sum(axis=1), np.abs(values[0] - values[2]).sum(axis=1)
        )
        found += beside > 60.0
    common = found > 0.7 * len(dial.scale.angles_deg)
    return float(np.median(radii[common])) if common.any() else dial.needle.length_mm


def _at(
    art: np.ndarray, px_per_mm: float, dial: Dial, angle_deg: float, radii: np.ndarray
) -> np.ndarray:
    turn = np.radians(angle_deg)
    x = (dial.centre_mm[0] + radii * np.sin(turn)) * px_per_mm - 0.5
    y = (dial.centre_mm[1] - radii * np.cos(turn)) * px_per_mm - 0.5
    rows = np.clip(np.rint(y).astype(int), 0, art.shape[0] - 1)
    columns = np.clip(np.rint(x).astype(int), 0, art.shape[1] - 1)
    return np.asarray(art[rows, columns])


def truths(folder: Path) -> dict[str, Any]:
    """The truth.json of a family of the shared photos."""
    return dict(json.loads((folder / "truth.json").read_text(encoding="utf-8")))


def worst(values: Sequence[float]) -> float:
    """Largest size of all that are numbers."""
    sizes = np.abs([v for v in values if np.isfinite(v)])
    return float(sizes.max()) if len(sizes) else float("nan")
