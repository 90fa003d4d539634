"""Values between pixels: a band-limited picture is known there, a linear mean is not enough."""

import numpy as np
import pytest

from needlewright.readings import sampling
from needlewright.readings.sampling import sample, sample_finely


def waves(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A wave of five pixels along x, one of seven along y."""
    return 128 + 60 * np.sin(2 * np.pi * x / 5) * np.cos(2 * np.pi * y / 7)


GRID_Y, GRID_X = np.mgrid[0:60, 0:80].astype(float)
PICTURE = np.repeat(waves(GRID_X, GRID_Y)[..., None], 3, axis=2).astype(np.float32)
AT = np.random.default_rng(2).uniform((12, 12), (66, 46), size=(40, 25, 2))


def test_a_wave_is_known_between_its_pixels() -> None:
    """OpenCV looks its weights up for every 32nd of a pixel; the rest is the window's."""
    truth = waves(AT[..., 0], AT[..., 1])
    fine = sample_finely(PICTURE, AT)[..., 0] - truth
    coarse = sample(PICTURE, AT[..., 0], AT[..., 1])[..., 0] - truth
    assert np.sqrt(np.mean(fine**2)) < 2.0
    assert np.sqrt(np.mean(fine**2)) < 0.25 * np.sqrt(np.mean(coarse**2))


def test_outside_the_picture_nothing_is_known() -> None:
    at = np.array([[[-0.5, 10.0], [79.5, 10.0], [10.0, 59.5], [10.0, 10.0]]])
    known = np.isfinite(sample_finely(PICTURE, at)).all(axis=2)
    assert known.tolist() == [[False, False, False, True]]


def test_a_place_far_outside_reads_nothing() -> None:
    assert np.isnan(sample_finely(PICTURE, np.full((2, 2, 2), 1e6))).all()


def test_whole_grey_levels_are_within_one_of_fine_ones(monkeypatch: pytest.MonkeyPatch) -> None:
    picture = PICTURE.astype(np.uint8)
    fine = sample_finely(picture, AT)
    monkeypatch.setattr(sampling, "MOST_FINE", 0)
    assert np.abs(sample_finely(picture, AT) - np.clip(fine, 0, 255)).max() <= 1.0
