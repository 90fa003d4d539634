"""What surrounds the face: the housing it lies in, and the bench under it."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.rehearsal.camera import Camera, Floats, Pose, Rays, frame_rays
from needlewright.rehearsal.canvas import Colour
from needlewright.rehearsal.light import Light, Picture, lamp_share, linear_of

COARSE_PX: Final = 2
"""Surroundings are drawn for blocks of this side: they lie out of the depth of field anyway."""
FIELD_PX: Final = 8
"""Depths inside outlines and light are found for blocks of this side and run straight between."""

BENCH_PX_PER_MM: Final = 2.0
BENCH_MM: Final = (620.0, 460.0)
"""Of the painted piece of bench; mirrored beyond."""

Bench = Literal["wood", "mat", "cloth", "steel"]


@dataclass(frozen=True, slots=True)
class Housing:
    """A rim with an opening before the face; measures in millimetres."""

    depth_mm: float = 9.0
    """Height of the rim over the face; 0 for a bare sheet."""
    rim_mm: float = 12.0
    """Width of the rim."""
    corner_mm: float = 12.0
    inset_mm: float = 0.6
    """How far the opening lies inside the face's edge."""
    colour: Colour = (0.07, 0.07, 0.075)
    above_bench_mm: float = 30.0
    bench: Bench = "wood"
    bench_seed: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """The frame without the face, and what the housing does to the face."""

    picture: Picture
    """Linear light, full size."""
    face_share: NDArray[np.float32]
    """Of each pixel, seen through the opening; full size."""
    lamp: NDArray[np.float32]
    """Lamp's light on the face, gradient and the rim's shadow in it; full size."""
    room: NDArray[np.float32]
    """Room's light on the face, less in the corners of the housing; full size."""


def opening_depth(housing: Housing, size_mm: tuple[float, float], x: Floats, y: Floats) -> Floats:
    """How far points lie inside the opening's outline; negative outside.

    Parameters
    ----------
    housing
        The housing.
    size_mm
        Of the face.
    x
        Face millimetres, at whatever height.
    y
        Face millimetres.

    Returns
    -------
    ndarray
        Millimetres.
    """
    return _rounded(x, y, size_mm, -housing.inset_mm, housing.corner_mm)


def draw_surroundings(
    camera: Camera, pose: Pose, size_mm: tuple[float, float], housing: Housing, light: Light
) -> Surroundings:
    """Draw everything but the face.

    Parameters
    ----------
    camera
        The camera.
    pose
        Where it stands.
    size_mm
        Of the face.
    housing
        The housing and the bench.
    light
        What lights them.

    Returns
    -------
    Surroundings
        At full size.
    """
    rays = frame_rays(camera, pose, FIELD_PX)
    x0, y0 = rays.at_height(0.0)
    xt, yt = rays.at_height(housing.depth_mm)
    px_per_mm = camera.focal_px / float(pose.shift_mm[2])
    through = opening_depth(housing, size_mm, xt, yt)
    on_face = np.minimum(through, opening_depth(housing, size_mm, x0, y0))
    rim = _outer(housing, size_mm, xt, yt)
    side = rim
    for share in (0.0, 0.5, 1.0):
        below = rays.at_height(housing.depth_mm * (1 - share) - housing.above_bench_mm * share)
        side = np.maximum(side, _outer(housing, size_mm, *below))
    lamp, room = _light_on_face(light, housing, size_mm, x0, y0)
    lit = light.room + light.lamp * lamp_share(light, xt, yt, size_mm)
    size = (camera.width_px, camera.height_px)
    half = (-(-size[0] // COARSE_PX), -(-size[1] // COARSE_PX))
    picture = _bench(rays, housing, light, size_mm, half)
    plastic = linear_of(housing.colour)
    through_h, rim_h, side_h, lit_h, bottom_h = (
        _grown(field, half, FIELD_PX // COARSE_PX)
        for field in (through, rim, side, lit, opening_depth(housing, size_mm, x0, y0))
    )
    lean = 0.85 + 0.3 * np.clip(rim_h / max(housing.rim_mm, 1), 0, 1)
    edge = np.exp(-((np.abs(through_h) / 0.9) ** 2)) * 0.35
    deep = np.clip(1.0 + bottom_h / max(housing.depth_mm, 1), 0, 1)
    per_block = px_per_mm / COARSE_PX
    _lay(picture, plastic, lit_h * 0.55, side_h * per_block)
    _lay(picture, plastic, lit_h * (lean + edge), rim_h * per_block)
    _lay(picture, plastic, lit_h * (0.35 + 0.4 * (1 - deep)), through_h * per_block)
    return Surroundings(
        _grown(picture, size, COARSE_PX),
        np.clip(_grown(on_face, size, FIELD_PX) * np.float32(px_per_mm) + 0.5, 0, 1),
        _grown(lamp, size, FIELD_PX),
        _grown(room, size, FIELD_PX),
    )


def _light_on_face(
    light: Light, housing: Housing, size_mm: tuple[float, float], x: Floats, y: Floats
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    depth = housing.depth_mm
    toward = opening_depth(housing, size_mm, x + depth * light.lean[0], y + depth * light.lean[1])
    soft = max(depth * light.softness, 0.5)
    reached = np.clip(toward / soft + 0.5, 0.0, 1.0)
    reached = reached * reached * (3 - 2 * reached)
    inside = np.clip(opening_depth(housing, size_mm, x, y), 0.0, None)
    corner = 1.0 - 0.45 * np.exp(-inside / max(0.8 * depth, 0.5)) * (depth > 0)
    lamp = lamp_share(light, x, y, size_mm) * (0.12 + 0.88 * reached)
    return lamp.astype(np.float32), corner.astype(np.float32)


def _bench(
    rays: Rays,
    housing: Housing,
    light: Light,
    size_mm: tuple[float, float],
    size_px: tuple[int, int],
) -> Picture:
    x, y = rays.at_height(-housing.above_bench_mm)
    art = _painted_bench(housing.bench, housing.bench_seed)
    left, top = (size_mm[0] - BENCH_MM[0]) / 2, (size_mm[1] - BENCH_MM[1]) / 2
    finer = FIELD_PX // COARSE_PX
    u = _grown((x - left) * BENCH_PX_PER_MM - 0.5, size_px, finer)
    v = _grown((y - top) * BENCH_PX_PER_MM - 0.5, size_px, finer)
    u, v = (_mirrored(at, side) for at, side in ((u, art.shape[1]), (v, art.shape[0])))
    seen = cv2.remap(art, u, v, cv2.INTER_LINEAR)
    high = housing.above_bench_mm
    lean = 0.7 * high
    near = _outer(housing, size_mm, x + lean * light.lean[0], y + lean * light.lean[1])
    under = _outer(housing, size_mm, x, y)
    lamp = lamp_share(light, x, y, size_mm) * np.clip(0.5 - near / (0.8 * high), 0.15, 1)
    room = 1.0 - 0.6 * np.exp(np.minimum(under, 0.0) / high)
    lit = _grown(light.lamp * lamp + light.room * room, size_px, finer)
    return np.asarray(seen * lit[..., None], dtype=np.float32)


@lru_cache(maxsize=4)
def _painted_bench(kind: Bench, seed: int) -> NDArray[np.float32]:
    """A piece of bench with some things lying on it, linear light."""
    rng = np.random.default_rng([seed, 2])
    wide, high = (round(side * BENCH_PX_PER_MM) for side in BENCH_MM)
    grain = _grain(rng, kind, wide, high)
    base: Colour = {
        "wood": (0.55, 0.42, 0.29),
        "mat": (0.16, 0.30, 0.28),
        "cloth": (0.25, 0.26, 0.29),
        "steel": (0.50, 0.51, 0.52),
    }[kind]
    sheet = linear_of(base) * grain[..., None]
    for _ in range(int(rng.integers(2, 7))):
        _lay_thing(sheet, rng)
    return np.asarray(sheet, dtype=np.float32)


def _grain(rng: np.random.Generator, kind: Bench, wide: int, high: int) -> NDArray[np.float32]:
    if kind == "wood":
        rough = rng.standard_normal((high // 3 + 1, 12)).astype(np.float32)
        long = cv2.resize(rough, (wide, high), interpolation=cv2.INTER_CUBIC)
        return np.asarray(np.clip(1.0 + 0.22 * long, 0.3, 2.0), dtype=np.float32)
    fine = rng.standard_normal((high, wide)).astype(np.float32)
    if kind == "steel":
        fine = 2.5 * cv2.GaussianBlur(fine, (0, 0), 6, sigmaY=0.6)
    elif kind == "cloth":
        fine = 1.5 * cv2.GaussianBlur(fine, (0, 0), 1.2)
    else:
        fine = 0.3 * fine
    broad = cv2.resize(rng.standard_normal((6, 8)).astype(np.float32), (wide, high))
    return np.asarray(np.clip(1.0 + 0.12 * fine + 0.12 * broad, 0.3, 2.0), dtype=np.float32)


def _lay_thing(sheet: NDArray[np.float32], rng: np.random.Generator) -> None:
    """A sheet of paper, a screw, a cable: flat shapes with a soft shadow."""
    high, wide = sheet.shape[:2]
    at = np.array([rng.uniform(0, wide), rng.uniform(0, high)])
    kind = str(rng.choice(["paper", "screw", "screw", "cable"]))
    path, thick, colour = _thing(kind, at, rng)
    low = np.maximum(path.min(axis=0) - 30, 0).astype(int)
    after = np.minimum(path.max(axis=0) + 30, (wide, high)).astype(int)
    if (after <= low).any():
        return
    mask = np.zeros((after[1] - low[1], after[0] - low[0]), dtype=np.uint8)
    points = np.round(path - low).astype(np.int32)
    if thick == 0:
        cv2.fillPoly(mask, [points], 255, cv2.LINE_AA)
    else:
        cv2.polylines(mask, [points], False, 255, thick, cv2.LINE_AA)
        if kind == "screw":
            cv2.circle(mask, (int(points[0, 0]), int(points[0, 1])), 7, 255, -1, cv2.LINE_AA)
    part = sheet[low[1] : after[1], low[0] : after[0]]
    shade = cv2.GaussianBlur(np.roll(mask, (7, 4), (0, 1)), (0, 0), 6).astype(np.float32) / 255
    part *= (1.0 - 0.5 * shade)[..., None]
    part += (colour - part) * (mask.astype(np.float32) / 255)[..., None]


def _thing(
    kind: str, at: NDArray[np.float64], rng: np.random.Generator
) -> tuple[NDArray[np.float64], int, NDArray[np.float32]]:
    """Outline or path in bench pixels, thickness of the path (0: filled outline), colour."""
    a = float(rng.uniform(0, 2 * np.pi))
    along = np.array([np.cos(a), np.sin(a)])
    if kind == "paper":
        half = np.array([rng.uniform(60, 170), rng.uniform(40, 120)])
        turn = np.array([along, [-along[1], along[0]]])
        corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
        return corners @ turn + at, 0, linear_of((0.88, 0.88, 0.86))
    if kind == "screw":
        return np.array([at, at + along * 26]), 5, linear_of((0.6, 0.6, 0.62))
    t = np.linspace(0, 1, 60)
    bend = rng.uniform(-160, 160, 2)
    path = np.column_stack([at[0] + 420 * t, at[1] + bend[0] * t + bend[1] * np.sin(5 * t)])
    return path, 11, linear_of((0.08, 0.08, 0.09))


def _lay(picture: Picture, colour: NDArray[np.float32], light: Floats, depth_px: Floats) -> None:
    share = np.clip(depth_px + 0.5, 0.0, 1.0)[..., None].astype(np.float32)
    picture += (colour * light[..., None] - picture) * share


def _rounded(
    x: Floats, y: Floats, size_mm: tuple[float, float], grow_mm: float, corner_mm: float
) -> Floats:
    """Depth inside a rounded rectangle, the face's edge grown by some millimetres."""
    half_x, half_y = size_mm[0] / 2 + grow_mm, size_mm[1] / 2 + grow_mm
    r = min(corner_mm, half_x, half_y)
    qx = np.abs(x - size_mm[0] / 2) - (half_x - r)
    qy = np.abs(y - size_mm[1] / 2) - (half_y - r)
    outside = np.hypot(np.maximum(qx, 0), np.maximum(qy, 0))
    return np.asarray(r - outside - np.minimum(np.maximum(qx, qy), 0))


def _mirrored(at_px: NDArray[np.float32], side_px: int) -> NDArray[np.float32]:
    """Places beyond a picture mirrored back into it."""
    last = np.float32(side_px - 1.01)
    folded = np.abs(np.mod(at_px, 2 * last))
    return np.asarray(np.minimum(folded, 2 * last - folded), dtype=np.float32)


def _outer(housing: Housing, size_mm: tuple[float, float], x: Floats, y: Floats) -> Floats:
    return _rounded(x, y, size_mm, housing.rim_mm, housing.corner_mm + housing.rim_mm)


def _grown(blocks: Floats, size_px: tuple[int, int], side: int) -> NDArray[np.float32]:
    """Blocks to pixels, straight between their centres; the last may stand out over the frame."""
    wide, high = size_px
    full = (blocks.shape[1] * side, blocks.shape[0] * side)
    grown = cv2.resize(blocks.astype(np.float32), full, interpolation=cv2.INTER_LINEAR)
    return np.asarray(grown[:high, :wide])
