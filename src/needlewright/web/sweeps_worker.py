"""What a process that follows a sweep video does, and how it says how far it is."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from needlewright.composing.sweeps import follow_sweep
from needlewright.errors import FamilyError, PictureError
from needlewright.families.model import Family

EVERY_FRAMES: Final = 5
"""How far it is, is said anew after so many frames."""


class LeftOff(Exception):
    """The file for saying how far it is was taken away."""


@dataclass(frozen=True, slots=True)
class SweepRead:
    """What came of a sweep video: a document, or the sentence why there is none."""

    document: Mapping[str, Any] | None
    problem: str | None = None
    damaged: str | None = None


def follow_one(family: Family, path: Path, name: str, told: Path) -> SweepRead:
    """Follow one video.

    Parameters
    ----------
    family
        The cluster design the video is taken to show.
    path
        The stored video.
    name
        As people call it, for sentences.
    told
        An existing file; how far it is is written into it. Once it is gone, the work is left off.

    Returns
    -------
    SweepRead
        What was followed, or the sentence why nothing was.

    Raises
    ------
    LeftOff
        If `told` was taken away.
    """

    def tell(read: int, of: int) -> None:
        if read % EVERY_FRAMES and read != of:
            return
        if not told.exists():
            raise LeftOff
        told.write_text(f"{read} {of}", encoding="ascii")

    try:
        followed = follow_sweep(family, path, tell)
    except (PictureError, FamilyError) as error:
        return SweepRead(None, _own_name(str(error), path, name))
    damaged = followed.damaged
    return SweepRead(
        followed.document(), damaged=None if damaged is None else _own_name(damaged, path, name)
    )


def how_far(told: Path) -> tuple[int, int] | None:
    """Frames read and of all, as a process said last; None: not one yet."""
    try:
        read, of = told.read_text(encoding="ascii").split()
        return int(read), int(of)
    except (OSError, ValueError):  # it is being written this moment
        return None


def _own_name(sentence: str, path: Path, name: str) -> str:
    """A sentence that names the video as people do."""
    return sentence.replace(str(path), name).replace(path.name, name)
