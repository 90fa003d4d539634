"""What the reader takes from a family's bare face artwork, computed once per family.

Features to find the face in a photo, edge points to register it exactly, and the artwork at
several softnesses to compare a photo's profiles with.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.errors import PictureError
from needlewright.families.face import open_face
from needlewright.families.model import Family
from needlewright.readings.projection import Array
from needlewright.readings.sampling import sample
from needlewright.readings.sampling_kernel import colours_drawn

ENOUGH_PX_PER_MM: Final = 5.5
"""The artwork is averaged down by whole factors as long as it stays finer than this."""
FEATURE_FACTORS: Final = (3, 2)
"""Features are described on artwork coarser by these factors: for the first look at a photo, and
for a finer one."""
EDGE_SOFTNESS_MM: Final = 0.12
CELL_MM: Final = 6.0
"""Edge points are taken evenly: at most so many from every cell of this size."""
EDGES_PER_CELL: Final = 12
SOFTNESSES_MM: Final = tuple(0.08 * 1.35**k for k in range(10))
"""Standard deviations of the blur in which the artwork is kept ready for comparison."""
SOFT_PX: Final = 1.5
"""Softened artwork is averaged down as long as its blur stays so many pixels."""
RING_SHARE: Final = 0.4
"""A circle of radial edges about a dial that fills this share of a turn is a ring, often raised."""
FEWEST_FEATURES: Final = 8
"""That must agree for a pose; a face with fewer is never found in a photo."""


@dataclass(frozen=True, slots=True)
class SoftArt:
    """The artwork under a Gaussian blur, at a resolution that fits it."""

    softness_mm: float
    px_per_mm: float
    """Pixel (column i, row j) has its centre at ((i + 0.5), (j + 0.5)) / px_per_mm."""
    grey: NDArray[np.float32]
    colour: NDArray[np.uint8]

    def grey_at(self, points_mm: Array) -> NDArray[np.float32]:
        """Grey values at face points; shape (..., 2) in, (...) out."""
        at = points_mm * self.px_per_mm - 0.5
        return sample(self.grey, at[..., 0], at[..., 1])

    def colour_at(self, points_mm: Array) -> NDArray[np.float32]:
        """Colours at face points, BGR; shape (..., 2) in, (..., 3) out."""
        flat = np.ascontiguousarray(points_mm.reshape(-1, 2))
        colours = colours_drawn(self.colour, self.px_per_mm, flat)
        return np.asarray(colours).reshape(*points_mm.shape[:-1], 3)


@dataclass(frozen=True, slots=True)
class Edges:
    """Edge points of the print.

    Parameters
    ----------
    points_mm, normals
        (m, 2) each; the unit normals point toward the brighter side.
    """

    points_mm: Array
    normals: Array

    def of(self, chosen: NDArray[np.intp] | NDArray[np.bool_]) -> "Edges":
        """Some of the edges."""
        return Edges(self.points_mm[chosen], self.normals[chosen])


@dataclass(frozen=True, slots=True)
class Features:
    """Features of the artwork: places (n, 2) on the face and descriptors (n, 128)."""

    points_mm: Array
    descriptors: NDArray[np.float32]


@dataclass(frozen=True)
class FaceArt:
    """The artwork as the reader uses it.

    Parameters
    ----------
    size_mm
        Width and height of the face.
    grey
        The artwork, height x width.
    px_per_mm
        Its resolution.
    features
        Features described on coarser artwork, which serve nearly every photo.
    edges
        Edge points spread evenly over the face.
    dense_edges
        Many more of them, for photos that show only a part of it.
    soft
        The artwork in rising softness.
    """

    size_mm: tuple[float, float]
    grey: NDArray[np.uint8]
    px_per_mm: float
    features: Features
    edges: Edges
    dense_edges: Edges
    soft: tuple[SoftArt, ...]

    @cached_property
    def fine_features(self) -> Features:
        """Features described on finer artwork, for photos that show it small or a part of it."""
        return _features(*_averaged(self.grey, self.px_per_mm, FEATURE_FACTORS[1]))

    def as_soft_as(self, softness_mm: float) -> SoftArt:
        """The artwork whose blur is nearest to a standard deviation in mm."""
        ratios = [abs(np.log(level.softness_mm / softness_mm)) for level in self.soft]
        return self.soft[int(np.argmin(ratios))]


def art_of(family: Family) -> FaceArt:
    """Compute what the reader needs of a family's artwork.

    Parameters
    ----------
    family
        The cluster design.

    Returns
    -------
    FaceArt
        Features, edges and the artwork itself.

    Raises
    ------
    PictureError
        If the face's picture cannot be used, or shows too little print to find the face by.
    """
    face = open_face(family.face_path)
    art = prepare_art(
        np.asarray(cv2.cvtColor(face, cv2.COLOR_RGB2BGR), np.uint8),
        family.px_per_mm,
        family.face_size_mm,
        np.array([d.centre_mm for d in family.dials]),
        np.array([d.needle.hub_radius_mm for d in family.dials]),
    )
    found = len(art.features.points_mm)
    if found < FEWEST_FEATURES:
        found = len(art.fine_features.points_mm)
    if found < FEWEST_FEATURES or len(art.edges.points_mm) == 0:
        raise PictureError(
            f"{family.face_path}: shows {found} features of print, and a face is found in a photo "
            f"by {FEWEST_FEATURES} or more; scan or export the face with its scales and figures"
        )
    return art


def prepare_art(
    colour: NDArray[np.uint8],
    px_per_mm: float,
    size_mm: tuple[float, float],
    dial_centres_mm: Array,
    hub_radii_mm: Array,
) -> FaceArt:
    """Compute what the reader needs of the artwork.

    Parameters
    ----------
    colour
        The artwork, height x width x 3, BGR.
    px_per_mm
        Its resolution.
    size_mm
        Width and height of the face.
    dial_centres_mm
        (n, 2); circles of print about these are left out of the edges.
    hub_radii_mm
        (n,); what lies under a hub is never seen.

    Returns
    -------
    FaceArt
        Features, edges and the artwork itself.
    """
    colour, px_per_mm = _averaged(colour, px_per_mm, int(px_per_mm / ENOUGH_PX_PER_MM))
    grey = np.asarray(cv2.cvtColor(colour, cv2.COLOR_BGR2GRAY), np.uint8)
    edges, normals, strengths = _edges(grey.astype(np.float32), px_per_mm)
    kept = ~_on_rings(edges, normals, dial_centres_mm)
    kept &= ~_under_hubs(edges, dial_centres_mm, hub_radii_mm)
    every = Edges(edges[kept], normals[kept])
    strengths = strengths[kept]
    return FaceArt(
        size_mm,
        grey,
        px_per_mm,
        _features(*_averaged(grey, px_per_mm, FEATURE_FACTORS[0])),
        every.of(_evenly(every.points_mm, strengths, EDGES_PER_CELL)),
        every.of(_evenly(every.points_mm, strengths, 10 * EDGES_PER_CELL)),
        _softened(colour, px_per_mm),
    )


def _averaged(
    picture: NDArray[np.uint8], px_per_mm: float, factor: int
) -> tuple[NDArray[np.uint8], float]:
    """The artwork averaged over squares of `factor` pixels; a rest at the far rims is left out."""
    factor = max(1, factor)
    height, width = (side // factor * factor for side in picture.shape[:2])
    size = (width // factor, height // factor)
    small = cv2.resize(picture[:height, :width], size, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8), px_per_mm / factor


def _softened(colour: NDArray[np.uint8], px_per_mm: float) -> tuple[SoftArt, ...]:
    """Every softness from the one before it: blurs add as the squares of their deviations."""
    levels: list[SoftArt] = []
    picture, scale, softness = colour, px_per_mm, 0.0
    for wanted in SOFTNESSES_MM:
        picture, scale = _averaged(picture, scale, int(scale * wanted / SOFT_PX))
        blur_px = float(np.sqrt(wanted**2 - softness**2) * scale)
        picture = np.asarray(cv2.GaussianBlur(picture, (0, 0), max(blur_px, 0.1)), np.uint8)
        softness = wanted
        grey = np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), np.float32)
        levels.append(SoftArt(wanted, scale, grey, picture))
    return tuple(levels)


def _features(grey: NDArray[np.uint8], px_per_mm: float) -> Features:
    sift = cv2.SIFT_create(nfeatures=4000, contrastThreshold=0.02)  # type: ignore[attr-defined]
    points, descriptors = sift.detectAndCompute(grey, None)
    if descriptors is None:
        return Features(np.zeros((0, 2)), np.zeros((0, 128), np.float32))
    at = (np.array([p.pt for p in points]) + 0.5) / px_per_mm
    return Features(at, root_normalised(descriptors))


def root_normalised(descriptors: NDArray[np.float32]) -> NDArray[np.float32]:
    """Square root of L1-normalised descriptors: Euclidean distance becomes Hellinger distance."""
    total = np.abs(descriptors).sum(axis=1, keepdims=True) + 1e-7
    return np.asarray(np.sqrt(descriptors / total), dtype=np.float32)


def _edges(grey: NDArray[np.float32], px_per_mm: float) -> tuple[Array, Array, Array]:
    """Sub-pixel edge points: maxima of the gradient along its own direction."""
    soft = cv2.GaussianBlur(grey, (0, 0), EDGE_SOFTNESS_MM * px_per_mm)
    gx, gy = cv2.Scharr(soft, cv2.CV_32F, 1, 0) / 32, cv2.Scharr(soft, cv2.CV_32F, 0, 1) / 32
    size = np.hypot(gx, gy)
    border = 4
    rows, cols = np.nonzero(size[border:-border, border:-border] > 4.0)
    if len(rows) == 0:
        return np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0)
    rows, cols = rows + border, cols + border
    nx, ny = gx[rows, cols] / size[rows, cols], gy[rows, cols] / size[rows, cols]

    def along(step: float) -> NDArray[np.float32]:
        return sample(size, cols + step * nx, rows + step * ny)

    here, before, after = size[rows, cols], along(-1.0), along(1.0)
    peak = (here >= before) & (here > after)
    rows, cols, nx, ny = rows[peak], cols[peak], nx[peak], ny[peak]
    here, before, after = here[peak], before[peak], after[peak]
    shift = 0.5 * (before - after) / np.minimum(before - 2 * here + after, -1e-6)
    shift = np.clip(shift, -0.5, 0.5)
    at = np.stack([cols + shift * nx + 0.5, rows + shift * ny + 0.5], axis=1) / px_per_mm
    return (
        at.astype(np.float64),
        np.stack([nx, ny], axis=1).astype(np.float64),
        here.astype(np.float64),
    )


def _on_rings(edges_mm: Array, normals: Array, centres_mm: Array) -> NDArray[np.bool_]:
    """Which edges lie on a circle about a dial: raised rings stand off the face plane."""
    on_ring = np.zeros(len(edges_mm), dtype=bool)
    for centre in centres_mm if len(edges_mm) else ():
        out = edges_mm - centre
        radius = np.hypot(out[:, 0], out[:, 1])
        radial = np.abs(np.sum(out * normals, axis=1)) > 0.985 * np.maximum(radius, 1e-9)
        sector = ((np.degrees(np.arctan2(out[:, 0], -out[:, 1])) + 360) // 3).astype(int) % 120
        ring = np.round(radius / 0.4).astype(int)
        filled = np.zeros((ring.max() + 2, 120), dtype=bool)
        filled[ring[radial], sector[radial]] = True
        share = (filled | np.roll(filled, 1, axis=0) | np.roll(filled, -1, axis=0)).mean(axis=1)
        on_ring |= radial & (share[ring] > RING_SHARE) & (radius > 6.0)
    return on_ring


def _under_hubs(edges_mm: Array, centres_mm: Array, radii_mm: Array) -> NDArray[np.bool_]:
    away = np.linalg.norm(edges_mm[:, None, :] - centres_mm[None], axis=2)
    return np.asarray(np.any(away < radii_mm[None], axis=1))


def _evenly(edges_mm: Array, strengths: Array, per_cell: int) -> NDArray[np.intp]:
    """The strongest edges of every cell, spread along the print by a fixed stride."""
    if len(edges_mm) == 0:
        return np.zeros(0, dtype=np.intp)
    cells = np.floor(edges_mm / CELL_MM).astype(int)
    key = cells[:, 0] * 100000 + cells[:, 1]
    order = np.lexsort((edges_mm[:, 0] + 0.37 * edges_mm[:, 1], key))
    chosen: list[NDArray[np.intp]] = []
    bounds = np.flatnonzero(np.diff(key[order])) + 1
    for group in np.split(order, bounds):
        strong = group[strengths[group] >= 0.4 * strengths[group].max()]
        stride = max(1, len(strong) // per_cell)
        chosen.append(strong[::stride])
    return np.concatenate(chosen)
