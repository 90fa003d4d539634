"""One contract for every kind of signal: round trip, refusals, uncertainty."""

from dataclasses import replace
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.errors import SignalError
from needlewright.families.model import Family
from needlewright.signals.instruments import Accuracy, Instrument, Instruments
from needlewright.signals.model import (
    FrameStimulus,
    PulseStimulus,
    ResistanceStimulus,
    VoltageStimulus,
    VpwStimulus,
)
from needlewright.signals.signal import LevelSignal, Signal
from needlewright.signals.wiring import signal_of, signals_of
from signals.invented import DIALS, family_with

STATED = Instruments(
    generator=Instrument(step=0.1, accuracy=Accuracy(of_setting=20e-6, constant=0.01)),
    decade_box=Instrument(step=0.1, accuracy=Accuracy(of_setting=0.001, constant=0.05)),
    voltage_source=Instrument(step=0.001, accuracy=Accuracy(of_setting=0.0005, constant=0.005)),
)


@pytest.fixture(scope="module")
def family(tmp_path_factory: pytest.TempPathFactory) -> Family:
    return family_with(tmp_path_factory.mktemp("family"), *DIALS.values())


@pytest.fixture(scope="module")
def signals(family: Family) -> dict[str, Signal]:
    return signals_of(family)


def test_every_kind_is_among_the_dials(signals):
    kinds = {signal.kind for signal in signals.values()}
    assert kinds == {
        "j1939",
        "can_database",
        "j1850_vpw",
        "obd",
        "pulses",
        "duty_cycle",
        "resistance",
        "voltage",
    }


@pytest.mark.parametrize("name", DIALS)
@given(share=st.floats(0, 1))
def test_a_value_comes_back_within_half_a_step(signals, name, share):
    signal = signals[name]
    first, last = signal.wire.first_mark, signal.wire.last_mark
    value = first + share * (last - first)
    for bench in (Instruments(), STATED):
        command = signal.command(value, bench=bench)
        # a step is exact where the value lies; on a bent table it is that of the neighbourhood
        half = 0.55 * signal.step_at(value, bench) + 1e-9 * max(abs(first), abs(last))
        assert abs(command.value - value) <= half
        back = replace(signal.stated_by(command.stimulus), words="")
        if back.value is not None:  # a rounded setting may lie half a step past the signal's end
            assert back.value == pytest.approx(command.value, rel=1e-9, abs=1e-9)
        else:
            assert bench is STATED
            assert signal.reach.low - half <= command.value <= signal.reach.high + half


@pytest.mark.parametrize("name", DIALS)
def test_beyond_the_dial_is_refused_with_limit_and_value(signals, name):
    signal = signals[name]
    beyond = signal.wire.last_mark * 1.5 + 1
    with pytest.raises(SignalError) as refused:
        signal.command(beyond)
    said = str(refused.value)
    for part in (name, f"{beyond:g}", f"{signal.wire.last_mark:g}", signal.wire.unit):
        assert part in said


@pytest.mark.parametrize("name", DIALS)
def test_out_of_range_is_refused_even_where_beyond_the_dial_is_meant(signals, name):
    signal = signals[name]
    reach = signal.reach
    for wrong in (reach.high * 1.01 + 1, reach.low - abs(reach.low) * 0.01 - 1):
        with pytest.raises(SignalError) as refused:
            signal.command(wrong, beyond_dial=True)
        said = str(refused.value)
        for part in (name, f"{wrong:g}", f"{reach.low:g}", f"{reach.high:g}"):
            assert part in said


@pytest.mark.parametrize("name", DIALS)
@pytest.mark.parametrize("value", [nan, inf, -inf])
def test_what_is_no_number_is_refused(signals, name, value):
    with pytest.raises(SignalError, match="is no value"):
        signals[name].command(value, beyond_dial=True)


@pytest.mark.parametrize("name", DIALS)
def test_uncertainty_is_zero_in_a_frame_unknown_unless_stated_and_known_where_stated(signals, name):
    signal = signals[name]
    value = (signal.wire.first_mark + signal.wire.last_mark) / 2
    unstated, stated = signal.command(value), signal.command(value, bench=STATED)
    if not isinstance(signal, LevelSignal):
        assert unstated.u_value == stated.u_value == 0.0
    elif signal.kind == "duty_cycle":  # a generator's accuracy is one of frequency
        assert unstated.u_value is stated.u_value is None
    else:
        assert unstated.u_value is None
        assert stated.u_value is not None
        assert stated.u_value > 0


@pytest.mark.parametrize("name", DIALS)
def test_a_stimulus_of_another_kind_states_nothing(signals, name):
    signal = signals[name]
    own = type(signal.command(signal.wire.last_mark).stimulus)
    others = (
        FrameStimulus(0x123, False, bytes(8), 0, None),
        VpwStimulus(bytes.fromhex("0011223344"), 0.1),
        PulseStimulus(10.0, 0.5),
        ResistanceStimulus(100.0),
        VoltageStimulus(5.0),
    )
    for other in others:
        if type(other) is not own or isinstance(other, FrameStimulus | VpwStimulus):
            with pytest.raises(SignalError, match=name):
                signal.value_of(other)


@pytest.mark.parametrize("name", DIALS)
def test_the_rate_is_that_of_the_stimulus(signals, name):
    signal = signals[name]
    stimulus = signal.command(signal.wire.last_mark).stimulus
    if isinstance(stimulus, FrameStimulus | VpwStimulus):
        assert stimulus.period_s == signal.period_s
    else:
        assert signal.period_s is None


@pytest.mark.parametrize(
    ("name", "rate_s"),
    [
        ("j1939-speed", 0.1),
        ("j1939-engine", 0.02),
        ("dbc-speed", 0.02),
        ("dbc-fuel", 0.2),
        ("vpw-speed", 0.1),
        ("obd-speed", None),
    ],
)
def test_rates(signals, name, rate_s):
    assert signals[name].period_s == rate_s


@pytest.mark.parametrize(
    ("name", "value", "u"),
    [
        # half-width of the instrument at its setting, by the root of three, times the slope
        ("pulses-km", 90.0, (100.0 * 20e-6 + 0.01) / 3**0.5 * 0.9),
        ("pair", 0.5, (136.5 * 0.001 + 0.05) / 3**0.5 / 207.0),
        ("ohms", 2.5, (61.7 * 0.001 + 0.05) / 3**0.5 / ((110 - 52) / 3)),
        ("volts-table", 50.0, (2.5 * 0.0005 + 0.005) / 3**0.5 * 25.0),
    ],
)
def test_u_commanded_from_the_stated_accuracy(signals, name, value, u):
    assert signals[name].command(value, bench=STATED).u_value == pytest.approx(u, rel=1e-6)


def test_u_of_a_thermistor_by_its_slope_at_the_temperature(signals):
    signal = signals["thermistor"]
    fine = Instruments(decade_box=Instrument(accuracy=Accuracy(constant=1.0, coverage_k=1.0)))
    command = signal.command(80.0, bench=fine)
    assert isinstance(command.stimulus, ResistanceStimulus)
    warmer = signal.value_of(ResistanceStimulus(command.stimulus.ohm - 0.5))
    colder = signal.value_of(ResistanceStimulus(command.stimulus.ohm + 0.5))
    assert command.u_value == pytest.approx(warmer - colder, rel=1e-4)


def test_an_expanded_uncertainty_is_divided_by_its_factor():
    assert Accuracy(of_setting=0.01, constant=1.0, coverage_k=2.0).u_at(-100.0) == 1.0
    assert Accuracy(of_setting=0.01, constant=1.0).u_at(100.0) == pytest.approx(2 / 3**0.5)


def test_standstill_has_no_error_of_the_generator(signals):
    command = signals["pulses-km"].command(0.0, bench=STATED)
    assert (command.value, command.u_value) == (0.0, 0.0)
    assert command.stimulus.period_s is None


def test_the_instruments_range_is_kept(signals):
    small = Instruments(
        decade_box=Instrument(step=1.0, highest=200.0), generator=Instrument(lowest=10.0)
    )
    with pytest.raises(SignalError, match=r"decade box can be set to at most 200 ohm.*240 ohm"):
        signals["pair"].command(0.0, bench=small)
    with pytest.raises(SignalError, match=r"signal generator can be set to at least 10 Hz"):
        signals["pulses-km"].command(5.0, bench=small)
    assert signals["pair"].command(0.5, bench=small).stimulus == ResistanceStimulus(136.0)
    assert signals["pair"].command(0.5, bench=small).value == pytest.approx(104 / 207)


def test_a_dial_without_a_signal_says_so(tmp_path):
    bare = {k: v for k, v in DIALS["pair"].items() if k != "signal"}
    family = family_with(tmp_path, bare)
    with pytest.raises(SignalError, match="states no signal"):
        signal_of(family, "pair")
    with pytest.raises(SignalError, match="no dial 'speed'"):
        signal_of(family, "speed")
    assert signals_of(family) == {}
