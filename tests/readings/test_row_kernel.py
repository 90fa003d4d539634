"""The compiled fit of rows against the same algebra in NumPy and SciPy."""

import numpy as np
import pytest
from scipy.special import ndtr

from needlewright.readings.needle_shape import BLUR, COUNT, OFFSET, SIDE, UNEVEN, WIDTH
from needlewright.readings.row_kernel import explain_rows, say_together

T_MM = np.linspace(-3.0, 3.0, 41)
R_MM = np.array([-6.0, 8.0, 15.0, 22.0])
AT = np.stack([R_MM, np.full(4, 0.9), (R_MM - 12.0) / 24.0], axis=1)
SHAPE = np.zeros(COUNT)
SHAPE[[OFFSET, WIDTH, BLUR, SIDE]] = (0.12, 0.1, 0.25, 0.6)
WALL_MM = 0.3
UNIT = 80.0


def cover(shape: np.ndarray) -> np.ndarray:
    """By SciPy's normal distribution: the top's two edges, and the foot of the side."""
    half = (0.9 + shape[WIDTH] / 2 + shape[3] * np.abs(R_MM) / 2 * (R_MM > 0))[:, None]
    half = half + (shape[4] / 2 * (R_MM < 0))[:, None]
    away = T_MM[None] - shape[OFFSET] - shape[0] * R_MM[:, None]
    left, right = ndtr((away + half) / shape[BLUR]), ndtr((away - half) / shape[BLUR])
    foot = ndtr((away - half - WALL_MM) / shape[BLUR])
    return left - (1 - shape[SIDE]) * right - shape[SIDE] * foot


def picture(shape: np.ndarray, step: float = 80.0) -> np.ndarray:
    covered = cover(shape)
    return 40.0 * (1 - covered) + (40.0 + step) * covered


def explained(light: np.ndarray, shape: np.ndarray) -> tuple[np.ndarray, ...]:
    nothing, whole = np.zeros_like(light), np.ones_like(light)
    return explain_rows(AT, T_MM, light, nothing, whole, shape, WALL_MM, UNIT)


def test_a_needle_of_the_model_is_explained_without_rest() -> None:
    levels, residual, _ = explained(picture(SHAPE), SHAPE)
    np.testing.assert_allclose(levels[:, 0], 40.0, atol=1e-3)
    np.testing.assert_allclose(levels[:, 2], 80.0, atol=1e-3)
    assert np.abs(residual).max() < 1e-3


@pytest.mark.parametrize("which", range(UNEVEN))
def test_effects_are_the_derivatives_that_free_levels_leave(which: int) -> None:
    """Against central differences of the picture, projected by NumPy's least squares."""
    step = 1e-5
    up, down = SHAPE.copy(), SHAPE.copy()
    up[which] += step
    down[which] -= step
    change = (picture(up) - picture(down)) / (2 * step)
    effect = explained(picture(SHAPE), SHAPE)[2][..., which]
    covered = cover(SHAPE)
    for row in range(len(R_MM)):
        clear = 1 - covered[row]
        base = np.stack([np.ones_like(clear), clear * T_MM / 3.0, covered[row]], axis=1)
        mimicked = base @ np.linalg.lstsq(base, change[row], rcond=None)[0]
        largest = np.abs(change[row]).max()
        np.testing.assert_allclose(effect[row], change[row] - mimicked, atol=3e-5 * largest)


def test_uneven_ground_is_the_step_from_side_to_side() -> None:
    side = np.where(T_MM[None] > SHAPE[OFFSET], 1.0, -1.0) * (1 - cover(SHAPE))
    lighter = SHAPE.copy()
    lighter[UNEVEN] = 0.05
    _, residual, _ = explained(picture(SHAPE) + 0.05 * UNIT * side, lighter)
    assert np.abs(residual).max() < 1e-3


def test_what_rows_say_together_is_the_weighted_normal_matrix() -> None:
    rng = np.random.default_rng(3)
    residual, effect = rng.normal(size=(4, 41)), rng.normal(size=(4, 41, COUNT))
    weights = rng.uniform(size=(4, 41))
    normal, scores = say_together(residual, effect, weights)
    flat = effect.reshape(-1, COUNT)
    np.testing.assert_allclose(normal, flat.T @ (weights.reshape(-1, 1) * flat), rtol=1e-9)
    expected = ((weights * residual)[..., None] * effect).sum(axis=1)
    np.testing.assert_allclose(scores, expected, rtol=1e-9)
