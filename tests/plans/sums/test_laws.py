"""Every sum worked out a second time: by conservation, by scaling, or by another way to the answer.

Laws of physics and of algebra, no other source; constants of `scipy.constants` (CODATA).
"""

from math import log, pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants
from scipy.optimize import brentq

from needlewright.plans.sums.arrhenius import arrhenius_factor
from needlewright.plans.sums.bench_units import BENCH_UNITS, converted, same_quantity
from needlewright.plans.sums.catalogue import SUMS
from needlewright.plans.sums.coil_resistance import coil_resistance
from needlewright.plans.sums.filament_drop import filament_drop
from needlewright.plans.sums.lamp_life import lamp_at
from needlewright.plans.sums.led_instead import led_string
from needlewright.plans.sums.model import Amount
from needlewright.plans.sums.pulse_constant import hz_at, pulse_constant, way_of_tyre
from needlewright.plans.sums.reflow import hold_profile
from needlewright.plans.sums.reflow_limits import LIMITS
from needlewright.plans.sums.resistor_power import resistor_heat
from needlewright.plans.sums.sender_substitute import shown_with, substitutes
from needlewright.plans.sums.solder import choose_solder
from needlewright.plans.sums.solder_life import Cycle, solder_life
from needlewright.plans.sums.supply_fuse import supply_fuse
from needlewright.plans.sums.thermistor import fit_thermistor
from needlewright.plans.sums.thermocouple_table import Track
from needlewright.plans.sums.trace import MIL_MM, broken_trace, trace_rise
from needlewright.plans.sums.typed import work_out
from needlewright.signals.line_table import LineTable

near = pytest.approx
SCALE = st.floats(0.25, 4.0)


@pytest.mark.parametrize("which", SUMS, ids=lambda one: one.name)
def test_a_number_in_any_of_its_units_gives_the_same_answer(which):
    plain = work_out(which, {}).told
    for one in which.inputs:
        if not isinstance(one, Amount) or one.default is None or not one.unit:
            continue
        for unit in same_quantity(one.unit):
            typed = f"{converted(one.default, one.unit, unit):.15g} {unit}"
            told = work_out(which, {one.name: typed}).told
            for mine, theirs in zip(plain.figures, told.figures, strict=True):
                assert mine.value is None or theirs.value == near(mine.value, rel=1e-9), typed


def test_units_are_those_of_the_tables_of_constants():
    for symbol, factor in {
        "in": constants.inch, "mil": constants.mil, "min": constants.minute, "h": constants.hour,
        "1/mile": constants.kilo / constants.mile, "mm": constants.milli, "um": constants.micro,
    }.items():  # fmt: skip
        assert BENCH_UNITS[symbol].factor == near(factor, rel=1e-12), symbol
    for typed_f in (-40.0, 32.0, 212.0):
        theirs = constants.convert_temperature(typed_f, "F", "C")
        assert converted(typed_f, "degF", "degC") == near(theirs, abs=1e-12)


@given(st.floats(0.92, 1.09), st.floats(0.92, 1.09), st.floats(1.0, 50.0))
def test_a_lamp_obeys_powers(first, second, rated):
    a, b, both = (lamp_at(rated * v, rated) for v in (first, second, first * second))
    # Powers multiply, whatever the rating in volts; power is current times voltage but for the
    # twentieth by which the published exponents differ.
    assert both.current == near(a.current * b.current)
    assert both.power == near(a.power * b.power)
    assert abs(log(a.power) - log(a.current) - log(a.ratio)) <= 0.05 * abs(log(a.ratio)) + 1e-12
    if abs(a.ratio - 1) > 1e-3:
        exponents = sorted(log(one) / log(a.ratio) for one in a.life)
        assert exponents == near([-16.0, -12.0], rel=1e-9)


@given(st.floats(6, 30), st.floats(1.5, 3.5), st.integers(1, 3), st.floats(0.002, 0.1), SCALE)
def test_volts_and_watts_of_leds_add_up(supply, forward, count, amps, scale):
    leds = led_string(supply, forward, count, amps, series="E24")
    if not leds.lights or leds.ohm < 2:
        return
    assert leds.current_a * leds.ohm + count * forward == near(supply)
    whole = supply * leds.current_a
    assert leds.current_a**2 * leds.ohm + leds.current_a * count * forward == near(whole)
    # Ten times the resistance at a tenth of the current: a decade of the series further.
    tenth = led_string(supply, forward, count, amps / 10, series="E24")
    assert tenth.exact_ohm == near(10 * leds.exact_ohm)
    assert tenth.ohm == near(10 * leds.ohm) or tenth.ohm == near(10 * leds.ohm, rel=0.11)
    scaled = led_string(scale * supply, scale * forward, count, amps, series="E24")
    assert scaled.exact_ohm == near(scale * leds.exact_ohm)


@given(st.floats(1, 1e5), st.floats(0.1, 30), st.floats(0, 150))
def test_heat_by_volts_and_by_amperes_is_one(ohm, volts, around):
    at = {"rated_w": 0.5, "full_to_c": 70.0, "none_at_c": 155.0}
    by_volts = resistor_heat(ohm, volts, None, around_c=around, **at)
    by_amps = resistor_heat(ohm, None, volts / ohm, around_c=around, **at)
    assert by_volts.heat_w == near(by_amps.heat_w)
    if by_volts.hottest_c is not None and by_volts.hottest_c >= 70:
        there = resistor_heat(ohm, volts, None, around_c=by_volts.hottest_c, **at)
        assert there.allowed_w == near(there.heat_w, rel=1e-6, abs=1e-12)


@given(st.floats(0, 200), st.sampled_from(["one", "all"]), st.integers(1, 4), SCALE)
def test_a_filament_takes_what_the_supply_gives(crack, where, count, scale):
    drop = filament_drop(5.0, 3.0, 0.1, count, each_ohm=20.0 * count, crack_ohm=crack,
                         crack_in=where)  # fmt: skip
    for volts, amps in zip(drop.volts, reversed(drop.amps), strict=True):
        assert 5.0 * amps == near(volts * amps + amps**2 * drop.drop_ohm)
    # A display that takes so many times the current behind resistors as many times smaller.
    wide = filament_drop(5.0, 3.0, 0.1 * scale, count, each_ohm=20.0 * count / scale,
                         crack_ohm=crack / scale, crack_in=where)  # fmt: skip
    assert wide.volts == near(drop.volts)
    assert wide.amps == near([scale * one for one in drop.amps])
    assert wide.emission == near(drop.emission)


@given(st.floats(200, 400), st.floats(-20, 80), st.floats(0.1, 10.0))
def test_a_coil_is_judged_alike_in_ohms_and_in_kilohms(read, at, scale):
    how = {"tolerance": 0.1, "meter": 0.01, "within_k": 2.0}
    one = coil_resistance(read, 0.5, at, nominal_ohm=280.0, **how)
    other = coil_resistance(scale * read, scale * 0.5, at, nominal_ohm=scale * 280.0, **how)
    assert other.ohm == near(scale * one.ohm)
    assert other.u_ohm == near(scale * one.u_ohm)
    assert other.decision.code == one.decision.code
    slope = (
        coil_resistance(read, 0.5, at + 1e-4, nominal_ohm=280.0, **how).ohm
        - coil_resistance(read, 0.5, at - 1e-4, nominal_ohm=280.0, **how).ohm
    ) / 2e-4
    assert one.u_warmth_ohm == near(abs(slope) * 2.0 / 3**0.5, rel=1e-5)  # JCGM 100, 5.1.3


@given(st.floats(0.05, 3.0), st.floats(0.3, 3.0), st.floats(1.0, 2.0))
def test_a_track_of_more_copper_or_more_length(amps, width, scale):
    at = {"allowed_k": 20.0, "around_c": 25.0}
    one = broken_trace(amps, width, 35.0, "outside", length_mm=40.0, **at)
    # The formula knows the section alone: as much wider or as much thicker is the same.
    wide = broken_trace(amps, width * scale, 35.0, "outside", length_mm=40.0, **at)
    thick = broken_trace(amps, width, 35.0 * scale, "outside", length_mm=40.0, **at)
    assert wide.rise_k == (None if thick.rise_k is None else near(thick.rise_k))
    rise, area = (trace_rise(amps, a.area_mm2 / MIL_MM**2, "outside") for a in (one, wide))
    assert rise == near(area * scale ** (0.725 / 0.44))
    assert one.rise_k == (near(rise) if rise <= 100 else None)
    assert one.needed_mm == near(wide.needed_mm)
    assert one.needed_2152_mm == near(scale * thick.needed_2152_mm)
    long = broken_trace(amps, width, 35.0, "outside", length_mm=40.0 * scale, **at)
    assert long.board_ohm == near(scale * one.board_ohm)
    if one.ohm is None:
        assert rise > 100
        assert (long.ohm, long.drop_v) == (None, None)
        return
    assert long.ohm == near(scale * one.ohm)
    # IEC 60028: 0.393 % a kelvin, of what it has at 20 degC
    assert one.ohm / one.board_ohm == near((1 + 0.00393 * (5 + rise)) / (1 + 0.00393 * 5))
    # Heat in the length by two ways: I^2 R, and the voltage along it times the current.
    assert long.drop_v * amps == near(amps**2 * long.ohm)


@given(
    st.floats(0.02, 0.5), st.floats(0.0, 6.0), st.floats(1.0, 15.0), st.floats(0.005, 0.1), SCALE
)
def test_a_bench_that_draws_more(amps, watts, cold, falls, scale):
    def bench(by: float, tau: float = falls):
        return supply_fuse(
            12.0, by * amps, 0.0, backlight_w=by * watts, tell_tales_w=by * watts,
            cold_factor=cold, lead_mm2=1.0, inrush_s=tau,
        )  # fmt: skip

    one, more = bench(1.0), bench(scale)
    assert more.lamp_check_a == near(scale * one.lamp_check_a)
    assert more.inrush_a == near(scale * one.inrush_a)
    assert more.inrush_a2s == near(scale**2 * one.inrush_a2s)  # I2t goes with the square
    assert bench(1.0, 2 * falls).inrush_a2s == near(2 * one.inrush_a2s)
    assert (more.fuse_a - one.fuse_a) * (scale - 1) >= 0


@given(st.floats(40, 120), st.floats(-50, 20), st.floats(1, 50), SCALE)
def test_what_a_joint_sees_grows_with_swing_and_part(hot, cold, part, scale):
    def joint(low: float, high: float, mm: float):
        return choose_solder("SAC305", "SAC305", coldest_c=low, hottest_c=high, part_mm=mm)

    one = joint(cold, hot, part)
    assert joint(cold, hot, scale * part).shear_um == near(scale * one.shear_um)
    halved = joint(cold, (cold + hot) / 2, part)
    assert halved.shear_um == near(one.shear_um / 2)
    assert one.margin_k + hot == near(217.0)
    assert one.homologous == near((hot + constants.zero_Celsius) / (217 + constants.zero_Celsius))


KNOTS = np.array([(0, 25), (60, 150), (150, 200), (180, 217), (210, 240), (270, 217), (330, 60)])


@given(st.floats(0.8, 1.3), st.floats(0.0, 5000.0))
@settings(max_examples=15)
def test_a_profile_that_runs_slower_or_begins_later(slower, later):
    t_s, c = KNOTS.T

    def held(t: np.ndarray) -> dict[str, float | None]:
        track = Track("board", tuple(t.tolist()), tuple(map(float, c)), 0)
        profile = hold_profile((track,), LIMITS["lead-free"], "none", 0.0, 5.0)
        return {one.what: one.value for one in profile.held}

    one, other = held(t_s.astype(float)), held(t_s * slower + later)
    for times in ("soak", "above", "rise"):
        assert other[times] == near(slower * one[times], rel=1e-9)
    for slopes in ("ramp", "cool"):
        assert other[slopes] == near(one[slopes] / slower, rel=1e-9)
    assert other["peak"] == one["peak"] == 240.0


@given(st.floats(10, 80), st.floats(1.01, 2.0), st.floats(0.5, 48), st.floats(1.01, 4.0))
def test_a_harder_cycle_leaves_a_joint_fewer(swing, more, rate, faster):
    test = Cycle(-40.0, 125.0, 48.0)

    def life(cycle: Cycle, alloy: str) -> float:
        return solder_life(cycle, test, 1000.0, alloy).factor

    for alloy in ("tin-lead", "SAC"):
        mild = Cycle(60.0 - swing, 60.0, rate)
        assert life(Cycle(60.0 - swing * more, 60.0, rate), alloy) < life(mild, alloy)
        assert life(Cycle(61.0 - swing, 61.0, rate), alloy) < life(mild, alloy)
        assert life(Cycle(60.0 - swing, 60.0, rate * faster), alloy) > life(mild, alloy)
        assert life(test, alloy) == near(1.0, rel=1e-12)
    done = solder_life(Cycle(60.0 - swing, 60.0, rate), test, 1000.0).factor_creep_done
    known = solder_life(Cycle(60.0 - swing, 60.0, rate), test, 1000.0).factor
    assert done is None or done >= known * (1 - 1e-12), "the handbook's two hours never shorten it"


@given(st.floats(0.1, 1.5), st.floats(-20, 100), st.floats(1, 60))
def test_ageing_is_boltzmanns(energy, use, warmer):
    factor = arrhenius_factor(energy, use, use + warmer)
    use_k, test_k = use + constants.zero_Celsius, use + warmer + constants.zero_Celsius
    joule = energy * constants.electron_volt
    share = joule / constants.k * (1 / use_k - 1 / test_k)
    # By the molar form too: E N_A over R is E over k.
    molar = joule * constants.N_A / constants.R * (test_k - use_k) / (use_k * test_k)
    assert log(factor) == near(share, rel=1e-9)
    assert log(factor) == near(molar, rel=1e-9)


@given(st.floats(20, 60), st.floats(100, 400))
@settings(max_examples=25)
def test_a_gauge_of_ten_times_the_ohms_takes_resistors_of_ten_times(full, empty):
    def made(scale: float):
        gauge = LineTable((0.0, 100.0), (scale * empty, scale * full))
        return substitutes(gauge, (0.0, 50.0, 100.0), "E96", one_only=True, gauge_share=0.05).points

    for one, ten in zip(made(1.0), made(10.0), strict=True):
        assert ten.ohm == near(10 * one.ohm, rel=1e-9)
        assert ten.shows == near(one.shows, abs=1e-6)


@given(st.floats(0, 300), st.floats(0, 300), st.floats(0, 100), SCALE, st.floats(0, 50))
def test_a_wire_in_line_with_both_senders_changes_nothing(empty, full, there, scale, wire):
    own = LineTable((0.0, 100.0), (240.0, 33.0))
    if abs(empty - full) < 1:
        return
    sender = LineTable((0.0, 100.0), (empty, full))
    shown = shown_with(own, sender, there)
    moved = [
        LineTable((0.0, 100.0), tuple(scale * ohm + wire for ohm in one.levels))
        for one in (own, sender)
    ]
    assert shown_with(*moved, there) == near(shown, abs=1e-6)
    by_hand = (empty + (full - empty) * there / 100 - 240) / (33 - 240) * 100
    assert shown == near(by_hand, abs=1e-9)


TABLE = ((0.0, 32128.0), (10.0, 19549.0), (20.0, 12262.0), (25.0, 9814.0), (30.0, 7908.0),
         (50.0, 3542.0))  # fmt: skip


@given(st.floats(0.5, 49.5))
@settings(max_examples=25)
def test_a_thermistor_by_a_matrix_and_a_search(at):
    fit = fit_thermistor(TABLE, at, "E96")
    t, r = np.array([TABLE[0], TABLE[3], TABLE[5]]).T
    columns = np.column_stack([np.ones(3), np.log(r), np.log(r) ** 3])
    abc = np.linalg.solve(columns, 1 / (t + constants.zero_Celsius))

    def missing(ohm: float) -> float:
        return float(abc @ [1.0, log(ohm), log(ohm) ** 3]) - 1 / (at + constants.zero_Celsius)

    assert fit.at_ohm == near(brentq(missing, 1000.0, 1e5, xtol=1e-9), rel=1e-7)
    # between two rows the resistance lies between theirs, and falls
    below = max(row for row in TABLE if row[0] <= at)
    above = min(row for row in TABLE if row[0] >= at)
    assert above[1] - 1 <= fit.at_ohm <= below[1] + 1


@given(st.floats(1000, 3000), st.floats(0.2, 5.0), st.floats(1, 20), st.floats(10, 200), SCALE)
def test_pulses_are_counted_turn_by_turn(way, axle, a_turn, kmh, scale):
    one = pulse_constant(way, 0.01, axle, a_turn)
    # Drive an hour: so many turns of the wheel, so many of the shaft, so many pulses.
    turns_a_second = kmh * constants.kmh / (way * constants.milli)
    assert hz_at(one.a_km, kmh) == near(turns_a_second * axle * a_turn)
    assert pulse_constant(scale * way, 0.01, axle, a_turn).a_km == near(one.a_km / scale)
    assert pulse_constant(way, 0.01, scale * axle, a_turn / scale).a_km == near(one.a_km)
    assert one.low_a_km < one.a_km < one.high_a_km
    # Set to fewer pulses than there are, it shows as much too fast.
    fast = pulse_constant(way, 0.0, axle, a_turn, set_a_km=one.a_km / scale)
    for held in fast.held:
        assert held.shown_kmh == near(scale * held.true_kmh)
    rim = 15 * constants.inch / constants.milli
    assert way_of_tyre(195, 0.65, 15, 1.0) == near(pi * (rim + 2 * 0.65 * 195))
