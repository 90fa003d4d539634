"""Small faces drawn for drafts, with exact truth: two dials, one even, one that bunches up."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.drafting import NamedPicture
from needlewright.readings.drafting.ink import on_circle
from needlewright.readings.drafting.inputs import DraftInputs, KnownLength, TypedDial, TypedMark
from needlewright.readings.drafting.view import View
from needlewright.readings.picture import picture_from_array
from needlewright.readings.projection import Projection

SIZE_PX = (640, 400)
FOCAL_35MM = 36.0
FINE = 6
SHIFT = 4


@dataclass(frozen=True)
class DrawnDial:
    """On the plane, whose unit is a pixel and whose origin is the picture's middle."""

    id: str
    unit: str
    centre: tuple[float, float]
    radius: float
    values: tuple[float, ...]
    angles_deg: tuple[float, ...]
    minor_parts: int


SPEED = DrawnDial(
    "speed", "km/h", (-140.3, 8.4), 130.0, tuple(range(0, 181, 20)),
    tuple(np.linspace(-120.0, 114.0, 10)), 2,
)  # fmt: skip
FUEL = DrawnDial(
    "fuel", "fraction of full", (130.6, 32.7), 95.0, (0.0, 0.25, 0.5, 0.75, 1.0),
    (-48.0, -27.0, -4.0, 20.0, 50.0), 2,
)  # fmt: skip
CCW = DrawnDial("temp", "degC", (130.6, 32.7), 95.0, (50.0, 90.0, 130.0), (45.0, -5.0, -47.0), 2)


def view(tilt: tuple[float, float] = (0.0, 0.0)) -> View:
    return View(tilt, FOCAL_35MM / 36.0 * SIZE_PX[0], 0.0, SIZE_PX)


def drawn(
    dials: Sequence[DrawnDial] = (SPEED, FUEL),
    tilt: tuple[float, float] = (0.0, 0.0),
    needles_deg: dict[str, float] | None = None,
    *,
    dark_on_light: bool = False,
) -> NDArray[np.uint8]:
    """A picture of the dials, blurred as a camera does and slightly noisy."""
    turned = tuple(sorted((needles_deg or {}).items()))
    return _drawn(tuple(dials), tilt, turned, dark_on_light)


@lru_cache
def _drawn(
    dials: tuple[DrawnDial, ...],
    tilt: tuple[float, float],
    turned: tuple[tuple[str, float], ...],
    dark_on_light: bool,
) -> NDArray[np.uint8]:
    needles_deg = dict(turned)
    projection = view(tilt).projection
    ground, ink = (215, 30) if dark_on_light else (35, 225)
    canvas = np.full((SIZE_PX[1] * FINE, SIZE_PX[0] * FINE, 3), ground, np.uint8)
    if tilt == (0.0, 0.0):
        _words(canvas, dials, ink)
    for dial in dials:
        for angle, major in marks_of(dial):
            length, width = (0.14, 0.034) if major else (0.08, 0.02)
            _bar(canvas, projection, dial, (angle, 1.0 - length, 1.0, width), (ink, ink, ink))
        if dial.id in needles_deg:
            colour = (60, 70, 235)
            _bar(canvas, projection, dial, (needles_deg[dial.id], -0.25, 0.93, 0.035), colour)
            hub = projection.to_photo(
                on_circle(np.array(dial.centre), np.arange(0, 360, 5.0), 0.13 * dial.radius)
            )
            _fill(canvas, hub, (90, 90, 90))
    small = cv2.resize(canvas, SIZE_PX, interpolation=cv2.INTER_AREA).astype(np.float32)
    soft = cv2.GaussianBlur(small, (0, 0), 0.7)
    noise = np.random.default_rng(4).normal(0.0, 1.5, soft.shape)
    return np.clip(np.rint(soft + noise), 0, 255).astype(np.uint8)


def marks_of(dial: DrawnDial) -> list[tuple[float, bool]]:
    """Angle of each mark, and whether it is major."""
    marks = [(angle, True) for angle in dial.angles_deg]
    for a, b in zip(dial.angles_deg, dial.angles_deg[1:], strict=False):
        marks += [(a + (b - a) * k / dial.minor_parts, False) for k in range(1, dial.minor_parts)]
    return marks


def _words(canvas, dials: Sequence[DrawnDial], ink: int) -> None:
    """Numerals and legends: what a face is known by in another photo."""
    middle = (np.array(SIZE_PX) - 1) / 2
    said = [
        (on_circle(np.array(d.centre), np.array(a), 0.7 * d.radius), f"{v:g}")
        for d in dials
        for v, a in zip(d.values, d.angles_deg, strict=True)
    ]
    said += [(np.add(d.centre, (0.0, 0.45 * d.radius)), f"{d.id} {d.unit}") for d in dials]
    for place, text in said:
        (wide, high), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, 0.45 * FINE, FINE + 2)
        x, y = (place + middle) * FINE
        corner = (round(x - wide / 2), round(y + high / 2))
        font = cv2.FONT_HERSHEY_SIMPLEX
        cv2.putText(canvas, text, corner, font, 0.45 * FINE, (ink, ink, ink), FINE + 2)


def _bar(canvas, projection: Projection, dial: DrawnDial, shape, colour) -> None:
    angle, start, end, width = shape
    turn = np.radians(angle)
    out, side = np.array([np.sin(turn), -np.cos(turn)]), np.array([np.cos(turn), np.sin(turn)])
    half = width * dial.radius / 2 * side
    a, b = (np.array(dial.centre) + share * dial.radius * out for share in (start, end))
    _fill(canvas, projection.to_photo(np.array([a - half, b - half, b + half, a + half])), colour)


def _fill(canvas, corners_px, colour) -> None:
    fine = np.rint(((corners_px + 0.5) * FINE - 0.5) * 2**SHIFT).astype(np.int32)
    cv2.fillPoly(canvas, [fine.reshape(-1, 1, 2)], colour, cv2.LINE_8, shift=SHIFT)


def clicks(
    dials: Sequence[DrawnDial] = (SPEED, FUEL),
    tilt: tuple[float, float] = (0.0, 0.0),
    *,
    off_px: float = 4.0,
    known: bool = True,
    marks: tuple[int, int] = (0, -1),
) -> DraftInputs:
    """Rough clicks, each `off_px` away in a direction of its own."""
    projection, rng = view(tilt).projection, np.random.default_rng(9)

    def rough(point: NDArray[np.float64]) -> tuple[float, float]:
        turn = rng.uniform(0, 2 * np.pi)
        x, y = projection.to_photo(point) + off_px * np.array([np.cos(turn), np.sin(turn)])
        return float(x), float(y)

    typed = []
    for dial in dials:
        centre = np.array(dial.centre)
        at = [on_circle(centre, np.array(dial.angles_deg[i]), 0.93 * dial.radius) for i in marks]
        clicked = tuple(TypedMark(rough(p), dial.values[i]) for p, i in zip(at, marks, strict=True))
        typed.append(TypedDial(dial.id, rough(centre), clicked, dial.unit))
    length = None
    if known and len(dials) > 1:
        apart = float(np.hypot(*np.subtract(dials[0].centre, dials[1].centre)))
        length = KnownLength(apart / 5.0, (dials[0].id, dials[1].id))  # 5 px to a millimetre
    return DraftInputs("drawn", tuple(typed), known=length)


def named(pixels: NDArray[np.uint8], name: str = "drawn.png") -> NamedPicture:
    return NamedPicture(name, picture_from_array(pixels, FOCAL_35MM))
