"""What happened in a sweep, and the part it points at."""

import re
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.sweep_cases import CASES, dial_of, sound

from needlewright.findings.event import Event
from needlewright.findings.sweep_events import find_events
from needlewright.findings.sweep_parts import judge_sweep, sweep_evidence
from needlewright.findings.sweep_passes import passes_of
from needlewright.findings.sweep_words import sweep_words
from needlewright.readings.track import track_of_angles
from needlewright.rehearsal.movement.watched import Watching

DIAL = dial_of()
FUEL = replace(dial_of(), id="fuel")
T_S = np.arange(0.0, 16.0, 1 / 30)
SWEPT = 110.0 * np.sin(2 * np.pi * T_S / 8.0 - np.pi / 2)  # four passes of four seconds


def track(dial=DIAL):
    return track_of_angles(dial.id, T_S, SWEPT, 0.05, 0.05)


def at(angle_deg: float, number: int) -> float:
    """When a pass comes to an angle."""
    rising = 2.0 + 4.0 * np.arcsin(angle_deg / 110.0) / np.pi
    return 4.0 * number + (rising if number % 2 == 0 else 4.0 - rising)


def judged(*events: Event, others: tuple[Event, ...] = ()):
    tracks = {"speed": track(), "fuel": track(FUEL)}
    found = judge_sweep((DIAL, FUEL), tracks, (*events, *others), frozenset({"speed"}))
    return next(one for one in found if one.dial == "speed")


def drags(*places: tuple[float, int]) -> list[Event]:
    return [Event(at(angle, n), "speed", "dragging", 4.0, 0.2) for angle, n in places]


def test_passes_are_what_lies_between_turns():
    passes = passes_of(track())
    assert [one.way for one in passes] == [1, -1, 1, -1]
    assert [round(one.begins_s) for one in passes] == [0, 4, 8, 12]
    assert passes[0].low_deg == pytest.approx(-110.0, abs=0.1)
    assert passes[0].high_deg == pytest.approx(110.0, abs=0.1)
    still = track_of_angles("speed", T_S, np.zeros(len(T_S)), 0.05, 0.05)
    assert passes_of(still) == ()


def test_held_at_the_same_angle_each_way_is_a_needle_that_touches():
    found = judged(*drags((43.0, 0), (44.0, 1), (42.5, 2), (43.5, 3)))
    assert (found.cause, found.seen, found.passes) == ("dragging", 4, 4)
    assert found.parts[0][0] == "needle"
    assert found.parts[0][1] > 0.8
    assert found.at_deg == pytest.approx(43.0, abs=1.5)
    assert "at about 43°" in found.words.replace("44°", "43°").replace("42°", "43°")
    uneven, sticks = sweep_evidence(found, "sweep.mp4")
    assert (uneven.finding, sticks.finding) == ("sweep_uneven", "sticks")
    assert uneven.part == sticks.part == "needle"
    # one look is one piece of evidence
    assert uneven.ratio * sticks.ratio == pytest.approx(100.0)


def test_held_anywhere_is_the_movement():
    found = judged(*drags((-70.0, 0), (20.0, 1), (60.0, 2), (-10.0, 3)))
    assert found.parts[0][0] == "movement"
    assert found.at_deg is None
    assert "at no one angle" in found.words


def test_steps_lost_with_other_needles_are_of_the_supply():
    times = (1.1, 6.3, 10.4)
    mine = [Event(t, "speed", "lost_steps", -4.0, 0.2) for t in times]
    alone = judged(*mine)
    theirs = tuple(Event(t + 0.03, "fuel", "lost_steps", -2.0, 0.2) for t in times)
    company = judged(*mine, others=theirs)
    assert alone.parts[0][0] == "movement"
    assert company.together
    assert company.parts[0][0] == "supply"
    assert "with other needles in the same instant" in company.words
    assert {one.finding for one in sweep_evidence(company, "x")} == {"sweep_uneven", "jumps"}
    assert {one.finding for one in sweep_evidence(alone, "x")} == {"sweep_uneven"}


def test_a_needle_that_never_moves_is_driver_or_movement():
    found = judged(Event(1.0, "speed", "stalled", -120.0, 0.1))
    assert found.parts[0][0] == "driver"
    assert {part for part, share in found.parts if share > 0.1} <= {"driver", "movement", "supply"}


@pytest.mark.parametrize(("angle_deg", "least"), [(118.0, 0.7), (30.0, 0.4)])
def test_a_block_at_an_end_is_rather_a_stop(angle_deg, least):
    events = [
        Event(at(min(angle_deg, 108.0), n), "speed", "blocked", angle_deg, 0.2) for n in (0, 2)
    ]
    found = judged(*events)
    assert found.parts[0][0] == "stop"
    assert found.parts[0][1] > least
    assert {one.finding for one in sweep_evidence(found, "x")} == {"sweep_uneven", "stops_short"}


def test_play_is_of_the_movement_and_no_unevenness():
    found = judged(Event(4.0, "speed", "backlash", 1.6, 0.1))
    assert found.parts[0][0] == "movement"
    (evidence,) = sweep_evidence(found, "x")
    assert (evidence.finding, evidence.size) == ("ways_differ", 1.6)


def test_a_quiet_sweep_speaks_against_and_a_needle_that_never_swept_says_nothing():
    quiet = judged()
    (evidence,) = sweep_evidence(quiet, "x")
    assert evidence.ratio == pytest.approx(0.1 / 0.98)
    still = track_of_angles("speed", T_S, np.zeros(len(T_S)), 0.05, 0.05)
    assert judge_sweep((DIAL,), {"speed": still}, ()) == ()


@pytest.mark.parametrize(
    ("kind", "parts"),
    [
        ("stalled (physics)", {"driver"}),
        ("blocked, stepper (physics)", {"stop"}),
        ("backlash (physics)", {"movement"}),
    ],
)
def test_what_the_physics_does_points_at_its_part(kind, parts):
    case = CASES[kind](Watching(60.0, 0.0, 0.0, 0.03, 0.0), np.random.default_rng(3))
    events = find_events(case.track, case.dial, case.command)
    (found,) = judge_sweep((case.dial,), {"speed": case.track}, events, frozenset({"speed"}))
    assert found.parts[0][0] in parts


def test_a_sound_sweep_of_the_physics_is_quiet():
    case = sound(Watching(60.0, 0.0, 0.0, 0.03, 0.0), np.random.default_rng(3), sweeps=1)
    events = find_events(case.track, case.dial, case.command)
    (found,) = judge_sweep((case.dial,), {"speed": case.track}, events, frozenset({"speed"}))
    assert (found.cause, found.parts) == (None, ())


@pytest.mark.parametrize(
    "shares", [(0.9, 0.07, 0.03), (0.8, 0.17, 0.03), (0.995, 0.005, 0.0), (0.5, 0.3, 0.2)]
)
def test_the_parts_in_words_add_up_to_all(shares) -> None:
    """What is too improbable to be named is said as another part."""
    parts = list(zip(("movement", "needle", "driver"), shares, strict=True))
    said = sweep_words("speed", "dragging", parts, None, (1, 4), together=False)
    percents = [int(one) for one in re.findall(r"\((\d+) %\)", said)]
    assert sum(percents) == 100
    assert ("another part" in said) == (sum(s for s in shares if s < 0.15) >= 0.01)
