"""`needlewright signal`: words for a technician, frames for an adapter, documents as documented."""

import json
from math import pi
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from needlewright.cli.main import run
from needlewright.plans.sums.described.pulse_constant import PULSE_CONSTANT
from needlewright.plans.sums.typed import work_out
from needlewright.plans.sums.wording import figure_words, range_words
from needlewright.signals.vpw import with_check
from signals.captured import write_vcd
from signals.invented import DIALS, family_with

DOCS = Path(__file__).parents[2] / "docs" / "json"


def call(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["signal", *arguments])
    captured = capsys.readouterr()
    return int(left.value.code or 0), captured.out, captured.err


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("family")
    family_with(folder, *DIALS.values())
    return str(folder)


def checked(command: str, out: str) -> dict:
    schema = json.loads((DOCS / f"signal-{command}.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    document = json.loads(out)
    assert [e.message for e in Draft202012Validator(schema).iter_errors(document)] == []
    return document


def test_words_for_a_box_a_generator_and_an_adapter(capsys, folder):
    told = ("pair=0.5", "pulses-km=80", "j1939-speed=80", "dbc-speed=50", "vpw-speed=80")
    code, out, err = call(capsys, "show", "--family", folder, *told)
    assert (code, err) == (0, "")
    for line in (
        "decade box to 136.5 ohm in the sender's place: 1 × 100, 3 × 10, 6 × 1, 5 × 0.1",
        "E96: 357 and 221 ohm in parallel make 136.5 ohm, exact",
        "signal generator, square wave: 88.8889 Hz (period 11.25 ms), duty cycle 50 %",
        "CAN frame 18FEF100#FF0050FFFFFFFFFF, every 100 ms, 29-bit identifier, 250 kbit/s",
        "counter and checksum change with each frame",
        "J1850 frame 48 29 10 02 28 00 79, every 100 ms",
        "set the current limit and fit a fuse",
    ):
        assert line in out


def test_the_document_of_every_kind(capsys, folder):
    told = [f"{name}={dial['scale'][1][0]}" for name, dial in DIALS.items()]
    code, out, _ = call(
        capsys, "show", "--family", folder, *told, "--lamp", "red_stop=on", "--json"
    )
    assert code == 0
    document = checked("show", out)
    assert [each["dial"] for each in document["commands"]] == list(DIALS)
    kinds = {each["stimulus"]["kind"] for each in document["commands"]}
    assert kinds == {"can_frame", "j1850_frame", "pulses", "resistance", "voltage"}
    assert document["lamps"]["stimulus"]["frame"] == "18FECA00#10FF00000000FFFF"


def test_dials_of_one_frame_are_shown_with_the_whole_frame(capsys, folder):
    told = ("dbc-speed=50", "dbc-engine=3000", "dbc-fuel=25", "dbc-coolant=90")
    out = call(capsys, "show", "--family", folder, *told, "--json")[1]
    frames = [each["stimulus"]["frame"] for each in checked("show", out)["commands"]]
    # 80.47 km/h is raw 8047 = 1F6F, most significant byte first; 3000 rpm raw 6000 = 1770
    assert frames[0] == frames[1]
    assert frames[0].startswith("100#1F6F7017")
    assert frames[2] != frames[3]  # two pages of one message are two frames
    assert frames[2].partition("#")[0] == frames[3].partition("#")[0]


def test_the_benchs_instruments_give_the_uncertainty(capsys, folder, tmp_path):
    bench = tmp_path / "bench.toml"
    bench.write_text("[decade_box]\nstep = 1\naccuracy = {constant = 0.5}\n", encoding="utf-8")
    arguments = ("show", "--family", folder, "pair=0.5", "--bench", str(bench), "--json")
    (command,) = checked("show", call(capsys, *arguments)[1])["commands"]
    assert command["stimulus"]["ohm"] == 136.0
    assert command["value"] == pytest.approx(104 / 207)
    assert command["u_value"] == pytest.approx(0.5 / 3**0.5 / 207)


def test_the_way_back(capsys, folder):
    told = {
        "pair": ("75", "valid", 165 / 207),
        "pair-rising": ("100", "out_of_range", None),
        "pulses-km": ("100", "valid", 90.0),
        "duty": ("0.6", "valid", 0.5),
        "j1939-speed": ("18FEF131#F7FFFF07CCFFFFFF", "not_available", None),
        "j1939-fuel": ("18FEFC00#FF7DFFFFFFFFFFFF", "valid", 0.5),
        "vpw-speed": ("48 29 10 02 28 00 79", "valid", 80.0),
        "vpw-falling": ("48491000FF", "error", None),
    }
    texts = [f"{dial}={said}" for dial, (said, _, _) in told.items()]
    code, out, _ = call(capsys, "stated", "--family", folder, *texts, "--json")
    assert code == 0
    for each in checked("stated", out)["stated"]:
        said, validity, value = told[each["dial"]]
        assert (each["measured"], each["validity"]) == (said, validity)
        assert each["value"] == (None if value is None else pytest.approx(value))
        assert bool(each["words"]) == (value is None)
    out = call(capsys, "stated", "--family", folder, *texts)[1]
    assert "pair: 75 states 0.797101 of full" in out
    assert "j1939-speed: 18FEF131#F7FFFF07CCFFFFFF states SPN 84" in out


@pytest.mark.parametrize(
    ("text", "code", "says"),
    [
        ("pair=-1", 1, "dial 'pair': expected a number ohm, 0 or more, found '-1'"),
        ("pulses-km=fast", 1, "expected a number Hz, 0 or more, found 'fast'"),
        ("vpw-speed=48 2", 1, "dial 'vpw-speed': expected bytes in hex"),
        ("vpw-speed=48 29 10 03 28 00 79", 1, "is not the dial's, 48 29 10 02 00 00"),
        ("j1939-speed=80", 1, "dial 'j1939-speed': '80' is no frame"),
        ("thermistor=0", 1, "thermistor"),
        ("nothing=1", 2, "there is no dial 'nothing'"),
    ],
)
def test_a_wrong_measurement_is_one_sentence(capsys, folder, text, code, says):
    left, out, err = call(capsys, "stated", "--family", folder, text)
    assert (left, out) == (code, "")
    assert err.count("\n") == 1
    assert says in err


def test_an_ammeters_shunt_either_way(capsys, folder):
    # Ohm's law at 1 mOhm: 30 A drop 30 mV, and the sign of one is the sign of the other
    code, out, _ = call(capsys, "show", "--family", folder, "amps=-30")
    assert (code, "voltage source to -0.03 V" in out) == (0, True)
    code, out, _ = call(capsys, "stated", "--family", folder, "amps=-0.03", "--json")
    assert code == 0
    assert checked("stated", out)["stated"][0]["value"] == pytest.approx(-30.0)


def test_a_capture_with_its_violation(capsys, tmp_path):
    good = with_check(bytes.fromhex("48 29 10 02 28 00"))
    path = write_vcd(tmp_path / "bus.vcd", [good, good[:-1] + b"\x00"])
    code, out, _ = call(capsys, "capture", str(path))
    assert code == 0
    assert "48 29 10 02 28 00 79" in out
    assert "the check byte is 00, expected 79" in out
    assert "2 frame(s), 1 without violation" in out
    document = checked("capture", call(capsys, "capture", str(path), "--json")[1])
    assert [frame["sound"] for frame in document["frames"]] == [True, False]


def test_the_constant_of_a_vehicle(capsys):
    arguments = ("constant", "--tyre", "195/65 R15", "--pulses-per-turn", "8")
    code, out, _ = call(capsys, *arguments, "--axle-ratio", "3.73", "--json")
    assert code == 0
    document = checked("constant", out)
    # 15 in x 25.4 + 2 x 195 x 0.65 = 634.5 mm; x pi x 0.971, the loaded share of the sum
    way_mm = pi * 0.971 * 634.5
    assert document["rolling_mm"] == pytest.approx(way_mm)
    assert document["pulses_per_km"] == pytest.approx(8 * 3.73 * 1e6 / way_mm)
    assert document["pulses_per_mile"] == pytest.approx(1.609344 * document["pulses_per_km"])


def test_the_constant_is_the_sums_to_the_last_digit(capsys):
    typed = {"by": "marking", "marking": "195/65 R15", "pulses": "8", "axle": "3.73"}
    figures = {one.name: one for one in work_out(PULSE_CONSTANT, typed).told.figures}
    arguments = ("constant", "--tyre", "195/65 R15", "--pulses-per-turn", "8")
    _, out, _ = call(capsys, *arguments, "--axle-ratio", "3.73")
    said = figure_words(figures["pulses_km"])
    assert said == "15\u202f417 1/km"
    assert out.startswith(f"Pulses on a kilometre: {said}, {range_words(figures['pulses_km'])}\n")
    assert f"way of one turn of the wheel: {figure_words(figures['way_mm'])}\n" in out


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("pair=2",), 1, "dial 'pair': 2 fraction of full is beyond the dial"),
        (("pair=2",), 1, "check the number and its unit, or add --beyond-dial if it is meant"),
        (("pair=nan",), 2, "pair=nan: 'nan' is not finite; give a number in fraction of full"),
        (("pair=-inf",), 2, "'-inf' is not finite"),
        (("pair=full",), 2, "'full' is no number in fraction of full"),
        (("pair",), 2, "expected a dial and a value"),
        (("nothing=1",), 2, "there is no dial 'nothing'"),
        (("pair=0.5", "pair=1"), 2, "named twice"),
        ((), 2, "name at least one dial"),
        (("--lamp", "red=on"), 1, "lamp 'red' is not known"),
        (("--lamp", "red_stop=red"), 1, "expected off, on"),
        (("pair=0.5", "--bench", "nowhere.toml"), 1, "nowhere.toml: cannot be opened"),
        (("j1939-fuel=1.5", "--beyond-dial"), 1, "reaches from 0 to 1"),
    ],
)
def test_bad_input_is_one_sentence(capsys, folder, arguments, code, says):
    left, out, err = call(capsys, "show", "--family", folder, *arguments)
    assert (left, out) == (code, "")
    assert err.count("\n") == 1
    assert says in err


def test_beyond_the_dial_where_it_is_meant(capsys, folder):
    arguments = ("show", "--family", folder, "j1939-speed=220")
    assert call(capsys, *arguments)[0] == 1
    assert "220 km/h, exactly" in call(capsys, *arguments, "--beyond-dial")[1]
