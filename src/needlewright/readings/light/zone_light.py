"""The light of each zone beside the brightest ones, exposure and gain taken out.

Exposure and gain change every cell by one factor. It is taken as the middle of the cells in the
brightest group of zones: lamps age, and none grows brighter. So a face that is dim all over by the
same share looks sound, unless it is said that both photos were exposed alike.

Source: derivation in docs/decisions/0051-light-from-photos.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, sqrt
from typing import Final, Literal

import numpy as np

from needlewright.readings.light.field import Array, LightField
from needlewright.readings.light.zones import Zone

GROUP_SHARE: Final = 0.8
"""Zones with so much of the brightest one's light make the group that stands for sound ones."""
FEWEST_CELLS: Final = 4
"""Cells with print below which a zone's light is not measured."""
MOST_LOST: Final = 0.5
"""Share of a zone's print blown out, or out of the photo, from which it is not measured."""
MEDIAN_COSTS: Final = 1.2533
"""Standard error of a median over that of a mean, of a normal distribution (from memory)."""
TONE_SHARE: Final = 0.10
"""Standard uncertainty of a natural logarithm of light, as a share of it, by the camera's own tone
curve; common practice, no source."""
U_ALIKE: Final = 0.02
"""Relative, by sharpness and place of the two pictures; common practice, no source."""
U_INK: Final = 0.08
"""Relative, where the reference is print: inks pass light otherwise than they reflect it; common
practice, no source."""
U_INK_MIRROR: Final = 0.04
"""The same between a zone and its mirror image, which have much the same inks."""
NOT_LIT: Final = 0.03
"""Slope beside which nothing is lit from behind, in the contrast of the print and white light."""

ReferenceKind = Literal["healthy", "print"]
Exposure = Literal["cancelled", "same"]


@dataclass(frozen=True, slots=True)
class Share:
    """A share of light with its standard uncertainty (k = 1)."""

    light: float
    u_light: float


@dataclass(frozen=True, slots=True)
class ZoneLight:
    """One zone's light."""

    zone: Zone
    light: float | None
    """Beside that of the brightest zones, 1 as bright as they are; None: not seen."""
    u_light: float | None
    """Standard uncertainty, k = 1."""
    why: str | None
    """Why it was not seen."""
    cells: int
    """Places with print that it rests on."""
    saturated: float
    """Share of its print that is blown out and left out."""
    black: float
    """Share of its print too dark for the photo to say how dark."""
    against_mirror: Share | None = None
    """Beside its mirror zone; None: it has none, or that one is not seen."""


@dataclass(frozen=True, slots=True)
class FaceLight:
    """A face's light, zone by zone."""

    zones: tuple[ZoneLight, ...]
    reference: ReferenceKind
    exposure: Exposure
    factor: float
    """What was taken out: the photo's light of sound zones in the reference's."""
    room: float
    """Share of the light of sound print that comes from the room, at most."""


def zone_lights(
    field: LightField,
    zones: Sequence[Zone],
    *,
    reference: ReferenceKind,
    room: float,
    exposure: Exposure = "cancelled",
    floor: float = 0.0,
    unlit: frozenset[int] = frozenset(),
) -> FaceLight | None:
    """Measure each zone's light.

    Parameters
    ----------
    field
        Cells of a photo against the reference.
    zones
        All of them.
    reference
        What the reference is.
    room
        Share of the room's light in that of sound print.
    exposure
        `same`: both photos were exposed alike, and the factor is one.
    floor
        Light of the darkest code that says something, in the reference's contrast.
    unlit
        Numbers of zones whose lamps nobody switched on.

    Returns
    -------
    FaceLight or None
        None where no zone can be measured, or none is lit.
    """
    raw: dict[int, tuple[float, float, int]] = {}
    why: dict[int, str] = {}
    for zone in zones:
        number = zone.number
        own = field.zone == number
        reason = _why_not(field, number, int(own.sum()), number in unlit)
        if reason is not None:
            why[number] = reason
            continue
        raw[number] = (*_middle(field.light[own], field.u_light[own]), int(own.sum()))
    if not raw:
        return None
    factor, u_factor = (1.0, 0.0) if exposure == "same" else _factor(field, raw)
    if factor <= NOT_LIT and exposure == "cancelled" and reference == "print":
        return None
    if factor <= 0:
        return None
    common = _Common(field, reference, raw, factor, u_factor, room, floor)
    made = tuple(_one(zone, common, why.get(zone.number)) for zone in zones)
    return FaceLight(made, reference, exposure, factor, room)


def _why_not(field: LightField, number: int, cells: int, unlit: bool) -> str | None:
    if unlit:
        return "its lamp was not switched on"
    if field.saturated.get(number, 0.0) > MOST_LOST:
        return "overexposed"
    if field.hidden.get(number, 0.0) > MOST_LOST:
        return "out of the photo"
    if cells < FEWEST_CELLS:
        return "too little print to measure light on"
    return None


def _middle(light: Array, u_light: Array) -> tuple[float, float]:
    """Median, with the standard error that noise gives it."""
    return float(np.median(light)), MEDIAN_COSTS * sqrt(float(np.mean(u_light**2)) / len(light))


def _factor(field: LightField, raw: dict[int, tuple[float, float, int]]) -> tuple[float, float]:
    """Middle of the zones of the brightest group, each counting once."""
    brightest = max(light for light, _, _ in raw.values())
    group = [(light, u) for light, u, _ in raw.values() if light >= GROUP_SHARE * brightest]
    lights = np.array([light for light, _ in group])
    noise = sqrt(sum(u**2 for _, u in group)) / len(group)
    return float(np.median(lights)), noise


@dataclass(frozen=True, slots=True, eq=False)
class _Common:
    """What all zones of a photo have in common."""

    field: LightField
    reference: ReferenceKind
    raw: dict[int, tuple[float, float, int]]
    factor: float
    u_factor: float
    room: float
    floor: float

    def dark(self, number: int) -> float:
        """Light that may hide in black codes, in that of sound zones."""
        return self.floor / self.factor if self.field.black.get(number, 0.0) > 0 else 0.0


def _one(zone: Zone, common: _Common, why: str | None) -> ZoneLight:
    number, field, factor = zone.number, common.field, common.factor
    saturated, black = field.saturated.get(number, 0.0), field.black.get(number, 0.0)
    if number not in common.raw:
        return ZoneLight(zone, None, None, why, 0, saturated, black)
    light, noise, cells = common.raw[number]
    share = max(light / factor, 0.0)
    parts = (
        noise / factor,
        share * common.u_factor / factor,
        _tone(share),
        share * U_ALIKE,
        share * U_INK if common.reference == "print" else 0.0,
        (common.room + common.dark(number)) / sqrt(3.0),
    )
    u = sqrt(sum(part**2 for part in parts))
    mirror = _against_mirror(zone, common)
    return ZoneLight(zone, share, u, None, cells, saturated, black, mirror)


def _against_mirror(zone: Zone, common: _Common) -> Share | None:
    if zone.mirror is None or zone.mirror not in common.raw:
        return None
    (mine, u_mine, _), (theirs, u_theirs, _) = common.raw[zone.number], common.raw[zone.mirror]
    if theirs <= max(3 * u_theirs, 0.02 * common.factor):
        return None
    share = max(mine / theirs, 0.0)
    floor = (common.room + common.dark(zone.number)) * common.factor / theirs
    parts = (
        u_mine / theirs,
        share * u_theirs / theirs,
        _tone(share),
        share * U_ALIKE,
        share * U_INK_MIRROR if common.reference == "print" else 0.0,
        floor / sqrt(3.0),
    )
    return Share(share, sqrt(sum(part**2 for part in parts)))


def _tone(share: float) -> float:
    """By the camera's tone curve: it grows with how far apart two lights are."""
    return TONE_SHARE * share * abs(log(share)) if share > 0 else 0.0


@dataclass(frozen=True, slots=True)
class Evenness:
    """How even the light is over the zones."""

    most_over_least: float | None
    """Brightest over darkest; None: the darkest gives no light that could be told from none."""
    u_most_over_least: float | None
    spread: float
    """Standard deviation over the zones, in their mean."""
    u_spread: float


def evenness_of(face: FaceLight) -> Evenness | None:
    """How even a face's light is.

    Parameters
    ----------
    face
        Its zones.

    Returns
    -------
    Evenness or None
        None with fewer than two zones seen.
    """
    seen = [(z.light, z.u_light) for z in face.zones if z.light is not None and z.u_light]
    if len(seen) < 2:
        return None
    light = np.array([one for one, _ in seen])
    u = np.array([one for _, one in seen])
    low, high = int(np.argmin(light)), int(np.argmax(light))
    ratio = u_ratio = None
    if light[low] > 3 * u[low]:
        ratio = float(light[high] / light[low])
        u_ratio = ratio * float(np.hypot(u[high] / light[high], u[low] / light[low]))
    mean = float(light.mean())
    spread = float(light.std(ddof=1)) / mean
    off = (light - mean) / max(float(light.std(ddof=1)), 1e-9) / (len(light) - 1) / mean
    u_spread = float(np.sqrt(np.sum((off * u) ** 2)))
    floor = float(np.sqrt(np.mean(u**2) / 2 / len(light))) / mean if spread < 1e-6 else 0.0
    return Evenness(ratio, u_ratio, spread, max(u_spread, floor))


def combined(faces: Sequence[FaceLight]) -> FaceLight:
    """One face seen in several photos, taken together.

    Parameters
    ----------
    faces
        One or more, of the same zones and reference.

    Returns
    -------
    FaceLight
        Means over the photos a zone is seen in. What a photo may be off by is much the same in all
        of them, so that the uncertainty does not fall with their number; it grows where they
        disagree.
    """
    if len(faces) == 1:
        return faces[0]
    zones = tuple(_together(several) for several in zip(*(f.zones for f in faces), strict=True))
    first = faces[0]
    factor = float(np.mean([face.factor for face in faces]))
    return FaceLight(zones, first.reference, first.exposure, factor, max(f.room for f in faces))


def _together(several: Sequence[ZoneLight]) -> ZoneLight:
    seen = [one for one in several if one.light is not None]
    if len(seen) < 2:
        return seen[0] if seen else several[0]
    mirrors = [one.against_mirror for one in seen if one.against_mirror is not None]
    return ZoneLight(
        seen[0].zone,
        *_mean([(one.light or 0.0, one.u_light or 0.0) for one in seen]),
        None,
        sum(one.cells for one in seen),
        max(one.saturated for one in seen),
        max(one.black for one in seen),
        Share(*_mean([(one.light, one.u_light) for one in mirrors])) if mirrors else None,
    )


def _mean(seen: Sequence[tuple[float, float]]) -> tuple[float, float]:
    light = np.array([one for one, _ in seen])
    u = np.array([one for _, one in seen])
    apart = float(light.std(ddof=1)) / sqrt(len(light)) if len(light) > 1 else 0.0
    return float(light.mean()), max(float(u.mean()), apart)
