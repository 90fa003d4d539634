"""The projection's derivatives, its inverse, and its hold on what lies far outside the photo."""

import numpy as np
import pytest

from needlewright.readings.projection import PARAMETERS, Projection


def camera(radial: float = -0.08) -> Projection:
    homography = np.array([[4.1, 0.3, 120.0], [-0.2, 3.9, 200.0], [3e-4, -2e-4, 1.0]])
    flat = Projection.of_size(homography, 1600, 1067)
    return Projection(flat.matrix, radial, flat.centre_px, flat.half_diagonal_px)


POINTS = np.array([[10.0, 12.0], [150.0, 60.0], [280.0, 110.0]])


def test_without_bend_it_is_the_homography() -> None:
    homography = np.array([[4.1, 0.3, 120.0], [-0.2, 3.9, 200.0], [3e-4, -2e-4, 1.0]])
    expected = np.column_stack([POINTS, np.ones(3)]) @ homography.T
    expected = expected[:, :2] / expected[:, 2:]
    got = Projection.of_size(homography, 1600, 1067).to_photo(POINTS)
    assert got == pytest.approx(expected, abs=1e-9)


def test_the_jacobian_is_the_derivative() -> None:
    p = camera()
    step = 1e-5
    for axis in (0, 1):
        move = np.zeros(2)
        move[axis] = step
        numeric = (p.to_photo(POINTS + move) - p.to_photo(POINTS - move)) / (2 * step)
        assert p.jacobian(POINTS)[..., axis] == pytest.approx(numeric, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("radial", [-0.15, 0.0, 0.12])
def test_the_scale_is_the_root_of_the_jacobian_s_determinant(radial: float) -> None:
    p = camera(radial)
    for point in POINTS:
        expected = np.sqrt(np.linalg.det(p.jacobian(point)))
        assert p.px_per_mm_at(point) == pytest.approx(expected, rel=1e-12)


def test_the_parameters_effect_is_the_derivative() -> None:
    p = camera()
    effect = p.by_parameters(POINTS)
    assert effect.shape == (3, 2, PARAMETERS)
    for k in range(PARAMETERS):
        step = np.zeros(PARAMETERS)
        step[k] = 1e-6
        numeric = (p.moved(step).to_photo(POINTS) - p.moved(-step).to_photo(POINTS)) / 2e-6
        assert effect[..., k] == pytest.approx(numeric, rel=1e-4, abs=1e-3)


@pytest.mark.parametrize("radial", [-0.15, 0.0, 0.12])
def test_back_to_the_face(radial: float) -> None:
    p = camera(radial)
    assert p.to_face(p.to_photo(POINTS)) == pytest.approx(POINTS, abs=1e-3)


def test_a_strong_bend_does_not_fold_the_far_face_into_the_photo() -> None:
    p = camera(-0.3)
    away = np.linspace(0, 3000, 400)[:, None] * np.array([[1.0, 0.0]]) + POINTS[1]
    x = p.to_photo(away)[:, 0]
    outside = np.flatnonzero(x > 1600)
    assert len(outside) > 0
    assert np.all(x[outside[0] :] > 1400)
