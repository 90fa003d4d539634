"""Stretches that pull the line aside count less; rows on a line count alike."""

import numpy as np
import pytest
from numpy.polynomial import polynomial

from needlewright.readings.row_steadiness import _line, row_weights

ROWS = np.arange(60.0)
ALL = np.ones(60, dtype=bool)


def test_rows_on_a_line_count_in_full() -> None:
    weights = row_weights(ROWS, 0.3 + 0.01 * ROWS, np.ones(60), ALL)
    np.testing.assert_allclose(weights, 1.0, atol=1e-9)


def test_a_stretch_aside_counts_little_and_leaves_the_line_to_the_others() -> None:
    shift = 0.02 * np.sin(ROWS)
    shift[26:34] += 0.6
    weights = row_weights(ROWS, shift, np.ones(60), ALL)
    assert weights[28:32].max() < 0.05
    assert weights[[*range(20), *range(40, 60)]].min() > 0.7


def test_a_stretch_at_the_end_has_leverage_and_still_counts_less() -> None:
    shift = 0.02 * np.sin(ROWS)
    shift[:8] += 0.6
    weights = row_weights(ROWS, shift, np.ones(60), ALL)
    assert weights[:6].max() < 0.6
    assert weights[:6].max() < weights[12:].min()


def test_what_is_not_accepted_pulls_nothing() -> None:
    shift = np.where(ROWS < 20, 5.0, 0.0)
    weights = row_weights(ROWS, shift, np.ones(60), ROWS >= 20)
    assert weights[25:].min() > 0.99


def test_the_line_is_the_weighted_least_squares_line() -> None:
    """Against NumPy's weighted polynomial fit, whose weights multiply residuals unsquared."""
    rng = np.random.default_rng(5)
    shift, weights = rng.normal(size=60), rng.uniform(0.1, 3.0, size=60)
    level, slope = polynomial.polyfit(ROWS, shift, 1, w=np.sqrt(weights))
    np.testing.assert_allclose(_line(ROWS, shift, weights), level + slope * ROWS, atol=1e-9)


def test_too_few_rows_are_not_judged() -> None:
    two = np.array([True, True, *[False] * 58])
    assert row_weights(ROWS, ROWS, np.ones(60), two) == pytest.approx(np.ones(60))
