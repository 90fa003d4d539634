"""The face's own frame: millimetres from its top-left corner, laid over the plane of a photo."""

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from needlewright.readings.drafting.finding import FoundFace, ends_on_plane
from needlewright.readings.drafting.inputs import DraftInputs
from needlewright.readings.drafting.level import Level
from needlewright.readings.projection import Array, Projection
from needlewright.readings.sampling import sample_finely

MARGIN: Final = 0.3
"""Face kept around the marks of each dial, in radii, where its corners are not clicked."""
FINER: Final = 1.6
"""Resolution of the rectified face, in that of the photo: nothing is lost by laying it anew."""
PX_PER_MM: Final = (5.0, 16.0)
BAND_ROWS: Final = 256


@dataclass(frozen=True, slots=True)
class Frame:
    """Where face millimetres lie on a plane.

    Parameters
    ----------
    mm
        Millimetres of one unit of the plane.
    turned_deg
        Clockwise, of the face on the plane.
    corner
        (2,), the face's top-left corner on the plane.
    size_mm
        Of the face.
    """

    mm: float
    turned_deg: float
    corner: Array
    size_mm: tuple[float, float]

    @property
    def axes(self) -> Array:
        """2 x 2: the face's right and down, on the plane, as columns of unit length."""
        turn = np.radians(self.turned_deg)
        return np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])

    def to_mm(self, points: Array) -> Array:
        """Face millimetres of points of the plane, (..., 2)."""
        return np.asarray((points - self.corner) @ self.axes * self.mm)

    def projection(self, plane: Projection) -> Projection:
        """Face millimetres to photo, where `plane` is plane to photo."""
        matrix = np.eye(3)
        matrix[:2, :2] = self.axes / self.mm
        matrix[:2, 2] = self.corner
        laid = plane.matrix @ matrix
        return replace(plane, matrix=laid / np.linalg.norm(laid))


def frame_of(
    inputs: DraftInputs, found: FoundFace, level: Level, mm: float, size_px: tuple[int, int]
) -> Frame:
    """Lay the face's frame over the plane.

    Parameters
    ----------
    inputs
        What was typed; corners of the face that were clicked bound it.
    found
        Marks and plane.
    level
        Which way is up.
    mm
        Millimetres of one unit of the plane.
    size_px
        Width and height of the photo, beyond which there is no face.

    Returns
    -------
    Frame
        Its size in whole tenths of a millimetre.
    """
    projection = found.plane.view.projection
    free = Frame(mm, level.turned_deg, np.zeros(2), (0.0, 0.0))
    width, height = size_px[0] - 1, size_px[1] - 1
    border = np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=float)
    seen = free.to_mm(projection.to_face(border))
    # inside the photo whatever its perspective: the inner of each two corners
    low_seen = np.array([max(seen[0, 0], seen[3, 0]), max(seen[0, 1], seen[1, 1])])
    high_seen = np.array([min(seen[1, 0], seen[2, 0]), min(seen[2, 1], seen[3, 1])])
    if inputs.face_px is not None:
        corners = free.to_mm(projection.to_face(np.array(inputs.face_px)))
        low, high = corners.min(axis=0), corners.max(axis=0)
    else:
        low, high = np.full(2, np.inf), np.full(2, -np.inf)
        for dial in found.dials:
            _, outer = ends_on_plane(dial.chain.ticks, projection)
            centre = free.to_mm(dial.centre)
            reach = mm * float(np.median(np.linalg.norm(outer - dial.centre, axis=1)))
            low = np.minimum(low, centre - (1 + MARGIN) * reach)
            high = np.maximum(high, centre + (1 + MARGIN) * reach)
    low, high = np.maximum(low, low_seen), np.minimum(high, high_seen)
    size = np.floor((high - low) * 10.0) / 10.0
    corner = free.axes @ low / mm
    return Frame(mm, level.turned_deg, corner, (float(size[0]), float(size[1])))


def resolution(
    projection: Projection, size_mm: tuple[float, float], flat_px: float | None
) -> float:
    """Pixels per millimetre of the rectified face.

    Parameters
    ----------
    projection
        Face millimetres to photo.
    size_mm
        Of the face.
    flat_px
        A scan's own pixels per millimetre, which are kept; None: a photo.

    Returns
    -------
    float
        Whole, or the scan's own.
    """
    low, high = PX_PER_MM
    if flat_px is not None and low <= flat_px <= high:
        return flat_px
    photo = flat_px or projection.px_per_mm_at(np.array(size_mm) / 2)
    return float(np.clip(np.ceil(FINER * photo), low, high))


def rectified(
    pixels: NDArray[np.uint8],
    projection: Projection,
    size_mm: tuple[float, float],
    px_per_mm: float,
) -> NDArray[np.uint8]:
    """Lay a photo's face flat.

    Parameters
    ----------
    pixels
        The photo, height x width x 3.
    projection
        Face millimetres to photo.
    size_mm
        Of the face.
    px_per_mm
        Of the result; its pixel (i, j) has its centre at ((i + 0.5), (j + 0.5)) / px_per_mm.

    Returns
    -------
    NDArray
        Height x width x 3; black where the photo shows nothing.
    """
    width, height = (round(side * px_per_mm) for side in size_mm)
    flat = np.zeros((height, width, 3), np.uint8)
    for top in range(0, height, BAND_ROWS):
        rows = np.arange(top, min(top + BAND_ROWS, height))
        x, y = np.meshgrid((np.arange(width) + 0.5) / px_per_mm, (rows + 0.5) / px_per_mm)
        seen = sample_finely(pixels, projection.to_photo(np.stack([x, y], axis=-1)))
        flat[rows] = np.clip(np.rint(np.nan_to_num(seen)), 0, 255).astype(np.uint8)
    return flat


def composite(flats: list[NDArray[np.uint8]]) -> NDArray[np.uint8]:
    """The face under needles that stand elsewhere in every picture: the middle one of each pixel.

    Parameters
    ----------
    flats
        At least two rectified pictures of one size, the one that was clicked in first; the others
        are brought to its light before.

    Returns
    -------
    NDArray
        Of two pictures, the one nearer to the first's neighbourhood; of more, the median.
    """
    first = flats[0].astype(np.float32)
    stack = [first]
    for other in flats[1:]:
        stack.append(_in_light_of(other.astype(np.float32), first))
    if len(stack) == 2:
        return _nearer_to_ground(stack[0], stack[1])
    return np.clip(np.rint(np.median(np.stack(stack), axis=0)), 0, 255).astype(np.uint8)


def _in_light_of(other: NDArray[np.float32], first: NDArray[np.float32]) -> NDArray[np.float32]:
    """A picture with its slow light and contrast made those of another."""
    size = max(15, round(min(first.shape[:2]) / 12)) | 1
    blur = (size, size)
    mean, mean_first = cv2.blur(other, blur), cv2.blur(first, blur)
    spread = np.sqrt(np.maximum(cv2.blur(other**2, blur) - mean**2, 1.0))
    spread_first = np.sqrt(np.maximum(cv2.blur(first**2, blur) - mean_first**2, 1.0))
    wide = (4 * size + 1, 4 * size + 1)
    gain = cv2.blur(spread_first, wide) / cv2.blur(spread, wide)
    return np.asarray((other - cv2.blur(other, wide)) * gain + cv2.blur(first, wide), np.float32)


def _nearer_to_ground(a: NDArray[np.float32], b: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Of two pictures, at each place the one that stands out less from what is about it.

    A needle stands out from its ground for many pixels together; print stands out in both.
    """
    size = max(31, round(min(a.shape[:2]) / 8)) | 1
    ground = cv2.medianBlur(np.clip((a + b) / 2, 0, 255).astype(np.uint8), min(size, 101))
    off_a = cv2.GaussianBlur(np.abs(a - ground).sum(axis=2), (0, 0), 2.0)
    off_b = cv2.GaussianBlur(np.abs(b - ground).sum(axis=2), (0, 0), 2.0)
    apart = cv2.GaussianBlur(np.abs(a - b).sum(axis=2), (0, 0), 2.0)
    use_b = (off_b < off_a) & (apart > 60.0)
    return np.clip(np.rint(np.where(use_b[..., None], b, a)), 0, 255).astype(np.uint8)
