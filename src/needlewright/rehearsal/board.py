"""An invented printed circuit board: traces, pads, vias, chips, and damage to find on it.

Both sides share their holes, mirrored left to right as a board that is turned over shows them; all
else is drawn anew. Nothing of it is any maker's board.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

BoardSide = Literal["front", "back"]
Damage = Literal["corroded", "cracked", "lifted"]
Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

WIDTH_PX: Final = 1000
HEIGHT_PX: Final = 640
_MASK: Final = (46, 88, 62)
_COPPER: Final = (66, 122, 82)
_TIN: Final = (196, 198, 192)
_HOLE: Final = (22, 24, 22)
_CHIP: Final = (38, 38, 42)
_PRINT: Final = (222, 226, 218)
_SALT: Final = (120, 196, 178)
_HOLES: Final = 90
_TRACES: Final = 70
_CHIPS: Final = 7


@dataclass(frozen=True, slots=True)
class BoardDamage:
    """Something wrong with a place of a board."""

    kind: Damage
    x: float
    """Share of the board's width, from the left."""
    y: float
    """Share of its height, from the top."""
    radius_px: float = 12.0
    """On the drawing, which is `WIDTH_PX` wide."""


def draw_board(
    side: BoardSide,
    damages: Sequence[BoardDamage] = (),
    seed: int = 0,
    *,
    chips_off_px: tuple[float, float] = (0.0, 0.0),
) -> Pixels:
    """Draw one side of an invented board from straight above.

    Parameters
    ----------
    side
        Which.
    damages
        What is wrong with it.
    seed
        Another one is another board.
    chips_off_px
        How far the tops of chips are seen beside their places, as from a camera at another place:
        they stand above the board. To the right, and down.

    Returns
    -------
    ndarray
        `HEIGHT_PX` x `WIDTH_PX` x 3, RGB.
    """
    holes = np.random.default_rng(seed).uniform(
        (40, 40), (WIDTH_PX - 40, HEIGHT_PX - 40), (_HOLES, 2)
    )
    if side == "back":
        holes = np.array([WIDTH_PX - 1.0, 0.0]) + holes * np.array([-1.0, 1.0])
    draw = np.random.default_rng((seed, 1 if side == "front" else 2))
    board = np.full((HEIGHT_PX, WIDTH_PX, 3), _MASK, np.uint8)
    _traces(board, draw, holes)
    _vias(board, holes)
    _chips(board, draw, chips_off_px)
    for number, damage in enumerate(damages):
        _damage(board, damage, np.random.default_rng((seed, 3, number)))
    return board


def photograph_board(
    board: Pixels,
    matrix: Array,
    size_px: tuple[int, int],
    *,
    gain: float = 1.0,
    slope: float = 0.0,
    blur_px: float = 0.7,
    noise: float = 2.0,
    seed: int = 0,
) -> Pixels:
    """What a camera sees of a drawn board that lies on a bench.

    Parameters
    ----------
    board
        From `draw_board`.
    matrix
        3 x 3, pixels of the drawing to pixels of the photo.
    size_px
        Width and height of the photo.
    gain
        Of the whole light.
    slope
        By which share the light grows from the left edge to the right one.
    blur_px
        Standard deviation.
    noise
        Standard deviation, grey levels.
    seed
        Of the noise.

    Returns
    -------
    ndarray
        Height x width x 3, RGB.
    """
    width, height = size_px
    photo = cv2.warpPerspective(
        board, matrix, size_px, flags=cv2.INTER_AREA, borderValue=(92, 84, 74)
    ).astype(np.float32)
    photo = np.asarray(cv2.GaussianBlur(photo, (0, 0), blur_px), np.float32)
    light = gain * (1 + slope * (np.arange(width, dtype=np.float32) / width - 0.5))
    photo *= light[None, :, None]
    grain = np.random.default_rng(seed).standard_normal((height, width, 3), np.float32)
    photo += noise * grain
    return np.clip(np.round(photo), 0, 255).astype(np.uint8)


def _traces(board: Pixels, draw: np.random.Generator, holes: Array) -> None:
    """Copper from hole to hole: straight, a corner of 45 degrees, straight."""
    for _ in range(_TRACES):
        start, end = holes[draw.choice(len(holes), 2, replace=False)]
        along = min(abs(end[0] - start[0]), abs(end[1] - start[1]))
        corner = start + np.sign(end - start) * along
        width = int(draw.choice([3, 3, 4, 8]))
        points = np.array([start, corner, end]).round().astype(np.int32)
        cv2.polylines(board, [points], False, _COPPER, width, cv2.LINE_AA)


def _vias(board: Pixels, holes: Array) -> None:
    for number, (x, y) in enumerate(holes.round().astype(int)):
        large = number % 4 == 0
        cv2.circle(board, (x, y), 9 if large else 6, _TIN, -1, cv2.LINE_AA)
        cv2.circle(board, (x, y), 4 if large else 3, _HOLE, -1, cv2.LINE_AA)


def _chips(board: Pixels, draw: np.random.Generator, off_px: tuple[float, float]) -> None:
    right, down = round(off_px[0]), round(off_px[1])
    for number in range(_CHIPS):
        wide, high = int(draw.integers(60, 150)), int(draw.integers(44, 90))
        left = int(draw.integers(30, WIDTH_PX - wide - 30))
        top = int(draw.integers(30, HEIGHT_PX - high - 30))
        for x in range(left + 8, left + wide - 6, 12):
            cv2.rectangle(board, (x, top - 9), (x + 5, top + high + 9), _TIN, -1)
        left, top = left + right, top + down
        cv2.rectangle(board, (left, top), (left + wide, top + high), _CHIP, -1)
        cv2.circle(board, (left + 9, top + 9), 4, (70, 70, 74), -1, cv2.LINE_AA)
        words = f"U{number + 1}{int(draw.integers(10, 99))}"
        at = (left + 14, top + high // 2 + 5)
        cv2.putText(board, words, at, cv2.FONT_HERSHEY_SIMPLEX, 0.5, _PRINT, 1, cv2.LINE_AA)
    for _ in range(24):
        x, y = int(draw.integers(30, WIDTH_PX - 50)), int(draw.integers(30, HEIGHT_PX - 40))
        cv2.rectangle(board, (x - 5, y), (x + 23, y + 9), _TIN, -1)
        cv2.rectangle(board, (x, y), (x + 18, y + 9), (58, 44, 38), -1)


def _damage(board: Pixels, damage: BoardDamage, draw: np.random.Generator) -> None:
    x, y = damage.x * (WIDTH_PX - 1), damage.y * (HEIGHT_PX - 1)
    radius = damage.radius_px
    if damage.kind == "corroded":
        for _ in range(26):
            dx, dy = draw.normal(0, 0.45 * radius, 2)
            shade = tuple(int(c + draw.integers(-25, 25)) for c in _SALT)
            size = max(1, round(float(draw.uniform(0.1, 0.35)) * radius))
            cv2.circle(board, (round(x + dx), round(y + dy)), size, shade, -1, cv2.LINE_AA)
        return
    centre = (round(x), round(y))
    cv2.circle(board, centre, round(0.8 * radius), _TIN, -1, cv2.LINE_AA)
    if damage.kind == "cracked":
        cv2.circle(board, centre, round(0.55 * radius), (52, 50, 46), 2, cv2.LINE_AA)
    else:
        axes = (round(radius), round(0.6 * radius))
        cv2.ellipse(board, centre, axes, 30, 0, 360, (150, 96, 52), -1, cv2.LINE_AA)
