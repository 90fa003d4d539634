"""Where the face lies in the next frame: some hundred points of its print, followed.

Points are followed from the frame the face was registered in, never from the frame before, so
errors do not add up. Two points of three carry the fit; every third is left out of it and judges.
"""

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.projection import Array, Projection

POINTS: Final = 160
MIN_POINTS: Final = 24
FEW_POINTS: Final = 48
"""As many, the plainest, tell whether a camera that stood still still does."""
APART_PX: Final = 6.0
WINDOW_PX: Final = 13
LEVELS: Final = 2
STILL_PX: Final = 0.12
"""Median movement of the points under which the camera is taken to stand where it stood."""
MAX_RESIDUAL_PX: Final = 0.45
"""Median distance of the judging points from where the fit puts them, above which it is refused."""
LARGEST_PX: Final = 1000
"""Long side above which points are followed in a smaller copy of the frame."""


@dataclass(frozen=True, slots=True)
class Shift:
    """The face in one frame.

    Parameters
    ----------
    projection
        Face millimetres to pixels of the frame.
    moved_px
        Median movement of the print since the frame it was registered in.
    residual_px
        Median distance of the points left out of the fit from where it puts them.
    """

    projection: Projection
    moved_px: float
    residual_px: float


class PrintFollower:
    """Follows the print of a registered frame.

    Parameters
    ----------
    grey
        The frame the face was registered in, height x width.
    projection
        Its registration.
    size_mm
        Width and height of the face.
    needle_circles_mm
        (n, 3): centre and radius of what needles sweep; nothing is followed in there but print
        beyond the tips.
    """

    def __init__(
        self,
        grey: NDArray[np.uint8],
        projection: Projection,
        size_mm: tuple[float, float],
        needle_circles_mm: Array,
    ) -> None:
        self._factor = min(1.0, LARGEST_PX / max(grey.shape))
        self._first = self._small(grey)
        self._projection = projection
        self._points = self._choose(grey, size_mm, needle_circles_mm)
        self._last = self._points.copy()
        self._stood_still = False

    @property
    def usable(self) -> bool:
        """Whether enough print was found to follow."""
        return len(self._points) >= MIN_POINTS

    def look(self, grey: NDArray[np.uint8]) -> Shift | None:
        """Find the face in another frame of the same size; None when its print cannot be."""
        if not self.usable:
            return None
        small = self._small(grey)
        still = self._still(small) if self._stood_still else None
        return self._carried(small) if still is None else still

    def _still(self, small: NDArray[np.uint8]) -> Shift | None:
        """The face where it was, if few points say so."""
        few = self._followed(small, FEW_POINTS)
        moved = np.inf if few is None else _moved(*few)
        return Shift(self._projection, moved, moved) if moved < STILL_PX else None

    def _carried(self, small: NDArray[np.uint8]) -> Shift | None:
        """The face where all points carry it."""
        found = self._followed(small, len(self._points))
        if found is None:
            return None
        was, now = found
        moved = _moved(was, now)
        self._stood_still = moved < STILL_PX
        if moved < STILL_PX:
            return Shift(self._projection, moved, moved)
        judging = np.arange(len(was)) % 3 == 2
        ideal_was, ideal_now = self._ideal(was), self._ideal(now)
        matrix, _ = cv2.findHomography(
            ideal_was[~judging],
            ideal_now[~judging],
            cv2.RANSAC,
            0.8 / self._half_px,
            maxIters=300,
            confidence=0.995,
        )
        if matrix is None:
            return None
        put = cv2.perspectiveTransform(ideal_was[None], matrix)[0]
        off_px = np.linalg.norm(put - ideal_now, axis=1) * self._half_px
        residual = float(np.median(off_px[judging]))
        if residual > MAX_RESIDUAL_PX:
            return None
        whole = matrix @ self._projection.matrix
        projection = replace(self._projection, matrix=whole / np.linalg.norm(whole))
        self._last = self._bent(
            cv2.perspectiveTransform(self._ideal(self._points)[None], matrix)[0]
        )
        return Shift(projection, moved, residual)

    @property
    def _half_px(self) -> float:
        """Half the diagonal, in pixels of the frames points are followed in."""
        return float(self._projection.half_diagonal_px * self._factor)

    def _small(self, grey: NDArray[np.uint8]) -> NDArray[np.uint8]:
        if self._factor == 1.0:
            return grey
        factor = self._factor
        small = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        return np.asarray(small, np.uint8)

    def _choose(
        self, grey: NDArray[np.uint8], size_mm: tuple[float, float], circles_mm: Array
    ) -> NDArray[np.float32]:
        small = self._small(grey)
        corners = np.array([[0, 0], [size_mm[0], 0], [size_mm[0], size_mm[1]], [0, size_mm[1]]])
        mask = np.zeros(small.shape, np.uint8)
        cv2.fillPoly(mask, [self._in_small(corners).astype(np.int32)], 255)
        around = np.linspace(0, 2 * np.pi, 60)
        for x, y, radius in circles_mm:
            ring = np.array([x, y]) + radius * np.stack([np.cos(around), np.sin(around)], axis=1)
            cv2.fillPoly(mask, [self._in_small(ring).astype(np.int32)], 0)
        rim = WINDOW_PX
        mask[:rim], mask[-rim:], mask[:, :rim], mask[:, -rim:] = 0, 0, 0, 0
        found = cv2.goodFeaturesToTrack(small, POINTS, 0.02, APART_PX, mask=mask)
        none = np.zeros((0, 2), np.float32)
        return none if found is None else np.asarray(found.reshape(-1, 2), np.float32)

    def _in_small(self, points_mm: Array) -> Array:
        at = self._projection.to_photo(points_mm)
        return np.asarray((at + 0.5) * self._factor - 0.5)

    def _followed(
        self, small: NDArray[np.uint8], count: int
    ) -> tuple[NDArray[np.float32], NDArray[np.float32]] | None:
        """The first so many points in the frame they were chosen in, and where they are now."""
        points, last = self._points[:count], self._last[:count]
        now, status, _ = cv2.calcOpticalFlowPyrLK(
            self._first,
            small,
            points,
            last.copy(),
            winSize=(WINDOW_PX, WINDOW_PX),
            maxLevel=LEVELS,
            criteria=(cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 12, 0.01),
            flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        )
        good = status.ravel() == 1
        if good.sum() < max(MIN_POINTS, len(points) // 3):
            return None
        return points[good], now[good]

    def _ideal(self, points: NDArray[np.float32]) -> NDArray[np.float64]:
        """Undistorted places in half diagonals, of points in the small frame."""
        centre = (np.asarray(self._projection.centre_px) + 0.5) * self._factor - 0.5
        bent = (points - centre) / self._half_px
        ideal = bent.copy()
        for _ in range(4):
            r2 = np.sum(ideal**2, axis=1, keepdims=True)
            ideal = bent / (1 + self._projection.radial * r2)
        return np.asarray(ideal, np.float64)

    def _bent(self, ideal: Array) -> NDArray[np.float32]:
        centre = (np.asarray(self._projection.centre_px) + 0.5) * self._factor - 0.5
        r2 = np.sum(ideal**2, axis=1, keepdims=True)
        bent = ideal * (1 + self._projection.radial * r2) * self._half_px + centre
        return np.asarray(bent, np.float32)


def _moved(was: NDArray[np.float32], now: NDArray[np.float32]) -> float:
    """Median movement of points, pixels."""
    return float(np.median(np.linalg.norm(now - was, axis=1)))
