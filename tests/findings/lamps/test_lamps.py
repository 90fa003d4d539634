"""Zones, signs and hubs judged from figures, by hand."""

from math import erf, exp, log, pi, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.findings.lamps.evidence import FINDINGS, sign_evidence, zone_evidence
from needlewright.findings.lamps.halo import halo_probability
from needlewright.findings.lamps.rates import MOST, held, odds_ratio
from needlewright.findings.lamps.signs import SignState, dark_probability, judge_signs
from needlewright.findings.lamps.zones import judge_zones, state_probabilities
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.readings.light.spots import Spot, SpotLight
from needlewright.readings.light.zone_light import FaceLight, Share, ZoneLight
from needlewright.readings.light.zones import Zone

PLACES = {1: (30.0, 60.0), 2: (150.0, 60.0), 3: (270.0, 60.0)}


def zone(number: int, light: float | None, u: float = 0.03, mirror: Share | None = None):
    why = None if light is not None else "overexposed"
    other = {1: 3, 2: None, 3: 1}[number]
    at = Zone(number, f"lamp-{number}", f"lamp-{number}", PLACES[number], other)
    return ZoneLight(at, light, None if light is None else u, why, 40, 0.0, 0.0, mirror)


def face(*zones: ZoneLight, reference="healthy") -> FaceLight:
    return FaceLight(zones, reference, "cancelled", 1.0, 0.02)


def test_a_zone_by_hand() -> None:
    """Bayes' rule with a normal, and two flats blurred by the uncertainty."""

    def below(end: float) -> float:
        return 0.5 * (1 + erf((end - 0.8) / (0.05 * sqrt(2))))

    wide = sqrt(0.1**2 + 0.05**2)
    sound = 0.85 * exp(-0.5 * (0.2 / wide) ** 2) / (wide * sqrt(2 * pi))
    dim = 0.10 * (below(0.85) - below(0.2)) / 0.65
    dark = 0.05 * (below(0.35) - below(0.0)) / 0.35
    found = state_probabilities(0.8, 0.05)
    assert found["sound"] == pytest.approx(sound / (sound + dim + dark), rel=1e-6)
    assert found["dim"] == pytest.approx(dim / (sound + dim + dark), rel=1e-6)


@given(st.floats(0.0, 3.0), st.floats(0.001, 0.4))
def test_probabilities_sum_to_one(light: float, u: float) -> None:
    found = state_probabilities(light, u)
    assert sum(found.values()) == pytest.approx(1.0)
    assert all(0 <= p <= 1 for p in found.values())


@pytest.mark.parametrize(
    ("light", "state"),
    [(0.02, "dark"), (0.1, "dark"), (0.5, "dim"), (0.97, "sound"), (1.4, "sound")],
)
def test_states(light: float, state: str) -> None:
    judged = judge_zones(face(zone(1, light), zone(2, 1.0), zone(3, 1.0)))
    assert judged.zones[0].state == state
    assert judged.zones[2].state == "sound"


def test_a_sound_zone_beside_a_dark_one_may_miss_its_light() -> None:
    alone = judge_zones(face(zone(1, 1.0), zone(2, 0.72), zone(3, 1.0))).zones[1]
    beside = judge_zones(face(zone(1, 0.02), zone(2, 0.72), zone(3, 1.0))).zones[1]
    assert alone.state == "dim"
    assert beside.state == "sound"


def test_without_a_healthy_picture_the_mirror_image_decides() -> None:
    mirrored = zone(1, 0.80, 0.12, Share(0.55, 0.04))
    judged = judge_zones(face(mirrored, zone(2, 1.0), zone(3, 1.0), reference="print")).zones[0]
    assert (judged.against, judged.state) == ("mirror", "dim")
    both_dim = face(
        zone(1, 0.5, 0.06, Share(0.97, 0.05)),
        zone(2, 1.0),
        zone(3, 0.52, 0.06, Share(1.03, 0.05)),
        reference="print",
    )
    assert [one.state for one in judge_zones(both_dim).zones] == ["dim", "sound", "dim"]
    with_healthy = judge_zones(face(mirrored, zone(2, 1.0), zone(3, 1.0))).zones[0]
    assert with_healthy.against == "brightest"


def test_evidence_of_zones() -> None:
    dark = judge_zones(face(zone(1, 0.03), zone(2, 1.0), zone(3, None)))
    found = {one.finding: one for one in zone_evidence(dark, "a.png")}
    assert found["lamp_check_dark"].ratio == MOST["dark"][0]
    assert found["lamp_check_dark"].size == 0.03
    assert "zone 1 (lamp-1) has 3 ± 6 %" in found["lamp_check_dark"].words
    assert found["lamp_check_dim"].ratio < 1
    sound = judge_zones(face(zone(1, 1.0), zone(2, 1.0), zone(3, 0.98)))
    assert [one.ratio for one in zone_evidence(sound, "a.png")] == [
        pytest.approx(1 / MOST[state][1]) for state in ("dark", "dim")
    ]
    assert {one.finding for one in zone_evidence(sound, "a.png", "vehicle")} == {
        "zone_dark",
        "lights_weak",
    }
    assert zone_evidence(judge_zones(face(zone(1, 1.0), zone(2, None), zone(3, None))), "a") == ()


def test_every_finding_is_one_of_the_knowledge_file() -> None:
    known = load_knowledge().findings
    names = known if isinstance(known, dict) else {one.id for one in known}
    for place in FINDINGS.values():
        assert set(place.values()) <= set(names)


def test_ratios_by_hand() -> None:
    assert odds_ratio(0.9, 0.1) == pytest.approx(81.0)
    assert odds_ratio(0.1, 0.1) == pytest.approx(1.0)
    assert held("dark", 1e9) == MOST["dark"][0]
    assert held("dark", 1e-9) == pytest.approx(1 / MOST["dark"][1])


def seen(name: str, light: float | None, u: float = 0.001, why: str | None = None) -> SpotLight:
    return SpotLight(Spot(name, (0.0, 0.0), 2.0), light, None if light is None else u, why)


def test_a_sign_by_hand() -> None:
    wide = sqrt(0.015**2 + 0.01**2)
    dark = exp(-0.5 * (0.05 / wide) ** 2) / (wide * sqrt(2 * pi)) + 1e-4
    off = log(0.05 / 0.7) / 0.8
    lit = exp(-0.5 * off**2) / (0.05 * 0.8 * sqrt(2 * pi)) + 1e-4
    expected = 0.03 * dark / (0.03 * dark + 0.97 * lit)
    assert dark_probability(0.05, 0.01) == pytest.approx(expected)


def test_signs_of_one_photo() -> None:
    states = judge_signs(
        [
            seen("a", 0.5),
            seen("b", 0.001),
            seen("c", 0.04),
            seen("d", None, why="out of the photo"),
        ],
        "tell_tale",
    )
    dark = {state.id: state.dark for state in states}
    assert dark["a"] < 0.001
    assert dark["b"] > 0.9
    assert dark["c"] < 0.9  # faint, and so not surely dark
    assert dark["d"] is None
    (evidence,) = sign_evidence(states, "x.png")
    assert evidence.finding == "tell_tale_check"
    assert evidence.ratio > 10
    assert evidence.words == "dark of 3 tell-tales: b (over 99 %)"


def test_all_signs_that_light_speak_against_a_dead_one() -> None:
    states = [SignState(f"s{n}", "tell_tale", 1e-4, 1.0, 0.01, None) for n in range(3)]
    (evidence,) = sign_evidence(states, "x.png", "vehicle")
    assert evidence.finding == "tell_tale_missing"
    assert evidence.ratio == pytest.approx(1 / MOST["sign"][1])


def test_against_a_healthy_unit_signs_may_be_of_any_brightness() -> None:
    healthy = {"a": 0.9, "b": 0.02, "c": 0.5}
    states = judge_signs(
        [seen("a", 0.45), seen("b", 0.01), seen("c", 0.001)], "segment", healthy=healthy
    )
    dark = {state.id: state.dark for state in states}
    assert max(dark["a"], dark["b"]) < 0.05
    assert dark["c"] > 0.9


def test_a_halo_by_hand() -> None:
    wide = sqrt(0.015**2 + 0.004**2)
    none = exp(-0.5 * (0.05 / wide) ** 2) / (wide * sqrt(2 * pi))
    expected = 0.03 / 1.5 / (0.03 / 1.5 + 0.97 * none)
    assert halo_probability(0.05, 0.004) == pytest.approx(expected)
    assert halo_probability(0.3, 0.01) > 0.99
    assert halo_probability(0.0, 0.004) < 0.01
