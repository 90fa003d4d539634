"""Frames on the bus and at the port against figures printed elsewhere; each check names its source.

The J1939 parameters, and the OBD-II numbers, are cross-read: several independent public sources
agree, none is the standard itself.
"""

import pytest
from cantools.database import load_string

from needlewright.errors import SignalError
from needlewright.signals.crc import RESIDUE, crc8_j1850, crc_register
from needlewright.signals.j1939 import PARAMETERS, distance_km, group_of, identifier
from needlewright.signals.model import Frame
from needlewright.signals.obd import PIDS, value_in
from needlewright.signals.vpw import with_check
from needlewright.signals.vpw_symbols import (
    END_OF_DATA_US,
    END_OF_FRAME_US,
    RECEIVED_LONG_US,
    RECEIVED_SHORT_US,
    RECEIVED_START_US,
    START_US,
    byte_time_us,
    width_us,
)


@pytest.mark.parametrize(
    ("spn", "pgn", "first_byte", "length", "factor", "offset", "unit"),
    [
        (190, 61444, 4, 2, 0.125, 0, "rpm"),
        (84, 65265, 2, 2, 1 / 256, 0, "km/h"),
        (110, 65262, 1, 1, 1, -40, "degC"),
        (100, 65263, 4, 1, 4, 0, "kPa"),
        (96, 65276, 2, 1, 0.4, 0, "%"),
        (168, 65271, 5, 2, 0.05, 0, "V"),
        (245, 65248, 5, 4, 0.125, 0, "km"),
    ],
)
def test_the_seven_parameters(spn, pgn, first_byte, length, factor, offset, unit):  # noqa: PLR0917
    # SAE J1939-71 by parameter number, cross-read.
    p = PARAMETERS[spn]
    assert (p.pgn, p.first_byte, p.length, p.factor, p.offset, p.unit) == (
        pgn,
        first_byte,
        length,
        factor,
        offset,
        unit,
    )


def test_identifiers():
    # SAE J1939-21: priority << 26 | PGN << 8 | source, cross-read.
    assert identifier(3, 61444, 0) == 0x0CF00400
    assert identifier(6, 65265, 0x31) == 0x18FEF131
    assert group_of(0x0CF00400) == 61444
    assert group_of(0x18EAFF00) == 0xEA00  # a destination is no part of the group


@pytest.mark.parametrize(
    ("text", "spn", "value"),
    [
        ("0CF00400#207D87481400F087", 190, 649.0),  # README of the package pretty_j1939
        ("18FEE000#FFFFFFFFB05C6800", 245, 854_934.0),  # README of the package pretty_j1939
        ("0CF00400#FF7D7DE015FFF0FF", 190, 700.0),  # a generator-set controller's manual
        ("18FEF700#FFFFFFFF1801FFFF", 168, 14.0),  # cross-read
    ],
)
def test_printed_frames(text, spn, value):
    frame = Frame.parse(text)
    parameter = PARAMETERS[spn]
    assert group_of(frame.arbitration_id) == parameter.pgn
    assert parameter.stated(frame.data).value == pytest.approx(value, abs=1e-9)
    encoded = parameter.encoded(value)
    start = parameter.first_byte - 1
    field = slice(start, start + parameter.length)
    assert encoded[field] == frame.data[field]
    if spn == 245:
        assert distance_km(frame) == 854_934.0
    if spn in (245, 168):
        assert encoded == frame.data


@pytest.mark.parametrize(
    ("rpm", "data"), [(2.5, "0000001400000000"), (8031.875, "000000FFFA000000")]
)
def test_engine_speed_at_its_ends(rpm, data):
    # SAE J1939-71, engine speed reaches 8031.875 rpm (raw FAFF), cross-read.
    parameter = PARAMETERS[190]
    assert parameter.encoded(rpm, bytes(8)).hex().upper() == data
    assert parameter.highest == 8031.875
    assert parameter.stated(bytes.fromhex(data)).value == rpm


@pytest.mark.parametrize(("raw", "validity"), [("FFFB", "out_of_range"), ("FFFF", "not_available")])
def test_raw_values_that_are_no_engine_speed(raw, validity):
    # SAE J1939-71 table 1: FBFF is above the valid range and FFFF "not available", cross-read.
    stated = PARAMETERS[190].stated(bytes.fromhex(f"000000{raw}000000"))
    assert (stated.value, stated.validity) == (None, validity)
    with pytest.raises(SignalError, match=r"reaches from 0 to 8031.88 rpm"):
        PARAMETERS[190].encoded(8032.0)


def test_absent_speed_is_never_a_number():
    # A frame with speed absent, FFFF: never 255.996 km/h; cross-read.
    frame = Frame.parse("18FEF131#F7FFFF07CCFFFFFF")
    stated = PARAMETERS[84].stated(frame.data)
    assert stated.value is None
    assert stated.validity == "not_available"
    assert "SPN 84" in stated.words


@pytest.mark.parametrize(
    ("answer", "value"),
    [
        ("41 0C 0B 30", 716.0),
        ("41 0C 0D 80", 864.0),
        ("41 0C 12 13", 1156.75),
        # Formulas of SAE J1979, cross-read and as in the PyPI package `obd`.
        ("41 05 7B", 83.0),  # A - 40
        ("41 05 00", -40.0),
        ("41 0D 50", 80.0),  # A
        ("41 2F 80", 100 * 128 / 255),  # 100 A / 255
        ("41 2F FF", 100.0),
        ("41 42 36 B0", 14.0),  # (256 A + B) / 1000
    ],
)
def test_obd_mode_01_answers(answer, value):
    assert value_in(bytes.fromhex(answer)) == pytest.approx(value, abs=1e-9)


def test_obd_numbers():
    # SAE J1979, cross-read.
    assert [(f"{n:02X}", p.unit) for n, p in PIDS.items()] == [
        ("05", "degC"),
        ("0C", "rpm"),
        ("0D", "km/h"),
        ("2F", "%"),
        ("42", "V"),
    ]


@pytest.mark.parametrize(
    ("frame", "check"),
    [
        ("00000000", 0x59),
        ("F20183", 0x37),
        ("0FAA0055", 0x79),
        ("00FF5511", 0xB8),
        ("332255AABBCCDDEEFF", 0xCB),
        ("926B55", 0x8C),
        ("FFFFFFFF", 0x74),
    ],
)
def test_j1850_check_bytes(frame, check):
    # SAE J1850 clause 5.4.1, table 1.
    assert crc8_j1850(bytes.fromhex(frame)) == check
    assert crc_register(bytes.fromhex(frame) + bytes((check,))) == RESIDUE == 0xC4


def test_the_check_value_of_the_crc():
    # The usual check string of catalogues of check codes: 4B for "123456789".
    assert crc8_j1850(b"123456789") == 0x4B


def test_a_whole_j1850_frame():
    # An answer to mode 01, number 00, as public notes on this bus print it (from memory).
    body = bytes.fromhex("41 6B 10 41 00 BF 9F B9 90")
    assert with_check(body)[-1] == 0x05


def test_vpw_widths():
    # Symbol times of SAE J1850 for variable pulse width, as two microcontroller manuals agree to
    # print them (makers', so not named; the standard itself was not at hand).
    assert width_us(0, active=False) == 64
    assert width_us(0, active=True) == 128
    assert width_us(1, active=False) == 128
    assert width_us(1, active=True) == 64
    assert (START_US, END_OF_DATA_US, END_OF_FRAME_US) == (200, 200, 280)
    assert RECEIVED_SHORT_US == (34, 96)
    assert RECEIVED_LONG_US == (96, 163)
    assert RECEIVED_START_US == (163, 239)


@pytest.mark.parametrize(("byte", "us"), [(0x00, 768), (0xFF, 768), (0x55, 512), (0xAA, 1024)])
def test_vpw_byte_times(byte, us):
    # Computed from the widths: bits alternate between passive and active, the first passive.
    assert byte_time_us(byte) == us


def test_a_database_message_as_its_library_documents_it():
    # The example message of the documentation and tests of the package cantools.
    database = load_string(
        'VERSION ""\nBU_: A\nBO_ 496 Example: 8 A\n'
        ' SG_ Temperature : 0|12@0- (0.01,250) [229.52|270.47] "degK" A\n'
        ' SG_ AverageRadius : 6|6@0+ (0.1,0) [0|5] "m" A\n'
        ' SG_ Enable : 7|1@0+ (1,0) [0|1] "-" A\n',
        database_format="dbc",
    )
    message = database.get_message_by_name("Example")
    data = message.encode({"Temperature": 250.55, "AverageRadius": 3.2, "Enable": 1})
    assert data == bytes.fromhex("C006E00000000000")
