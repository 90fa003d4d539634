"""What a family says of signals and supply: one sentence for each mistake, kept on writing."""

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from families.places import plain, put
from needlewright.errors import FamilyError, SignalError
from needlewright.families.folder import check_family, load_family, write_family
from needlewright.families.model import Family
from needlewright.families.schema import json_schema
from needlewright.families.signal_words import SIGNAL_EXPECTED, SIGNAL_INSIDE, SIGNAL_KINDS
from needlewright.signals.settings import load_settings
from needlewright.signals.wiring import signals_of
from signals.invented import DIALS, family_with
from strategies import json_values

DOCS = Path(__file__).parents[2] / "docs"


@pytest.mark.parametrize(
    ("name", "signal", "says"),
    [
        ("pair", 3, "signal: expected an object whose kind is one of: j1939, can_database"),
        ("pair", {}, "signal: expected an object whose kind is one of"),
        ("pair", {"kind": "smoke"}, "signal: expected an object whose kind is one of"),
        ("pair", {"kind": "resistance"}, "expected exactly one of pair, table and"),
        ("pair", {"kind": "resistance", "pair": [33, 33]}, "found 33 twice"),
        ("pair", {"kind": "resistance", "pair": [-1, 33]}, "signal.pair[0]: expected a resistance"),
        (
            "pair",
            {"kind": "resistance", "steinhart_hart": {"a": 1, "b": 1, "c": 1}},
            "found a thermistor, which is one of temperature",
        ),
        ("ohms", {"kind": "resistance", "table": [[0, 1], [0, 2]]}, "found 0 after 0"),
        ("ohms", {"kind": "resistance", "table": [[0, 1], [1, 2], [2, 2]]}, "rise all the way"),
        ("ohms", {"kind": "resistance", "table": [[0, 1]]}, "at least two pairs"),
        ("j1939-speed", {"kind": "j1939"}, "signal: the field 'spn' is missing; expected one of"),
        ("j1939-speed", {"kind": "j1939", "spn": "84"}, "signal.spn: expected one of the numbers"),
        ("j1939-speed", {"kind": "j1939", "spn": 85}, "signal.spn: expected one of the numbers"),
        ("j1939-speed", {"kind": "j1939", "spn": 190}, "SPN 190, which is one of turning speed"),
        ("j1939-speed", {"kind": "j1939", "spn": 84, "source": 256}, "from 0 to 255, found 256"),
        ("pulses-km", {"kind": "pulses", "per": "turn", "pulses": 2}, "pulses per turn, which is"),
        ("pulses-km", {"kind": "pulses", "per": "km", "pulses": 0}, "pulses above 0, found 0"),
        ("pulses-km", {"kind": "pulses", "per": "km", "pulses": 1, "duty": 1}, "below 1, found 1"),
        ("volts-table", {"kind": "voltage"}, "a voltage without a table, which is one of voltage"),
        ("obd-speed", {"kind": "obd", "pid": "0D", "ecu": 8}, "0 to 7 with 11-bit identifiers"),
        ("obd-speed", {"kind": "obd", "pid": "0E"}, "one of 05, 0C, 0D, 2F, 42"),
        (
            "vpw-speed",
            {"kind": "j1850_vpw", "frame": "48 29 1", "first_byte": 1, "factor": 1, "period_ms": 9},
            "signal.frame: expected bytes in hexadecimal",
        ),
        (
            "vpw-speed",
            {"kind": "j1850_vpw", "frame": "482910", "first_byte": 4, "factor": 1, "period_ms": 9},
            "inside the frame of 3",
        ),
        (
            "vpw-speed",
            {"kind": "j1850_vpw", "frame": "4829", "first_byte": 1, "factor": 0, "period_ms": 9},
            "3 to 11 bytes before the CRC, found 2",
        ),
        (
            "dbc-speed",
            DIALS["dbc-speed"]["signal"] | {"fixed": {"Mode": None}},
            "signal.fixed.Mode: expected a number, or the name of a value, found null",
        ),
        (
            "dbc-speed",
            DIALS["dbc-speed"]["signal"] | {"signal": 3},
            "signal.signal: expected the name of a signal of the message, found 3",
        ),
        (
            "dbc-speed",
            DIALS["dbc-speed"]["signal"] | {"rules": [{"kind": "magic", "signal": "Check"}]},
            "signal.rules[0]: expected a rule, an object whose kind is counter",
        ),
        (
            "dbc-speed",
            DIALS["dbc-speed"]["signal"]
            | {"rules": [{"kind": "counter", "signal": "C", "modulus": 1}]},
            "signal.rules[0].modulus: expected a whole number from 2 to 256, found 1",
        ),
        (
            "duty",
            {"kind": "duty_cycle", "frequency_hz": 100, "table": [[0, 0.1], [1, 1.5]]},
            "signal.table[1][1]: expected a pair [value, stimulus]",
        ),
    ],
)
def test_a_wrong_signal_is_one_sentence(tmp_path, name, signal, says):
    put(tmp_path, plain() | {"dials": [DIALS[name] | {"signal": signal}]})
    errors = [note.sentence for note in check_family(tmp_path) if note.kind == "error"]
    assert len([e for e in errors if says in e]) == 1, errors
    assert all(f"dial '{name}', signal" in e for e in errors)


@pytest.mark.parametrize(
    ("supply", "says"),
    [
        ([], "supply: expected an object"),
        ({"limit_a": 0}, "supply.limit_a: expected a current in amperes above 0, found 0"),
        ({"nominal_v": 24}, "between lowest_v of 9 and highest_v of 16, found 24"),
        ({"rest_a": [0.3, 0.1]}, "supply.rest_a: expected [least, most] rising, up to limit_a"),
        ({"sweep_a": [0.1, "x"]}, "supply.sweep_a[1]: expected a current in amperes"),
    ],
)
def test_a_wrong_supply_is_one_sentence(tmp_path, supply, says):
    put(tmp_path, plain() | {"supply": supply})
    errors = [note.sentence for note in check_family(tmp_path) if note.kind == "error"]
    assert len(errors) == 1
    assert says in errors[0]


def test_a_misspelt_field_is_remarked(tmp_path):
    signal = {"kind": "j1939", "spn": 84, "sorce": 3}
    put(tmp_path, plain() | {"dials": [DIALS["j1939-speed"] | {"signal": signal}]})
    words = [note.words for note in check_family(tmp_path) if note.field.endswith("signal.sorce")]
    assert words == ["'sorce' is not known and is left alone; is 'source' meant?"]


def test_what_is_written_is_what_was_read(tmp_path):
    supply = {"nominal_v": 27, "lowest_v": 18, "highest_v": 32, "limit_a": 1.5, "seen": "bench 2"}
    dials = [copy.deepcopy(each) for each in DIALS.values()]
    dials[0]["signal"]["note"] = "kept"
    family = family_with(tmp_path / "a", *dials, supply=supply)
    assert family.supply is not None
    assert (family.supply.nominal_v, family.supply.limit_a) == (27.0, 1.5)
    write_family(family, tmp_path / "b")
    read = json.loads((tmp_path / "a" / "family.json").read_text(encoding="utf-8"))
    written = json.loads((tmp_path / "b" / "family.json").read_text(encoding="utf-8"))
    assert written == read


def test_a_family_made_anew_writes_its_signals(tmp_path):
    family = family_with(tmp_path / "a", *DIALS.values(), supply={"limit_a": 3})
    bare = type(family)(family.name, family.face_size_mm, family.px_per_mm, family.dials, tmp_path)
    write_family(bare, tmp_path / "b")
    put(tmp_path / "c", (tmp_path / "b" / "family.json").read_text(encoding="utf-8"))
    assert [d.signal for d in load_family(tmp_path / "c").dials] == [d.signal for d in family.dials]


def test_the_schema_takes_every_kind():
    validator = Draft202012Validator(json_schema())
    document = plain() | {"dials": list(DIALS.values()), "supply": {"limit_a": 3}}
    assert [e.message for e in validator.iter_errors(document)] == []
    document["dials"] = [DIALS["pair"] | {"signal": {"kind": "smoke"}}]
    assert not validator.is_valid(document)


def test_every_field_of_a_signal_is_described():
    page = (DOCS / "families.md").read_text(encoding="utf-8")
    fields = {*SIGNAL_EXPECTED, *SIGNAL_INSIDE, *SIGNAL_KINDS}
    assert {f for f in fields if f"`{f}`" not in page} == set()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("bus = 3", "bus: "),
        ("[bus]\n", "bus.interface: is missing"),
        ("[decade_box]\nstop = 1", "decade_box.stop: there is no such setting, found 1"),
        ('[bus]\ninterfce = "virtual"', "bus.interfce: there is no such setting, found 'virtual'"),
        ("[generator]\nstep = -1", "generator.step: "),
        ("[bus", "is no TOML"),
    ],
)
def test_wrong_settings_are_one_sentence(tmp_path, text, says):
    path = tmp_path / "bench.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SignalError) as refused:
        load_settings(path)
    assert f"{path}: {says}" in str(refused.value)
    assert "\n" not in str(refused.value)


def test_settings_may_be_empty(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text("", encoding="utf-8")
    assert load_settings(path).instruments().generator is None
    path.write_bytes(b"\xff")
    with pytest.raises(SignalError, match="is no TOML"):
        load_settings(path)
    path.write_bytes(b"#" * 200_000)
    with pytest.raises(SignalError, match="no settings file"):
        load_settings(path)


def places_in(node: Any, place: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place inside a document."""
    if place:
        yield place
    items: Any = ()
    if isinstance(node, dict):
        items = node.items()
    elif isinstance(node, list | tuple):
        items = enumerate(node)
    for key, inside in items:
        yield from places_in(inside, (*place, key))


SLIPS = [
    (name, place)
    for name, each in DIALS.items()
    for place in places_in(each["signal"], ("signal",))
    if len(place) <= 4
]
BASE = plain() | {"supply": {"limit_a": 2}}


@pytest.fixture(scope="module")
def slipped(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("slipped")
    family_with(folder, DIALS["pair"])
    return folder


@settings(max_examples=150, deadline=None)
@given(slip=st.sampled_from(SLIPS), value=json_values(), gone=st.booleans())
def test_any_slip_in_a_signal_is_one_sentence_or_none(slipped, slip, value, gone):
    name, place = slip
    document = copy.deepcopy(BASE | {"dials": [DIALS[name]]})
    node: Any = document["dials"][0]
    for step in place[:-1]:
        node = node[step]
    if gone:
        del node[place[-1]]
    else:
        node[place[-1]] = value
    (slipped / "family.json").write_text(json.dumps(document), encoding="utf-8")
    notes = check_family(slipped)
    assert all("\n" not in note.sentence for note in notes)
    if any(note.kind == "error" for note in notes):
        with pytest.raises(FamilyError):
            load_family(slipped)
        return
    assert "\n" not in commanded(load_family(slipped))


def commanded(family: Family) -> str:
    """Command every dial to its last mark; why not, or nothing."""
    try:
        for signal in signals_of(family).values():
            signal.command(signal.wire.last_mark)
    except SignalError as error:
        return str(error)
    return ""
