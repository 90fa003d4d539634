"""Find the face in a photo, and register it exactly.

First by features and a robust homography; then by the edges of the print: every edge point of
the artwork is looked for along its own normal in the photo, and nine numbers (homography and
one radial term) with one common dilation of the print are fitted to what was found, robustly.

Source: derivation in docs/decisions/0002-registration.md.
"""

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.face_art import Edges, FaceArt, Features, SoftArt, root_normalised
from needlewright.readings.projection import Array, Projection
from needlewright.readings.sampling import sample

LARGEST_PX: Final = 2000
"""Long side above which a photo is registered at this size."""
FIND_AT_PX: Final = (450, 1100)
"""Long sides at which the face is looked for, in turn."""
CLEARLY_FOUND: Final = 0.5
"""Share of the print found at which no finer look is taken."""
MIN_SHARE_FOUND: Final = 0.45
"""Share of the print's edges that must lie within half a pixel of their places for the face to
count as found."""
RATIO: Final = 0.8
COARSE_PX: Final = 4.0
MIN_INLIERS: Final = 10
PASSES: Final = ((8.0, False, 3), (4.0, True, 2), (3.0, True, 1), (2.5, True, 1))
"""By pass: how far along its normal an edge is looked for (px), whether the lens may bend, and
which share of the edges is used (every so many)."""
CHOOSE_SOFTNESS_AT: Final = (0, 2)
STEP_PX: Final = 0.5
HALF_WINDOW_PX: Final = 3.0
ROBUST_PASSES: Final = 6
RADIAL_SPREAD: Final = 0.05
"""Prior standard deviation of the radial term at the half diagonal."""
MIN_LIKENESS: Final = 0.35
"""Correlation below which an edge counts as not found."""
GOOD_PX: Final = 0.5
FEW_EDGES: Final = 400
MIN_EDGES: Final = 60
MAX_RADIAL: Final = 0.6
MAX_ANISOTROPY: Final = 4.0
MIN_PX_PER_MM: Final = 0.6
MIN_GRID_POINTS: Final = 6


@dataclass(frozen=True, slots=True)
class Registration:
    """How the face lies in one photo.

    Parameters
    ----------
    projection
        Face millimetres to pixels.
    edges_seen
        Edge points of the artwork inside the frame.
    share_found
        Share of those found within half a pixel of where they should be.
    scatter_px
        Robust standard deviation of the edges found, along their normals.
    covariance
        9 x 9, of the step parameters of `Projection.by_parameters`.
    dilation_px
        How far the print's bright side spreads in this photo.
    softness_mm
        Blur in which the artwork looks most like the photo, standard deviation on the face.
    """

    projection: Projection
    edges_seen: int
    share_found: float
    scatter_px: float
    covariance: Array
    dilation_px: float
    softness_mm: float


def register(grey: NDArray[np.uint8], art: FaceArt) -> Registration | None:
    """Find the face in a photo and register it.

    Parameters
    ----------
    grey
        The photo, height x width.
    art
        The family's artwork.

    Returns
    -------
    Registration | None
        The best that was found, however poor its `share_found`; None when nothing plausible is
        there. Large photos are registered at a smaller size: print is known to a twentieth of a
        pixel there already.
    """
    height, width = grey.shape
    factor = min(1.0, LARGEST_PX / max(height, width))
    work = _smaller(grey, factor)
    best: Registration | None = None
    for number, long_side in enumerate(FIND_AT_PX):
        finding = min(1.0, long_side / max(work.shape))
        features = art.features if number == 0 else art.fine_features
        first = _by_features(work, art, features, finding)
        found = None if first is None else refine(work, art, first)
        if found is not None and (best is None or found.share_found > best.share_found):
            best = found
        if finding == 1.0 or (best is not None and best.share_found > CLEARLY_FOUND):
            break
    if best is None:
        return None
    return replace(best, projection=best.projection.in_photo(width, height))


def _smaller(grey: NDArray[np.uint8], factor: float) -> NDArray[np.uint8]:
    if factor >= 1.0:
        return grey
    small = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8)


def _by_features(
    grey: NDArray[np.uint8], art: FaceArt, features: Features, factor: float
) -> Projection | None:
    small = _smaller(grey, factor)
    sift = cv2.SIFT_create(nfeatures=3000, contrastThreshold=0.015)  # type: ignore[attr-defined]
    points, descriptors = sift.detectAndCompute(small, None)
    if descriptors is None or len(points) < MIN_INLIERS:
        return None
    pairs = _mutual(features.descriptors, root_normalised(descriptors))
    if len(pairs) < MIN_INLIERS:
        return None
    at = (np.array([p.pt for p in points]) + 0.5) / factor - 0.5
    source, target = features.points_mm[pairs[:, 0]], at[pairs[:, 1]]
    matrix, mask = cv2.findHomography(
        source, target, cv2.USAC_MAGSAC, COARSE_PX / min(factor, 1.0), maxIters=5000
    )
    if matrix is None or int(mask.sum()) < MIN_INLIERS:
        return None
    found = Projection.of_size(np.asarray(matrix, np.float64), grey.shape[1], grey.shape[0])
    return found if _plausible(found, art, grey.shape) else None


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


def _plausible(projection: Projection, art: FaceArt, shape: tuple[int, ...]) -> bool:
    """Seen from the front, of a sensible size, not folded, and bent no more than a lens bends.

    Judged where the face lies inside the photo: a close photo says nothing about the rest.
    """
    if abs(projection.radial) > MAX_RADIAL:
        return False
    across, down = np.meshgrid(np.linspace(0, 1, 25), np.linspace(0, 1, 25))
    points = np.stack([across.ravel(), down.ravel()], axis=1) * np.asarray(art.size_mm)
    depths = points @ projection.matrix[2, :2] + projection.matrix[2, 2]
    in_front = depths * np.sign(np.median(depths)) > 0.05 * np.abs(np.median(depths))
    points = points[in_front]
    at = projection.to_photo(points)
    inside = np.all((at > 0) & (at < np.array([shape[1], shape[0]])), axis=1)
    if inside.sum() < MIN_GRID_POINTS:
        return False
    jacobian = projection.jacobian(points[inside])
    stretch = np.linalg.svd(jacobian, compute_uv=False)
    return bool(
        np.all(np.linalg.det(jacobian) > 0)
        and np.all(stretch[:, 0] < MAX_ANISOTROPY * stretch[:, 1])
        and np.all(stretch[:, 1] > MIN_PX_PER_MM)
    )


def refine(grey: NDArray[np.uint8], art: FaceArt, first: Projection) -> Registration | None:
    """Register the print's edges.

    Parameters
    ----------
    grey
        The photo, height x width.
    art
        The family's artwork.
    first
        A projection right within some pixels.

    Returns
    -------
    Registration | None
        None when too few edges lie inside the frame or the fit runs away.
    """
    projection, fit, softness = first, None, 0.0
    for number, (reach, free_radial, stride) in enumerate(PASSES):
        edges = _edges_in_frame(art, projection, grey.shape, reach, stride)
        if edges is None:
            return None
        if number in CHOOSE_SOFTNESS_AT:
            softness = _softness_mm(grey, art, projection, edges)
        found = _look_along_normals(grey, art.as_soft_as(softness), projection, edges, reach)
        fit = _fit_step(projection, found, free_radial=free_radial)
        if fit is None:
            return None
        projection = projection.moved(fit.step)
        if not _plausible(projection, art, grey.shape):
            return None
    if fit is None:
        return None
    return _judge(grey, art.as_soft_as(softness), art, projection, fit)


@dataclass(frozen=True, slots=True)
class _Found:
    """What was measured along the normals of n edges."""

    edges: Edges
    normal_px: Array
    shift_px: Array
    likeness: Array


@dataclass(frozen=True, slots=True)
class _Fit:
    step: Array
    dilation_px: float
    covariance: Array
    scatter_px: float


def _edges_in_frame(
    art: FaceArt, projection: Projection, shape: tuple[int, ...], reach: float, stride: int = 1
) -> Edges | None:
    """Edges whose whole profile lies inside the photo; the dense set when only a part shows."""
    for edges in (art.edges, art.dense_edges):
        at = projection.to_photo(edges.points_mm)
        margin = reach + HALF_WINDOW_PX
        upper = np.array([shape[1], shape[0]]) - 1 - margin
        inside = np.all((at > margin) & (at < upper), axis=1)
        if inside.sum() >= FEW_EDGES:
            return edges.of(np.flatnonzero(inside)[::stride])
    return edges.of(inside) if inside.sum() >= MIN_EDGES else None


def _softness_mm(
    grey: NDArray[np.uint8], art: FaceArt, projection: Projection, edges: Edges
) -> float:
    """How soft the artwork must be drawn to look most like this photo."""
    some = edges.of(np.arange(0, len(edges.points_mm), max(1, len(edges.points_mm) // 300)))
    mm_per_px = 1 / np.sqrt(np.abs(np.linalg.det(projection.jacobian(some.points_mm))))
    sharp = 0.7 * float(np.median(mm_per_px))
    scores = {}
    for factor in (1.0, 1.7, 2.9):
        found = _look_along_normals(grey, art.as_soft_as(factor * sharp), projection, some, 3.0)
        scores[factor * sharp] = float(np.mean(found.likeness))
    return max(scores, key=lambda softness: scores[softness])


def _look_along_normals(
    grey: NDArray[np.uint8], soft: SoftArt, projection: Projection, edges: Edges, reach: float
) -> _Found:
    """Shift of each edge along its normal, by correlation of photo and artwork profiles."""
    at_px = projection.to_photo(edges.points_mm)
    inverse = np.linalg.inv(projection.jacobian(edges.points_mm))
    # A line's normal maps with the inverse transpose of the Jacobian.
    normal = np.einsum("nji,nj->ni", inverse, edges.normals)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    mm_per_px = np.einsum("nij,nj->ni", inverse, normal)

    t_art = np.arange(-HALF_WINDOW_PX, HALF_WINDOW_PX + STEP_PX / 2, STEP_PX)
    far = HALF_WINDOW_PX + reach
    t_photo = np.arange(-far, far + STEP_PX / 2, STEP_PX)
    photo = sample(
        grey, at_px[:, :1] + t_photo * normal[:, :1], at_px[:, 1:] + t_photo * normal[:, 1:]
    )
    drawn = soft.grey_at(edges.points_mm[:, None, :] + t_art[None, :, None] * mm_per_px[:, None, :])
    likeness = _correlate(photo, drawn)
    best = np.argmax(likeness, axis=1)
    inner = np.clip(best, 1, likeness.shape[1] - 2)
    rows = np.arange(len(best))
    before, here, after = (likeness[rows, inner + d] for d in (-1, 0, 1))
    bend = np.minimum(before - 2 * here + after, -1e-6)
    shift = (inner + np.clip(0.5 * (before - after) / bend, -1, 1)) * STEP_PX - reach
    at_rim = (best == 0) | (best == likeness.shape[1] - 1)
    quality = np.where(at_rim, 0.0, likeness[rows, best])
    return _Found(edges, normal, shift.astype(np.float64), quality.astype(np.float64))


def _correlate(photo: NDArray[np.float32], drawn: NDArray[np.float32]) -> NDArray[np.float32]:
    """Normalised correlation of a short profile at every place of a long one, row by row."""
    n = drawn.shape[1]
    template = drawn - drawn.mean(axis=1, keepdims=True)
    template /= np.linalg.norm(template, axis=1, keepdims=True) + 1e-6
    centred = photo - photo.mean(axis=1, keepdims=True)
    windows = np.lib.stride_tricks.sliding_window_view(centred, n, axis=1)
    dot = np.matmul(windows, template[:, :, None])[:, :, 0]
    ones = np.ones(n, dtype=np.float32)
    total, energy = (
        windows @ ones,
        np.lib.stride_tricks.sliding_window_view(centred * centred, n, axis=1) @ ones,
    )
    # Two grey levels of spread keep flat, noisy stretches from looking like anything.
    return np.asarray(dot / np.sqrt(np.maximum(energy - total * total / n, 0) + n * 4.0))


def _fit_step(projection: Projection, found: _Found, *, free_radial: bool) -> _Fit | None:
    """One robust least-squares step of the nine parameters and the dilation."""
    good = found.likeness > MIN_LIKENESS
    if good.sum() < MIN_EDGES:
        return None
    shift, base = found.shift_px[good], found.likeness[good] ** 2
    by_parameters = projection.by_parameters(found.edges.points_mm[good])
    design = np.einsum("ni,nip->np", found.normal_px[good], by_parameters)
    design = np.concatenate([design, np.ones((len(design), 1))], axis=1)
    if not free_radial:
        design[:, 8] = 0.0
    solution = np.zeros(10)
    scatter = 1.4826 * float(np.median(np.abs(shift - np.median(shift)))) + 0.02
    for _ in range(ROBUST_PASSES):
        weights = base / (1 + ((shift - design @ solution) / (2.0 * scatter)) ** 2)
        # The radial term is a lens's: its prior pulls toward none, from where it now stands.
        prior = np.array([1e-9] * 8 + [(scatter / RADIAL_SPREAD) ** 2, 1e-3])
        pull = np.zeros(10)
        pull[8] = -projection.radial * prior[8]
        normal_matrix = design.T @ (weights[:, None] * design) + np.diag(prior)
        solution = np.linalg.solve(normal_matrix, design.T @ (weights * shift) + pull)
        residual = shift - design @ solution
        scatter = max(1.4826 * float(np.median(np.abs(residual))), 0.02)
    inverse = np.linalg.inv(normal_matrix)
    spread = inverse @ (design.T @ ((weights * residual)[:, None] ** 2 * design)) @ inverse
    return _Fit(solution[:9], float(solution[9]), spread[:9, :9], scatter)


def _judge(
    grey: NDArray[np.uint8], soft: SoftArt, art: FaceArt, projection: Projection, fit: _Fit
) -> Registration | None:
    edges = _edges_in_frame(art, projection, grey.shape, 2.0)
    if edges is None:
        return None
    found = _look_along_normals(grey, soft, projection, edges, 2.0)
    near = (found.likeness > 0.6) & (np.abs(found.shift_px - fit.dilation_px) < GOOD_PX)
    return Registration(
        projection,
        len(near),
        float(near.mean()),
        fit.scatter_px,
        fit.covariance,
        fit.dilation_px,
        soft.softness_mm,
    )
