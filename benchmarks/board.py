"""How well photos of a drawn board are laid over each other, and what is found changed.

    python benchmarks/board.py [--boards N] [--json FILE]

Boards, views, light and damage are drawn here from seeds of their own; the tests use others.
"""

import argparse
import json
import time
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.errors import PictureError
from needlewright.readings.board.alignment import align_board
from needlewright.readings.board.changes import find_changes
from needlewright.readings.picture import Picture, picture_from_array
from needlewright.rehearsal.board import (
    HEIGHT_PX,
    WIDTH_PX,
    BoardDamage,
    draw_board,
    photograph_board,
)

Array = NDArray[np.float64]
SIZES = ((1600, 1200), (1200, 900), (2400, 1600))
KINDS = ("corroded", "cracked", "lifted")
SEED = 5300


@dataclass(frozen=True)
class Shot:
    picture: Picture
    matrix: Array


def shot(board: NDArray[np.uint8], draw: np.random.Generator, turn_deg: float) -> Shot:
    """One photo of a drawn board from a place, in a light and of a size that are drawn."""
    size = SIZES[int(draw.integers(len(SIZES)))]
    scale = draw.uniform(0.75, 0.92) * min(size[0] / WIDTH_PX, size[1] / HEIGHT_PX)
    a = np.radians(draw.uniform(-turn_deg, turn_deg))
    turn = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    middle = np.array([[1, 0, -WIDTH_PX / 2], [0, 1, -HEIGHT_PX / 2], [0, 0, 1.0]])
    lean = np.eye(3)
    lean[2, :2] = draw.uniform(-2e-4, 2e-4, 2)
    back = np.array([[1, 0, size[0] / 2], [0, 1, size[1] / 2], [0, 0, 1.0]])
    matrix = back @ np.diag([scale, scale, 1.0]) @ lean @ turn @ middle
    photo = photograph_board(
        board,
        matrix,
        size,
        gain=draw.uniform(0.7, 1.2),
        slope=draw.uniform(-0.5, 0.5),
        blur_px=draw.uniform(0.7, 1.4),
        noise=draw.uniform(1.5, 4.0),
        seed=int(draw.integers(1 << 30)),
    )
    return Shot(picture_from_array(np.ascontiguousarray(photo[..., ::-1])), matrix)


def through(matrix: Array, points: Array) -> Array:
    lifted = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(lifted[:, :2] / lifted[:, 2:])


def grid() -> Array:
    x, y = np.meshgrid(np.linspace(20, WIDTH_PX - 20, 12), np.linspace(20, HEIGHT_PX - 20, 8))
    return np.stack([x.ravel(), y.ravel()], axis=1)


def damages_of(draw: np.random.Generator) -> list[BoardDamage]:
    return [
        BoardDamage(kind, *draw.uniform(0.12, 0.88, 2), draw.uniform(6, 14))  # type: ignore[arg-type]
        for kind in KINDS
    ]


def measure(boards: int) -> dict[str, list[list[str]]]:
    """Rows of figures by table."""
    errors: list[float] = []
    worst: list[float] = []
    found = dict.fromkeys(KINDS, 0)
    lone, lone_raised, spent = 0, 0, []
    refused = {"the other side": 0, "another board": 0}
    for number in range(boards):
        draw = np.random.default_rng((SEED, number))
        damages = damages_of(draw)
        raised = tuple(draw.uniform(-6, 6, 2))
        before = shot(draw_board("front", damages, SEED + number), draw, 5)
        after = shot(draw_board("front", (), SEED + number, chips_off_px=raised), draw, 180)
        begun = time.process_time()
        alignment = align_board(before.picture, after.picture, "before", "after")
        changes = find_changes(before.picture, after.picture, alignment)
        spent.append(time.process_time() - begun)
        there = through(before.matrix, grid())
        off = np.linalg.norm(alignment.to_after(there) - through(after.matrix, grid()), axis=1)
        errors.append(float(np.median(off)))
        worst.append(float(off.max()))
        flat = shot(draw_board("front", (), SEED + number), draw, 180)
        flat_changes = find_changes(
            before.picture,
            flat.picture,
            align_board(before.picture, flat.picture, "before", "after"),
        )
        size = np.array(before.picture.pixels.shape[1::-1])
        hit = [_hit(flat_changes.places, d, before.matrix, size) for d in damages]
        for damage, place in zip(damages, hit, strict=True):
            found[damage.kind] += place is not None
        lone += len(flat_changes.places) - len({p for p in hit if p is not None})
        hit = [_hit(changes.places, d, before.matrix, size) for d in damages]
        lone_raised += len(changes.places) + changes.left_out - len({p for p in hit if p})
        for name, other in (
            ("the other side", draw_board("back", (), SEED + number)),
            ("another board", draw_board("front", (), SEED + 5000 + number)),
        ):
            try:
                align_board(before.picture, shot(other, draw, 180).picture, "before", "after")
            except PictureError:
                refused[name] += 1
    return {
        "laid over each other": [
            ["median error of a board, px: median of boards", f"{np.median(errors):.3f}"],
            ["the same: largest of boards", f"{max(errors):.3f}"],
            ["largest error anywhere on a board, px: median of boards", f"{np.median(worst):.3f}"],
            ["the same: largest of boards", f"{max(worst):.3f}"],
            *([f"refused: {name}", f"{count} of {boards}"] for name, count in refused.items()),
            ["CPU time to lay and compare two photos, s", f"{np.median(spent):.2f}"],
        ],
        "changed places": [
            *([f"found: {kind}", f"{count} of {boards}"] for kind, count in found.items()),
            ["places where nothing was changed, a board", f"{lone / boards:.2f}"],
            ["the same, chips seen up to 6 px aside", f"{lone_raised / boards:.2f}"],
        ],
    }


def _hit(places, damage: BoardDamage, matrix: Array, size: Array):
    at = through(matrix, np.array([[damage.x * (WIDTH_PX - 1), damage.y * (HEIGHT_PX - 1)]]))
    x, y = (at / size)[0]
    for place in places:
        inside = place.left - 0.01 <= x <= place.left + place.width + 0.01
        if inside and place.top - 0.01 <= y <= place.top + place.height + 0.01:
            return place
    return None


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--boards", type=int, default=40)
    parser.add_argument("--json", type=Path)
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    tables = measure(asked.boards)
    for title, rows in tables.items():
        print(f"{title} ({asked.boards} boards)")
        for what, figure in rows:
            print(f"  {what:58} {figure}")
    if asked.json:
        document = {"boards": asked.boards, "tables": tables}
        asked.json.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
