"""The compiled kernels beside general-purpose libraries that compute the same another way."""

import cv2
import numpy as np
import pytest
from scipy.ndimage import map_coordinates
from scipy.optimize import least_squares

from needlewright.readings.compiled import kernel
from needlewright.readings.polar_kernel import (
    bar_and_flanks,
    light_of_print,
    noise_of,
    scores_along,
)
from needlewright.readings.pose_kernel import design_of, robust_step
from needlewright.readings.projection import Array, Projection
from needlewright.readings.sampling_kernel import (
    LIKENESS,
    NORMAL_X,
    NORMAL_Y,
    SHIFT,
    colours_drawn,
    colours_seen,
    look_along_normals,
    packed,
)

SIZE = (320, 213)
HOMOGRAPHY = np.array([[1.9, 0.2, 12.0], [-0.1, 2.1, 9.0], [1.5e-4, -2e-4, 1.0]])


def a_projection(radial: float = -0.04) -> Projection:
    straight = Projection.of_size(HOMOGRAPHY, *SIZE)
    return Projection(straight.matrix, radial, straight.centre_px, straight.half_diagonal_px)


def a_picture(rng: np.random.Generator, depth: int = 3) -> Array:
    noise = rng.uniform(0, 255, (SIZE[1], SIZE[0], depth)).astype(np.float32)
    soft = cv2.GaussianBlur(noise, (0, 0), 2.0).astype(np.uint8)
    return np.asarray(soft.reshape(noise.shape))


def places(rng: np.random.Generator, count: int) -> Array:
    return rng.uniform((8.0, 8.0), (130.0, 80.0), (count, 2))


def test_colours_are_bilinear_and_none_outside() -> None:
    """Against SciPy's `map_coordinates` of order 1."""
    rng = np.random.default_rng(1)
    picture, projection = a_picture(rng), a_projection()
    points = np.concatenate([places(rng, 500), [[-60.0, 40.0], [600.0, 40.0]]])
    seen = colours_seen(picture, packed(projection), points)
    at = projection.to_photo(points)
    for channel in range(3):
        expected = map_coordinates(
            picture[..., channel].astype(float), at[:500, ::-1].T, order=1, mode="nearest"
        )
        np.testing.assert_allclose(seen[:500, channel], expected, atol=1e-3)
    assert np.isnan(seen[500:]).all()


def test_artwork_goes_on_beyond_its_border() -> None:
    """Against SciPy's `map_coordinates` of order 1, nearest border."""
    rng = np.random.default_rng(2)
    picture = a_picture(rng)
    points = rng.uniform((-5.0, -5.0), (60.0, 40.0), (400, 2))
    drawn = colours_drawn(picture, 6.0, points)
    at = (points * 6.0 - 0.5)[:, ::-1].T
    for channel in range(3):
        expected = map_coordinates(picture[..., channel].astype(float), at, order=1, mode="nearest")
        np.testing.assert_allclose(drawn[:, channel], expected, atol=1e-3)


def test_an_edge_is_found_where_the_photo_was_shifted() -> None:
    """The artwork drawn through the projection, moved by a known shift along x."""
    projection = Projection.of_size(np.diag([6.0, 6.0, 1.0]), *SIZE)
    x = (np.arange(SIZE[0]) + 0.5) / 6.0
    art = np.repeat((120 + 80 * np.tanh((x[None] - 20.0) / 0.3)), SIZE[1], axis=0)
    shift_px = 1.37
    moved = (np.arange(SIZE[0]) - shift_px) / 6.0
    row = 120 + 80 * np.tanh((moved[None] - 20.0) / 0.3)
    grey = np.repeat(np.round(row), SIZE[1], axis=0).astype(np.uint8)
    points = np.stack([np.full(5, 20.0), np.linspace(10, 25, 5)], axis=1)
    normals = np.repeat([[1.0, 0.0]], 5, axis=0)
    found = look_along_normals(
        grey, art.astype(np.float32), 6.0, packed(projection), points, normals, 4.0
    )
    np.testing.assert_allclose(found[:, [NORMAL_X, NORMAL_Y]], normals, atol=1e-9)
    np.testing.assert_allclose(found[:, SHIFT], shift_px, atol=0.02)
    assert (found[:, LIKENESS] > 0.95).all()


def test_likeness_is_the_coefficient_of_correlation() -> None:
    """Against NumPy's `corrcoef`, but for the two grey levels of spread that the kernel allows."""
    rng = np.random.default_rng(3)
    projection, grey = a_projection(), np.ascontiguousarray(a_picture(rng, 1)[..., 0])
    art = np.ascontiguousarray(a_picture(rng, 1)[..., 0]).astype(np.float32)
    points, turn = places(rng, 300), rng.uniform(0, 2 * np.pi, 300)
    normals = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    found = look_along_normals(grey, art, 2.0, packed(projection), points, normals, 0.5)
    back = np.linalg.inv(projection.jacobian(points))
    t = np.arange(-3.0, 3.25, 0.5)
    checked = 0
    for e in range(len(points)):
        if found[e, LIKENESS] == 0.0:
            continue
        normal = found[e, [NORMAL_X, NORMAL_Y]]
        at = projection.to_photo(points[e]) + t[:, None] * normal
        face = points[e] + t[:, None] * (back[e] @ normal)
        photo = map_coordinates(grey.astype(float), at[:, ::-1].T, order=1)
        drawn = map_coordinates(art.astype(float), (face * 2.0 - 0.5)[:, ::-1].T, order=1)
        allowed = np.sqrt(np.var(photo) / (np.var(photo) + 4.0))
        expected = np.corrcoef(photo, drawn)[0, 1] * allowed
        assert found[e, LIKENESS] == pytest.approx(expected, abs=1e-4)
        checked += 1
    assert checked > 10


def test_the_design_is_the_projection_s_derivative() -> None:
    """Against `Projection.by_parameters`, which finite differences check in its own tests."""
    rng = np.random.default_rng(4)
    projection, points = a_projection(), places(rng, 60)
    turn = rng.uniform(0, 2 * np.pi, 60)
    found = np.stack([np.cos(turn), np.sin(turn), np.zeros(60), np.ones(60)], axis=1)
    design = design_of(packed(projection), projection.tangent, points, found, True)
    expected = np.einsum("ni,nip->np", found[:, :2], projection.by_parameters(points))
    np.testing.assert_allclose(design[:, :9], expected, rtol=1e-9, atol=1e-9)
    assert (design[:, 9] == 1.0).all()


def test_a_robust_step_is_scipy_s_cauchy_fit() -> None:
    """Against SciPy's `least_squares` with Cauchy loss of the same scale, a tenth of it wild."""
    rng = np.random.default_rng(5)
    projection, points = a_projection(0.0), places(rng, 1500)
    turn = rng.uniform(0, 2 * np.pi, 1500)
    found = np.stack([np.cos(turn), np.sin(turn), np.zeros(1500), np.ones(1500)], axis=1)
    design = design_of(packed(projection), projection.tangent, points, found, True)
    true_step = np.array([2e-4, -1e-4, 1e-4, 3e-4, -2e-4, 1e-4, 2e-4, 1e-4, 5e-3, 0.2])
    shift = design @ true_step + rng.normal(0, 0.1, 1500)
    shift[::10] += rng.uniform(-3, 3, 150)
    found[:, SHIFT] = shift
    done, step, covariance, scatter = robust_step(design, found, 0.0, 0.05)
    assert done
    prior = np.array([0.0] * 8 + [scatter / 0.05, np.sqrt(1e-3)])
    wide = 2.0 * scatter

    def residuals(x: Array) -> Array:
        left = design @ x - shift
        cauchy = wide * np.sqrt(np.log1p((left / wide) ** 2))
        return np.concatenate([cauchy, prior * x])

    expected = least_squares(residuals, np.zeros(10), x_scale="jac", xtol=1e-14, ftol=1e-14).x
    moved, theirs = design @ step, design @ expected
    assert np.abs(moved - theirs).max() < 0.002  # pixels
    spread = np.sqrt(np.einsum("np,pq,nq->n", design, covariance, design))
    assert np.abs(moved - design @ true_step).max() < 5 * spread.max()
    np.testing.assert_allclose(covariance, covariance.T, rtol=1e-6, atol=1e-18)


def a_dial(rng: np.random.Generator) -> tuple[Array, Array, Array]:
    """A photo of a print under slanting light, the print, and places about the centre."""
    art = rng.uniform(20, 230, (240, 12, 3)).astype(np.float32)
    away = rng.uniform(-1, 1, (240, 12, 2))
    light = 0.6 + 0.1 * away[..., :1] - 0.05 * away[..., 1:]
    return (20 + 5 * away[..., :1] + light * art).astype(np.float32), art, away


def test_the_print_s_light_is_found_despite_a_needle() -> None:
    rng = np.random.default_rng(6)
    photo, art, away = a_dial(rng)
    with_needle = photo.copy()
    with_needle[30:45] = 250.0
    inside = np.ones(photo.shape[:2], dtype=bool)
    shown = light_of_print(with_needle, art, inside, away, 3)
    assert np.abs(shown - photo).max() < 1.0
    blank = light_of_print(photo, np.zeros_like(art), inside, away, 3)
    assert np.isfinite(blank).all()  # nothing printed: only the offset can be told


def test_bars_and_flanks_are_means_around_the_circle() -> None:
    """Against NumPy's means, direction by direction; what is outside the photo does not count."""
    rng = np.random.default_rng(7)
    colours = rng.normal(0, 30, (72, 4, 3)).astype(np.float32)
    inside = rng.random((72, 4)) > 0.3
    colours[~inside] = np.nan
    half, near, far = np.array([1, 1, 2, 0]), np.array([2, 3, 3, 1]), np.array([4, 5, 6, 3])
    means = bar_and_flanks(colours, inside, half, near, far)
    for j in range(4):
        ranges = (
            np.arange(-far[j], -near[j] + 1),
            np.arange(near[j], far[j] + 1),
            np.arange(-half[j], half[j] + 1),
        )
        for which, steps in enumerate(ranges):
            for i in range(72):
                rows = (i + steps) % 72
                seen = inside[rows, j]
                if seen.sum() > len(rows) / 2:
                    expected = colours[rows, j][seen].mean(axis=0)
                    np.testing.assert_allclose(means[which, i, j], expected, atol=1e-3)
                else:
                    assert np.isnan(means[which, i, j]).all()


def test_scores_and_noise_beside_numpy() -> None:
    """Against NumPy: medians, clipped means and the covariance of calm neighbours."""
    rng = np.random.default_rng(8)
    means = rng.normal(0, 20, (3, 90, 9, 3))
    means[0, 5, 2] = np.nan
    expected = np.array([0.2, -0.4, 0.9])
    left, right, bar = means @ expected
    step = np.nan_to_num(np.minimum(bar - left, bar - right))
    cap = 1.5 * max(float(np.median(step, axis=1).max()), 1.0)
    np.testing.assert_allclose(
        scores_along(means, expected), np.clip(step, -cap, cap).mean(axis=1), atol=1e-9
    )
    colours = rng.normal(0, 4, (90, 9, 3)).astype(np.float32)
    inside = rng.random((90, 9)) > 0.2
    change = (colours[:, 1:] - colours[:, :-1])[inside[:, 1:] & inside[:, :-1]].astype(float)
    size = np.linalg.norm(change, axis=1)
    calm = change[size <= 3 * np.median(size) + 1.0]
    np.testing.assert_allclose(
        noise_of(colours, inside), calm.T @ calm / (2 * len(calm)), rtol=1e-4, atol=1e-6
    )


def test_a_kernel_is_compiled_where_nothing_can_be_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """numba refuses to keep what has no folder: a function of no file is such a one."""
    monkeypatch.setenv("NUMBA_CACHE_DIR", "")
    names: dict[str, object] = {}
    exec(compile("def twice(x):\n    return 2 * x\n", "<nowhere>", "exec"), names)
    twice = kernel(names["twice"])  # type: ignore[type-var]
    assert twice(21) == 42
