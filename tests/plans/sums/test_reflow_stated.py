"""Limits that a paste's data sheet states, in the place of the standard's."""

from xml.etree import ElementTree

import numpy as np
import pytest

from needlewright.composing.sums import answer_document
from needlewright.composing.sums_drawn.solder import reflow as drawn
from needlewright.errors import SumError
from needlewright.plans.sums.catalogue import sum_named
from needlewright.plans.sums.model import Amount
from needlewright.plans.sums.reflow_limits import LIMITS
from needlewright.plans.sums.reflow_stated import INPUTS, limits_of
from needlewright.plans.sums.typed import work_out

KNOTS = ((0, 25), (62, 149), (66, 152), (156, 198), (160, 202), (180, 217), (200, 240), (220, 240),
         (270, 217), (330, 60))  # fmt: skip
TIMES = np.arange(0.0, 331.0)
TABLE = "time_s,board_c\n" + "".join(
    f"{t:g},{c:.6f}\n"
    for t, c in zip(TIMES, np.interp(TIMES, *zip(*KNOTS, strict=True)), strict=True)
)
# What a maker of modules prints for a paste of SAC305 (seen): climb 1 to 3 K/s, 60 to 120 s from
# 150 to 200 degC, 50 to 70 s above 217 degC, peak 235 to 245 degC, fall 1 to 4 K/s.
PRINTED = {
    "paste-climb": "3", "paste-soak-from": "150", "paste-soak-to": "200", "paste-soak-least": "60",
    "paste-soak-most": "120", "paste-above-least": "50", "paste-above-most": "70",
    "paste-peak-least": "235", "paste-peak-most": "245", "paste-fall": "4",
}  # fmt: skip


def worked(**typed: str):
    names = {name.replace("_", "-"): value for name, value in typed.items()}
    return work_out(
        sum_named("reflow"), {"csv": TABLE, "thermocouple": "none", "logger": "0"} | names
    )


def by_what(answered):
    return {one.what: one for one in answered.result.held}


def test_a_profile_that_keeps_the_standard_is_held_to_a_tighter_paste():
    assert worked().told.figures[0].said == "conforms"
    answered = work_out(
        sum_named("reflow"), {"csv": TABLE, "thermocouple": "none", "logger": "0"} | PRINTED
    )
    assert answered.told.figures[0].said == "does not conform"
    (judged,) = answered.told.judged
    assert judged.words == (
        "1. board, above 217 °C: does not conform; 90.0 s, 50 to 70 s, the paste's."
    )
    codes = {what: one.code for what, one in by_what(answered).items()}
    assert codes == dict.fromkeys(codes, "pass") | {"above": "fail"}


def test_the_soak_of_a_paste_is_measured_between_its_own_temperatures():
    soak = by_what(worked(paste_soak_to="180", paste_soak_most="60"))["soak"]
    # 150 degC on the line from (62, 149) to (66, 152), 180 on that from (66, 152) to (156, 198)
    assert soak.value == pytest.approx(66 + 28 * 90 / 46 - (62 + 4 / 3), abs=0.01)
    assert (soak.limits, soak.code) == ((None, 60.0), "pass")
    slow = worked(paste_soak_to="180", paste_soak_most="50")
    assert slow.told.judged[0].words == (
        "1. board, soak, 150 to 180 °C: does not conform; 57.4 s, at most 50 s, the paste's."
    )


def test_another_liquidus_is_the_level_of_its_time():
    above = by_what(worked(paste_liquidus="138", paste_above_most="300"))["above"]
    up = 62 * (138 - 25) / (149 - 25)
    down = 270 + 60 * (217 - 138) / (217 - 60)
    assert above.value == pytest.approx(down - up, abs=0.01)
    assert above.limits == (60.0, 300.0)


@pytest.mark.parametrize(
    ("name", "typed", "what", "limits", "whose"),
    [
        ("paste-climb", "1,5", "ramp", (None, 1.5), (None, "paste")),
        ("paste-climb", "90 °C/min", "ramp", (None, 1.5), (None, "paste")),
        ("paste-fall", "2.5 K/s", "cool", (None, 2.5), (None, "paste")),
        ("paste-rise", "3,5 min", "rise", (None, 210.0), (None, "paste")),
        ("paste-soak-least", "90", "soak", (90.0, 120.0), ("paste", "standard")),
        ("paste-soak-most", "80", "soak", (60.0, 80.0), ("standard", "paste")),
        ("paste-above-least", "40", "above", (40.0, 150.0), ("paste", "standard")),
        ("paste-above-most", "80", "above", (60.0, 80.0), ("standard", "paste")),
        ("paste-peak-least", "235", "peak", (235.0, None), ("paste", None)),
        ("paste-peak-most", "473 °F", "peak", (None, 245.0), (None, "paste")),
        ("peak-most", "245", "peak", (None, 245.0), (None, "part")),
    ],
)
def test_one_limit_stated_leaves_the_others_the_standards(name, typed, what, limits, whose):
    held = worked(**{name.replace("-", "_"): typed}).result.limits
    assert held.of(what) == (limits[0], pytest.approx(limits[1]) if limits[1] else None)
    assert held.whose(what) == whose
    for other in ("ramp", "soak", "above", "rise", "cool"):
        if other != what:
            assert held.of(other) == LIMITS["lead-free"].of(other)
            assert set(held.whose(other)) <= {None, "standard"}


def test_the_narrower_peak_of_paste_and_part_is_held_and_each_side_says_whose():
    answered = worked(paste_peak_least="235", paste_peak_most="250", peak_most="238")
    held = by_what(answered)["peak"]
    assert (held.limits, held.code) == ((235.0, 238.0), "fail")
    assert answered.told.judged[0].words == (
        "1. board, peak: does not conform; 240.0 °C, at least 235 °C, the paste's, at most 238 °C, "
        "the part's."
    )
    # on the drawing there is room for the side that is passed
    marks = [one.text for one in ElementTree.fromstring(drawn(answered.result)).iter() if one.text]
    assert "board: peak 240.0 °C, ≤ 238 °C (part)" in marks
    low = worked(paste_peak_least="245", peak_most="250")
    marks = [one.text for one in ElementTree.fromstring(drawn(low.result)).iter() if one.text]
    assert "board: peak 240.0 °C, ≥ 245 °C (paste)" in marks


def test_the_drawing_has_every_limit_with_whose_it_is():
    answered = work_out(sum_named("reflow"), {"csv": TABLE} | PRINTED | {"paste-fall": ""})
    said = " ".join(
        one.text for one in ElementTree.fromstring(drawn(answered.result)).iter() if one.text
    )
    for words in (
        "soak 150 to 200 °C, 60–120 s (paste)", "above 217 °C 50–70 s (paste)",
        "peak 235–245 °C (paste)", "to the peak ≤ 480 s (standard)", "climb ≤ 3 K/s (paste)",
        "fall ≤ 6 K/s (standard)", "≥ 235", "≤ 245", "liquidus 217",
    ):  # fmt: skip
        assert words in said, words


def test_programs_are_told_whose_limits_a_figure_was_held_to():
    document = answer_document(worked(paste_above_most="70"))
    held = {one["name"]: one["held_to"] for one in document["figures"]}
    assert held["verdict"] is None
    assert held["above_1"] == {"low": 60.0, "high": 70.0, "low_of": "standard", "high_of": "paste"}
    assert held["peak_1"] == {"low": None, "high": None, "low_of": "", "high_of": ""}


def test_what_a_paste_allows_beyond_what_parts_are_tested_to_is_told():
    notes = worked(paste_climb="4", paste_above_most="180", paste_soak_to="190",
                   paste_soak_most="200").told.notes  # fmt: skip
    said = next(one for one in notes if "than parts are tested to" in one)
    # J-STD-020 by its printed table: climb at most 3 K/s, at most 150 s above the liquidus
    assert "(climb 4 K/s, tested to 3 K/s; above the liquidus 180 s, tested to 150 s)" in said
    assert not any("tested to by" in one for one in worked(paste_climb="2").told.notes)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (
            {"paste_soak_to": "180"},
            "Soak takes at most: a soak from 150 to 180 °C needs its own time, and the standard's "
            "is that from 150 to 200 °C; give how long it takes at least, at most, or both",
        ),
        (
            {"paste_soak_from": "210", "paste_soak_most": "60"},
            "Soak from: the soak runs from 210 to 200 °C; it has to end warmer than it begins, so "
            "give both",
        ),
        (
            {"paste_above_least": "160"},
            "Above the liquidus at least: at least 160 s (the paste's) and at most 150 s (the "
            "standard's) cannot both be kept; correct one of them",
        ),
        (
            {"paste_above_most": "50"},
            "Above the liquidus at most: at least 60 s (the standard's) and at most 50 s (the "
            "paste's) cannot both be kept; correct one of them",
        ),
        (
            {"paste_peak_least": "245", "peak_most": "240"},
            "Peak of the paste at least: at least 245 °C (the paste's) and at most 240 °C (the "
            "part's) cannot both be kept; correct one of them",
        ),
        (
            {"peak_least": "245", "peak_most": "240"},
            "Peak of the part at least: at least 245 °C (the part's) and at most 240 °C (the "
            "part's) cannot both be kept; correct one of them",
        ),
        (
            {"paste_climb": "2 V"},
            "Climb at most: 'V' is not a unit of climb of a temperature; use one of: K/s, K/min",
        ),
    ],
)
def test_limits_that_cannot_be_kept_are_said_in_a_sentence(typed, sentence):
    with pytest.raises(SumError) as raised:
        worked(**typed)
    assert str(raised.value) == sentence


def test_every_input_of_the_paste_states_something_and_nothing_is_the_standards():
    which = sum_named("reflow")
    asked = [one for one in which.inputs if isinstance(one, Amount) and one.group]
    assert [one.name for one in asked] == list(INPUTS)
    assert all(one.default is None for one in asked)
    for alloy, standard in LIMITS.items():
        assert limits_of(alloy, (None, None), lambda name: None) == standard
