"""From photos of a lit face to what is dark, dim or leaking in it."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.composing.lamp_photos import LampShot, is_backlit
from needlewright.composing.light_measuring import LightMeasuring, TakenShot, Wish
from needlewright.errors import PictureError, UsageError
from needlewright.families.model import Family
from needlewright.findings.evidence import Evidence
from needlewright.findings.lamps.evidence import sign_evidence, zone_evidence
from needlewright.findings.lamps.halo import HubState, judge_hubs
from needlewright.findings.lamps.signs import SignState
from needlewright.findings.lamps.zones import FaceState, judge_zones
from needlewright.readings.light.hubs import HubLight
from needlewright.readings.light.lit_face import FoundFace
from needlewright.readings.light.zone_light import FaceLight, combined
from needlewright.readings.light.zones import Zoning
from needlewright.readings.picture import open_picture

HEALTHY: Final = ("healthy.png", "healthy.jpg")
CAUTION: Final = (
    "display and backlight supplies can carry tens to hundreds of volts: switch off, wait and "
    "measure before touching them"
)


@dataclass(frozen=True, slots=True)
class PhotoUsed:
    """What became of one photo."""

    path: Path
    problem: str | None = None
    """Why it could not be used; None: it was."""
    placed_by: str | None = None
    """The photo its face's place was taken from, where the face shows too little by itself."""
    zones: FaceLight | None = None
    room: float | None = None
    """Share of the room's light in that of lit print, at most; None: not measured."""


@dataclass(frozen=True, slots=True, eq=False)
class LightReport:
    """What photos of a face's lamps say."""

    family: str
    zoning: Zoning
    photos: tuple[PhotoUsed, ...]
    healthy: Path | None
    face: FaceState | None
    """None: no photo of the backlight was judged."""
    no_zones: str | None
    """Why there are no zones; None: there are."""
    signs: tuple[SignState, ...]
    hubs: tuple[HubState, ...]
    evidence: tuple[Evidence, ...]
    seen: NDArray[np.float32] | None = None
    """The face in the first photo of the backlight, linear light, blue, green, red."""
    zone_of: NDArray[np.int16] | None = None
    """Number of the zone of each of its pixels."""
    px_per_mm: float = 1.0
    cautions: tuple[str, ...] = (CAUTION,)
    rehearsed: bool = False
    """Whether the file of a photo says that no real cluster is in it."""


def kept_healthy(family: Family) -> Path | None:
    """The photo of a healthy unit that a family's folder holds, if it does.

    Parameters
    ----------
    family
        The cluster design.

    Returns
    -------
    Path or None
        `healthy.png` or `healthy.jpg` of its folder.
    """
    paths = (family.folder / name for name in HEALTHY)
    return next((path for path in paths if path.is_file()), None)


def check_lights(
    family: Family, shots: Sequence[LampShot], healthy: Path | None, wish: Wish
) -> LightReport:
    """Judge the lamps of a face from photos.

    Parameters
    ----------
    family
        The cluster design.
    shots
        Photos, with what was switched on in each.
    healthy
        A photo of a healthy unit with its backlight on; None: there is none.
    wish
        How they were taken.

    Returns
    -------
    LightReport
        Photos that cannot be used are told in it.

    Raises
    ------
    PictureError
        If no photo, or the healthy one, can be used.
    UsageError
        If what is wished does not fit what is given.
    """
    if wish.exposure == "same" and healthy is None:
        raise UsageError(
            "--same-exposure compares with a healthy unit's photo; give that with --healthy"
        )
    work = LightMeasuring(family, healthy, wish)
    if healthy is not None and is_own_print(family, healthy):
        raise PictureError(f"healthy picture {own_print_words(family, healthy)}")
    taken = [_open(family, shot) for shot in shots]
    for one in taken:
        work.find(one)
    _place_others(taken)
    for one in taken:
        if one.found is not None:
            work.measure(one)
    if all(one.problem is not None for one in taken):
        problems = dict.fromkeys(one.problem or "no photo can be used" for one in taken)
        raise PictureError("; ".join(problems))
    return _report(work, taken)


def is_own_print(family: Family, path: Path) -> bool:
    """Whether a picture is the family's own print, by its bytes: no light of any lamp is in it.

    Parameters
    ----------
    family
        The cluster design.
    path
        The picture.

    Returns
    -------
    bool
        False also where one of the two cannot be read: opening it says so.
    """
    try:
        if path.stat().st_size != family.face_path.stat().st_size:
            return False
        return path.read_bytes() == family.face_path.read_bytes()
    except OSError:
        return False


def own_print_words(family: Family, path: Path) -> str:
    """That a picture is the family's own print, in one sentence."""
    return (
        f"{path}: is the print of family '{family.name}' itself, which photos are held against, "
        "and no photo; give one of the face with its lamps on"
    )


def _open(family: Family, shot: LampShot) -> TakenShot:
    one = TakenShot(shot)
    if is_own_print(family, shot.path):
        one.problem = own_print_words(family, shot.path)
        return one
    try:
        one.picture = open_picture(shot.path)
    except PictureError as error:
        one.problem = str(error)
    return one


def _place_others(taken: Sequence[TakenShot]) -> None:
    """A face that shows too little by itself lies where it lies in a photo of the same size."""
    for one in taken:
        if one.missing is None or one.picture is None:
            continue
        like = one.picture.pixels.shape
        other = next(
            (o for o in taken if o.found and o.picture and o.picture.pixels.shape == like), None
        )
        if other is None or other.found is None:
            one.problem = str(one.missing)
        else:
            place = other.found
            one.found = FoundFace(place.projection, place.softness_mm, str(other.shot.path))


def _report(work: LightMeasuring, taken: Sequence[TakenShot]) -> LightReport:
    seen, place = work.seen, work.wish.place
    face = judge_zones(combined(seen.faces)) if seen.faces else None
    rehearsed = any(one.picture is not None and one.picture.rehearsed for one in taken)
    aside = " (rehearsed)" if rehearsed else ""
    seen_in = ", ".join(seen.face_photos) + aside
    evidence = list(zone_evidence(face, seen_in, place)) if face else []
    names = dict.fromkeys(name for name, _ in seen.signs)
    states = _best_signs([state for _, states in seen.signs for state in states])
    evidence += sign_evidence(states, ", ".join(names) + aside, place)
    first = seen.first
    return LightReport(
        work.family.name,
        work.zoning,
        tuple(_used(one) for one in taken),
        work.healthy,
        face,
        None if face else _no_zones(work, taken),
        tuple(states),
        judge_hubs(_best_hubs(seen.hubs), seen.healthy_hubs if work.healthy else None),
        tuple(evidence),
        None if first is None else first.light,
        None if first is None else work.zoning.of_places(first.seen.shape, first.px_per_mm),
        1.0 if first is None else first.px_per_mm,
        rehearsed=rehearsed,
    )


def _no_zones(work: LightMeasuring, taken: Sequence[TakenShot]) -> str:
    if not any(is_backlit(work.family, one.shot) for one in taken):
        return "no photo is of the backlight"
    return "no photo of the backlight could be used"


def _used(one: TakenShot) -> PhotoUsed:
    by_other = None if one.found is None else one.found.by_other
    return PhotoUsed(one.shot.path, one.problem, by_other, one.lights, one.room)


def _best_signs(several: Sequence[SignState]) -> list[SignState]:
    """Each sign once: one that lights in any photo lights."""
    best: dict[tuple[str | None, str], SignState] = {}
    for one in several:
        name = (one.of, one.id)
        other = best.get(name)
        if other is None or other.dark is None or (one.dark is not None and one.dark < other.dark):
            best[name] = one
    return list(best.values())


def _best_hubs(several: Sequence[tuple[HubLight, ...]]) -> tuple[HubLight, ...]:
    """Of each dial the first photo that shows its hub."""
    made = []
    for same in zip(*several, strict=True):
        made.append(next((one for one in same if one.light is not None), same[0]))
    return tuple(made)


def problems_of(report: LightReport) -> tuple[str, ...]:
    """Sentences of the photos that could not be used."""
    return tuple(one.problem for one in report.photos if one.problem is not None)
