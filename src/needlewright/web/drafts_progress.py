"""How far a drafting is: what is done now, and the share of the whole that is done.

Shares go by rough weights of the steps, taken from drafts of photos of two megapixels; what is left
is told from how long this draft took so far, so that a slow machine is told of as a slow one.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from typing import Final

TOLD: Final = "told"
OPENING: Final = "opening"
WRITING: Final = "writing"
LOOKS: Final = 5
"""Looks at a dial that its marks take."""
WEIGHTS: Final[Mapping[str, float]] = {
    OPENING: 0.3,
    "marks": 0.1,
    "face": 0.5,
    "pictures": 0.3,
    "again": 0.25,
    "needles": 0.7,
    WRITING: 0.5,
}
"""Of one step of each stage, in the order of the work."""
TOLD_FROM: Final = 0.1
"""Share that must be done before it is said what is left: the first steps tell nothing of it."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a drafting said last."""

    doing: str
    """`opening`, a stage of `readings.drafting.progress.Stage`, or `writing`."""
    done: int
    of: int
    """Steps of what is done now."""
    share: float
    """Of the whole, from 0 to 1."""
    left_s: float | None
    """Roughly; None: too little is done to say."""


class Teller:
    """Writes into a folder how far a drafting is.

    Parameters
    ----------
    folder
        Exists.
    dials
        How many there are.
    photos
        How many there are, the one that is clicked in among them.
    bare
        Whether needles are pulled in the first photo.
    scan
        Whether the first is a scan, whose needles are not measured.
    """

    def __init__(self, folder: Path, dials: int, photos: int, *, bare: bool, scan: bool) -> None:
        others = photos - 1
        steps = {
            OPENING: photos,
            "marks": LOOKS * dials,
            "face": 1,
            "pictures": others,
            "again": LOOKS * dials if others and not bare else 0,
            "needles": dials if others or not (bare or scan) else 0,
            WRITING: 1,
        }
        self._path, self._begun_s = folder / TOLD, monotonic()
        self._plan: Sequence[tuple[str, float]] = [
            (stage, count * WEIGHTS[stage]) for stage, count in steps.items()
        ]

    def __call__(self, doing: str, done: int, of: int) -> None:
        """Say it; what is half written is never read."""
        share = self.share(doing, done, of)
        spent_s = monotonic() - self._begun_s
        left_s = spent_s * (1.0 - share) / share if share >= TOLD_FROM else None
        part = self._path.with_name(f".{TOLD}.part")
        said = {"doing": doing, "done": done, "of": of, "share": share, "left_s": left_s}
        part.write_text(json.dumps(said), encoding="ascii")
        part.replace(self._path)

    def share(self, doing: str, done: int, of: int) -> float:
        """Of the whole that is done, from 0 to 1."""
        whole, before = sum(weight for _, weight in self._plan), 0.0
        for stage, weight in self._plan:
            if stage == doing:
                return (before + weight * done / max(of, 1)) / whole
            before += weight
        return 0.0


def told_in(folder: Path) -> Told | None:
    """What was said last; None: nothing yet."""
    try:
        said = json.loads((folder / TOLD).read_text(encoding="ascii"))
        return Told(**said)
    except (OSError, ValueError, TypeError):
        return None
