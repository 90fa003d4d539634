"""Light on the cluster: the lamp, the room, the reflections in the lens, the lit print."""

from dataclasses import dataclass, field
from typing import Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.rehearsal.camera import Floats

Picture = NDArray[np.float32]
"""Height x width x 3, linear light, RGB, 1 = white."""

_ENCODED: Final = np.arange(256) / 255.0
LINEAR: Final = np.where(
    _ENCODED <= 0.04045, _ENCODED / 12.92, ((_ENCODED + 0.055) / 1.055) ** 2.4
).astype(np.float32)
"""Linear light of each sRGB code (IEC 61966-2-1)."""


@dataclass(frozen=True, slots=True)
class Light:
    """What lights the face. Strengths are of a white sheet's picture value."""

    room: float = 0.35
    """From everywhere, casts no shadow."""
    lamp: float = 0.5
    lean: tuple[float, float] = (0.3, -0.5)
    """Toward the lamp: millimetres sideways per millimetre of height, face x and y."""
    softness: float = 0.5
    """Half-shadow's width per millimetre of height: the lamp's apparent size."""
    fall: tuple[float, float] = (0.0, 0.0)
    """Change of the lamp's light from the face's middle to its right and lower edge, relative."""
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0)
    veil: float = 0.0
    """Reflected in the lens, broad, at its strongest."""
    veil_at: tuple[float, float] = (0.5, 0.3)
    """Share of the frame's width and height."""
    lit: float = 0.0
    """The cluster's own illumination, 0 when off."""


@dataclass(frozen=True, slots=True)
class Glare:
    """A lamp, softbox or window mirrored by the lens, in the picture."""

    kind: Literal["window", "softbox", "lamp"]
    at_px: tuple[float, float]
    size_px: tuple[float, float]
    turn_deg: float
    strength: float
    """Added to the picture; 1 = white."""
    soft_px: float
    dial: str
    """The dial whose needle it lies on."""
    panes: tuple[int, int] = field(default=(1, 1))


def linear_of(colour: tuple[float, float, float]) -> NDArray[np.float32]:
    """Linear light of an sRGB colour.

    Parameters
    ----------
    colour
        sRGB, 0..1.

    Returns
    -------
    ndarray
        3.
    """
    return LINEAR[[round(255 * min(max(c, 0.0), 1.0)) for c in colour]]


def lamp_share(
    light: Light, x_mm: Floats, y_mm: Floats, face_size_mm: tuple[float, float]
) -> NDArray[np.float32]:
    """The lamp's light on points of the face, shadows left out.

    Parameters
    ----------
    light
        The light.
    x_mm
        Points of the face.
    y_mm
        Points of the face.
    face_size_mm
        Width and height.

    Returns
    -------
    ndarray
        1 in the middle of the face.
    """
    wide, high = face_size_mm
    share = 1.0 + light.fall[0] * (x_mm * (2 / wide) - 1) + light.fall[1] * (y_mm * (2 / high) - 1)
    return np.clip(share, 0.12, 2.5).astype(np.float32)


def glow_of(sheet: Floats) -> NDArray[np.float32]:
    """What of the print lights up from behind: the bright inks.

    Parameters
    ----------
    sheet
        ... x 3, linear.

    Returns
    -------
    ndarray
        ... x 3, linear.
    """
    brightest = sheet.max(axis=-1, keepdims=True)
    share = np.clip((brightest - 0.12) / 0.2, 0.0, 1.0)
    return np.asarray(sheet * share, dtype=np.float32)


def add_veil(picture: Picture, light: Light) -> None:
    """Lay the broad reflection over a picture, in place.

    Parameters
    ----------
    picture
        Linear light.
    light
        Its veil.
    """
    if light.veil <= 0:
        return
    high, wide = picture.shape[:2]
    x = (np.arange(wide, dtype=np.float32) / wide - light.veil_at[0]) / 0.45
    y = (np.arange(high, dtype=np.float32) / high - light.veil_at[1]) / 0.35
    strength = light.veil * np.exp(-y * y)[:, None] * np.exp(-x * x)[None, :]
    picture += strength[..., None]


def add_glare(picture: Picture, glare: Glare) -> None:
    """Lay one reflection over a picture, in place.

    Parameters
    ----------
    picture
        Linear light.
    glare
        What is mirrored, and where.
    """
    high, wide = picture.shape[:2]
    reach = float(np.hypot(*glare.size_px)) * 0.75 + 6 * glare.soft_px + 4
    x0, y0 = max(int(glare.at_px[0] - reach), 0), max(int(glare.at_px[1] - reach), 0)
    x1 = min(int(glare.at_px[0] + reach) + 1, wide)
    y1 = min(int(glare.at_px[1] + reach) + 1, high)
    if x1 <= x0 or y1 <= y0:
        return
    mask = np.zeros((y1 - y0, x1 - x0), dtype=np.uint8)
    at = np.array(glare.at_px) - (x0, y0)
    for corners in _panes(glare):
        cv2.fillPoly(mask, [np.round((corners + at) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    sharp = mask.astype(np.float32)
    soft = np.asarray(cv2.GaussianBlur(sharp, (0, 0), max(glare.soft_px, 0.3)), dtype=np.float32)
    if glare.kind == "lamp":
        halo = cv2.GaussianBlur(soft, (0, 0), glare.size_px[0] * 0.35 + 1)
        soft = soft + np.float32(0.35) * np.asarray(halo, dtype=np.float32)
    picture[y0:y1, x0:x1] += (soft * (glare.strength / 255.0))[..., None]


def add_bloom(picture: Picture, share: float) -> None:
    """Scatter in the lens of the camera: a little of every bright part over its surroundings.

    Parameters
    ----------
    picture
        Linear light, changed in place.
    share
        Of the light that is scattered.
    """
    high, wide = picture.shape[:2]
    small = cv2.resize(
        picture, (max(wide // 8, 1), max(high // 8, 1)), interpolation=cv2.INTER_AREA
    )
    small = cv2.GaussianBlur(small, (0, 0), max(wide / 8 * 0.012, 0.8))
    halo = cv2.resize(small, (wide, high), interpolation=cv2.INTER_LINEAR)
    picture *= 1.0 - share
    picture += halo * np.float32(share)


def _panes(glare: Glare) -> list[NDArray[np.float64]]:
    c, s = np.cos(np.radians(glare.turn_deg)), np.sin(np.radians(glare.turn_deg))
    turn, (wide, high) = np.array([[c, s], [-s, c]]), glare.size_px
    if glare.kind == "lamp":
        a = np.linspace(0, 2 * np.pi, 40, endpoint=False)
        return [np.column_stack([np.cos(a) * wide / 2, np.sin(a) * high / 2]) @ turn]
    columns, rows = glare.panes
    bar = 0.06 if columns * rows > 1 else 0.0
    made = []
    for i in range(columns):
        for j in range(rows):
            x0, x1 = (i + bar) / columns - 0.5, (i + 1 - bar) / columns - 0.5
            y0, y1 = (j + bar) / rows - 0.5, (j + 1 - bar) / rows - 0.5
            corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
            made.append(corners * (wide, high) @ turn)
    return made
