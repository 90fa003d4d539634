"""Photos of lit faces, drawn by rules of their own: nothing here is shared with what measures them.

A face's print passes light of lamps whose light falls off as that of small sources does, no two of
them quite alike. A camera with a tone curve of its own, a white balance, noise and a JPEG's losses
looks at it from somewhere. Needles and caps stand dark before it. What was drawn is the truth.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.families.lamps import Lamp
from needlewright.families.model import Family

EVENED = 0.85
"""How far the design of a face evens out its lamps: 1 is wholly."""
WARM = np.array([0.78, 0.93, 1.0])
"""Blue, green, red of a lamp."""
NEEDLE_LIGHT = 0.02
LENS_SCATTER = 0.004


@dataclass(frozen=True)
class Lit:
    """One photo to be drawn."""

    shares: Mapping[str, float] = field(default_factory=dict)
    """Lamp to its light in a new one's; missing: not switched on."""
    signs: Mapping[str, float] = field(default_factory=dict)
    """Tell-tale to its light; missing or 0: dark."""
    halos: Mapping[str, float] = field(default_factory=dict)
    """Dial to the light round its hub, in that of lit print."""
    display: tuple[float, float, float, float, float] | None = None
    """Middle, width, height, mm, and light of a drawn display of bars."""
    dark_bar: int | None = None
    room: float = 0.006
    exposure: float = 1.0
    gamma: float = 1.0
    """Power of the camera's tone curve beside the standard one."""
    balance: tuple[float, float, float] = (1.0, 1.0, 1.0)
    noise: float = 0.004
    jpeg: int | None = None
    size_px: tuple[int, int] = (800, 480)
    yaw_deg: float = 5.0
    pitch_deg: float = -3.0
    seed: int = 0


def with_lamps(family: Family) -> Family:
    """A family with a lamp behind each dial and, where dials lie far apart, one between."""
    high = family.face_size_mm[1]
    lamps = [
        Lamp(f"l{n}", "backlight", dial.centre_mm, max(1.1 * dial.needle.length_mm, 25.0))
        for n, dial in enumerate(family.dials)
    ]
    places = [(x, high - 9.0) for x in np.linspace(0.3, 0.7, 4) * family.face_size_mm[0]]
    signs = [
        Lamp(f"s{n}", "tell-tales", (float(x), float(y)), 2.8, (0.9, 0.2, 0.1))
        for n, (x, y) in enumerate(places)
    ]
    return replace(family, lamps=tuple(lamps), tell_tales=tuple(signs))


def level_at(
    family: Family, shares: Mapping[str, float], x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Light behind the print at places of the face."""
    given, whole = np.zeros(np.shape(x)), np.full(np.shape(x), 1e-9)
    for lamp in family.lamps:
        across, down = lamp.centre_mm or (0.0, 0.0)
        near = 1 / (1 + ((x - across) ** 2 + (y - down) ** 2) / (lamp.reach_mm or 30.0) ** 2) ** 3
        whole += near
        given += shares.get(lamp.id, 0.0) * near
    return given / whole**EVENED


def homography(family: Family, lit: Lit) -> NDArray[np.float64]:
    """From face millimetres to pixels, for a camera that looks at the face's middle."""
    wide, high = lit.size_px
    across, down = family.face_size_mm
    focal = 1.3 * wide
    away = focal * max(across / (0.86 * wide), down / (0.8 * high))
    yaw, pitch = np.radians([lit.yaw_deg, lit.pitch_deg])
    turn = np.array(
        [[np.cos(yaw), 0, np.sin(yaw)], [0, 1, 0], [-np.sin(yaw), 0, np.cos(yaw)]]
    ) @ np.array([[1, 0, 0], [0, np.cos(pitch), -np.sin(pitch)], [0, np.sin(pitch), np.cos(pitch)]])
    lens = np.array([[focal, 0, (wide - 1) / 2], [0, focal, (high - 1) / 2], [0, 0, 1]])
    place = np.column_stack([turn[:, 0], turn[:, 1], [0, 0, away]])
    middle = np.array([[1, 0, -across / 2], [0, 1, -down / 2], [0, 0, 1]])
    return lens @ place @ middle


def draw_lit(family: Family, art: NDArray[np.uint8], lit: Lit) -> NDArray[np.uint8]:
    """Draw a photo.

    Parameters
    ----------
    family
        With lamps.
    art
        Its face, blue, green, red.
    lit
        What is lit, and how it is taken.

    Returns
    -------
    NDArray
        Blue, green, red.
    """
    scale = 4.5
    wide, high = (round(side * scale) for side in family.face_size_mm)
    plain = cv2.resize(art, (wide, high), interpolation=cv2.INTER_AREA).astype(np.float64) / 255
    white = ((plain + 0.055) / 1.055) ** 2.4
    x, y = np.meshgrid((np.arange(wide) + 0.5) / scale, (np.arange(high) + 0.5) / scale)
    passes = white * np.clip((white.max(axis=2, keepdims=True) - 0.1) / 0.25, 0, 1)
    level = level_at(family, lit.shares, x, y)
    for sign in family.tell_tales:
        off = np.hypot(x - sign.centre_mm[0], y - sign.centre_mm[1])
        level[off < 1.15 * sign.reach_mm] = 0.0  # a chamber of its own
    light = 0.5 * passes * level[..., None] * WARM + lit.room * white
    for sign in family.tell_tales:
        off = np.hypot(x - sign.centre_mm[0], y - sign.centre_mm[1]) / sign.reach_mm
        shape = ((off < 0.75) & (off > 0.2)).astype(np.float64)
        ink = np.array((sign.colour or (1.0, 1.0, 1.0))[::-1])
        light += lit.signs.get(sign.id, 0.0) * shape[..., None] * ink
    _hubs(family, lit, light, x, y)
    _display(lit, light, x, y)
    return _taken(family, lit, light, scale)


def _hubs(
    family: Family,
    lit: Lit,
    light: NDArray[np.float64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
) -> None:
    for dial in family.dials:
        across, down = x - dial.centre_mm[0], y - dial.centre_mm[1]
        off = np.hypot(across, down) - dial.needle.hub_radius_mm
        ring = np.exp(-np.maximum(off, 0.0) / 0.9)
        light += 0.5 * lit.halos.get(dial.id, 0.0) * (ring * (off > -1.0))[..., None] * WARM
        turn = np.radians(dial.rest_angle_deg + 25.0)
        along = across * np.sin(turn) - down * np.cos(turn)
        beside = np.abs(across * np.cos(turn) + down * np.sin(turn))
        needle = (along > 0) & (along < dial.needle.length_mm)
        needle &= beside < dial.needle.base_width_mm / 2
        light[needle] = lit.room * np.array([0.1, 0.4, 0.9])
        light[off < 0] = lit.room * 0.03


def _display(
    lit: Lit, light: NDArray[np.float64], x: NDArray[np.float64], y: NDArray[np.float64]
) -> None:
    """Ten upright bars on black."""
    if lit.display is None:
        return
    across, down, wide, high, strength = lit.display
    inside = (np.abs(x - across) < wide / 2) & (np.abs(y - down) < high / 2)
    light[inside] = lit.room * 0.02
    place = (x - across + wide / 2) / wide * 10
    bar = inside & (np.mod(place, 1.0) < 0.6) & (np.abs(y - down) < 0.4 * high)
    if lit.dark_bar is not None:
        bar &= place.astype(int) != lit.dark_bar
    light[bar] += strength * np.array([0.7, 1.0, 0.3])


def _taken(family: Family, lit: Lit, light: NDArray[np.float64], scale: float) -> NDArray[np.uint8]:
    rng = np.random.default_rng([lit.seed, 77])
    to_mm = np.array([[1 / scale, 0, 0.5 / scale], [0, 1 / scale, 0.5 / scale], [0, 0, 1]])
    placed = homography(family, lit) @ to_mm
    soft = cv2.GaussianBlur(light.astype(np.float32), (0, 0), 0.9)
    around = lit.room * 0.1
    seen = cv2.warpPerspective(
        soft, placed, lit.size_px, flags=cv2.INTER_AREA, borderValue=(around, around, around)
    )
    seen = seen.astype(np.float64)
    seen = (1 - LENS_SCATTER) * seen + LENS_SCATTER * cv2.GaussianBlur(seen, (0, 0), 40)
    seen *= lit.exposure * np.array(lit.balance)
    seen += lit.noise * np.sqrt(np.maximum(seen, 0) + 0.003) * rng.standard_normal(seen.shape)
    seen = np.clip(seen, 0, 1)
    coded = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055)
    photo = np.round(255 * np.clip(coded, 0, 1) ** lit.gamma).astype(np.uint8)
    if lit.jpeg is not None:
        _, file = cv2.imencode(".jpg", photo, [cv2.IMWRITE_JPEG_QUALITY, lit.jpeg])
        photo = np.asarray(cv2.imdecode(file, cv2.IMREAD_COLOR), np.uint8)
    return photo
