"""Frames: J1939 against another implementation, lamps, OBD-II, sharing one frame."""

from fractions import Fraction

import pytest
from cantools.database import load_string
from hypothesis import given
from hypothesis import strategies as st

from needlewright.errors import FamilyError, SignalError
from needlewright.signals.dm1 import LAMPS, STATES, lamp_command, lamps_in
from needlewright.signals.j1939 import PARAMETERS, J1939Signal, distance_km
from needlewright.signals.model import Frame, FrameStimulus
from needlewright.signals.obd import payload_of, request, value_in
from needlewright.signals.wiring import signal_of
from signals.invented import DIALS, family_with

J1939_DBC = 'VERSION ""\nBU_: A\n' + "".join(
    f"BO_ {0x80000000 | p.priority << 26 | p.pgn << 8} P{p.spn}: 8 A\n"
    f" SG_ S{p.spn} : {8 * (p.first_byte - 1)}|{8 * p.length}@1+ ({p.factor:.10f},{p.offset}) "
    f'[0|0] "" A\n'
    for p in PARAMETERS.values()
)
REFERENCE = load_string(J1939_DBC, database_format="dbc")


@given(st.sampled_from(sorted(PARAMETERS)), st.floats(0, 1))
def test_every_parameter_against_a_message_database(spn, share):
    p = PARAMETERS[spn]
    value = p.offset + round(share * p.highest_raw) * p.factor
    ours = p.encoded(value, bytes(8))
    assert ours == REFERENCE.encode_message(f"P{spn}", {f"S{spn}": value})
    assert p.stated(ours).value == pytest.approx(value, rel=1e-12, abs=1e-9)


@given(st.sampled_from(sorted(PARAMETERS)), st.binary(min_size=8, max_size=8))
def test_every_frame_states_a_value_or_why_not(spn, data):
    p = PARAMETERS[spn]
    stated = p.stated(data)
    raw = int.from_bytes(data[p.first_byte - 1 : p.first_byte - 1 + p.length], "little")
    top = raw >> 8 * (p.length - 1)
    if top <= 0xFA:
        assert stated.validity == "valid"
        assert stated.value == pytest.approx(float(raw * Fraction(p.factor)) + p.offset)
    else:
        kinds = {0xFE: "error", 0xFF: "not_available"}
        assert (stated.value, stated.validity) == (None, kinds.get(top, "out_of_range"))
        assert f"SPN {spn}" in stated.words


def test_a_frame_that_ends_early_states_nothing():
    stated = PARAMETERS[190].stated(b"\xff\xff\xff\x00")
    assert (stated.value, stated.validity) == (None, "error")
    assert "ends before byte 4" in stated.words


def test_distance_is_read_and_never_commanded(tmp_path):
    assert distance_km(Frame.parse("18FEE000#FFFFFFFFB05C6800")) == 854_934.0
    with pytest.raises(SignalError, match="not available"):
        distance_km(Frame.parse("18FEE000#FFFFFFFFFFFFFFFF"))
    with pytest.raises(SignalError, match="not of parameter group 65248"):
        distance_km(Frame.parse("18FEF100#FFFFFFFFB05C6800"))
    document = DIALS["j1939-speed"] | {"signal": {"kind": "j1939", "spn": 245}}
    with pytest.raises(FamilyError, match="total distance, which is recorded and never commanded"):
        family_with(tmp_path, document)


def j1939(tmp_path, name) -> J1939Signal:
    signal = signal_of(family_with(tmp_path, DIALS[name]), name)
    assert isinstance(signal, J1939Signal)
    return signal


def test_refusals_of_received_frames_name_the_dial(tmp_path):
    signal = j1939(tmp_path, "j1939-mph")
    with pytest.raises(SignalError, match=r"dial 'j1939-mph': SPN 84.*not available"):
        signal.value_of(Frame.parse("18FEF131#F7FFFF07CCFFFFFF"))
    with pytest.raises(SignalError, match="not of parameter group 65265"):
        signal.value_of(Frame.parse("18FEF231#F7FFFF07CCFFFFFF"))
    assert signal.command(50.0).stimulus.arbitration_id == 0x18FEF131


def test_two_parameters_share_a_frame_and_contradictions_are_refused():
    first = FrameStimulus(0x18FEF700, True, bytes.fromhex("FFFFFFFF1801FFFF"), 0xFFFF << 16, 1.0)
    second = FrameStimulus(0x18FEF700, True, bytes.fromhex("FFFFFFFFFFFF0100"), 0xFFFF, 0.5)
    both = first.joined(second)
    assert (both.data.hex().upper(), both.period_s) == ("FFFFFFFF18010100", 0.5)
    assert second.joined(first) == both
    other = FrameStimulus(0x18FEF700, True, bytes.fromhex("FFFFFFFF1901FFFF"), 0xFFFF << 16, 1.0)
    with pytest.raises(SignalError, match="state different values by the same bits of frame 18FE"):
        both.joined(other)


@given(st.dictionaries(st.sampled_from(sorted(LAMPS)), st.sampled_from(sorted(STATES))))
def test_lamps_come_back(lamps):
    found = lamps_in(lamp_command(lamps).frame())
    assert found == {name: lamps.get(name, "off") for name in LAMPS}


def test_lamp_frames():
    # SAE J1939-73 clause 5.7.1, from memory: byte 1 has bits 8-7 malfunction, 6-5 red stop,
    # 4-3 amber warning, 2-1 protect; no trouble code is four bytes of zero.
    on = lamp_command({"malfunction": "on", "amber_warning": "on"})
    assert on.frame().text == "18FECA00#44FF00000000FFFF"
    flashing = lamp_command({"red_stop": "fast_flash"}, source=3)
    assert flashing.frame().text == "18FECA03#10DF00000000FFFF"
    with pytest.raises(SignalError, match="lamp 'blue' is not known"):
        lamp_command({"blue": "on"})
    with pytest.raises(SignalError, match="no lamp command"):
        lamps_in(Frame.parse("18FEF700#FFFFFFFF1801FFFF"))


def test_obd_requests_and_answers():
    assert request(0x0C).text == "7DF#02010C5555555555"
    assert request(0x0C, 29).text == "18DB33F1#02010C5555555555"
    answer = payload_of(Frame.parse("7E8#04410C0B30555555"))
    assert answer == bytes.fromhex("410C0B30")
    assert value_in(answer) == 716.0
    assert payload_of(Frame.parse("18DAF110#03410D50AAAAAAAA")) == bytes.fromhex("410D50")


@pytest.mark.parametrize(
    ("frame", "says"),
    [
        ("7E0#03410D5055555555", "no single answer"),
        ("18DA10F1#03410D5055555555", "no single answer"),
        ("7E8#1014410D50555555", "no single answer"),
        ("7E8#0341", "no single answer"),
        ("7E8#037F0112", "refuses the request, reason 12"),
        ("7E8#0343010155555555", "expected 41"),
        ("7E8#03410D", "no single answer"),
        ("7E8#02410D", "expected 1 data byte"),
        ("7E8#04410C0B30", "answers number 0C, not 0D"),
    ],
)
def test_obd_answers_that_state_nothing(tmp_path, frame, says):
    signal = signal_of(family_with(tmp_path, DIALS["obd-speed"]), "obd-speed")
    with pytest.raises(SignalError, match=says):
        signal.value_of(Frame.parse(frame))


@pytest.mark.parametrize(
    "text", ["", "7E8", "7E8#0", "G#00", "FFF#00", "20000000#", "1#" + "00" * 65]
)
def test_what_is_no_frame(text):
    with pytest.raises(SignalError, match="is no frame"):
        Frame.parse(text)


@given(st.booleans(), st.integers(0, 2**29 - 1), st.binary(max_size=8))
def test_a_frames_text_comes_back(extended, number, data):
    frame = Frame(number if extended else number & 0x7FF, extended, data)
    assert Frame.parse(frame.text) == frame
