"""The photos with truth under tests/data, as shots to read and needles to score."""

import json
from dataclasses import dataclass, replace
from pathlib import Path

from benchmarks.scoring import Needle, Row, duty_of, visible_length_px
from needlewright.families.model import Dial, Family

DATA = Path(__file__).parents[1] / "tests" / "data"
FAMILIES = ("fam-a", "fam-b", "fam-c", "fam-d")
ANOTHER_FACE = "another family's face"


@dataclass(frozen=True, slots=True)
class Shot:
    """One photo, and the family it is to be read as."""

    family: str
    name: str
    path: Path
    truth: Row


@dataclass(frozen=True, slots=True)
class Said:
    """What a reader says of one dial."""

    angle_deg: float | None
    u_deg: float | None
    reason: str | None


def family_folder(name: str) -> Path:
    return DATA / "families" / name


def all_shots() -> list[Shot]:
    """Forty photos of four families, then those for which the right answer is a refusal."""
    shots = []
    for family in FAMILIES:
        folder = DATA / "photos" / family
        for photo in _photos(folder):
            path = folder / "photos" / photo["file"]
            shots.append(Shot(family, f"{family}/{photo['file']}", path, photo))
    folder = DATA / "photos" / "negatives"
    for photo in _photos(folder):
        name = f"negatives/{photo['file']}"
        shots.append(Shot(photo["family_expected"], name, folder / photo["file"], photo))
    return shots


def crossed_shots() -> list[Shot]:
    """The two easiest photos of each family, read as each other family: all to be refused."""
    easy = [s for s in all_shots() if s.path.stem in ("001", "002") and s.family in s.name]
    return [
        Shot(
            family,
            f"{shot.name} as {family}",
            shot.path,
            {**shot.truth, "tags": [ANOTHER_FACE], "refuse": ANOTHER_FACE, "dials": {}},
        )
        for family in FAMILIES
        for shot in easy
        if shot.family != family
    ]


def needles_of(shot: Shot, family: Family, said: dict[str, Said] | None = None) -> list[Needle]:
    """The needles of a shot with their truth and, where given, what a reader says of them."""
    needles = [_needle(shot, dial) for dial in family.dials]
    if said is None:
        return needles
    return [
        replace(
            needle,
            angle_deg=said[needle.dial].angle_deg,
            u_deg=said[needle.dial].u_deg,
            reason=said[needle.dial].reason,
        )
        for needle in needles
    ]


def _needle(shot: Shot, dial: Dial) -> Needle:
    duty, why = duty_of(shot.truth, dial.id)
    angle_deg = shot.truth["dials"].get(dial.id, {}).get("true_angle_deg")
    return Needle(
        family=shot.family,
        photo=shot.name,
        dial=dial.id,
        tags=tuple(shot.truth["tags"]),
        duty=duty,
        why=why,
        truth_deg=angle_deg,
        visible_px=None if angle_deg is None else visible_length_px(shot.truth, dial, angle_deg),
    )


def _photos(folder: Path) -> list[Row]:
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    return list(truth["photos"])
