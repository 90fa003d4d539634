"""Drawn boards under a camera whose homography is known."""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.picture import Picture, picture_from_array
from needlewright.rehearsal.board import (
    HEIGHT_PX,
    WIDTH_PX,
    BoardDamage,
    BoardSide,
    draw_board,
    photograph_board,
)

BEFORE_PX, AFTER_PX = (900, 640), (1000, 760)
DAMAGES = (BoardDamage("corroded", 0.3, 0.4, 14.0), BoardDamage("cracked", 0.7, 0.3, 12.0))
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Shot:
    """A photo of a drawn board, and where the drawing's pixels lie in it."""

    pixels: NDArray[np.uint8]
    """RGB."""
    matrix: Array

    @property
    def picture(self) -> Picture:
        return picture_from_array(np.ascontiguousarray(self.pixels[..., ::-1]))

    @property
    def png(self) -> bytes:
        return cv2.imencode(".png", self.pixels[..., ::-1])[1].tobytes()

    def share(self, damage: BoardDamage) -> tuple[float, float]:
        """Where a damage lies, in shares of the photo."""
        at = through(
            self.matrix, np.array([[damage.x * (WIDTH_PX - 1), damage.y * (HEIGHT_PX - 1)]])
        )
        return float(at[0, 0] / self.pixels.shape[1]), float(at[0, 1] / self.pixels.shape[0])


def view(size_px: tuple[int, int], turn_deg: float, tilt: float, fills: float) -> Array:
    """The board turned, tilted by a share of its width, and filling a share of the photo."""
    wide, high = size_px
    scale = fills * min(wide / WIDTH_PX, high / HEIGHT_PX)
    a = np.radians(turn_deg)
    turn = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    middle = np.array([[1, 0, -WIDTH_PX / 2], [0, 1, -HEIGHT_PX / 2], [0, 0, 1.0]])
    lean = np.array([[1, 0, 0], [0, 1, 0], [tilt / WIDTH_PX, -0.6 * tilt / WIDTH_PX, 1]])
    back = np.array([[1, 0, wide / 2], [0, 1, high / 2], [0, 0, 1.0]])
    return np.asarray(back @ np.diag([scale, scale, 1.0]) @ lean @ turn @ middle)


@cache
def before_shot(
    side: BoardSide = "front", damages: tuple[BoardDamage, ...] = DAMAGES, seed: int = 0
) -> Shot:
    matrix = view(BEFORE_PX, -3.0 + seed % 5, 0.05, 0.95)
    board = draw_board(side, damages, seed)
    return Shot(photograph_board(board, matrix, BEFORE_PX, seed=seed), matrix)


@cache
def after_shot(
    side: BoardSide = "front",
    damages: tuple[BoardDamage, ...] = (),
    seed: int = 0,
    *,
    turn_deg: float = 8.0,
    blur_px: float = 0.8,
    chips_off_px: tuple[float, float] = (0.0, 0.0),
) -> Shot:
    """Another camera place, size and light."""
    matrix = view(AFTER_PX, turn_deg, -0.12, 0.85)
    photo = photograph_board(
        draw_board(side, damages, seed, chips_off_px=chips_off_px),
        matrix,
        AFTER_PX,
        gain=0.75,
        slope=0.5,
        blur_px=blur_px,
        noise=3.0,
        seed=seed + 50,
    )
    return Shot(photo, matrix)


def through(matrix: Array, points: Array) -> Array:
    lifted = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(lifted[:, :2] / lifted[:, 2:])
