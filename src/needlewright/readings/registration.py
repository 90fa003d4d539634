"""Find the face in a photo, and register it exactly.

First by features and a robust homography; then by the edges of the print: every edge point of
the artwork is looked for along its own normal in the photo, and nine numbers (homography and
one radial term) with one common dilation of the print are fitted to what was found, robustly.

Source: derivation in docs/decisions/0002-registration.md.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from needlewright.readings.face_art import Edges, FaceArt, SoftArt
from needlewright.readings.face_finding import find_by_features, is_plausible, scaled
from needlewright.readings.pose_kernel import design_of, robust_step
from needlewright.readings.projection import Array, Projection
from needlewright.readings.sampling_kernel import (
    HALF_WINDOW_PX,
    LIKENESS,
    SHIFT,
    look_along_normals,
    packed,
)

LARGEST_PX: Final = 2000
"""Long side above which a photo is registered at this size."""
LOOKS: Final = ((400, 1000), (800, 1500))
"""Long sides at which the face is looked for in turn, px, and how many features of the photo are
described. Halves and quarters of a common photo: those are averaged fastest."""
CLEARLY_FOUND: Final = 0.5
"""Share of the print found at which no finer look is taken."""
MIN_SHARE_FOUND: Final = 0.45
"""Share of the print's edges that must lie within half a pixel of their places for the face to
count as found."""
PASSES: Final = ((8.0, False, 3), (4.0, True, 2), (3.0, True, 2), (2.5, True, 1))
"""By pass: how far along its normal an edge is looked for (px), whether the lens may bend, and
which share of the edges is used (every so many)."""
CHOOSE_SOFTNESS_AT: Final = (0, 2)
SOFTNESS_EDGES: Final = 300
SOFTNESSES: Final = (1.0, 1.7, 2.9)
"""Softnesses tried, in times the blur of a sharp photo's pixels."""
SHARP_PX: Final = 0.7
RADIAL_SPREAD: Final = 0.05
"""Prior standard deviation of the radial term at the half diagonal."""
MIN_LIKENESS: Final = 0.35
"""Correlation below which an edge counts as not found."""
GOOD_LIKENESS: Final = 0.6
GOOD_PX: Final = 0.5
FEW_EDGES: Final = 400
MIN_EDGES: Final = 60


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
    work = scaled(grey, LARGEST_PX / max(height, width))
    best: Registration | None = None
    for number, (long_side_px, most) in enumerate(LOOKS):
        features = art.features if number == 0 else art.fine_features
        first = find_by_features(work, art, features, long_side_px, most)
        found = None if first is None else refine(work, art, first)
        if found is not None and (best is None or found.share_found > best.share_found):
            best = found
        if long_side_px >= max(work.shape):
            break
        if best is not None and best.share_found > CLEARLY_FOUND:
            break
    if best is None:
        return None
    return replace(best, projection=best.projection.in_photo(width, height))


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
        found = _look(grey, art.as_soft_as(softness), projection, edges, reach)
        fit = _fit_step(projection, edges, found, free_radial=free_radial)
        if fit is None:
            return None
        projection = projection.moved(fit.step)
        if not is_plausible(projection, art, grey.shape):
            return None
    if fit is None:
        return None
    return Registration(
        projection,
        fit.edges,
        fit.near / fit.edges,
        fit.scatter_px,
        fit.covariance,
        fit.dilation_px,
        art.as_soft_as(softness).softness_mm,
    )


@dataclass(frozen=True, slots=True)
class _Fit:
    """One step, and how many of the edges looked for lie near their places after it."""

    step: Array
    dilation_px: float
    covariance: Array
    scatter_px: float
    edges: int
    near: int


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


def _look(
    grey: NDArray[np.uint8], soft: SoftArt, projection: Projection, edges: Edges, reach: float
) -> Array:
    return np.asarray(
        look_along_normals(
            grey,
            soft.grey,
            soft.px_per_mm,
            packed(projection),
            edges.points_mm,
            edges.normals,
            reach,
        )
    )


def _softness_mm(
    grey: NDArray[np.uint8], art: FaceArt, projection: Projection, edges: Edges
) -> float:
    """How soft the artwork must be drawn to look most like this photo."""
    count = len(edges.points_mm)
    some = edges.of(np.arange(0, count, max(1, count // SOFTNESS_EDGES)))
    mm_per_px = 1 / np.sqrt(np.abs(np.linalg.det(projection.jacobian(some.points_mm))))
    sharp = SHARP_PX * float(np.median(mm_per_px))
    scores = {}
    for factor in SOFTNESSES:
        found = _look(grey, art.as_soft_as(factor * sharp), projection, some, 3.0)
        scores[factor * sharp] = float(np.mean(found[:, LIKENESS]))
    return max(scores, key=lambda softness: scores[softness])


def _fit_step(
    projection: Projection, edges: Edges, found: Array, *, free_radial: bool
) -> _Fit | None:
    """One robust least-squares step of the nine parameters and the dilation."""
    good = found[:, LIKENESS] > MIN_LIKENESS
    if good.sum() < MIN_EDGES:
        return None
    count, found = len(found), found[good]
    design = design_of(
        packed(projection), projection.tangent, edges.points_mm[good], found, free_radial
    )
    done, step, covariance, scatter = robust_step(design, found, projection.radial, RADIAL_SPREAD)
    if not done:
        return None
    near = np.abs(found[:, SHIFT] - design @ step) < GOOD_PX
    near &= found[:, LIKENESS] > GOOD_LIKENESS
    return _Fit(
        step[:9], float(step[9]), covariance[:9, :9], float(scatter), count, int(near.sum())
    )
