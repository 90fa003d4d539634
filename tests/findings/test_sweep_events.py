"""Events in sweeps: rendered clips with exact truth, and needles turned by physics."""

import json
from pathlib import Path

import numpy as np
import pytest
import ruptures
from benchmarks.events import scored, sound_score
from benchmarks.sweep_cases import CASES, dial_of, fallen_back

from needlewright.families.model import Dial, Movement, Needle
from needlewright.families.scale import Scale
from needlewright.findings.commanded import followed
from needlewright.findings.event import Event
from needlewright.findings.motion import motion_of
from needlewright.findings.sound_kernel import dip_chi2
from needlewright.findings.sweep_events import find_events
from needlewright.readings.track import DialTrack, track_of_angles
from needlewright.rehearsal.movement.watched import Watching, watch

CLIPS = json.loads((Path(__file__).parents[1] / "data/sweeps/truth.json").read_text())
WITHIN_S, WITHIN_DEG = 0.15, 0.3


def clip_dials(name: str) -> dict[str, Dial]:
    found = {}
    for dial_id, facts in CLIPS[name]["dials"].items():
        first, last = facts["scale_deg"]
        found[dial_id] = Dial(
            id=dial_id,
            quantity="",
            unit="%",
            centre_mm=(0.0, 0.0),
            scale=Scale((0.0, 100.0), (first, last)),
            direction="cw" if facts["sense"] > 0 else "ccw",
            rest_angle_deg=facts["stop_deg"],
            rest_pin=True,
            needle=Needle(40.0, 10.0, 2.0, 1.0, 6.0, 3.0, 1.0),
            movement=Movement(cycle_deg=2.0),
        )
    return found


def clip_tracks(name: str, noise_deg: float, seed: int) -> dict[str, DialTrack]:
    rng = np.random.default_rng(seed)
    tracks = {}
    for dial_id, facts in CLIPS[name]["dials"].items():
        true = np.array(facts["angle_deg"])
        t_s = np.arange(len(true)) / CLIPS[name]["frames_hz"]
        read = watch(t_s, true, Watching(noise_deg=noise_deg), rng)
        tracks[dial_id] = track_of_angles(dial_id, t_s, read, noise_deg, noise_deg)
    return tracks


def agrees(event: Event, t_s: float, size_deg: float) -> bool:
    return abs(event.t_s - t_s) <= WITHIN_S and abs(event.size_deg - size_deg) <= WITHIN_DEG


@pytest.mark.parametrize("noise_deg", [0.01, 0.03, 0.08])
def test_every_slip_of_the_clip_and_nothing_else(noise_deg: float) -> None:
    dials = clip_dials("lost_steps")
    for seed in range(4):
        for dial_id, track in clip_tracks("lost_steps", noise_deg, seed).items():
            events = find_events(track, dials[dial_id])
            true = [e for e in CLIPS["lost_steps"]["events"] if e["dial"] == dial_id]
            assert [event.fault for event in events] == ["lost_steps"] * len(true)
            for event, truth in zip(events, true, strict=True):
                assert agrees(event, truth["t_s"], truth["slip_deg"])


@pytest.mark.parametrize("noise_deg", [0.01, 0.03, 0.08, 0.15])
def test_the_sound_clip_has_no_event(noise_deg: float) -> None:
    dials = clip_dials("sound")
    for seed in range(4):
        for dial_id, track in clip_tracks("sound", noise_deg, seed).items():
            assert find_events(track, dials[dial_id]) == ()


def test_ruptures_finds_the_same_change_points_offline() -> None:
    rng = np.random.default_rng(5)
    compared = 0
    for _ in range(6):
        case = fallen_back(Watching(noise_deg=0.05), rng)
        motion = motion_of(case.track, case.dial)
        above = case.dial.scale.sense * (case.command[1] - case.dial.stop_angle_deg)
        beside = followed(motion, case.command[0], above)
        used = np.flatnonzero(motion.angle_deg > 3.0)
        search = ruptures.Pelt(model="l2", min_size=3, jump=1).fit(beside.off_deg[used])
        changes = motion.t_s[used[[at for at in search.predict(pen=4.0) if at < len(used)]]]
        for event in find_events(case.track, case.dial, case.command):
            assert np.min(np.abs(changes - event.t_s)) < 0.1
            compared += 1
    assert compared >= 8


def test_minutes_of_sound_sweeps_have_no_event() -> None:
    for noise in ((0.03, 0.08), (0.1, 0.0), (0.15, 0.15)):
        for commanded in (False, True):
            score = sound_score(noise, 1.5, commanded, seed=11)
            assert score.watched_s >= 90.0
            assert score.false == 0


@pytest.mark.parametrize(
    ("kind", "commanded", "least"),
    [
        ("lost steps, smooth sweep", False, 0.9),
        ("lost steps, cut in", True, 1.0),
        ("lost steps, snag (physics)", True, 1.0),
        ("dragging, cut in", True, 1.0),
        ("dragging, air core (physics)", True, 1.0),
        ("blocked, stepper (physics)", True, 0.9),
        ("stalled (physics)", True, 1.0),
        ("backlash (physics)", True, 1.0),
    ],
)
def test_faults_are_found_with_time_and_size(kind: str, commanded: bool, least: float) -> None:
    score = scored(kind, (0.03, 0.0), 12, commanded, seed=23)
    assert score.happened >= 12
    assert score.found >= least * score.happened


def test_the_mirrored_dial_has_the_mirrored_event() -> None:
    case = CASES["lost steps, cut in"](Watching(), np.random.default_rng(3))
    events = find_events(case.track, case.dial)
    assert events
    turned = dial_of(sense=-case.dial.scale.sense, cycle_deg=case.dial.movement.cycle_deg)
    track = track_of_angles("speed", case.track.t_s, -case.track.angle_deg, 0.05, 0.05)
    assert [(e.t_s, -e.size_deg) for e in find_events(track, turned)] == [
        (e.t_s, e.size_deg) for e in events
    ]


def test_too_short_a_video_says_nothing() -> None:
    t_s = np.arange(5) / 25
    track = track_of_angles("speed", t_s, np.zeros(5), 0.1, 0.1)
    assert find_events(track, dial_of()) == ()
    hidden = track_of_angles("speed", np.arange(50) / 25, np.full(50, np.nan), 0.1, 0.1)
    assert find_events(hidden, dial_of()) == ()


def test_a_command_without_times_is_refused() -> None:
    t_s = np.arange(50) / 25
    track = track_of_angles("speed", t_s, np.zeros(50), 0.1, 0.1)
    with pytest.raises(ValueError, match="command of dial 'speed' has 1 times and 1 angles"):
        find_events(track, dial_of(), (t_s[:1], np.zeros(1)))


def test_a_hidden_stretch_does_not_make_a_slip() -> None:
    rng = np.random.default_rng(12)
    dials = clip_dials("sound")
    for begin in range(20, 130, 10):
        for dial_id, track in clip_tracks("sound", 0.05, begin).items():
            hidden = track.angle_deg.copy()
            hidden[begin : begin + int(rng.integers(1, 9))] = np.nan
            seen = track_of_angles(dial_id, track.t_s, hidden, 0.05, 0.05)
            assert find_events(seen, dials[dial_id]) == ()


def test_a_motor_that_brakes_rests_and_goes_on_fits_a_dip() -> None:
    """Against the kinematics: ramps of d s at a and r s between them lose a way a d (d + r)."""
    acceleration, ramp_s, slow_s = 3000.0, 0.0216, 0.0288
    t_s = np.arange(-6, 7) / 60
    fine_s = np.arange(-0.15, 0.15, 1e-5)
    away_s = np.abs(fine_s + 0.004)
    lost = acceleration * np.clip(slow_s / 2 + ramp_s - away_s, 0.0, ramp_s)
    way = 100.0 * fine_s - np.cumsum(lost) * 1e-5
    angle_deg = np.interp(t_s, fine_s, way)
    lost_deg = acceleration * ramp_s * (ramp_s + slow_s)
    asked = (t_s, angle_deg, np.full(13, 0.08), 5, 7, 6, 6, 2, -lost_deg)
    assert dip_chi2(*asked, 1.1 * acceleration) < 3.0
    assert dip_chi2(*asked, acceleration / 3) > 20.0


def test_a_needle_that_only_waits_for_its_command_has_found_no_level() -> None:
    """Held on the way up while the command goes on, rests and comes back: blocked, and no slip."""
    t_s = np.arange(150) / 25
    asked = 120.0 - 100.0 * np.cos(np.pi * np.clip((t_s - 0.5) / 2.0, 0.0, 1.0))
    asked = np.where(t_s > 3.5, 120.0 + 100.0 * np.cos(np.pi * np.clip(t_s - 3.5, 0, 1)), asked)
    rng = np.random.default_rng(3)
    stands = np.minimum(asked, 160.0) + rng.normal(0, 0.05, 150)
    dial = dial_of()
    track = track_of_angles("speed", t_s, dial.stop_angle_deg + stands, 0.05, 0.05)
    (event,) = find_events(track, dial, (t_s, dial.stop_angle_deg + asked))
    assert (event.fault, event.dial) == ("blocked", "speed")
    assert event.size_deg == pytest.approx(dial.stop_angle_deg + 160.0, abs=0.3)
