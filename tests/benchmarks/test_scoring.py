"""The benchmark's own arithmetic, on cases made by hand."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from benchmarks.photo_set import all_shots, crossed_shots, family_folder, needles_of
from benchmarks.scoring import (
    Needle,
    Row,
    allowed_misses,
    duty_of,
    error_by_length,
    is_benign,
    is_clear,
    length_class,
    missed_intervals,
    misses_when_widened,
    project,
    summary,
    upper_bound,
    visible_length_px,
    widening_for_coverage,
)

from needlewright.families.folder import load_family

DATA = Path(__file__).parents[1] / "data"
NEEDLE = Needle("fam-a", "001", "speed", ("straight-on",), "read", "", 10.0, 100.0)


def said(angle_deg: float | None, u_deg: float | None = 0.1, **changes: object) -> Needle:
    return replace(NEEDLE, angle_deg=angle_deg, u_deg=u_deg, **changes)  # type: ignore[arg-type]


def photo(fraction: float = 1.0, tip: tuple[float, float] = (400, 300), **more: object) -> Row:
    truth = {"needle_visible_fraction": fraction, "tip_px": list(tip), "true_angle_deg": 10.0}
    camera = {"width": 1600, "height": 1067}
    return {"camera": camera, "dials": {"speed": truth}, "refuse": None, **more}


def test_clear_needs_both_visibility_and_the_tip() -> None:
    def clear(fraction: float, tip: tuple[float, float]) -> bool:
        return is_clear({"needle_visible_fraction": fraction, "tip_px": tip}, 1600, 1067)

    assert clear(0.85, (0, 0))
    assert not clear(0.84, (400, 300))
    assert not clear(1.0, (-0.5, 300))
    assert not clear(1.0, (400, 1066.5))


@pytest.mark.parametrize(
    ("entry", "expected"),
    [
        (photo(), ("read", "")),
        (photo(0.5), ("either", "partly covered")),
        (photo(0.0), ("refuse", "wholly covered")),
        (photo(0.0, (-50, 300)), ("refuse", "out of frame")),
        (photo(0.6, (-50, 300)), ("either", "out of frame")),
        (photo(refuse="too blurred"), ("either", "too blurred")),
        (photo(refuse="too dark"), ("either", "too dark")),
        (photo(refuse="wrong cluster family"), ("refuse", "wrong cluster family")),
        (photo(refuse="needle missing", refuse_dials=["speed"]), ("refuse", "needle missing")),
        (photo(refuse="needle missing", refuse_dials=["fuel"]), ("read", "")),
    ],
)
def test_what_is_right_for_a_dial(entry: Row, expected: tuple[str, str]) -> None:
    assert duty_of(entry, "speed") == expected


def test_errors_lie_within_half_a_turn() -> None:
    assert said(10.3).error_deg == pytest.approx(0.3)
    assert said(369.9).error_deg == pytest.approx(-0.1)
    assert said(-349.0, truth_deg=10.5).error_deg == pytest.approx(0.5)
    assert said(None).error_deg is None


@pytest.mark.parametrize(
    ("needle", "silent", "right"),
    [
        (said(10.9), False, True),
        (said(11.1), True, False),
        (said(None), False, False),
        (said(10.9, duty="either"), False, True),
        (said(11.1, duty="either"), True, False),
        (said(None, duty="either"), False, True),
        (said(10.0, duty="refuse"), False, False),
        (said(None, duty="refuse"), False, True),
        (said(10.0, duty="refuse", truth_deg=None), True, False),
    ],
)
def test_silent_errors_and_right_refusals(needle: Needle, silent: bool, right: bool) -> None:
    assert needle.silent is silent
    assert needle.handled_rightly is right


def test_benign_conditions() -> None:
    assert is_benign(["straight-on"])
    assert is_benign(["rolled", "warm-white-balance"])
    assert is_benign(["far", "at-rest", "past-full-scale"])
    assert not is_benign(["tilt-10-20", "glare"])
    assert not is_benign(["close-crop"])
    assert not is_benign(["below-zero"])


def test_a_summary_counted_by_hand() -> None:
    needles = [said(10.0 + error, 0.1) for error in (0.0, 0.1, -0.1, 0.3, 2.0)] + [
        said(None),
        said(10.05, duty="either"),
        said(None, duty="refuse"),
    ]
    s = summary(needles)
    assert (s["clear"], s["read"], s["accepted"]) == (6, 5, 6)
    assert s["read_share"] == pytest.approx(5 / 6)
    assert s["median_deg"] == pytest.approx(0.1)
    assert s["max_deg"] == pytest.approx(2.0)
    assert s["silent"] == 1
    assert (s["misses"], s["judged"]) == (2, 6)


def test_a_summary_of_nothing() -> None:
    s = summary([])
    assert s["read_share"] is None
    assert s["median_deg"] is None
    assert s["silent_bound"] is None


def test_allowed_misses_are_the_central_99_percent() -> None:
    # of a binomial distribution of 130 at 0.05, summed here term by term
    probabilities = [1.0 * 0.95**130]
    for k in range(130):
        probabilities.append(probabilities[-1] * (130 - k) / (k + 1) * 0.05 / 0.95)
    cumulative = np.cumsum(probabilities)
    low, high = int(np.argmax(cumulative >= 0.005)), int(np.argmax(cumulative >= 0.995))
    assert allowed_misses(130) == (low, high) == (1, 14)
    assert allowed_misses(0) == (0, 0)


def test_the_clopper_pearson_bound() -> None:
    # none in n: 1 - 0.025 ** (1 / n); all in n: 1
    assert upper_bound(0, 100) == pytest.approx(1 - 0.025 ** (1 / 100))
    assert upper_bound(3, 3) == pytest.approx(1.0)
    assert upper_bound(0, 0) is None


def test_widening_restores_coverage() -> None:
    needles = [said(10.0 + 0.01 * i, 0.1) for i in range(101)]
    assert missed_intervals(needles) == (81, 101)
    factor = widening_for_coverage(needles)
    assert factor == pytest.approx(0.95 / 0.1959964)
    assert misses_when_widened(needles, factor) == (5, 101)
    assert widening_for_coverage([said(None)]) is None


def test_classes_of_length() -> None:
    assert length_class(said(None, visible_px=49.9)) == "below 50 px"
    assert length_class(said(None, visible_px=50.0)) == "below 75 px"
    assert length_class(said(None, visible_px=400.0)) == "250 px and more"
    assert length_class(said(None, visible_px=None)) == "no needle"
    assert error_by_length([said(10.2, visible_px=50.0), said(None)]) == pytest.approx(10.0)


@pytest.mark.parametrize("family", ["fam-a", "fam-b", "fam-c", "fam-d"])
def test_the_projection_meets_every_stated_tip(family: str) -> None:
    """The stated pixel of each tip is that of the middle of its top edge, to 0.01 px."""
    known = load_family(family_folder(family))
    truth = json.loads((DATA / "photos" / family / "truth.json").read_text())
    worst = 0.0
    for entry in truth["photos"]:
        for dial in known.dials:
            stated = entry["dials"][dial.id]
            angle = np.radians(stated["true_angle_deg"])
            length = dial.needle.length_mm
            tip = [
                dial.centre_mm[0] + length * np.sin(angle),
                dial.centre_mm[1] - length * np.cos(angle),
                dial.needle.height_mm,
            ]
            off = project(entry, np.array([tip]))[0] - stated["tip_px"]
            worst = max(worst, float(np.abs(off).max()))
    assert worst < 0.02


def test_visible_length_of_a_known_needle() -> None:
    """Straight above the needle at 100 mm with f = 1000 px, h = 3 mm: 1000 / 97 px per mm."""
    dial = load_family(family_folder("fam-a")).dials[0]
    x, y = dial.centre_mm
    entry = {
        "pose_world_to_camera": [[1, 0, 0, -x], [0, 1, 0, -y], [0, 0, -1, 100]],
        "camera": {"fx": 1000, "fy": 1000, "cx": 800, "cy": 533, "k1": 0.0},
    }
    length_mm = dial.needle.length_mm - dial.needle.hub_radius_mm
    expected = length_mm * 1000 / (100 - dial.needle.height_mm)
    assert visible_length_px(entry, dial, 37.0) == pytest.approx(expected)


def test_the_set_is_whole() -> None:
    shots = all_shots()
    assert len(shots) == 43
    assert len(crossed_shots()) == 24
    needles = [
        needle
        for shot in shots
        for needle in needles_of(shot, load_family(family_folder(shot.family)))
    ]
    duties = {duty: sum(n.duty == duty for n in needles) for duty in ("read", "either", "refuse")}
    assert duties == {"read": 139, "either": 7, "refuse": 15}
