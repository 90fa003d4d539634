"""The demonstration's face on a dark bench, lit by the rehearsal's lamps, small."""

from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

import needlewright
from needlewright.families.folder import load_family
from needlewright.readings.face_art import FaceArt, art_of
from needlewright.readings.light.laying import LaidLight, lay_photo, scale_for
from needlewright.readings.light.lit_face import FoundFace, find_lit_face
from needlewright.readings.picture import picture_from_array
from needlewright.rehearsal.camera import project
from needlewright.rehearsal.cluster.camera import DARK, view_of
from needlewright.rehearsal.fixed_view import FixedView
from needlewright.rehearsal.lamp_light import BACKLIGHT, LampLight
from needlewright.rehearsal.light import Light
from needlewright.rehearsal.sheet import sheet_of

FAMILY = load_family(Path(needlewright.__file__).parent / "demo_data" / "family")
LAMPS = [lamp.id for lamp in FAMILY.lamps]
SOUND = dict.fromkeys(LAMPS, 1.0)
SIGNS = [lamp.id for lamp in FAMILY.tell_tales]
SIZE_PX = (640, 427)
ROOM_LIT = Light(room=0.35, lamp=0.0)
Photo = NDArray[np.uint8]


@cache
def art() -> FaceArt:
    return art_of(FAMILY)


@cache
def view(room: bool = False) -> FixedView:
    return view_of(FAMILY, size_px=SIZE_PX).in_light(ROOM_LIT if room else DARK)


@cache
def lamps() -> LampLight:
    here = view()
    return LampLight(FAMILY, here.camera, here.pose, sheet_of(FAMILY))


def photo(
    shares: dict[str, float], *, exposure: float = 1.0, room: bool = False, halo: str | None = None
) -> Photo:
    """A photo, blue, green, red; exposure multiplies the light of every pixel."""
    glow = lamps().glow(shares)
    if halo is not None:
        glow = (0.0 if glow is None else glow) + ring(halo)
    angles = {dial.id: dial.rest_angle_deg for dial in FAMILY.dials}
    seen = view(room).frame(angles, glow=glow)[..., ::-1]
    return np.ascontiguousarray(seen if exposure == 1.0 else exposed(seen, exposure))


def exposed(seen: Photo, times: float) -> Photo:
    """Light of every pixel times a factor, by the curve of IEC 61966-2-1 (from memory)."""
    coded = seen / 255
    light = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4) * times
    light = np.minimum(light, 1.0)
    again = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.round(255 * again).astype(np.uint8)


def ring(dial_id: str, light: float = 0.3) -> NDArray[np.float32]:
    """Light that leaks round a hub, in that of lit print."""
    dial, here = FAMILY.dial(dial_id), view()
    assert dial is not None
    angles = np.radians(np.arange(0, 360, 3))
    radius = dial.needle.hub_radius_mm + 0.8
    points = np.column_stack(
        [
            dial.centre_mm[0] + radius * np.sin(angles),
            dial.centre_mm[1] - radius * np.cos(angles),
            np.zeros(len(angles)),
        ]
    )
    at = project(here.camera, here.pose, points)
    drawn = np.zeros((SIZE_PX[1], SIZE_PX[0]), np.uint8)
    corners = np.round(at * 16).astype(np.int32).reshape(-1, 1, 2)
    cv2.polylines(drawn, [corners], True, 255, 4, cv2.LINE_AA, 4)
    return (drawn[..., None] / np.float32(255) * light * BACKLIGHT).astype(np.float32)


def jpeg(seen: Photo, quality: int) -> Photo:
    _, file = cv2.imencode(".jpg", seen, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return np.asarray(cv2.imdecode(file, cv2.IMREAD_COLOR), np.uint8)


def laid(seen: Photo, said: str = "photo") -> LaidLight:
    picture = picture_from_array(seen)
    found = find_lit_face(picture, art(), said, FAMILY.name)
    return lay_photo(FAMILY, picture, found, said, scale_for(FAMILY, found.projection))


def laid_there(seen: Photo, like: LaidLight) -> LaidLight:
    """Of the same camera: the face lies where it lay."""
    assert like.projection is not None
    found = FoundFace(like.projection, like.softness_mm)
    return lay_photo(FAMILY, picture_from_array(seen), found, "photo", like.px_per_mm)


def level_at(shares: dict[str, float], places_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """True light behind the print: each lamp's falls off as a Gaussian, all together are even."""
    given, whole = np.zeros(len(places_mm)), np.full(len(places_mm), 1e-12)
    for lamp in FAMILY.lamps:
        off = np.sum((places_mm - np.array(lamp.centre_mm)) ** 2, axis=1) / lamp.reach_mm**2
        near = np.exp(-np.minimum(off, 12.0))
        whole += near
        given += shares.get(lamp.id, 0.0) * near
    return given / whole
