"""What must hold of the electrical sums whatever is put in."""

import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from needlewright.errors import SumError
from needlewright.plans.sums.catalogue import sum_named
from needlewright.plans.sums.coil_resistance import coil_resistance, copper_at
from needlewright.plans.sums.filament_drop import emission_share, filament_drop
from needlewright.plans.sums.lamp_life import lamp_at
from needlewright.plans.sums.led_instead import led_string
from needlewright.plans.sums.resistor_power import allowed_power, rating_for, resistor_heat
from needlewright.plans.sums.supply_fuse import supply_fuse
from needlewright.plans.sums.trace import (
    broken_trace,
    trace_area,
    trace_current,
    trace_rise,
    wire_of,
)
from needlewright.plans.sums.typed import work_out

RATIO = st.floats(0.8, 1.2)


@given(RATIO, RATIO)
def test_more_voltage_is_more_light_and_less_life(first, second):
    assume(first < second)
    low, high = (lamp_at(14.0 * one, 14.0) for one in (first, second))
    for i in (0, 1):
        assert low.light[i] <= high.light[i]
        assert low.life[i] >= high.life[i]
    assert low.power <= high.power


@pytest.mark.parametrize("volts", [11.1, 16.9])
def test_a_lamp_far_from_its_rating_is_refused(volts):
    with pytest.raises(SumError, match=r"hold from 80% to 120%; give a voltage from 11\.2"):
        lamp_at(volts, 14.0)


@given(st.floats(5, 30), st.floats(1.5, 3.5), st.integers(1, 4), st.floats(0.001, 0.1))
def test_the_resistor_lets_no_more_through_than_is_wanted(supply, forward, count, amps):
    assume(not 0 < (supply - count * forward) / amps < 1)
    leds = led_string(supply, forward, count, amps, series="E24")
    if not leds.lights:
        assert count * forward >= supply
        return
    assert leds.current_a <= amps * (1 + 1e-9)
    assert leds.current_a > amps / 1.25, "the next value of the series is never so far"
    assert leds.lowest_a <= leds.current_a <= leds.highest_a
    assert leds.rating_w >= 2 * leds.resistor_w * (1 - 1e-9)


def test_a_lamp_monitor_is_given_what_it_misses():
    leds = led_string(13.5, 3.0, 1, 0.01, series="E24", lowest_v=9.0, highest_v=15.0, monitor_a=0.1)
    monitor = leds.monitor
    assert not monitor.sees_a_lamp
    # At the lowest supply, the resistors at their wrong ends, the two together are enough.
    assert monitor.seen_a == pytest.approx(6.0 / (1100 * 1.05))
    assert monitor.load_ohm == 82.0
    assert 9.0 / (82 * 1.05) + monitor.seen_a >= 0.1
    assert 9.0 / (91 * 1.05) + monitor.seen_a < 0.1, "the next value above is not enough"
    assert monitor.load_w == pytest.approx(15**2 / (82 * 0.95))
    seen = led_string(13.5, 3.0, 1, 0.01, series="E24", monitor_a=0.009)
    assert seen.monitor.sees_a_lamp
    assert seen.monitor.load_ohm is None


def test_dimmed_leds_and_lamps():
    pulsed = led_string(13.5, 3.0, 1, 0.01, series="E24", dimming=("pulses", 0.81)).dimmed
    assert pulsed.led == 0.81
    # The lamp sees the root of it, 0.9 of the voltage, whose powers 3.4 and 3.5 are (computed):
    assert pulsed.lamp == pytest.approx((0.691590, 0.698915), abs=1e-6)
    lower = led_string(13.5, 3.0, 1, 0.01, series="E24", dimming=("voltage", 8.25)).dimmed
    assert lower.led == pytest.approx(0.5)
    assert lower.lamp is None, "0.61 of the voltage is further down than the powers hold"
    dark = led_string(13.5, 3.0, 3, 0.01, series="E24", dimming=("voltage", 9.0)).dimmed
    assert dark.led == 0.0


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"lowest": "14"}, "Supply: 13.5 V is not between the lowest, 14 V, and the highest, 15 V"),
        ({"highest": "12"}, "Supply: 13.5 V is not between the lowest, 9 V, and the highest, 12 V"),
        (
            {"supply": "10.001", "forward": "10", "current": "2000"},
            "Series resistor: 0.0005 ohm is not between 1",
        ),
        ({"count": "1.5"}, "LEDs in a row: 1.5 is not a whole number; give a whole number from 1"),
    ],
)
def test_leds_that_cannot_be_worked_out(typed, sentence):
    with pytest.raises(SumError) as raised:
        work_out(sum_named("lamp-to-led"), typed)
    assert str(raised.value).startswith(sentence)


def test_a_dark_string_is_an_answer_and_not_good():
    told = work_out(sum_named("lamp-to-led"), {"count": "5"}).told
    assert told.figures[0].said == "none: it does not light"
    assert [one.result for one in told.judged] == ["bad"]
    assert "needs 15.0 V and the supply gives 13.5 V" in told.judged[0].words


@given(st.floats(-40, 200), st.floats(-40, 200))
def test_a_warmer_resistor_bears_no_more(first, second):
    low, high = sorted((first, second))
    assert allowed_power(0.5, 70, 155, low) >= allowed_power(0.5, 70, 155, high)


def test_a_load_is_judged_where_it_stands():
    cool = resistor_heat(100, 5, None, rated_w=0.5, full_to_c=70, none_at_c=155, around_c=25)
    assert (cool.heat_w, cool.load_share, cool.hottest_c) == (0.25, 0.5, 112.5)
    same = resistor_heat(100, None, 0.05, rated_w=0.5, full_to_c=70, none_at_c=155, around_c=112.5)
    assert same.heat_w == pytest.approx(0.25)
    assert same.load_share == pytest.approx(1.0)
    hot = resistor_heat(100, 5, None, rated_w=0.5, full_to_c=70, none_at_c=155, around_c=160)
    assert (hot.allowed_w, hot.load_share) == (0.0, None)
    assert (rating_for(0.0626), rating_for(0.25), rating_for(40.0)) == (0.25, 0.5, 80.0)


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (
            {"voltage": "5", "current": "0.1"},
            "Voltage and current: exactly one of the two is needed",
        ),
        (
            {"none-at": "60"},
            "Bears nothing from: 60 °C is not above the 70 °C up to which all of it",
        ),
    ],
)
def test_resistors_that_cannot_be_worked_out(typed, sentence):
    with pytest.raises(SumError) as raised:
        work_out(sum_named("resistor-power"), typed)
    assert str(raised.value).startswith(sentence)


@given(st.floats(0.0, 500.0), st.floats(0.0, 500.0), st.sampled_from(["one", "all"]))
def test_a_worse_crack_leaves_the_filament_less(first, second, where):
    low, high = sorted((first, second))
    better, worse = (
        filament_drop(5.0, 3.0, 0.1, 2, crack_ohm=one, crack_in=where) for one in (low, high)
    )
    for name in ("volts", "power"):
        for i in (0, 1):
            assert getattr(better, name)[i] >= getattr(worse, name)[i] * (1 - 1e-9)
    assert better.emission >= worse.emission * (1 - 1e-9)
    assert 0.0 < worse.emission <= 1.0


def test_power_and_current_go_together():
    drop = filament_drop(5.0, 3.0, 0.1, 2, crack_ohm=20.0)
    # A wire that cools draws more (m 0.55): less voltage is left for it.
    assert drop.volts[0] < drop.volts[1] < 3.0
    for volts, amps in zip(drop.volts, reversed(drop.amps), strict=True):
        assert volts + amps * drop.drop_ohm == pytest.approx(5.0)
    assert emission_share(0.5) < emission_share(0.9) < 1.0


def test_a_filament_without_anything_to_drop_is_refused():
    with pytest.raises(
        SumError, match="Supply of the filament: 3 V is not above the filament's 3 V"
    ):
        filament_drop(3.0, 3.0, 0.1, 1)


@given(st.floats(1, 1e4), st.floats(-50, 200), st.floats(-50, 200))
def test_copper_comes_back(ohm, first, second):
    assert copper_at(copper_at(ohm, first, second), second, first) == pytest.approx(ohm)
    if first + 1e-6 < second:
        assert copper_at(ohm, first, second) > ohm


@pytest.mark.parametrize(
    ("read", "code"),
    [
        (280, "pass"),
        (306, "conditional_pass"),
        (310, "conditional_fail"),
        (330, "fail"),
        (230, "fail"),
    ],
)
def test_a_coil_is_judged_with_its_uncertainty(read, code):
    coil = coil_resistance(
        read, 0.0, 20.0, nominal_ohm=280.0, tolerance=0.1, meter=0.01, within_k=2.0
    )
    assert coil.decision.code == code


def test_leads_that_have_more_than_was_read_are_refused():
    with pytest.raises(
        SumError, match="Read with the leads held together: 2 ohm is not less than the 1"
    ):
        work_out(sum_named("coil-resistance"), {"read": "1", "leads": "2"})


@given(st.floats(5, 500), st.floats(10, 100), st.sampled_from(["outside", "inside"]))
def test_current_section_and_rise_are_one_formula(area, rise, side):
    amps = trace_current(rise, area, side)
    assert trace_rise(amps, area, side) == pytest.approx(rise)
    assert trace_area(amps, rise, side) == pytest.approx(area)
    assert trace_current(rise, area, "inside") == pytest.approx(
        trace_current(rise, area, "outside") / 2
    )


@given(st.floats(0.01, 5), st.floats(0.1, 5))
def test_the_wire_has_the_section_and_is_the_thinnest(amps, width):
    trace = broken_trace(amps, width, 35.0, "outside", length_mm=40, allowed_k=10, around_c=25)
    wanted = max(trace.area_mm2, amps / 10)
    assert trace.wire.area_mm2 >= wanted
    thinner = wire_of(trace.wire.gauge + 2)
    assert trace.wire.gauge == 40 or thinner.area_mm2 < wanted


@given(st.floats(0.001, 5), st.floats(0, 30), st.floats(1, 20))
def test_limit_and_fuse_leave_room_for_what_flows(amps, watts, cold):
    supply = supply_fuse(
        13.5, amps, 0.0, backlight_w=watts, tell_tales_w=0.0, cold_factor=cold, lead_mm2=1.0
    )
    assert 1.25 * supply.lamp_check_a <= supply.limit_a * (1 + 1e-9)
    assert supply.limit_a <= 1.25 * supply.lamp_check_a + 0.05 + 1e-9
    assert supply.lamp_check_a <= 0.75 * supply.fuse_a * (1 + 1e-9)
    assert supply.inrush_a >= supply.lamp_check_a >= supply.running_a


def test_a_thin_lead_is_not_guarded_and_too_much_is_refused():
    told = work_out(sum_named("supply-fuse"), {"lead": "0.1"}).told
    assert told.judged[0].result == "bad"
    assert told.judged[0].words.startswith("The lead bears 1.00 A, less than the fuse, T 3.15 A")
    with pytest.raises(
        SumError, match=r"Loads: 15\.2 A asks for a fuse of 20\.3 A, and those listed"
    ):
        work_out(sum_named("supply-fuse"), {"backlight": "100", "tell-tales": "100"})


def test_a_track_that_is_none_is_refused():
    with pytest.raises(SumError, match=r"a section of 0\.388 square mil is out of the 1 to 2000"):
        broken_trace(1.0, 0.05, 5.0, "outside", length_mm=40, allowed_k=10, around_c=25)


def test_a_track_beyond_its_curves_has_no_warmth_and_nothing_that_hangs_on_it():
    answered = work_out(sum_named("broken-trace"), {"current": "20", "width": "1"})
    told = {one.name: one for one in answered.told.figures}
    assert (told["rise_k"].value, told["rise_k"].said) == (None, "more than 100 K")
    assert not {"trace_mohm", "drop_mv"} & set(told)
    # IEC 60028: 1/58 ohm mm2/m at 20 degC, 0.393 % a kelvin; 40 mm of 0.035 mm2 at 25 degC
    cold = 1000 * 0.04 / 58 / 0.035 * (1 + 0.00393 * 5)
    assert told["trace_board_mohm"].value == pytest.approx(cold, rel=1e-4)
    (judged,) = answered.told.judged
    assert judged.result == "bad"
    assert "The track warms by more than 100 K, more than the 10 K it may" in judged.words
    said = " ".join((judged.words, *(one.put_in for one in answered.told.steps)))
    kelvins = [float(n.replace(",", "")) for n in re.findall(r"([\d,.]+) K\b", said)]
    assert max(kelvins) == 100.0


def test_a_track_is_told_up_to_the_end_of_its_curves_and_no_further():
    at = {"length_mm": 40.0, "allowed_k": 100.0, "around_c": 25.0}
    carried = broken_trace(1.0, 1.0, 35.0, "outside", **at).carries_a
    just = broken_trace(carried, 1.0, 35.0, "outside", **at)
    assert just.rise_k == pytest.approx(100.0)
    assert just.ohm == pytest.approx(just.board_ohm * (1 + 0.00393 * 105) / (1 + 0.00393 * 5))
    assert not just.is_too_warm
    past = broken_trace(1.001 * carried, 1.0, 35.0, "outside", **at)
    assert (past.rise_k, past.ohm, past.drop_v) == (None, None, None)
    assert past.is_too_warm
