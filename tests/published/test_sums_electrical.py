"""The electrical sums of the workbench against figures printed elsewhere; each names its source."""

from math import exp

import pytest
from scipy.integrate import quad

from needlewright.plans.sums.coil_resistance import coil_resistance, copper_at
from needlewright.plans.sums.filament_drop import emission_share, filament_drop
from needlewright.plans.sums.lamp_life import lamp_at
from needlewright.plans.sums.led_instead import led_string
from needlewright.plans.sums.resistor_power import (
    SHARE_OF_RATING,
    allowed_power,
    resistor_heat,
)
from needlewright.plans.sums.supply_fuse import (
    FUSES_A,
    LOAD_OF_FUSE,
    PULSE_SHARE,
    pulse_a2s,
    supply_fuse,
)
from needlewright.plans.sums.trace import (
    MIL_MM,
    WIRE_A_PER_MM2,
    broken_trace,
    trace_area,
    trace_area_2152,
    trace_current,
    trace_rise,
    wire_of,
)


def test_a_lamp_below_its_rated_voltage():
    # Standard Handbook for Electrical Engineers, 11th ed., 22-8 (seen second-hand): at 13.5 V a
    # lamp of 14 V gives 0.880 of its light with the exponent 3.5, and lives 1.55 times as
    # long with 12.
    lamp = lamp_at(13.5, 14.0)
    assert round(lamp.light[0], 3) == 0.880
    assert round(lamp.life[0], 2) == 1.55
    # The same source: current with the power 0.55, power with 1.6 (computed).
    assert lamp.current == pytest.approx(0.98020, abs=5e-6)
    assert lamp.power == pytest.approx(0.94347, abs=5e-6)


def test_advice_of_those_who_sell_lamps_lies_in_the_range():
    # A maker of vehicle lamps (seen): 5 % above its voltage halves a lamp's life. A page of facts
    # of lamps (seen): 5 % below doubles it.
    for volts, life in ((1.05, 0.5), (0.95, 2.0)):
        low, high = lamp_at(14.0 * volts, 14.0).life
        assert low < life < high


def test_the_resistor_of_an_led():
    # A worked example common in print (Ohm's law): 12 V, one LED of 2.5 V, 20 mA: 475 ohm.
    leds = led_string(12.0, 2.5, 1, 0.02, series="E96")
    assert leds.exact_ohm == pytest.approx(475.0)
    # IEC 60063: 475 is a value of E96; of E24 the next that lets no more through is 510.
    assert leds.ohm == 475.0
    assert led_string(12.0, 2.5, 1, 0.02, series="E24").ohm == 510.0


def test_a_string_that_needs_the_whole_supply_does_not_light():
    # Ohm's law: nothing is left for a resistor.
    assert not led_string(3.3, 1.1, 3, 0.02, series="E24").lights, "a rounding above nothing"
    for count in (5, 6):
        leds = led_string(12.5, 2.5, count, 0.02, series="E24")
        assert (leds.lights, leds.exact_ohm, leds.current_a) == (False, None, 0.0)


@pytest.mark.parametrize(
    ("rated_w", "full_to_c", "none_at_c", "around_c", "allowed_w"),
    [
        # A maker's tutorial on film resistors (seen): from 70 degC on, 35 % at 125 degC, where 1 W
        # on 10 kohm is 59.16 V and not 100 V; so it bears nothing at 155 degC: 35.3 %. The line is
        # that of SD-18 of the US Navy, resistors, derating (seen).
        (100.0, 70.0, 155.0, 125.0, 35.3),
        # Figures printed of a resistor of 100 W that bears nothing from 200 degC: 77 W at 100
        # degC; the 38 W printed at 150 degC are 38.46, cut off.
        (100.0, 70.0, 200.0, 100.0, 76.9),
        (100.0, 70.0, 200.0, 150.0, 38.5),
        (0.5, 70.0, 155.0, 25.0, 0.5),
        (0.5, 70.0, 155.0, 155.0, 0.0),
    ],
)
def test_derating(rated_w, full_to_c, none_at_c, around_c, allowed_w):
    assert round(allowed_power(rated_w, full_to_c, none_at_c, around_c), 1) == allowed_w


def test_how_far_resistors_are_loaded():
    # SD-18 of the US Navy, resistors, derating (seen): to 50 to 70 % of what they may.
    assert 0.5 <= SHARE_OF_RATING <= 0.7
    # The same tutorial: 59.16 V on 10 kohm are 35 % of a watt.
    hot = resistor_heat(
        1e4, 59.16, None, rated_w=1.0, full_to_c=70.0, none_at_c=155.0, around_c=125.0
    )
    assert hot.heat_w == pytest.approx(0.35, abs=5e-5)
    assert hot.load_share == pytest.approx(0.35 / (30 / 85), rel=1e-4)


def test_copper_warms():
    # IEC 60028, 0.00393 a kelvin: 0.1 ohm at 20 degC is 0.11179 ohm at 50 degC.
    assert copper_at(0.1, 20.0, 50.0) == pytest.approx(0.11179, abs=5e-9)
    assert copper_at(0.11179, 50.0, 20.0) == pytest.approx(0.1)


def test_a_coil_read_warm_is_corrected_before_it_is_judged():
    # The same at work: 280 ohm within 10 % (from memory, of a class) read at 60 degC is 324 ohm,
    # which is out of 252 to 308 and yet a sound coil.
    warm = coil_resistance(
        324.016, 0.0, 60.0, nominal_ohm=280.0, tolerance=0.1, meter=0.005, within_k=2.0
    )
    assert warm.measured_ohm > warm.upper_ohm
    assert warm.ohm == pytest.approx(280.0)
    assert warm.decision.code == "pass"
    # JCGM 100, 4.3.7 and 5.1.2: limits over root three, squares added.
    u_meter, u_warmth = 0.005 * 280 / 3**0.5, 280 * 0.00393 / (1 + 0.00393 * 40) * 2 / 3**0.5
    assert warm.u_ohm == pytest.approx((u_meter**2 + u_warmth**2) ** 0.5)


def test_width_of_a_track():
    # IPC-2221, I = k dT^0.44 A^0.725: 1 A, 10 K, copper of 1 oz: 11.83 mil outside, 30.76 inside
    # (with 1.378 mil of copper, as printed).
    assert round(trace_area(1.0, 10.0, "outside") / 1.378, 2) == 11.83
    assert round(trace_area(1.0, 10.0, "inside") / 1.378, 2) == 30.76
    assert round(0.035 / MIL_MM, 3) == 1.378
    area = trace_area(1.0, 10.0, "outside")
    assert trace_rise(1.0, area, "outside") == pytest.approx(10.0)
    assert trace_current(10.0, area, "outside") == pytest.approx(1.0)


def test_width_of_a_track_by_the_newer_charts():
    # A fit to IPC-2152 as public calculators have it (seen), worked out by hand with logarithms:
    # 1 A, 10 K: 117.555 x 10^-0.913 + 1.15 = 15.5129 square mil; 3 A: times 3^1.8141.
    assert trace_area_2152(1.0, 10.0) == pytest.approx(15.5129, abs=5e-5)
    assert trace_area_2152(3.0, 10.0) == pytest.approx(15.5129 * 3**1.81407, rel=1e-4)
    # Signal Integrity Journal, tracks inside (seen): the older charts halved what was measured
    # outside, and IPC-2152 finds tracks inside cooler. So halved is safe, by
    # this fit up to ten amperes, and not beyond.
    assert trace_area(11.0, 10.0, "inside") < trace_area_2152(11.0, 10.0)
    for amps in (0.3, 1.0, 3.0, 10.0):
        for rise in (10.0, 20.0, 45.0, 100.0):
            assert trace_area(amps, rise, "inside") > trace_area_2152(amps, rise)
            halved = trace_area(2 * amps, rise, "outside")
            assert trace_area(amps, rise, "inside") == pytest.approx(halved, rel=1e-12)
    assert trace_area(1.0, 10.0, "outside") > trace_area_2152(1.0, 10.0)
    assert trace_area(3.0, 10.0, "outside") < trace_area_2152(3.0, 10.0)
    wide = broken_trace(3.0, 1.4, 35.0, "outside", length_mm=40, allowed_k=10, around_c=25)
    assert wide.needed_2152_mm == pytest.approx(
        trace_area_2152(3.0, 10.0) * MIL_MM**2 / 0.035, rel=1e-12
    )


@pytest.mark.parametrize(("gauge", "inside_a", "long_a"), [(24, 3.5, 0.58), (30, 0.86, 0.14)])
def test_the_current_of_a_jumper_lies_between_two_handbook_figures(gauge, inside_a, long_a):
    # Handbook of Electronic Tables and Formulas, table of wires, as quoted (seen): amperes inside
    # a chassis and for long leads, those at 700 circular mil an ampere.
    bears = wire_of(gauge).area_mm2 * WIRE_A_PER_MM2
    assert long_a < bears < inside_a
    circular_mil = (wire_of(gauge).diameter_mm / MIL_MM) ** 2
    assert circular_mil / 700 == pytest.approx(long_a, abs=6e-3)


@pytest.mark.parametrize(
    ("gauge", "inch"), [(10, 0.1019), (18, 0.0403), (22, 0.0253), (30, 0.0100)]
)
def test_wire_gauges(gauge, inch):
    # ASTM B258, table of diameters.
    assert round(wire_of(gauge).diameter_mm / 25.4, 4) == inch


@pytest.mark.parametrize(("gauge", "ohm"), [(24, 25.67), (30, 103.2)])
def test_wire_resistance(gauge, ohm):
    # ASTM B258 with copper of IEC 60028: ohm per 1000 ft at 20 degC.
    per_1000_ft = wire_of(gauge).ohm_per_m * 304.8
    assert float(f"{per_1000_ft:.4g}") == pytest.approx(ohm, abs=0.011)


def test_a_filament_as_a_plain_resistance_is_a_voltage_divider():
    # Ohm's law: 20 ohm before 30 ohm at 5 V leave 3 V; with 10 ohm more 2.5 V.
    sound = filament_drop(5.0, 3.0, 0.1, 1, each_ohm=20.0)
    assert sound.volts == pytest.approx((3.0, 3.0))
    cracked = filament_drop(5.0, 3.0, 0.1, 1, each_ohm=20.0, crack_ohm=10.0)
    assert cracked.volts[1] == pytest.approx(2.5)
    # One open of two side by side leaves twice the resistance (Ohm's law).
    pair = filament_drop(5.0, 3.0, 0.1, 2, each_ohm=40.0, crack_ohm=1e12)
    assert pair.drop_ohm == pytest.approx(40.0)
    assert pair.volts[1] == pytest.approx(5.0 * 30 / 70)


def test_the_fuse_of_a_bench():
    # IEC 60127-9, standard sheet 1, rated currents (seen): a rounded R10 series (ISO 3: 1.00 1.25
    # 1.60 2.00 2.50 3.15 4.00 5.00 6.30 8.00); 40 mA is not on that sheet.
    sheet = (
        0.032, 0.05, 0.063, 0.08, 0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8,
        1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0,
    )  # fmt: skip
    assert tuple(one for one in FUSES_A if one != 0.04) == sheet
    # L. Lundy, the fuse-selection checklist, EDN, 26 September 1996 (seen): to 75 %.
    assert LOAD_OF_FUSE == 0.75
    assert FUSES_A[-11:-1] == (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)
    for n, amps in enumerate(FUSES_A[-11:]):
        assert amps == pytest.approx(10 ** (n / 10), rel=0.013)
    # Sum of the loads, I = P / U: 0.4 A and 27 W at 13.5 V are 2.4 A; cold lamps at ten times.
    supply = supply_fuse(
        13.5, 0.25, 0.15, backlight_w=13.5, tell_tales_w=13.5, cold_factor=10, lead_mm2=0.5
    )
    assert supply.lamp_check_a == pytest.approx(2.4)
    assert supply.limit_a == pytest.approx(3.0)
    assert (supply.fuse_a, supply.speed) == (4.0, "T")
    assert supply.inrush_a == pytest.approx(20.4)


def test_emission_by_richardsons_law():
    # Richardson's law, T^2 exp(-W / kT), k 8.617333e-5 eV/K (CODATA 2018); 900 K is from memory,
    # 1.3 eV beside 1.36 worked out for barium oxide on tungsten (Journal of Applied Physics 95,
    # 2004, 3069, abstract seen). At 810 K the heating power is 0.9^4 of that at 900 K.
    wanted = 0.9**2 * exp(-1.3 / 8.617333e-5 * (1 / 810 - 1 / 900))
    assert emission_share(0.9**4) == pytest.approx(wanted, rel=1e-6)
    assert emission_share(1.0) == 1.0


def test_a_fuse_in_the_heat():
    # L. Lundy, EDN, 26 September 1996 (seen), 75 %; that a share at a temperature multiplies is of
    # fuse makers' guides (from memory): 1.5 A through a slow fuse asks for 1.5 / 0.75 = 2.0 A at
    # 25 degC, and where it bears 80 % at 70 degC for 1.5 / (0.75 x 0.80) = 2.5 A.
    for share, amps in ((1.0, 2.0), (0.8, 2.5)):
        supply = supply_fuse(
            12.0, 1.5, 0.0, backlight_w=0, tell_tales_w=0, cold_factor=1, lead_mm2=0.5,
            bears_share=share,
        )  # fmt: skip
        assert supply.fuse_a == amps
        assert supply.inrush_a2s == 0.0


def test_what_an_inrush_has_in_it():
    # A fuse maker's guide (2017, seen): a pulse that falls as exp(-t / tau) to nothing has
    # tau Ip^2 / 2; one of 100, 1,000, 10,000, 100,000 may have 48, 38, 29, 22 % of what melts.
    assert pulse_a2s(8.0, 0.0, 0.004) == pytest.approx(0.004 * 64 / 2)
    assert list(PULSE_SHARE.values()) == [0.48, 0.38, 0.29, 0.22]
    # Above a steady current: the integral of i^2 - I^2, by plain quadrature.
    peak, steady, tau = 20.4, 2.4, 0.02
    whole, _ = quad(lambda t: (steady + (peak - steady) * exp(-t / tau)) ** 2 - steady**2, 0, 1)
    assert pulse_a2s(peak, steady, tau) == pytest.approx(whole, rel=1e-6)
    supply = supply_fuse(
        13.5, 0.25, 0.15, backlight_w=13.5, tell_tales_w=13.5, cold_factor=10, lead_mm2=0.5,
        inrush_s=tau, switchings="1000", melts_a2s=11.0,
    )  # fmt: skip
    assert supply.inrush_a2s == pytest.approx(whole, rel=1e-6)
    assert supply.wanted_a2s == pytest.approx(whole / 0.38, rel=1e-6)
    assert supply.lives is (supply.wanted_a2s <= 11.0)
    assert not supply.lives


def test_copper_by_the_formulas_of_two_other_standards():
    # IEC 60228:2004 as GOST 22483-2012, annex B, prints it (seen): a cable's resistance is brought
    # to 20 degC by 254.5 / (234.5 + t) = 1 / (1 + 0.00393 (t - 20)). Its table, as a maker of
    # cables prints it (seen), takes 0.004; 0 degC is from memory.
    for t, table in (
        (0, 1.087), (5, 1.064), (10, 1.042), (15, 1.020), (20, 1.000), (25, 0.980), (30, 0.962),
        (50, 0.893), (75, 0.820), (100, 0.758),
    ):  # fmt: skip
        assert copper_at(1.0, t, 20.0) == pytest.approx(254.5 / (234.5 + t), rel=3e-4)
        # far from 20 degC the table's 0.004 and the 0.00393 here part: by 2.3e-3 at 75 degC and
        # 2.8e-3 at 100, its last place of 5e-4 included
        assert copper_at(1.0, t, 20.0) == pytest.approx(table, abs=2e-3 if t <= 50 else 3e-3)
        assert table == pytest.approx(1 / (1 + 0.004 * (t - 20)), abs=6e-4)
        # IEC 60034-1 (from memory): windings, (235 + t2) / (235 + t1).
        assert copper_at(1.0, t, 75.0) == pytest.approx((235 + 75) / (235 + t), rel=1.5e-3)


def test_a_jumper_wire_that_may_lose_little():
    # ASTM B258 and IEC 60028: 1 m of gauge 30 is 0.338 ohm (103.2 ohm on 1000 ft) at 20 degC.
    at = {"length_mm": 1000.0, "allowed_k": 10.0, "around_c": 20.0}
    thin = broken_trace(0.1, 0.3, 18.0, "outside", **at)
    assert thin.wire is not None
    assert thin.wire.gauge == 36  # 0.0127 mm2: the track has 0.0054, and 0.1 A asks for 0.01
    # every second gauge has 92^(4/39) = 1.590 times the section
    assert thin.wire_drop_v == pytest.approx(0.1 * 0.3386 * 1.590**3, rel=2e-3)
    thick = broken_trace(0.1, 0.3, 18.0, "outside", **at, most_drop_v=0.004)
    assert thick.wire is not None
    assert thick.wire.gauge == 20
    assert thick.wire_drop_v == pytest.approx(0.1 * 0.3386 / 1.590**5, rel=2e-3)
    assert thick.wire_drop_v < 0.004 < thick.wire_drop_v * 1.590
    assert broken_trace(30.0, 0.3, 18.0, "outside", **at, most_drop_v=1e-5).wire is None


def test_what_the_curves_of_tracks_were_not_drawn_for_is_told():
    # IPC-2221 (from memory): up to 35 A outside and 17.5 A inside, half an ounce to three.
    at = {"length_mm": 10.0, "allowed_k": 20.0, "around_c": 25.0}
    assert not broken_trace(17.5, 9.0, 70.0, "inside", **at).is_beyond_curves
    assert broken_trace(17.6, 9.0, 70.0, "inside", **at).is_beyond_curves
    assert not broken_trace(17.6, 9.0, 70.0, "outside", **at).is_beyond_curves
    assert broken_trace(1.0, 9.0, 12.0, "outside", **at).is_beyond_curves
