"""A sweep in a few figures."""

import itertools

import numpy as np
import pytest
from benchmarks.sweep_cases import CASES, dial_of, held

from needlewright.findings.innovations import departures, innovation
from needlewright.findings.motion import motion_of, widening
from needlewright.findings.summary import Summary, spectral_arc_length, summarise
from needlewright.readings.track import track_of_angles
from needlewright.rehearsal.movement.watched import Watching


def wave(t_s: np.ndarray) -> np.ndarray:
    """A smooth sweep of 240 degrees, two seconds up and two down."""
    share = np.clip((t_s - 0.5) / 2.0, 0, 1) - np.clip((t_s - 3.5) / 2.0, 0, 1)
    return -120.0 + 240.0 * (0.5 - 0.5 * np.cos(np.pi * share))


def test_the_figures_of_a_smooth_sweep() -> None:
    t_s = np.arange(0.0, 6.0, 0.04)
    true = wave(t_s)
    noise = 0.03 * np.random.default_rng(1).standard_normal(len(t_s))
    found = summarise(track_of_angles("speed", t_s, true + noise, 0.03, 0.03), dial_of())
    assert found.swept_deg == pytest.approx(240.0, abs=0.2)
    assert found.peak_deg_s == pytest.approx(240.0 * np.pi / 4, rel=0.01)
    assert found.start_deg == pytest.approx(-120.0, abs=0.05)
    assert found.end_deg == pytest.approx(-120.0, abs=0.05)
    assert found.stuck_s == 0.0
    assert found.backlash_deg is None
    assert found.smoothness == pytest.approx(-1.5, abs=0.15)


def test_play_and_time_held_come_from_the_sweep() -> None:
    case = CASES["backlash (physics)"](Watching(noise_deg=0.03), np.random.default_rng(4))
    found = summarise(case.track, case.dial, case.command)
    assert found.backlash_deg == pytest.approx(case.happened[0].size_deg, abs=0.2)
    rng = np.random.default_rng(8)
    compared = 0
    for _ in range(5):
        case = held(Watching(noise_deg=0.03), rng)
        if case.happened:
            found = summarise(case.track, case.dial)
            assert found.stuck_s is not None
            assert 0.05 <= found.stuck_s <= 0.45 * len(case.happened)
            compared += 1
    assert compared >= 3


def test_nothing_seen_gives_no_figure() -> None:
    t_s = np.arange(50) / 25
    track = track_of_angles("speed", t_s, np.full(50, np.nan), 0.1, 0.1)
    assert summarise(track, dial_of()) == Summary(None, None, None, None, None, None, None)


def test_smoothness_does_not_depend_on_size_and_falls_with_halts() -> None:
    t_s = np.arange(0.0, 2.0, 0.02)
    smooth = 100.0 * (0.5 - 0.5 * np.cos(np.pi * t_s / t_s[-1]))
    plain = spectral_arc_length(t_s, smooth)
    assert spectral_arc_length(t_s, 0.1 * smooth) == pytest.approx(plain, abs=1e-9)
    assert spectral_arc_length(t_s, 50.0 - smooth) == pytest.approx(plain, abs=1e-9)
    halts = [plain]
    for count in (1, 2, 4):
        halting = np.interp(t_s, *_with_halts(t_s, smooth, count))
        halts.append(spectral_arc_length(t_s, halting))
    assert all(later < earlier - 0.1 for earlier, later in itertools.pairwise(halts))


def _with_halts(t_s: np.ndarray, y: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    at = np.linspace(0, len(t_s) - 1, count + 2).astype(int)[1:-1]
    added = np.zeros(len(t_s))
    for frame in at:
        added[frame:] += 0.15
    late = (t_s + added) * t_s[-1] / (t_s[-1] + added[-1])
    return late, y


def test_innovations_of_noise_have_unit_spread_and_a_jump_stands_out() -> None:
    rng = np.random.default_rng(2)
    t_s = np.cumsum(rng.uniform(0.03, 0.05, 4000))
    u_deg = np.full(len(t_s), 0.1)
    angle = 30.0 * t_s + 5.0 * t_s**2 / t_s[-1] + 0.1 * rng.standard_normal(len(t_s))
    z = np.array([innovation(t_s, angle, u_deg, k) for k in range(5, len(t_s))])
    assert np.std(z) == pytest.approx(1.0, abs=0.05)
    quiet = departures(t_s[:500], angle[:500], u_deg[:500])
    jumped = angle[:500].copy()
    jumped[250:] -= 2.0
    gaps = departures(t_s[:500], jumped, u_deg[:500])
    assert gaps[249]
    assert np.sum(gaps) < np.sum(quiet) + 30


def test_a_track_that_scatters_more_than_it_says_is_widened() -> None:
    rng = np.random.default_rng(6)
    t_s = np.arange(400) / 25
    angle = 20.0 * t_s + 0.3 * rng.standard_normal(400)
    assert widening(t_s, angle, np.full(400, 0.1)) == pytest.approx(3.0, rel=0.15)
    assert widening(t_s, angle, np.full(400, 0.6)) == 1.0
    track = track_of_angles("speed", np.arange(1200) / 250, np.zeros(1200), 0.1, 0.1)
    motion = motion_of(track, dial_of())
    assert len(motion.t_s) == pytest.approx(1200 * 60 / 250, abs=2)
