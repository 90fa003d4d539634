"""Find the face in a photo by its features, right within some pixels.

Source: derivation in docs/decisions/0002-registration.md.
"""

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.face_art import (
    FEWEST_FEATURES,
    FaceArt,
    Features,
    root_normalised,
)
from needlewright.readings.projection import Array, Projection

RATIO: Final = 0.8
COARSE_PX: Final = 4.0
MIN_INLIERS: Final = FEWEST_FEATURES
"""Features that must agree for a pose to be worth a look at the print's edges, which decide."""
MAX_RADIAL: Final = 0.6
MAX_ANISOTROPY: Final = 4.0
MIN_PX_PER_MM: Final = 0.6
GRID: Final = 15
MIN_GRID_POINTS: Final = 4


def find_by_features(
    grey: NDArray[np.uint8],
    art: FaceArt,
    features: Features,
    long_side_px: float,
    most: int,
) -> Projection | None:
    """Find the face by features described in the photo at a smaller size.

    Parameters
    ----------
    grey
        The photo, height x width.
    art
        The family's artwork.
    features
        Its features that are looked for.
    long_side_px
        Long side at which the photo is looked at; a smaller photo is looked at as it is.
    most
        The strongest so many of the photo's features are described; noise makes thousands.

    Returns
    -------
    Projection | None
        A plausible pose that at least `MIN_INLIERS` features bear out; None where there is none.
    """
    factor = min(1.0, long_side_px / max(grey.shape))
    sift = cv2.SIFT_create(nfeatures=most, contrastThreshold=0.015)  # type: ignore[attr-defined]
    points, descriptors = sift.detectAndCompute(scaled(grey, factor), None)
    if descriptors is None or len(points) < MIN_INLIERS:
        return None
    pairs = _mutual(features.descriptors, root_normalised(descriptors))
    if len(pairs) < MIN_INLIERS:
        return None
    at = (np.array([p.pt for p in points]) + 0.5) / factor - 0.5
    source, target = features.points_mm[pairs[:, 0]], at[pairs[:, 1]]
    matrix, mask = cv2.findHomography(
        source, target, cv2.USAC_MAGSAC, COARSE_PX / factor, maxIters=5000
    )
    if matrix is None or int(mask.sum()) < MIN_INLIERS:
        return None
    found = Projection.of_size(np.asarray(matrix, np.float64), grey.shape[1], grey.shape[0])
    return found if is_plausible(found, art, grey.shape) else None


def scaled(grey: NDArray[np.uint8], factor: float) -> NDArray[np.uint8]:
    """The photo averaged down to a share of its size; as it is from 1 on."""
    if factor >= 1.0:
        return grey
    small = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8)


def _mutual(first: NDArray[np.float32], second: NDArray[np.float32]) -> NDArray[np.intp]:
    """One-to-one matches that pass the ratio test."""
    likeness = first @ second.T
    best = np.argmax(likeness, axis=1)
    rows = np.arange(len(first))
    top = likeness[rows, best]
    likeness[rows, best] = -1
    runner_up = likeness.max(axis=1)
    likeness[rows, best] = top
    distance = np.sqrt(np.maximum(2 - 2 * top, 0))
    next_distance = np.sqrt(np.maximum(2 - 2 * runner_up, 1e-9))
    back = np.argmax(likeness, axis=0)
    kept = (distance < RATIO * next_distance) & (back[best] == rows)
    return np.stack([rows[kept], best[kept]], axis=1)


def is_plausible(projection: Projection, art: FaceArt, shape: tuple[int, ...]) -> bool:
    """Seen from the front, of a sensible size, not folded, and bent no more than a lens bends.

    Judged where the face lies inside the photo: a close photo says nothing about the rest.

    Parameters
    ----------
    projection
        Face millimetres to pixels.
    art
        The family's artwork.
    shape
        Height and width of the photo.

    Returns
    -------
    bool
        Whether a camera could have seen the face so.
    """
    if abs(projection.radial) > MAX_RADIAL:
        return False
    across, down = np.meshgrid(np.linspace(0, 1, GRID), np.linspace(0, 1, GRID))
    points = np.stack([across.ravel(), down.ravel()], axis=1) * np.asarray(art.size_mm)
    depths = points @ projection.matrix[2, :2] + projection.matrix[2, 2]
    in_front = depths * np.sign(np.median(depths)) > 0.05 * np.abs(np.median(depths))
    points = points[in_front]
    at = projection.to_photo(points)
    inside = np.all((at > 0) & (at < np.array([shape[1], shape[0]])), axis=1)
    if inside.sum() < MIN_GRID_POINTS:
        return False
    jacobian = projection.jacobian(points[inside])
    determinant = jacobian[:, 0, 0] * jacobian[:, 1, 1] - jacobian[:, 0, 1] * jacobian[:, 1, 0]
    larger, smaller = _stretches(jacobian, determinant)
    return bool(
        np.all(determinant > 0)
        and np.all(larger < MAX_ANISOTROPY * smaller)
        and np.all(smaller > MIN_PX_PER_MM)
    )


def _stretches(jacobian: Array, determinant: Array) -> tuple[Array, Array]:
    """Both singular values of 2 x 2 matrices: their squares add up to the sum of all squares."""
    squares = np.sum(jacobian**2, axis=(1, 2))
    added = np.sqrt(np.maximum(squares + 2 * np.abs(determinant), 0.0))
    differing = np.sqrt(np.maximum(squares - 2 * np.abs(determinant), 0.0))
    return (added + differing) / 2, (added - differing) / 2
