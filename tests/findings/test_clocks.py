"""The clock of a command against the clock of a video."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import correlate, correlation_lags

from needlewright.findings.clocks import clock_of
from needlewright.readings.track import DialTrack, track_of_angles

FloatArray = NDArray[np.float64]
TIMES_S = np.arange(0.0, 9.0, 0.04)


def swept(at_s: FloatArray) -> FloatArray:
    """Up in two paces and down in one, so that it looks the same nowhere else."""
    return np.asarray(np.interp(at_s, [1.0, 2.0, 3.5, 6.0], [-100.0, -20.0, 60.0, -100.0]))


def tracked(late_s: float, noise_deg: float, name: str = "speed") -> DialTrack:
    rng = np.random.default_rng(5)
    angles = swept(TIMES_S - late_s) + rng.normal(0, noise_deg, len(TIMES_S))
    angles[40:52] = np.nan
    return track_of_angles(name, TIMES_S, angles, 0.1, 0.05)


COMMAND = np.array([1.0, 2.0, 3.5, 6.0]), swept(np.array([1.0, 2.0, 3.5, 6.0]))


@pytest.mark.parametrize("late_s", [-0.8, 0.0, 0.37, 2.512])
def test_the_offset_is_found_to_a_third_of_a_frame(late_s: float) -> None:
    clock = clock_of({"speed": tracked(late_s, 0.2)}, {"speed": COMMAND})
    assert clock is not None
    assert clock.offset_s == pytest.approx(late_s, abs=0.012)
    assert clock.likeness > 0.98
    assert clock.other_likeness < 0.9 * clock.likeness


def test_the_offset_is_that_of_a_general_correlation() -> None:
    """Against scipy.signal.correlate and its lags, on the same speeds."""
    even = np.arange(-2.0, 12.0, 0.02)
    told, seen = np.gradient(swept(even)), np.gradient(swept(even - 1.3))
    lags = correlation_lags(len(seen), len(told))
    expected = 0.02 * lags[np.argmax(correlate(seen, told))]
    clock = clock_of({"speed": tracked(1.3, 0.1)}, {"speed": COMMAND})
    assert clock is not None
    assert clock.offset_s == pytest.approx(expected, abs=0.01)


def test_a_clock_that_counts_from_anywhere_is_no_matter() -> None:
    command = COMMAND[0] + 5000.0, COMMAND[1]
    clock = clock_of({"speed": tracked(0.25, 0.1)}, {"speed": command})
    assert clock is not None
    assert clock.offset_s == pytest.approx(0.25 - 5000.0, abs=0.012)


def test_needles_that_moved_otherwise_are_not_alike() -> None:
    rng = np.random.default_rng(2)
    walk = track_of_angles("speed", TIMES_S, np.cumsum(rng.normal(0, 3, len(TIMES_S))), 0.1, 0.1)
    clock = clock_of({"speed": walk}, {"speed": COMMAND})
    assert clock is not None
    assert clock.likeness < 0.5


def test_a_needle_that_stood_still_says_nothing_and_another_does() -> None:
    stood = track_of_angles("fuel", TIMES_S, np.full(len(TIMES_S), -30.0), 0.1, 0.05)
    assert clock_of({"fuel": stood}, {"fuel": COMMAND}) is None
    both = {"fuel": stood, "speed": tracked(0.6, 0.1)}
    clock = clock_of(both, {"fuel": COMMAND, "speed": COMMAND})
    assert clock is not None
    assert clock.offset_s == pytest.approx(0.6, abs=0.012)
