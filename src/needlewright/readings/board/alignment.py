"""Lay an after photo of a board's side over the before photo of the same side.

First by features and a robust homography; then points of texture are followed from one photo into
the other laid over it, and the homography is fitted to them once more. Chips stand above the board
and move against it with the camera: what does not lie in the board's plane has no say.

Source: derivation in docs/decisions/0053-boards-are-laid-over-each-other.md.
"""

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.errors import PictureError
from needlewright.readings.picture import Picture

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]

LOOKED_PX: Final = 1200
"""Long side at which features are looked for."""
FEATURES: Final = 2500
RATIO: Final = 0.8
COARSE_PX: Final = 3.0
LEAST_AGREEING: Final = 40
"""Features that must lie in one plane for two photos to count as of the same side."""
LEAST_SHARE: Final = 0.12
"""Of the matches, that must agree."""
POINTS: Final = 1400
APART_PX: Final = 11
LEAST_TEXTURE: Final = 0.003
FOLLOWED_PX: Final = 21
"""Side of what is followed about a point."""
BACK_PX: Final = 0.3
"""Followed there and back, a point must come home this near."""
FINE_PX: Final = (1.0, 0.5, 0.25)
"""Scatters a plane is looked for with; that which most points bear out in the end is taken."""
SURE: Final = 0.9999
ROUNDS: Final = 2
"""Laid nearer, more points are followed."""
TIGHTENED: Final = 5
NEAREST_PX: Final = 0.2
SCATTERS: Final = 2.5
"""Points beyond so many of their scatter are no part of the board's plane."""
LEAST_FOLLOWED: Final = 40
RAYLEIGH_MEDIAN: Final = 1.1774
"""Median distance of a scatter of standard deviation 1 in each direction."""
SHARP_SIGMAS: Final = (1.0, 3.0)
BLURRED_RATIO: Final = 0.62
"""A sharp edge loses more than this of its slope under the wider blur; a blurred one keeps it."""
DARK_LEVEL: Final = 40.0
MOST_STRETCH: Final = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class BoardAlignment:
    """How one photo of a board's side lies over another.

    Parameters
    ----------
    matrix
        3 x 3, pixels of the before photo to pixels of the after photo.
    before_size_px
        Width and height.
    after_size_px
        The same of the after photo.
    agreeing
        Points that bear it out.
    scatter_px
        Robust standard deviation of those from it, pixels of the before photo.
    share_seen
        Of the before photo, what the after photo shows too.
    """

    matrix: Array
    before_size_px: tuple[int, int]
    after_size_px: tuple[int, int]
    agreeing: int
    scatter_px: float
    share_seen: float

    def to_after(self, points: Array) -> Array:
        """Places of the after photo, pixels, N x 2, of places of the before photo."""
        return _through(self.matrix, points)

    def to_before(self, points: Array) -> Array:
        """Places of the before photo, pixels, N x 2, of places of the after photo."""
        return _through(_inverse(self.matrix), points)


def align_board(
    before: Picture, after: Picture, before_name: str, after_name: str
) -> BoardAlignment:
    """Lay two photos of one side of a board over each other.

    Parameters
    ----------
    before
        As found.
    after
        As left.
    before_name
        What the photo is called in sentences.
    after_name
        The same of the other.

    Returns
    -------
    BoardAlignment
        Where every place of the one lies in the other.

    Raises
    ------
    PictureError
        If it is the same photo twice, one is too dark or too blurred, or they do not show the same
        side of the same board.
    """
    if before.sha256 == after.sha256:
        raise PictureError(
            f"{after_name}: is the same photo as {before_name}; choose the photo that was taken "
            "after the work"
        )
    small = [_looked_at(one) for one in (before, after)]
    for (grey, _), name in zip(small, (before_name, after_name), strict=True):
        refuse_unclear(grey, name)
    (first, by_first), (second, by_second) = small
    coarse, agreeing = _by_features(first, second)
    if coarse is None or not _is_plausible(coarse, first, second):
        raise PictureError(
            f"{after_name}: does not show the same side of the same board as {before_name} "
            f"({agreeing} places agree, {LEAST_AGREEING} are needed); choose the photo of the same "
            "side, or take it again from straight above, as near as the other"
        )
    fine, count, scatter = coarse, 0, COARSE_PX
    for _ in range(ROUNDS):
        fine, count, scatter = _followed(first, second, fine)
    if count < LEAST_FOLLOWED:
        raise PictureError(
            f"{after_name}: shows the side of {before_name}, but does not lie over it well enough "
            "to be compared; take it again from straight above, as near as the other"
        )
    matrix = _scale(1 / by_second) @ fine @ _scale(by_first)
    sizes = [(one.pixels.shape[1], one.pixels.shape[0]) for one in (before, after)]
    return BoardAlignment(
        matrix / matrix[2, 2],
        sizes[0],
        sizes[1],
        count,
        scatter / by_first,
        _share_seen(fine, first, second),
    )


def refuse_unclear(grey: Grey, name: str) -> None:
    """Raise PictureError if a photo is too dark or too blurred to find anything on a board."""
    if float(np.percentile(grey, 99.5)) < DARK_LEVEL:
        raise PictureError(f"{name}: is too dark; light the board from the side and take it again")
    slopes = [_steepest(grey, sigma) for sigma in SHARP_SIGMAS]
    if slopes[1] > BLURRED_RATIO * slopes[0]:
        raise PictureError(
            f"{name}: is too blurred to see vias and joints; hold the camera still, let it focus "
            "on the board, and take it again"
        )


def scaled_to(picture: Picture, long_side_px: int) -> tuple[NDArray[np.uint8], float]:
    """A picture averaged down to a long side, and by how much; smaller ones stay as they are."""
    factor = min(1.0, long_side_px / max(picture.pixels.shape[:2]))
    if factor == 1.0:
        return picture.pixels, 1.0
    small = cv2.resize(picture.pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8), factor


def _looked_at(picture: Picture) -> tuple[Grey, float]:
    small, factor = scaled_to(picture, LOOKED_PX)
    return np.asarray(cv2.cvtColor(small, cv2.COLOR_BGR2GRAY), np.uint8), factor


def _steepest(grey: Grey, sigma: float) -> float:
    soft = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), sigma)
    across, down = cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1)
    return float(np.percentile(np.hypot(across, down), 99)) + 1e-6


def _by_features(first: Grey, second: Grey) -> tuple[Array | None, int]:
    """A homography that many features bear out, or None, and how many do."""
    sift = cv2.SIFT_create(nfeatures=FEATURES, contrastThreshold=0.02)  # type: ignore[attr-defined]
    points, descriptors = zip(
        *(sift.detectAndCompute(one, None) for one in (first, second)), strict=True
    )
    if any(found is None or len(found) < LEAST_AGREEING for found in descriptors):
        return None, 0
    likely = cv2.BFMatcher().knnMatch(descriptors[0], descriptors[1], k=2)
    pairs = [p[0] for p in likely if len(p) == 2 and p[0].distance < RATIO * p[1].distance]
    if len(pairs) < LEAST_AGREEING:
        return None, len(pairs)
    source = np.array([points[0][one.queryIdx].pt for one in pairs])
    target = np.array([points[1][one.trainIdx].pt for one in pairs])
    cv2.setRNGSeed(0)
    matrix, mask = cv2.findHomography(source, target, cv2.USAC_MAGSAC, COARSE_PX, maxIters=5000)
    agreeing = 0 if matrix is None else int(mask.sum())
    if agreeing < max(LEAST_AGREEING, LEAST_SHARE * len(pairs)):
        return None, agreeing
    return np.asarray(matrix, np.float64), agreeing


def _is_plausible(matrix: Array, first: Grey, second: Grey) -> bool:
    """Neither mirrored nor folded, nor stretched as no camera over a bench would see it."""
    high, wide = first.shape
    across, down = np.meshgrid(np.linspace(0, wide - 1, 5), np.linspace(0, high - 1, 5))
    points = np.stack([across.ravel(), down.ravel()], axis=1)
    depth = points @ matrix[2, :2] + matrix[2, 2]
    if depth.min() * depth.max() <= 0 or depth.max() / depth.min() > MOST_STRETCH:
        return False
    grown = np.linalg.det(matrix) / depth**3
    size = second.size / first.size
    return bool(np.all(grown > size / MOST_STRETCH**2) and np.all(grown < size * MOST_STRETCH**2))


def _followed(first: Grey, second: Grey, coarse: Array) -> tuple[Array, int, float]:
    """The homography once more, by points of texture followed to a part of a pixel."""
    size = (first.shape[1], first.shape[0])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    laid = np.asarray(cv2.warpPerspective(second, coarse, size, flags=how), np.uint8)
    source, moved = _tracks(_evened(first), _evened(laid))
    if len(source) < LEAST_FOLLOWED:
        return coarse, len(source), COARSE_PX
    target = _through(coarse, moved)
    tried = [_plane(source, target, reach) for reach in FINE_PX]
    planes = [one for one in tried if one is not None]
    return max(planes, key=lambda one: one[1]) if planes else (coarse, 0, COARSE_PX)


def _plane(source: Array, target: Array, reach: float) -> tuple[Array, int, float] | None:
    """The homography most points bear out, how many, and their scatter; None: too few do."""
    cv2.setRNGSeed(0)
    found, mask = cv2.findHomography(
        source, target, cv2.USAC_ACCURATE, reach, maxIters=5000, confidence=SURE
    )
    if found is None:
        return None
    fine, good = np.asarray(found, np.float64), np.asarray(mask).ravel() == 1
    scatter = reach
    for _ in range(TIGHTENED):  # by least squares, and nearer each time: chips are above the board
        if int(good.sum()) < LEAST_FOLLOWED:
            return None
        polished, _mask = cv2.findHomography(source[good], target[good], 0)
        fine = fine if polished is None else np.asarray(polished, np.float64)
        apart = np.linalg.norm(_through(_inverse(fine), target) - source, axis=1)
        scatter = float(np.median(apart[good])) / RAYLEIGH_MEDIAN
        reach = max(NEAREST_PX, min(0.7 * reach, SCATTERS * scatter))
        good = apart < reach
    return fine, int(good.sum()), scatter


def _tracks(one: Grey, other: Grey) -> tuple[Array, Array]:
    """Points of texture of one picture and where they lie in the other, N x 2 each, px."""
    corners = cv2.goodFeaturesToTrack(one, POINTS, LEAST_TEXTURE, APART_PX)
    if corners is None:
        return np.empty((0, 2)), np.empty((0, 2))
    begin = np.asarray(corners, np.float32)
    there, found = _follow(one, other, begin)
    back, returned = _follow(other, one, there)
    home = np.linalg.norm((back - begin).reshape(-1, 2), axis=1) < BACK_PX
    kept = home & found & returned
    source, moved = (points.reshape(-1, 2)[kept].astype(np.float64) for points in (begin, there))
    return source, moved


def _follow(
    one: Grey, other: Grey, points: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    side = (FOLLOWED_PX, FOLLOWED_PX)
    guess = points.copy()
    there, found, _ = cv2.calcOpticalFlowPyrLK(one, other, points, guess, winSize=side, maxLevel=1)
    return np.asarray(there, np.float32), np.asarray(found).ravel() == 1


def _evened(grey: Grey) -> Grey:
    """With the light of every place taken out, so that a lamp moved is no motion."""
    plain = grey.astype(np.float32)
    level = cv2.GaussianBlur(plain, (0, 0), 25)
    spread = np.sqrt(cv2.GaussianBlur((plain - level) ** 2, (0, 0), 25)) + 4
    even = np.clip(128 + 45 * (plain - level) / spread, 0, 255)
    return np.asarray(even, np.float32).astype(np.uint8)


def _share_seen(matrix: Array, first: Grey, second: Grey) -> float:
    high, wide = first.shape
    across, down = np.meshgrid(np.linspace(0, wide - 1, 40), np.linspace(0, high - 1, 40))
    at = _through(matrix, np.stack([across.ravel(), down.ravel()], axis=1))
    inside = np.all(
        (at >= 0) & (at <= np.array([second.shape[1] - 1, second.shape[0] - 1])), axis=1
    )
    return float(inside.mean())


def _inverse(matrix: Array) -> Array:
    return np.asarray(np.linalg.inv(matrix), np.float64)


def _scale(factor: float) -> Array:
    """Pixels to pixels of a picture averaged down; the middle of the first pixel is (0, 0)."""
    shift = 0.5 * factor - 0.5
    return np.array([[factor, 0, shift], [0, factor, shift], [0, 0, 1.0]])


def _through(matrix: Array, points: Array) -> Array:
    lifted = np.asarray(points, np.float64) @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(lifted[:, :2] / lifted[:, 2:], np.float64)
