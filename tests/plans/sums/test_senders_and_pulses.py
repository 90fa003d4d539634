"""Senders, thermistors and pulses: what must hold whatever the numbers."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.errors import SumError
from needlewright.plans.sums.catalogue import sum_named
from needlewright.plans.sums.pulse_constant import LOADED_SHARE, pulse_constant, way_of_tyre
from needlewright.plans.sums.sender_substitute import substitutes
from needlewright.plans.sums.typed import work_out
from needlewright.signals.line_table import LineTable
from needlewright.signals.resistance import SENDER_PAIRS
from needlewright.signals.tyres import Tyre, pulses_a_km

FIVE = (0.0, 25.0, 50.0, 75.0, 100.0)


def told(name: str, **typed: str):
    return work_out(sum_named(name), {k.replace("_", "-"): v for k, v in typed.items()}).told


@pytest.mark.parametrize("pair", SENDER_PAIRS)
@pytest.mark.parametrize("series", ["E24", "E96"])
def test_resistors_make_what_is_wanted_for_every_pair(pair, series):
    found = substitutes(
        LineTable((0.0, 100.0), pair), FIVE, series, one_only=False, gauge_share=0.05
    )
    for one in found.points:
        assert one.least <= one.shows <= one.most
        if one.joined == "wire":
            assert one.wanted_ohm == 0.0
            continue
        made = sum(one.resistors)
        if one.joined == "parallel":
            made = 1 / sum(1 / each for each in one.resistors)
        assert one.ohm == pytest.approx(made, rel=1e-12)
        assert one.ohm == pytest.approx(one.wanted_ohm, rel=0.012)
        assert one.shows == pytest.approx(one.value, abs=1.3)


def test_a_single_resistor_is_further_off_than_two():
    def worst(made_of: str) -> float:
        points = told("sender-substitute", series="E24", made_of=made_of).figures[5:10]
        return max(abs(one.value - at) for one, at in zip(points, FIVE, strict=True))

    # the worst of the five is 188.25 ohm, which of E24 alone is 180
    assert worst("one") == pytest.approx(100 * 8.25 / 207, rel=1e-9)
    assert worst("two") < 0.3


def test_a_coarse_substitute_is_said_not_to_be_fine_enough():
    judged = told("sender-substitute", series="E24", gauge_error="5").judged[0]
    assert judged.result == "bad"
    assert told("sender-substitute", series="E96", gauge_error="5").judged[0].result == "good"


@pytest.mark.parametrize(
    ("points", "sentence"),
    [
        ("0,10\n", "Gauge points: expected 2 to 24 rows such as shows,ohm, found 1"),
        ("0,10\n1,x\n", "Gauge points, row 2: expected two numbers, shows and ohm, found '1,x'"),
        ("0,10\n1,5,6\n", "Gauge points, row 2: expected two numbers"),
        ("1,10\n0,20\n", "Gauge points: 0 comes after 1; put what the gauge shows in rising order"),
        ("0,10\n1,20\n2,15\n", "must rise all the way or fall all the way; found 10, 20, 15 ohm"),
        ("0,-10\n1,20\n", "a resistance is out of 0 to 1\u202f000\u202f000 ohm"),
        ("shows,ohm\n", "found 0"),
    ],
)
def test_points_that_cannot_be_used_are_said_in_a_sentence(points, sentence):
    with pytest.raises(SumError) as raised:
        told("sender-substitute", sender="table", points=points)
    assert sentence in str(raised.value)


@given(st.sampled_from(SENDER_PAIRS), st.floats(0, 100))
def test_a_sender_on_its_own_gauge_shows_what_is_there(pair, there):
    table = LineTable((0.0, 100.0), pair)
    assert table.value_at(table.level_of(there)) == pytest.approx(there, abs=1e-9)
    empty, full = (f"{ohm:g}" for ohm in pair)
    same = told("sender-on-gauge", sender_empty=empty, sender_full=full, gauge_empty=empty,
                gauge_full=full)  # fmt: skip
    assert [one.value for one in same.figures] == pytest.approx(FIVE, abs=1e-9)
    assert same.judged[0].result == "good"


def test_a_sender_the_other_way_round_runs_backwards():
    judged = told("sender-on-gauge", sender_empty="10", sender_full="180").judged[0]
    assert judged.result == "bad"
    assert "runs backwards" in judged.words
    with pytest.raises(SumError, match="Sender, full: 10 ohm is what it has empty too"):
        told("sender-on-gauge", sender_empty="10")


@pytest.mark.parametrize(
    ("table", "sentence"),
    [
        ("0,100\n10,90\n", "Table: expected 3 to 24 rows"),
        ("0,100\n10,90\n20,95\n", "from 10 to 20 °C the resistance does not fall (90 to 95 ohm)"),
        ("0,100\n0,90\n20,80\n", "0 °C stands in it twice"),
        ("0,100\n10,90\n20,-1\n", "cannot be"),
        ("-300,100\n10,90\n20,1\n", "cannot be"),
    ],
)
def test_a_table_of_no_thermistor_is_said_in_a_sentence(table, sentence):
    with pytest.raises(SumError) as raised:
        told("thermistor", table=table)
    assert sentence in str(raised.value)


def test_a_wrong_row_is_found():
    judged = told("thermistor", table="0,32128\n10,19549\n20,12962\n25,9814\n50,3542\n").judged[0]
    assert judged.result == "bad"
    assert "misses the row of 20 °C" in judged.words


@given(st.floats(150, 300), st.floats(0.3, 0.8), st.floats(13, 20))
def test_the_way_of_a_tyre_is_that_of_the_signals(width, aspect, rim):
    tyre = Tyre(width, aspect, rim)
    way = way_of_tyre(width, aspect, rim, LOADED_SHARE)
    assert way == pytest.approx(tyre.rolling_mm, rel=1e-12)
    assert way_of_tyre(width, aspect, rim, 1.0) == pytest.approx(pi * tyre.diameter_mm, rel=1e-12)
    assert pulse_constant(way, 0.02, 4.0, 6.0).a_km == pytest.approx(pulses_a_km(tyre, 6.0, 4.0))


@given(st.floats(1000, 3000), st.floats(0.001, 0.05), st.floats(0.8, 1.2), st.floats(30, 300))
def test_the_setting_that_never_reads_low_does_not(way, within, share, fastest):
    found = pulse_constant(way, within, 1.0, 8.0, fastest_kmh=fastest)
    safe = pulse_constant(
        way, within, 1.0, 8.0, set_a_km=found.never_low_a_km * (1 - 1e-9), fastest_kmh=fastest
    )
    for one in safe.held:
        assert one.decision.lower_margin >= 2 * one.u_kmh * (1 - 1e-6)
    other = pulse_constant(way, within, 1.0, 8.0, set_a_km=share * found.a_km, fastest_kmh=fastest)
    assert other.shown_share == pytest.approx(1 / share, rel=1e-12)
    assert other.reads_low == (other.shown_share < 1)


def test_a_setting_that_reads_low_is_never_good():
    said = told("pulse-constant", set="4300")
    assert said.judged[0].result == "bad"
    assert "reads low" in said.judged[0].words
    assert all("UN R39: does not conform" in one.words for one in said.judged[1:])
    assert any("never altered" in note for note in said.notes)


def test_a_way_measured_takes_the_turns_off():
    said = {one.name: one.value for one in told("pulse-constant", by="way", way="6000").figures}
    assert said["way_mm"] == pytest.approx(2000.0)
    assert said["pulses_km"] == pytest.approx(4000.0)
    assert said["hz_50"] == pytest.approx(55.5556, abs=1e-4)
    with pytest.raises(
        SumError, match="Pulses: 2 on a kilometre are out of 10 to 1\u202f000\u202f000"
    ):
        told("pulse-constant", axle="0.05", pulses="0.1", by="way", way="7500")


def test_what_is_in_doubt_is_told_and_not_called_good():
    just = told("pulse-constant").judged
    assert {(one.result, "conforms, in doubt" in one.words) for one in just} == {("none", True)}
    roomy = told("pulse-constant", set="4010").judged
    assert {(one.result, "UN R39: conforms;" in one.words) for one in roomy} == {("good", True)}
