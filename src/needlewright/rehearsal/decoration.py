"""What else is printed on a face: borders, an abstract mark, tell-tales, a display, the pin."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np

from needlewright.rehearsal.canvas import Canvas, Colour, Point, mix
from needlewright.rehearsal.palette import Palette

_SIGNS: Final = ("triangle", "circle", "battery", "left", "right", "beam", "drop", "door")
_LAMPS: Final[tuple[Colour, ...]] = (
    (0.75, 0.10, 0.08),
    (0.85, 0.50, 0.05),
    (0.10, 0.55, 0.18),
    (0.12, 0.25, 0.75),
)


class Room:
    """What of the face is still free.

    Parameters
    ----------
    size_mm
        Of the face.
    taken
        Circles that are not: centre and radius.
    """

    def __init__(self, size_mm: Point, taken: Sequence[tuple[Point, float]]) -> None:
        self.size_mm = size_mm
        self._taken = list(taken)

    def find(self, rng: np.random.Generator, radius_mm: float) -> Point | None:
        """A free place, which is then taken; None when chance finds none.

        Parameters
        ----------
        rng
            Where chance comes from.
        radius_mm
            Of the circle that must be free.

        Returns
        -------
        tuple or None
            Its centre.
        """
        for _ in range(40):
            x, y = (float(rng.uniform(radius_mm + 2, s - radius_mm - 2)) for s in self.size_mm)
            if all(np.hypot(x - c[0], y - c[1]) > r + radius_mm for c, r in self._taken):
                self._taken.append(((x, y), radius_mm))
                return x, y
        return None


def print_border(canvas: Canvas, rng: np.random.Generator, palette: Palette) -> None:
    """Print lines along the edge of the face, or none.

    Parameters
    ----------
    canvas
        The face.
    rng
        Where chance comes from.
    palette
        In which inks.
    """
    if rng.random() < 0.55:
        return
    wide, high = canvas.size_mm
    inset, width = float(rng.uniform(1.5, 4.0)), float(rng.uniform(0.25, 0.8))
    ink = mix(palette.ground, palette.print_dim, float(rng.uniform(0.3, 0.9)))
    corners = np.array(
        [
            [inset, inset],
            [wide - inset, inset],
            [wide - inset, high - inset],
            [inset, high - inset],
            [inset, inset],
        ]
    )
    canvas.line(corners, width, ink)


def print_emblem(canvas: Canvas, rng: np.random.Generator, room: Room, palette: Palette) -> None:
    """Print an abstract mark made of chance strokes; it stands for nobody.

    Parameters
    ----------
    canvas
        The face.
    rng
        Where chance comes from.
    room
        Where there is place.
    palette
        In which inks.
    """
    size = float(rng.uniform(3.0, 6.0))
    middle = room.find(rng, size)
    if middle is None:
        return
    if rng.random() < 0.5:
        canvas.ring(middle, size * 0.9, size * 0.12, palette.print_dim)
    corners = int(rng.integers(3, 7))
    angles = np.sort(rng.uniform(0, 2 * np.pi, corners))
    reach = rng.uniform(0.35, 0.8, corners) * size
    shape = np.column_stack([np.sin(angles), -np.cos(angles)]) * reach[:, None] + np.array(middle)
    canvas.polygon(shape, palette.print_dim)
    canvas.line(shape[[0, corners // 2]], size * 0.14, palette.ground)


def print_name(
    canvas: Canvas,
    rng: np.random.Generator,
    room: Room,
    palette: Palette,
    *,
    name: str,
    font: Path | None,
) -> None:
    """Print the invented name of the face.

    Parameters
    ----------
    canvas
        The face.
    rng
        Where chance comes from.
    room
        Where there is place.
    palette
        In which inks.
    name
        What to print.
    font
        A font file or None.
    """
    height = float(rng.uniform(1.4, 2.2))
    middle = room.find(rng, 0.45 * height * len(name))
    if middle is not None:
        canvas.words(middle, name, height, colour=palette.print_dim, font=font)


def print_tell_tales(
    canvas: Canvas, rng: np.random.Generator, room: Room, palette: Palette
) -> list[dict[str, object]]:
    """Print unlit tell-tales.

    Parameters
    ----------
    canvas
        The face.
    rng
        Where chance comes from.
    room
        Where there is place.
    palette
        In which inks.

    Returns
    -------
    list
        Of the family's `tell_tales`: sign and place.
    """
    made: list[dict[str, object]] = []
    for _ in range(int(rng.integers(2, 9))):
        size = float(rng.uniform(1.8, 3.0))
        middle = room.find(rng, size + 0.8)
        if middle is None:
            continue
        sign = str(rng.choice(_SIGNS))
        lamp = _LAMPS[int(rng.integers(len(_LAMPS)))]
        ink = mix(palette.ground, lamp, float(rng.uniform(0.25, 0.75)))
        _sign(canvas, middle, size, sign, ink)
        place = [round(middle[0], 2), round(middle[1], 2)]
        made.append({"id": f"{sign}-{len(made) + 1}", "sign": sign, "centre_mm": place})
    return made


def print_display(
    canvas: Canvas, rng: np.random.Generator, room: Room, palette: Palette, font: Path | None
) -> list[dict[str, object]]:
    """Print the window of a display with some digits in it.

    Parameters
    ----------
    canvas
        The face.
    rng
        Where chance comes from.
    room
        Where there is place.
    palette
        In which inks.
    font
        A font file or None.

    Returns
    -------
    list
        Of the family's `displays`: size and place; empty when there is none.
    """
    wide, high = float(rng.uniform(15, 24)), float(rng.uniform(4.5, 7))
    middle = room.find(rng, wide / 2 + 1)
    if middle is None:
        return []
    glass, ink = [
        ((0.52, 0.58, 0.45), (0.08, 0.10, 0.08)),
        ((0.03, 0.03, 0.03), (0.95, 0.45, 0.10)),
        ((0.02, 0.02, 0.02), (0.90, 0.90, 0.90)),
        ((0.05, 0.09, 0.16), (0.60, 0.85, 0.95)),
    ][int(rng.integers(4))]
    half = np.array([[-wide, -high], [wide, -high], [wide, high], [-wide, high]]) / 2
    canvas.polygon(half * 1.04 + np.array(middle), palette.print_dim)
    canvas.polygon(half + np.array(middle), glass)
    digits = f"{int(rng.integers(0, 999_999)):06d}"
    for i, digit in enumerate(digits):
        at = (middle[0] + (i - 2.5) * wide / 6.6, middle[1])
        canvas.words(at, digit, high * 0.55, colour=ink, font=font)
    place = [round(middle[0], 2), round(middle[1], 2)]
    size = [round(wide, 2), round(high, 2)]
    return [{"id": "odometer", "centre_mm": place, "size_mm": size}]


def _sign(canvas: Canvas, middle: Point, size: float, sign: str, ink: Colour) -> None:
    c, s = np.array(middle), size
    thin = s * 0.2

    def shape(*corners: Point) -> None:
        canvas.polygon(np.array(corners) * s + c, ink)

    def stroke(*points: Point) -> None:
        canvas.line(np.array(points) * s + c, thin, ink)

    match sign:
        case "triangle":
            stroke((-0.9, 0.75), (0, -0.85), (0.9, 0.75), (-0.9, 0.75))
            stroke((0, -0.25), (0, 0.3))
        case "circle":
            canvas.ring(middle, s * 0.7, thin, ink)
            stroke((0, -0.35), (0, 0.35))
        case "battery":
            stroke((-0.8, -0.4), (0.8, -0.4), (0.8, 0.6), (-0.8, 0.6), (-0.8, -0.4))
            stroke((-0.45, -0.6), (-0.2, -0.6))
            stroke((0.2, -0.6), (0.45, -0.6))
        case "left" | "right":
            d = -1.0 if sign == "left" else 1.0
            shape(
                (d * 0.9, 0),
                (0, -0.8),
                (0, -0.35),
                (-d * 0.8, -0.35),
                (-d * 0.8, 0.35),
                (0, 0.35),
                (0, 0.8),
            )
        case "beam":
            shape((0, -0.7), (0.6, -0.45), (0.75, 0), (0.6, 0.45), (0, 0.7))
            for y in (-0.5, 0.0, 0.5):
                stroke((-0.9, y), (-0.25, y))
        case "drop":
            shape((0, -0.9), (0.5, 0.1), (0.4, 0.6), (0, 0.8), (-0.4, 0.6), (-0.5, 0.1))
        case _:
            stroke((-0.5, -0.7), (-0.5, 0.7), (0.5, 0.7), (0.5, -0.7), (-0.5, -0.7))
            stroke((0.5, -0.3), (0.95, -0.6))
