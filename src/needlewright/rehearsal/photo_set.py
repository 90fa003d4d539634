"""A set of drawn photos with their truth, as a folder."""

import json
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from needlewright.errors import FamilyError, PictureError
from needlewright.families.folder import FACE_FILE, FAMILY_FILE, load_family
from needlewright.families.model import Family
from needlewright.rehearsal.invent import generate_family
from needlewright.rehearsal.scene import draw
from needlewright.rehearsal.sensor import to_jpeg
from needlewright.rehearsal.sheet import Sheet, sheet_of
from needlewright.rehearsal.staging import CONDITIONS, stage
from needlewright.rehearsal.truth import document_of, truth_of

PHOTO_FOLDER: Final = "photos"
TRUTH_FILE: Final = "truth.json"
SIZE_PX: Final = (1600, 1067)
PER_FAMILY: Final = 13
"""Photos of one invented design in a set: each condition once."""


@dataclass(frozen=True, slots=True)
class DrawnSet:
    """What was written for one family."""

    folder: Path
    family: str
    photos: int
    needles: int


def draw_photo(
    family: Family,
    sheet: Sheet,
    condition: str,
    seed: Sequence[int],
    size_px: tuple[int, int] = SIZE_PX,
) -> tuple[bytes, dict[str, Any]]:
    """Draw one photo.

    Parameters
    ----------
    family
        The design.
    sheet
        Its face.
    condition
        One of `CONDITIONS`.
    seed
        Numbers of 0 or more; the same give the same photo.
    size_px
        Width and height.

    Returns
    -------
    tuple
        The JPEG file, and its entry of truth.json without the file's name.
    """
    rng = np.random.default_rng(list(seed))
    staged = stage(family, condition, rng, size_px)
    drawn = draw(family, sheet, staged.scene, rng)
    truth = truth_of(family, staged.scene, drawn.covered)
    entry = {"tags": list(staged.tags), **truth, **staged.said, "refuse": None}
    return to_jpeg(drawn.picture, staged.scene.sensor), entry


def draw_set(
    out: Path,
    *,
    count: int,
    seed: int,
    family: Family | None = None,
    size_px: tuple[int, int] = SIZE_PX,
    conditions: Sequence[str] = CONDITIONS,
    told: Callable[[int, int], None] | None = None,
) -> list[DrawnSet]:
    """Draw photos into a folder: one folder per family, each with its truth.

    Parameters
    ----------
    out
        The folder, which must be new or empty; it appears when everything is drawn.
    count
        Photos.
    seed
        0 or more; the same number gives the same set on a machine with the same fonts.
    family
        The family to draw; None: a new invented one for every `PER_FAMILY` photos.
    size_px
        Width and height.
    conditions
        Taken in turn.
    told
        Called with the photos done and of all.

    Returns
    -------
    list of DrawnSet
        One per family, their folders inside `out`.

    Raises
    ------
    FamilyError
        If the family cannot be drawn or a folder cannot be written.
    PictureError
        If the folder is in use.
    """
    refuse_used_folder(out)
    made: list[DrawnSet] = []
    with _appearing(out) as part:
        done = 0
        while done < count:
            number = min(count - done, PER_FAMILY if family is None else count)
            folder, own = _family_folder(part, family, seed + len(made))
            sheet, entries = sheet_of(own), []
            (folder / PHOTO_FOLDER).mkdir()
            for i in range(number):
                condition = conditions[i % len(conditions)]
                coded, entry = draw_photo(own, sheet, condition, (seed, done + i, 4), size_px)
                name = f"{i + 1:03d}.jpg"
                (folder / PHOTO_FOLDER / name).write_bytes(coded)
                entries.append({"file": name, **entry})
                if told is not None:
                    told(done + i + 1, count)
            text = json.dumps(document_of(own.name, entries), indent=1, allow_nan=False)
            (folder / TRUTH_FILE).write_text(text + "\n", encoding="utf-8")
            needles = sum(len(entry["dials"]) for entry in entries)
            made.append(DrawnSet(out / folder.name, own.name, number, needles))
            done += number
    return made


def refuse_used_folder(out: Path) -> None:
    """Refuse a folder that holds anything, or a file.

    Parameters
    ----------
    out
        Where a set is to go.

    Raises
    ------
    PictureError
        If it is not new or empty.
    """
    if out.is_dir() and not any(out.iterdir()):
        return
    if out.is_dir():
        raise PictureError(
            f"{out}: expected a new or empty folder, found files in it; name another"
        )
    if out.exists():
        raise PictureError(f"{out}: expected a new or empty folder, found a file; name another")


def _family_folder(part: Path, family: Family | None, seed: int) -> tuple[Path, Family]:
    """The family's own folder inside the set."""
    if family is None:
        folder = part / f"drawn-{seed:04d}"
        return folder, generate_family(seed, folder)
    folder = part / (family.folder.resolve().name or "family")
    folder.mkdir()
    for name in (FAMILY_FILE, FACE_FILE):
        shutil.copyfile(family.folder / name, folder / name)
    return folder, load_family(folder)


@contextmanager
def _appearing(out: Path) -> Iterator[Path]:
    """A folder that takes its name when everything in it is there."""
    part = out.with_name(f".{out.name}.{os.getpid()}.part")
    try:
        part.mkdir(parents=True)
        yield part
        if out.is_dir():
            out.rmdir()
        part.replace(out)
    except OSError as error:
        raise FamilyError(f"{out}: cannot be written: {error.strerror or error}") from error
    finally:
        shutil.rmtree(part, ignore_errors=True)
