"""From the face plane to the photo: a homography and one radial term.

Nine numbers and no focal length: the homography maps face millimetres to ideal image
coordinates, and one radial term about the image's centre bends those as a lens does.

Source: derivation in docs/decisions/0002-registration.md.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PARAMETERS: Final = 9
BEND_LIMIT: Final = 1.7
"""Square of the radius (half diagonals) past which the bend is held: far outside the photo the
radial term would fold the face back into it."""


@dataclass(frozen=True, slots=True)
class Projection:
    """Maps points of the face plane (mm) to pixels of one photo.

    Parameters
    ----------
    matrix
        3 x 3: (x, y, 1) in face mm to ideal image coordinates, which are pixels from the image's
        centre divided by `half_diagonal_px`.
    radial
        Radial term: distorted = ideal x (1 + radial x r^2), r in half diagonals.
    centre_px
        The image's centre; the centre of the top-left pixel is (0, 0).
    half_diagonal_px
        Half the image's diagonal.
    """

    matrix: Array
    radial: float
    centre_px: tuple[float, float]
    half_diagonal_px: float

    @classmethod
    def of_size(cls, matrix_px: Array, width_px: int, height_px: int) -> "Projection":
        """A projection without distortion from a homography face mm -> pixels."""
        centre = ((width_px - 1) / 2, (height_px - 1) / 2)
        half = float(np.hypot(width_px, height_px)) / 2
        to_ideal = np.array(
            [[1 / half, 0, -centre[0] / half], [0, 1 / half, -centre[1] / half], [0, 0, 1]]
        )
        matrix = to_ideal @ matrix_px
        return cls(matrix / np.linalg.norm(matrix), 0.0, centre, half)

    def in_photo(self, width_px: int, height_px: int) -> "Projection":
        """The same view in the same photo at another size."""
        return Projection(
            self.matrix,
            self.radial,
            ((width_px - 1) / 2, (height_px - 1) / 2),
            float(np.hypot(width_px, height_px)) / 2,
        )

    def to_photo(self, points_mm: Array) -> Array:
        """Pixels (x, y) of face points.

        Parameters
        ----------
        points_mm
            Shape (..., 2), millimetres on the face.

        Returns
        -------
        NDArray
            Shape (..., 2), pixels.
        """
        return self._bend(self._ideal(points_mm))

    def jacobian(self, points_mm: Array) -> Array:
        """Derivative of the pixel position by the face position, px per mm; shape (..., 2, 2)."""
        m = self.matrix
        x, y = points_mm[..., 0], points_mm[..., 1]
        depth = m[2, 0] * x + m[2, 1] * y + m[2, 2]
        ideal = self._ideal(points_mm)
        a, b = ideal[..., 0], ideal[..., 1]
        da_dx, da_dy = (m[0, 0] - a * m[2, 0]) / depth, (m[0, 1] - a * m[2, 1]) / depth
        db_dx, db_dy = (m[1, 0] - b * m[2, 0]) / depth, (m[1, 1] - b * m[2, 1]) / depth
        k = self.radial
        r2 = a * a + b * b
        bend = np.stack(
            [
                np.stack([1 + k * r2 + 2 * k * a * a, 2 * k * a * b], axis=-1),
                np.stack([2 * k * a * b, 1 + k * r2 + 2 * k * b * b], axis=-1),
            ],
            axis=-2,
        )
        flat = np.stack(
            [np.stack([da_dx, da_dy], axis=-1), np.stack([db_dx, db_dy], axis=-1)], axis=-2
        )
        return np.asarray(self.half_diagonal_px * (bend @ flat))

    def px_per_mm_at(self, point_mm: Array) -> float:
        """Scale of the photo at a face point, the geometric mean over all directions.

        Parameters
        ----------
        point_mm
            Shape (2,).

        Returns
        -------
        float
            Root of the determinant of `jacobian`. In plain numbers, as it is asked for often: the
            homography's part of it is its own determinant over the cube of the depth, the bend's
            that of a radial map.
        """
        x, y = float(point_mm[0]), float(point_mm[1])
        (m00, m01, m02), (m10, m11, m12), (m20, m21, m22) = self.matrix.tolist()
        depth = m20 * x + m21 * y + m22
        a, b = (m00 * x + m01 * y + m02) / depth, (m10 * x + m11 * y + m12) / depth
        determinant = (
            m00 * (m11 * m22 - m12 * m21)
            - m01 * (m10 * m22 - m12 * m20)
            + m02 * (m10 * m21 - m11 * m20)
        )
        bent = self.radial * (a * a + b * b)
        area = determinant / depth**3 * (1 + bent) * (1 + 3 * bent)
        return self.half_diagonal_px * math.sqrt(abs(area))

    def to_face(self, points_px: Array) -> Array:
        """Face points (mm) of pixels: the inverse of `to_photo`, by fixed-point unbending."""
        bent = (points_px - np.asarray(self.centre_px)) / self.half_diagonal_px
        ideal = bent.copy()
        for _ in range(8):
            r2 = np.sum(ideal**2, axis=-1, keepdims=True)
            ideal = bent / (1 + self.radial * r2)
        inverse = np.linalg.inv(self.matrix)
        ones = np.ones((*ideal.shape[:-1], 1))
        mapped = np.concatenate([ideal, ones], axis=-1) @ inverse.T
        return np.asarray(mapped[..., :2] / mapped[..., 2:])

    def by_parameters(self, points_mm: Array) -> Array:
        """Derivative of the pixel position by the nine parameters.

        Parameters
        ----------
        points_mm
            Shape (n, 2).

        Returns
        -------
        NDArray
            Shape (n, 2, 9): the eight free entries of `matrix` relative to its present value, in
            the tangent space orthogonal to it (see `moved`), then the radial term.
        """
        n = len(points_mm)
        ones = np.ones((n, 1))
        h = np.concatenate([points_mm, ones], axis=1)
        depth = h @ self.matrix[2]
        ideal = self._ideal(points_mm)
        d_ideal = np.zeros((n, 2, 9))
        d_ideal[:, 0, 0:3] = h / depth[:, None]
        d_ideal[:, 1, 3:6] = h / depth[:, None]
        d_ideal[:, 0, 6:9] = -ideal[:, :1] * h / depth[:, None]
        d_ideal[:, 1, 6:9] = -ideal[:, 1:] * h / depth[:, None]
        k = self.radial
        r2 = np.sum(ideal**2, axis=1)
        bend = (1 + k * r2)[:, None, None] * np.eye(2) + 2 * k * ideal[:, :, None] * ideal[
            :, None, :
        ]
        d_matrix = bend @ d_ideal @ self.tangent
        d_radial = ideal * r2[:, None]
        return np.asarray(
            self.half_diagonal_px * np.concatenate([d_matrix, d_radial[:, :, None]], axis=2)
        )

    @property
    def tangent(self) -> Array:
        """Orthonormal basis (9 x 8) of the steps that change the homography and not its scale."""
        unit = self.matrix.reshape(9) / np.linalg.norm(self.matrix)
        basis, _ = np.linalg.qr(np.concatenate([unit[:, None], np.eye(9)], axis=1))
        return np.asarray(basis[:, 1:9])

    def moved(self, step: Array) -> "Projection":
        """The projection after a step of the nine parameters of `by_parameters`."""
        matrix = self.matrix + (self.tangent @ step[:8]).reshape(3, 3)
        return Projection(
            matrix / np.linalg.norm(matrix),
            self.radial + float(step[8]),
            self.centre_px,
            self.half_diagonal_px,
        )

    def _ideal(self, points_mm: Array) -> Array:
        m = self.matrix
        x, y = points_mm[..., 0], points_mm[..., 1]
        depth = m[2, 0] * x + m[2, 1] * y + m[2, 2]
        return np.stack(
            [
                (m[0, 0] * x + m[0, 1] * y + m[0, 2]) / depth,
                (m[1, 0] * x + m[1, 1] * y + m[1, 2]) / depth,
            ],
            axis=-1,
        )

    def _bend(self, ideal: Array) -> Array:
        r2 = np.minimum(np.sum(ideal**2, axis=-1, keepdims=True), BEND_LIMIT)
        return np.asarray(
            ideal * (1 + self.radial * r2) * self.half_diagonal_px + np.asarray(self.centre_px)
        )
