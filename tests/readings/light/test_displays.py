"""Displays: where their segments are, which of them do not light, how bright they are."""

from dataclasses import replace

import numpy as np
import pytest

from needlewright.errors import FamilyError
from needlewright.families.displays import Display, displays_of
from needlewright.findings.lamps.signs import judge_signs
from needlewright.readings.light.displays import display_light, piece_lights, pieces_of
from needlewright.readings.light.laying import LaidLight
from readings.light.lit_demo import FAMILY

DISPLAY = Display("odo", (30.0, 20.0), (40.0, 12.0))
PX_PER_MM = 4.0


def laid(bars: dict[int, float], noise: float = 0.002) -> LaidLight:
    """Ten upright bars on black, each with a light of its own."""
    light = np.random.default_rng(1).normal(0.005, noise, (160, 240, 3)).clip(0).astype(np.float32)
    for bar, strength in bars.items():
        left = round((10.0 + 4.0 * bar + 0.8) * PX_PER_MM)
        light[round(16 * PX_PER_MM) : round(24 * PX_PER_MM), left : left + 10] += strength
    none = np.zeros(light.shape[:2], bool)
    return LaidLight(
        "drawn", light, ~none, light.max(axis=2) > 0.95, none, PX_PER_MM, 0.1, 0.0, None, (240, 160)
    )


ALL = dict.fromkeys(range(10), 0.5)


def test_what_a_healthy_unit_lights_must_light() -> None:
    healthy = laid(ALL)
    seen = laid({**dict.fromkeys(range(10), 0.2), 3: 0.0})
    pieces = pieces_of(DISPLAY, seen, healthy)
    known = {p.spot.id: p.light for p in piece_lights(healthy, DISPLAY, pieces)}
    states = judge_signs(piece_lights(seen, DISPLAY, pieces), "segment", healthy=known)
    third = {p.id for p in pieces if abs(p.centre_mm[0] - (10.0 + 4 * 3 + 2.05)) < 1.5}
    assert len(third) >= 4
    assert {state.id for state in states if state.dark > 0.9} == third
    assert max(state.dark for state in states if state.id not in third) < 0.01


def test_segments_that_the_family_states() -> None:
    raw = {
        "displays": [
            {
                "id": "odo",
                "centre_mm": [30, 20],
                "size_mm": [40, 12],
                "segments": [
                    {"id": f"bar-{n}", "centre_mm": [12.05 + 4 * n, 20], "reach_mm": 1}
                    for n in range(10)
                ],
            },
            {"id": "clock"},
        ]
    }
    (display,) = displays_of(replace(FAMILY, raw=raw))
    seen = laid({**ALL, 7: 0.0})
    states = judge_signs(piece_lights(seen, display, pieces_of(display, seen, None)), "segment")
    assert [state.id for state in states if state.dark > 0.9] == ["bar-7"]


@pytest.mark.parametrize(
    ("field", "given", "words"),
    [
        ("centre_mm", "left", "display 'odo', centre_mm: expected [x, y] in mm, found 'left'"),
        ("size_mm", [0, 4], "size_mm: expected two lengths above 0"),
        ("segments", "all", "segments: expected a list of objects, found 'all'"),
        ("segments", [{"id": "a"}], "segment 1: expected an object with centre_mm"),
        ("segments", [{"centre_mm": [1, 1], "reach_mm": -1}], "reach_mm: expected a length above"),
    ],
)
def test_a_display_that_is_none_is_one_sentence(field: str, given: object, words: str) -> None:
    raw = {"displays": [{"id": "odo", "centre_mm": [3, 2], "size_mm": [4, 1], field: given}]}
    with pytest.raises(FamilyError) as refused:
        displays_of(replace(FAMILY, raw=raw))
    assert words in str(refused.value)


def test_the_light_of_a_display() -> None:
    half, whole = (display_light(laid(dict.fromkeys(range(10), s)), DISPLAY) for s in (0.2, 0.4))
    assert whole.light == pytest.approx(0.4, rel=0.02)
    assert half.light / whole.light == pytest.approx(0.5, rel=0.02)
    assert display_light(laid({}), DISPLAY).why == "it shows nothing"
    assert display_light(laid(dict.fromkeys(range(10), 0.99)), DISPLAY).why == "overexposed"
    outside = Display("far", (100.0, 100.0), (4.0, 4.0))
    assert display_light(laid(ALL), outside).why == "out of the photo"
