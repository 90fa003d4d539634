"""Drawn photos of invented faces, as needles with truth and all that the reader says of them."""

import csv
import json
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any, TypeVar

import cv2

from benchmarks.scoring import Needle, Row, duty_of, visible_length_px
from needlewright.families.folder import load_family
from needlewright.families.model import Dial
from needlewright.readings.model import Reading
from needlewright.readings.reader import FaceReader
from needlewright.rehearsal.photo_set import PER_FAMILY, PHOTO_FOLDER, TRUTH_FILE, draw_set

Told = Callable[[], None]
Made = TypeVar("Made")


@dataclass(frozen=True, slots=True)
class DrawnNeedle:
    """A needle of a drawn photo: what is true and said, and what the reader said beside it."""

    needle: Needle
    seed: int
    visible_fraction: float
    tilt_deg: float
    components_deg: tuple[tuple[str, float], ...] = ()
    flags: tuple[str, ...] = ()

    @property
    def condition(self) -> str:
        """What the photo suffers from: its first tag."""
        return self.needle.tags[0]


def face_folder(keep: Path, seed: int) -> Path:
    """Where the face of a seed and its photos lie."""
    return keep / f"{seed:04d}" / f"drawn-{seed:04d}"


def draw_missing(keep: Path, seeds: Sequence[int], processes: int, told: Told) -> None:
    """Draw the faces that are not there yet, each in every condition once."""
    wanted = [seed for seed in seeds if not face_folder(keep, seed).is_dir()]
    keep.mkdir(parents=True, exist_ok=True)
    for _ in _each(partial(_draw, keep), wanted, processes):
        told()


def read_faces(
    keep: Path, seeds: Sequence[int], processes: int, told: Told
) -> Iterator[DrawnNeedle]:
    """Read the photos of faces that are drawn, in the order of the seeds."""
    for needles in _each(partial(_read_face, keep), seeds, processes):
        told()
        yield from needles


def _each(work: Callable[[int], Made], seeds: Sequence[int], processes: int) -> Iterator[Made]:
    """One face after another, or several at once in processes of their own; order is kept."""
    if processes <= 1:
        yield from map(work, seeds)
        return
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        yield from pool.map(work, seeds)


def _draw(keep: Path, seed: int) -> None:
    cv2.setNumThreads(1)
    draw_set(keep / f"{seed:04d}", count=PER_FAMILY, seed=seed)


def _read_face(keep: Path, seed: int) -> list[DrawnNeedle]:
    cv2.setNumThreads(1)
    folder = face_folder(keep, seed)
    family = load_family(folder)
    reader = FaceReader(family)
    truth = json.loads((folder / TRUTH_FILE).read_text(encoding="utf-8"))
    needles: list[DrawnNeedle] = []
    for entry in truth["photos"]:
        photo = reader.read_photo(folder / PHOTO_FOLDER / entry["file"])
        said = {reading.dial: reading for reading in photo.readings}
        for dial in family.dials:
            reading = said.get(dial.id, Reading(dial.id, "refused", dial.unit, photo.reason))
            needles.append(_with_truth(entry, dial, seed, reading))
    return needles


def _with_truth(entry: Row, dial: Dial, seed: int, said: Reading) -> DrawnNeedle:
    duty, why = duty_of(entry, dial.id)
    truth: dict[str, Any] = entry["dials"][dial.id]
    needle = Needle(
        family=f"drawn-{seed:04d}",
        photo=f"{seed:04d}/{entry['file']}",
        dial=dial.id,
        tags=tuple(entry["tags"]),
        duty=duty,
        why=why,
        truth_deg=truth["true_angle_deg"],
        visible_px=visible_length_px(entry, dial, truth["true_angle_deg"]),
    )
    return DrawnNeedle(
        needle=replace(
            needle, angle_deg=said.angle_deg, u_deg=said.u_angle_deg, reason=said.reason
        ),
        seed=seed,
        visible_fraction=truth["needle_visible_fraction"],
        tilt_deg=entry["tilt_deg"],
        components_deg=said.components_deg,
        flags=said.flags,
    )


def write_csv(path: Path, needles: Sequence[DrawnNeedle]) -> None:
    """Write a line for each needle; each component of the uncertainty has its own column."""
    names = list(dict.fromkeys(name for n in needles for name, _ in n.components_deg))
    with path.open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(
            [
                "seed", "photo", "dial", "condition", "tags", "duty", "why", "truth_deg",
                "angle_deg", "error_deg", "u_deg", *(f"{name}_deg" for name in names), "flags",
                "visible_px", "visible_fraction", "tilt_deg", "reason",
            ]
        )  # fmt: skip
        for drawn in needles:
            n, parts = drawn.needle, dict(drawn.components_deg)
            rows.writerow(
                [
                    drawn.seed, n.photo, n.dial, drawn.condition, " ".join(n.tags), n.duty, n.why,
                    n.truth_deg, n.angle_deg, n.error_deg, n.u_deg,
                    *(parts.get(name) for name in names), " ".join(drawn.flags), n.visible_px,
                    drawn.visible_fraction, drawn.tilt_deg, n.reason,
                ]
            )  # fmt: skip
