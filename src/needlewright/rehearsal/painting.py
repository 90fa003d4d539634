"""Painting needles, caps and their shadows into a picture of the face."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.rehearsal.camera import Camera, Floats, Pose
from needlewright.rehearsal.light import Light, Picture, glow_of, linear_of
from needlewright.rehearsal.outline import Finish
from needlewright.rehearsal.solids import Bar, Cap
from needlewright.rehearsal.window import Window, parts_of, window_around, window_rays

_FINE_BY_SIDE: Final = ((70, 8), (160, 5))
"""Windows up to a side in pixels: parts along each side of a pixel. A short needle's direction
hangs on few pixels, and finer parts cost little there."""
_FINE: Final = 4
_CAP_FINE: Final = 2
"""The cap's edge says nothing of the direction."""
LINE_SHARE: Final = 0.38
"""Of the needle's width, the painted line along it."""
SIDE_LIGHT: Final = 0.6
"""Light on the needle's upright sides against that on its top."""


@dataclass(frozen=True, slots=True)
class Mounted:
    """A needle and its cap, as they stand."""

    bar: Bar
    cap: Cap
    finish: Finish


def shadows_on_face(
    camera: Camera, pose: Pose, mounted: Sequence[Mounted], light: Light, lamp: NDArray[np.float32]
) -> None:
    """Take from the lamp's light on the face what needles and caps keep off, in place.

    Parameters
    ----------
    camera
        The camera.
    pose
        Where it stands.
    mounted
        Needles and caps.
    light
        Its direction and softness.
    lamp
        The lamp's light on the face, height x width of the frame.
    """
    for each in mounted:
        for solid in (each.bar, each.cap):
            soft = max(solid.top_mm * light.softness, 0.15)
            points = solid.corners_mm()
            points[:, :2] -= points[:, 2:] * np.array(light.lean)
            points[:, 2] = 0.0
            low, high = points.min(axis=0) - soft, points.max(axis=0) + soft
            around = np.array([[x, y, 0.0] for x in (low[0], high[0]) for y in (low[1], high[1])])
            window = window_around(camera, pose, around, 1.0)
            if window is not None:
                x, y = window_rays(camera, pose, window).at_height(0.0)
                shade = solid.shade(x, y, light.lean, soft)
                lamp[window.rows, window.columns] *= (1.0 - 0.93 * shade).astype(np.float32)


def paint_needle(
    picture: Picture, camera: Camera, pose: Pose, mounted: Mounted, light: Light
) -> None:
    """Paint a needle and its cap over the face, in place.

    Parameters
    ----------
    picture
        Linear light.
    camera
        The camera.
    pose
        Where it stands.
    mounted
        What is painted.
    light
        What lights it.
    """
    paint_bar(picture, camera, pose, mounted, light)
    paint_cap(picture, camera, pose, mounted, light)


def paint_bar(picture: Picture, camera: Camera, pose: Pose, mounted: Mounted, light: Light) -> None:
    """Paint a needle without its cap, as `paint_needle` does.

    Parameters
    ----------
    picture
        Linear light, changed in place.
    camera
        The camera.
    pose
        Where it stands.
    mounted
        What is painted.
    light
        What lights it.
    """
    window = window_around(camera, pose, mounted.bar.corners_mm())
    if window is not None:
        _paint_bar(picture, camera, pose, window, mounted, light=light)


def paint_cap(picture: Picture, camera: Camera, pose: Pose, mounted: Mounted, light: Light) -> None:
    """Paint a needle's cap alone, as `paint_needle` does; it stands still as the needle turns.

    Parameters
    ----------
    picture
        Linear light, changed in place.
    camera
        The camera.
    pose
        Where it stands.
    mounted
        What is painted.
    light
        What lights it.
    """
    window = window_around(camera, pose, mounted.cap.corners_mm())
    if window is not None:
        _paint_cap(picture, camera, pose, window, mounted, light=light)


def fineness(window: Window) -> int:
    """Parts along each side of a pixel in which solids are met by rays.

    Parameters
    ----------
    window
        Where they are met.

    Returns
    -------
    int
        4 or more.
    """
    side = max(window.right - window.left, window.bottom - window.top)
    return next((fine for most, fine in _FINE_BY_SIDE if side <= most), _FINE)


def _paint_bar(
    picture: Picture, camera: Camera, pose: Pose, window: Window, mounted: Mounted, *, light: Light
) -> None:
    bar, finish, fine = mounted.bar, mounted.finish, fineness(window)
    pixels = window_rays(camera, pose, window)
    parts = parts_of(camera, pose, window, bar.near(pixels), fine)
    if parts.rows.size == 0:
        return
    per_px = bar.per_px(pixels)
    per_part = per_px[0] / fine, per_px[1] / fine
    top, whole = bar.cover(parts.rays, per_part)
    strength = light.room + light.lamp
    colour = linear_of(finish.colour)
    glow = glow_of(colour) * np.float32(light.lit)
    share, top_share = _mean(whole), _mean(top)
    seen = picture[parts.rows, parts.columns] * (1.0 - share)
    seen += (share - top_share) * (colour * np.float32(strength * SIDE_LIGHT) + 0.5 * glow)
    along, across = bar.along_across(parts.rays, 0.0)
    gloss = strength * (1.0 + 0.18 * np.exp(-(((along / bar.along_mm[-1]) - 0.6) ** 2) / 0.05))
    seen += _mean(top * gloss) * colour + top_share * glow
    if finish.line_colour != finish.colour:
        line = _line_cover(bar, along, across, per_part) * top
        ink = linear_of(finish.line_colour)
        over = (ink - colour) * np.float32(strength) + (glow_of(ink) - glow_of(colour)) * light.lit
        seen += _mean(line) * over.astype(np.float32)
    picture[parts.rows, parts.columns] = seen


def _paint_cap(
    picture: Picture, camera: Camera, pose: Pose, window: Window, mounted: Mounted, *, light: Light
) -> None:
    cap, fine = mounted.cap, _CAP_FINE
    pixels = window_rays(camera, pose, window)
    parts = parts_of(camera, pose, window, cap.near(pixels), fine)
    if parts.rows.size == 0:
        return
    top, whole, x, y = cap.cover(parts.rays, cap.per_px(pixels) / fine)
    colour = linear_of(mounted.finish.cap_colour)
    lean = np.array([*light.lean, 1.0]) / np.sqrt(light.lean[0] ** 2 + light.lean[1] ** 2 + 1.0)
    # a shallow dome: its slope grows toward the rim
    r2 = np.minimum(x * x + y * y, 1.0)
    facing = (0.35 * r2 * (x * lean[0] + y * lean[1]) + lean[2]) / np.sqrt(1 + (0.35 * r2) ** 2)
    dome = light.room + light.lamp * np.clip(facing, 0.05, 1.3)
    apart2 = (x - 0.45 * lean[0]) ** 2 + (y - 0.45 * lean[1]) ** 2
    shine = 0.22 * light.lamp * np.exp(-apart2 / 0.08)
    share, top_share = _mean(whole), _mean(top)
    seen = picture[parts.rows, parts.columns] * (1.0 - share)
    seen += (share - top_share) * colour * np.float32(0.55 * (light.room + light.lamp))
    seen += _mean(top * dome) * colour + _mean(top * shine)
    picture[parts.rows, parts.columns] = seen


def _mean(parts: Floats) -> NDArray[np.float32]:
    """Of each pixel's parts; N x 1."""
    return np.asarray(parts.mean(axis=1, keepdims=True), dtype=np.float32)


def _line_cover(bar: Bar, along: Floats, across: Floats, per_part: tuple[float, float]) -> Floats:
    """The painted line: a narrow strip of the top, from the cap to near the tip."""
    half = np.interp(along, bar.along_mm, bar.half_width_mm) * LINE_SHARE
    ends = np.minimum(along, 0.93 * bar.along_mm[-1] - along) / per_part[0]
    inside = np.minimum((half - np.abs(across)) / per_part[1], ends)
    return np.asarray(np.clip(inside + 0.5, 0, 1))
