"""The shop's own message databases: what a database says, what it cannot, and wrong names."""

import copy
from functools import reduce
from operator import xor

import pytest
from cantools.database import load_string

from needlewright.errors import SignalError
from needlewright.signals.crc import crc8_j1850
from needlewright.signals.model import Frame
from needlewright.signals.wiring import signal_of
from signals.arxml import DASH_ARXML
from signals.invented import DASH_DBC, DIALS, dial, family_with

REFERENCE = load_string(DASH_DBC, database_format="dbc")


def bound(tmp_path, name, **changed):
    document = copy.deepcopy(DIALS[name])
    document["signal"] |= changed
    return signal_of(family_with(tmp_path, document), name)


def test_bytes_are_those_of_the_library(tmp_path):
    stimulus = bound(tmp_path, "dbc-coolant").command(-12.0).stimulus
    expected = REFERENCE.get_message_by_name("Paged").encode(
        {"Page": 2, "Coolant": -12, "Mode": 5, "Odd": 0}
    )
    frame_id = REFERENCE.get_message_by_name("Paged").frame_id
    assert stimulus.frame() == Frame(frame_id, True, expected)
    assert stimulus.page == "Page = 2"


def test_units_of_the_database_are_converted(tmp_path):
    signal = bound(tmp_path, "dbc-speed")  # the dial in mph, the database in km/h
    command = signal.command(50.0)
    found = REFERENCE.decode_message("Dash", command.stimulus.data)
    assert found["Speed"] == pytest.approx(80.47)
    assert command.value == pytest.approx(80.47 / 1.609344)
    assert signal.step_at(50.0) == pytest.approx(0.01 / 1.609344)


def test_counter_rolls_over_and_the_check_follows_it(tmp_path):
    stimulus = bound(tmp_path, "dbc-speed").command(50.0).stimulus
    frames = [stimulus.frame(n).data for n in range(31)]
    assert [data[6] >> 4 for data in frames] == [*range(15), *range(15), 0]
    assert all(data[7] == crc8_j1850(data[:7]) for data in frames)
    assert len(set(frames)) == 15


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        ({"kind": "xor"}, lambda data: reduce(xor, data, 0)),
        ({"kind": "xor", "seed": 0xA5}, lambda data: reduce(xor, data, 0xA5)),
        ({"kind": "sum"}, lambda data: sum(data) % 256),
        ({"kind": "sum", "seed": 7, "inverted": True}, lambda data: 255 - (sum(data) + 7) % 256),
    ],
)
def test_named_checksums(tmp_path, rule, expected):
    signal = bound(tmp_path, "dbc-speed", rules=[rule | {"signal": "Check"}])
    data = signal.command(123.0).stimulus.frame().data
    assert data[7] == expected(data[:7])
    assert signal.stated_by(Frame(256, False, data)).validity == "valid"
    wrong = data[:7] + bytes((data[7] ^ 0x10,))
    stated = signal.stated_by(Frame(256, False, wrong))
    assert (stated.value, stated.validity) == (None, "error")
    assert f"checksum Check: expected {data[7]:02X}, found {wrong[7]:02X}" in stated.words


def test_a_counter_out_of_its_range_is_an_error(tmp_path):
    signal = bound(tmp_path, "dbc-speed", rules=[DIALS["dbc-speed"]["signal"]["rules"][0]])
    data = bytearray(signal.command(50.0).stimulus.data)
    data[6] = 0xF0
    assert "counter Counter: expected 0 to 14" in signal.stated_by(Frame(256, False, data)).words


def test_two_dials_share_a_frame_and_pages_do_not(tmp_path):
    names = ("dbc-speed", "dbc-engine", "dbc-fuel", "dbc-coolant")
    family = family_with(tmp_path, *(DIALS[name] for name in names))
    speed, engine, fuel, coolant = (
        signal_of(family, name).command(value).stimulus
        for name, value in zip(names, (50.0, 3000.0, 25.0, 90.0), strict=True)
    )
    joined = speed.joined(engine)
    found = REFERENCE.decode_message("Dash", joined.frame(3).data)
    assert (found["Speed"], found["Engine"], found["Counter"]) == (80.47, 3000.0, 3)
    assert joined.frame(3).data[7] == crc8_j1850(joined.frame(3).data[:7])
    assert fuel.slot != coolant.slot
    with pytest.raises(SignalError, match="differ in more than their values"):
        fuel.joined(coolant)


def test_other_fixed_values_are_no_common_frame(tmp_path):
    other = copy.deepcopy(DIALS["dbc-engine"])
    other["signal"]["fixed"] = {"Check": 3}
    family = family_with(tmp_path, DIALS["dbc-speed"], other | {"id": "other"})
    speed = signal_of(family, "dbc-speed").command(50.0).stimulus
    with pytest.raises(SignalError, match="check that both dials name the same message"):
        speed.joined(signal_of(family, "other").command(0.0).stimulus)


def test_a_named_value_is_no_number(tmp_path):
    signal = bound(tmp_path, "dbc-fuel")
    absent = bytes((1, 255, 0, 0x05))
    frame_id = signal.command(0.0).stimulus.arbitration_id
    stated = signal.stated_by(Frame(frame_id, True, absent))
    assert (stated.value, stated.validity) == (None, "not_available")
    assert "'Fuel' says 'not there' (raw 255)" in stated.words
    too_much = signal.stated_by(Frame(frame_id, True, bytes((1, 250, 0, 0x05))))
    assert (too_much.value, too_much.validity) == (None, "out_of_range")
    other_page = signal.stated_by(Frame(frame_id, True, bytes((2, 10, 0, 0x05))))
    assert other_page.validity == "error"
    assert "its multiplexer leaves 'Fuel' out" in other_page.words
    unknown_page = signal.stated_by(Frame(frame_id, True, bytes((9, 10, 0, 0x05))))
    assert unknown_page.validity == "error"


def test_a_value_the_database_keeps_for_a_name_is_refused(tmp_path):
    named = DASH_DBC.replace("VAL_ 2566844672 Fuel 255", "VAL_ 2566844672 Fuel 100")
    family = family_with(tmp_path, DIALS["dbc-fuel"])
    (tmp_path / "dash.dbc").write_text(named, encoding="utf-8")
    signal = signal_of(family, "dbc-fuel")
    assert signal.command(49.0).value == 49.0
    with pytest.raises(SignalError, match=r"raw 100 of signal 'Fuel'.*keeps for 'not there'"):
        signal.command(50.0)


CASCADE = """VERSION ""
BU_: Bench
BO_ 512 Cascade: 8 Bench
 SG_ Outer M : 0|4@1+ (1,0) [0|0] "" Bench
 SG_ Inner m2M : 4|4@1- (1,0) [0|0] "" Bench
 SG_ Oil m3 : 16|16@1+ (0.3,0) [0|10] "bar" Bench
 SG_ Always : 48|4@1+ (1,0) [0|0] "" Bench
SG_MUL_VAL_ 512 Inner Outer 2-2;
SG_MUL_VAL_ 512 Oil Inner 3-3;
BA_DEF_ SG_ "GenSigStartValue" INT 0 100;
BA_DEF_DEF_ "GenSigStartValue" 0;
BA_ "GenSigStartValue" SG_ 512 Always 99;
"""


def cascaded(tmp_path):
    signal = {"kind": "can_database", "database": "two.dbc", "message": "Cascade", "signal": "Oil"}
    family = family_with(tmp_path, dial("oil", "bar", 0, 10, signal))
    (tmp_path / "two.dbc").write_text(CASCADE, encoding="utf-8")
    return signal_of(family, "oil"), load_string(CASCADE, database_format="dbc")


def test_a_multiplexer_inside_a_multiplexer(tmp_path):
    signal, reference = cascaded(tmp_path)
    command = signal.command(6.0)
    found = reference.decode_message("Cascade", command.stimulus.data)
    assert found == {"Outer": 2, "Inner": 3, "Oil": pytest.approx(6.0), "Always": 0}
    assert command.stimulus.page == "Outer = 2, Inner = 3"


def test_an_end_of_the_range_is_rounded_inwards(tmp_path):
    signal, _ = cascaded(tmp_path)  # 10 bar is raw 33.33, and 34 would be out of range
    command = signal.command(10.0)
    assert command.value == pytest.approx(9.9)
    assert signal.stated_by(command.stimulus).validity == "valid"


@pytest.mark.parametrize(
    ("name", "changed", "says"),
    [
        ("dbc-speed", {"database": "gone.dbc"}, "gone.dbc: cannot be opened"),
        ("dbc-speed", {"database": "a\0.dbc"}, "cannot be opened: embedded null"),
        ("dbc-speed", {"database": "folder.dbc"}, "folder.dbc: cannot be opened"),
        ("dbc-speed", {"database": "dash.txt"}, "expected a message database: .dbc, .kcd"),
        ("dbc-speed", {"database": "../dash.dbc"}, "inside the family's folder"),
        ("dbc-speed", {"message": "Dish"}, "there is no message 'Dish'; it has Dash, Paged"),
        ("dbc-speed", {"signal": "Sped"}, "there is no signal 'Sped'; it has Speed, Engine"),
        ("dbc-speed", {"fixed": {"Sped": 1}}, "there is no signal 'Sped'"),
        ("dbc-speed", {"signal": "Engine"}, "is in rpm, and the dial in mph"),
        ("dbc-fuel", {"signal": "Page"}, "says which of its pages the message is, and no value"),
        ("dbc-fuel", {"signal": "Odd"}, "the unit 'furlong' of signal 'Odd' is not known"),
        ("dbc-fuel", {"fixed": {"Mode": "flying"}}, "no value named 'flying'; it has off, driving"),
        ("dbc-fuel", {"fixed": {"Mode": 99}}, "cannot be fixed at 99; its bits reach from 0 to 15"),
        ("dbc-fuel", {"fixed": {"Page": 2}}, "'Page' fixed at 2.0 leaves signal 'Fuel' out"),
        (
            "dbc-speed",
            {"rules": [{"kind": "xor", "signal": "Counter"}]},
            "the xor needs an unsigned signal of 8 bits; 'Counter' has 4",
        ),
        (
            "dbc-speed",
            {"rules": [{"kind": "counter", "signal": "Speed"}]},
            "the counter needs an unsigned signal of up to 8 bits",
        ),
        (
            "dbc-speed",
            {"rules": [{"kind": "counter", "signal": "Counter", "modulus": 17}]},
            "'Counter' of 4 bits cannot count to 17",
        ),
    ],
)
def test_wrong_names_are_one_sentence(tmp_path, name, changed, says):
    (tmp_path / "folder.dbc").mkdir()
    with pytest.raises(SignalError) as refused:
        bound(tmp_path, name, **changed)
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("file", "content"),
    [
        ("dash.dbc", b"BO_ 256 Dash: eight Bench"),
        ("dash.dbc", b"\xff\xfe\x00"),
        ("dash.kcd", b"<no><xml>"),
        ("dash.sym", b"{SEND}"),
        ("dash.arxml", b"<AUTOSAR/>"),
    ],
)
def test_a_damaged_database_is_one_sentence(tmp_path, file, content):
    document = copy.deepcopy(DIALS["dbc-speed"])
    document["signal"]["database"] = file
    family = family_with(tmp_path, document)
    (tmp_path / file).write_bytes(content)
    with pytest.raises(SignalError) as refused:
        signal_of(family, "dbc-speed")
    assert file in str(refused.value)
    assert "\n" not in str(refused.value)


OTHER_FORMS = {
    "kcd": REFERENCE.as_kcd_string(),
    "sym": REFERENCE.as_sym_string(),
    "arxml": DASH_ARXML,
}


@pytest.mark.parametrize("form", OTHER_FORMS)
def test_other_forms_of_database(tmp_path, form):
    document = dial(
        "speed",
        "km/h",
        0,
        200,
        {"kind": "can_database", "database": f"dash.{form}", "message": "Dash", "signal": "Speed"},
    )
    family = family_with(tmp_path, document)
    (tmp_path / f"dash.{form}").write_text(OTHER_FORMS[form], encoding="utf-8")
    stimulus = signal_of(family, "speed").command(80.0).stimulus
    # raw 8000 of 0.01 km/h: in the first two bytes, in the AUTOSAR one in the next, turned round
    expected = "00401F0000000000" if form == "arxml" else "1F40000000000000"
    assert (stimulus.arbitration_id, stimulus.data.hex().upper()) == (256, expected)
