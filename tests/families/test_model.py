from pathlib import Path

import pytest

from families.places import FAMILIES, plain, put
from needlewright.errors import ScaleError
from needlewright.families.folder import load_family
from needlewright.families.model import Dial, Programme


def job(dial_id: str) -> Dial:
    dial = load_family(FAMILIES / "fam-job").dial(dial_id)
    assert dial is not None
    return dial


def test_programme_of_the_drawn_speedometer() -> None:
    """Two per cent and 1.5 km/h more than the true speed, and nothing at zero."""
    programme = job("speed").programme
    assert programme.shown_at(0) == 0
    for true in (20, 50, 100, 220):
        assert programme.shown_at(true) == pytest.approx(1.02 * true + 1.5, abs=1e-4)


def test_programme_stands_on_top_of_the_scale() -> None:
    speed = job("speed")
    # 103.5 km/h lies 3.5/20 of the way from the mark of 100 to that of 120
    assert speed.programme_angle_deg(100) == pytest.approx(-6.286 + 3.5 / 20 * 20.807, abs=1e-3)
    engine = job("engine")
    assert engine.programme_angle_deg(3) == pytest.approx(-32.452)


def test_no_programme_shows_the_true_value() -> None:
    assert Programme().shown_at(17.25) == 17.25


def test_programme_continues_its_end_slopes() -> None:
    programme = Programme((10, 20, 40), (12, 22, 62))
    assert programme.shown_at(0) == 2
    assert programme.shown_at(50) == 82


def test_a_flat_stretch_of_a_programme_is_followed() -> None:
    steady = Programme((60, 80, 105, 120), (60, 90, 90, 120))
    assert [steady.shown_at(t) for t in (80, 93, 105, 112.5)] == [90, 90, 90, 105]


def test_beyond_the_reach_the_sentence_names_the_dial() -> None:
    with pytest.raises(ScaleError, match=r"^dial 'speed' told 400 km/h shows 409\.\d+: value 409"):
        job("speed").programme_angle_deg(400)


@pytest.mark.parametrize(
    ("dial_id", "stop_deg"),
    [
        ("engine", -134.75),  # inside the movement, clockwise: two degrees less
        ("temp", 134.928),  # inside the movement, anticlockwise: two degrees more
        ("fuel", 146.593),  # the pin itself
    ],
)
def test_stop_angle(dial_id: str, stop_deg: float) -> None:
    assert job(dial_id).stop_angle_deg == pytest.approx(stop_deg)


def test_the_scale_reaches_a_far_stop(tmp_path: Path) -> None:
    document = plain()
    document["dials"][0].update(
        rest_angle_deg=-155, rest_pin=False, movement={"stop_below_deg": 10}
    )
    dial = load_family(put(tmp_path, document)).dials[0]
    assert dial.stop_angle_deg == -165
    assert dial.scale.reaches_angle(-165)
    # 45 degrees below the first mark, at 50 km/h for 70 degrees
    assert dial.scale.value_at(-165) == pytest.approx(-45 * 50 / 70)
    assert dial.scale.beyond_deg == 50


def test_a_rest_on_the_scale_does_not_stretch_its_reach(tmp_path: Path) -> None:
    document = plain()
    document["dials"][0]["rest_angle_deg"] = 0
    assert load_family(put(tmp_path, document)).dials[0].scale.beyond_deg == 20


def test_rest_target_as_the_family_says(tmp_path: Path) -> None:
    document = plain()
    assert load_family(put(tmp_path, document)).dials[0].rest_target_deg == -126
    document["dials"][0]["rest_mark"] = "first_mark"
    assert load_family(put(tmp_path, document)).dials[0].rest_target_deg == -120


def test_graduation_or_the_smallest_step(tmp_path: Path) -> None:
    document = plain()
    document["dials"][0]["graduation"] = 10
    speed, fuel = load_family(put(tmp_path, document)).dials
    assert (speed.graduation_or_step, fuel.graduation_or_step) == (10, 1)


def test_needle_figures() -> None:
    needle = job("speed").needle
    assert needle.width_at(0) == 2.96
    assert needle.width_at(45.09) == pytest.approx(1.39)
    assert needle.width_at(-11.16) == pytest.approx(2.96 - 1.57 * 11.16 / 45.09)
    # 1.39 mm at 45.09 mm is 1.7663 degrees
    assert job("speed").tip_widths(1.7663) == pytest.approx(1, abs=1e-4)


def test_which_dial_is_the_speedometer() -> None:
    for name, ids in (("fam-c", ["speed"]), ("fam-job", ["speed"])):
        family = load_family(FAMILIES / name)
        assert [dial.id for dial in family.dials if dial.is_speedometer] == ids
    assert load_family(FAMILIES / "fam-a").dial("clock") is None
