import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from families.places import FAMILIES, NAMES, plain, put
from needlewright.errors import FamilyError
from needlewright.families.document import document_notes
from needlewright.families.folder import check_family, load_family
from strategies import family_documents, json_values

Spoil = Callable[[dict[str, Any]], Any]


def speed(document: dict[str, Any]) -> dict[str, Any]:
    dial: dict[str, Any] = document["dials"][0]
    return dial


def set_speed(**fields: Any) -> Spoil:
    return lambda document: speed(document).update(fields)


def set_needle(**fields: Any) -> Spoil:
    return lambda document: speed(document)["needle"].update(fields)


SPOILT: list[tuple[str, Spoil, str]] = [
    ("no unit", lambda d: speed(d).pop("unit"),
     "dial 'speed': the field 'unit' is missing; expected a unit of the closed set"),
    ("no dials", lambda d: d.pop("dials"),
     "the field 'dials' is missing; expected a list of at least one dial, "
     "each an object in braces"),
    ("no needle length", lambda d: speed(d)["needle"].pop("length_mm"),
     "dial 'speed', needle: the field 'length_mm' is missing; expected a length in mm above 0"),
    ("no id", lambda d: speed(d).pop("id"),
     "dials[0]: the field 'id' is missing; expected a text of 1 to 64 characters"),
    ("one mark", set_speed(scale=[[0, -120]]),
     "dial 'speed', scale: expected at least two marks, each [value, angle in degrees], "
     "all numbers, found [[0, -120]]"),
    ("a mark of one number", set_speed(scale=[[0, -120], [50]]),
     "dial 'speed', scale[1]: expected a mark as [value, angle in degrees], two numbers, "
     "found [50]"),
    ("a mark in words", set_speed(scale=[[0, -120], [50, "up"]]),
     "scale[1][1]: expected a mark as [value, angle in degrees], two numbers, found \"up\""),
    ("values that fall", set_speed(scale=[[0, -120], [50, -50], [40, 0]]),
     "dial 'speed', scale[2][0]: expected the values of the marks to rise, found 40 after 50"),
    ("a value twice", set_speed(scale=[[0, -120], [50, -50], [50, 0]]),
     "scale[2][0]: expected the values of the marks to rise, found 50 after 50"),
    ("angles that turn back", set_speed(scale=[[0, -120], [50, -50], [90, -60]]),
     "dial 'speed', scale[2][1]: expected the angles of the marks to rise, as the direction is "
     "'cw', found -60 after -50 deg"),
    ("direction against the marks", set_speed(direction="ccw"),
     "dial 'speed', direction: expected 'cw', as the angles of the marks rise from -120 to "
     "120 deg while the value rises, found 'ccw'"),
    ("unknown direction", set_speed(direction="clockwise"),
     "dial 'speed', direction: expected 'cw' or 'ccw', found \"clockwise\""),
    ("more than a turn", set_speed(scale=[[0, -120], [50, 250]]),
     "dial 'speed', scale: expected the marks to span less than one turn of the needle, "
     "found 370 deg"),
    ("centre outside", set_speed(centre_mm=[120, 40]),
     "dial 'speed', centre_mm: expected a point on the face, x from 0 to 100 and y from 0 to 80 "
     "mm from its top-left corner, found [120, 40]"),
    ("unknown unit", set_speed(unit="knots"),
     "dial 'speed', unit: expected one of: km/h, mph, rpm, 1000 r/min, degC, degF, V, A, kW, kPa, "
     "MPa, bar, psi, kgf/cm2, inHg, L, US gal, imp gal, fraction of full, %, ohm, Hz, found "
     "\"knots\""),
    ("a unit spelled as on the face", set_speed(unit="°C"),
     "dial 'speed', unit: expected 'degC', as it is spelled here, found \"°C\""),
    ("a unit in another case", set_speed(unit="KPA"),
     "dial 'speed', unit: expected 'kPa', as it is spelled here, found \"KPA\""),
    ("a gallon of nobody's", set_speed(unit="gal"), "US gal, imp gal"),
    ("an id twice", lambda d: d["dials"][1].update(id="speed"),
     "dials: expected every id once, found 'speed' 2 times"),
    ("an id with a blank", set_speed(id="road speed"),
     "dial 'road speed', id: expected a text of 1 to 64 characters without blanks and without "
     ", ; = / \\ : that does not begin with #, found \"road speed\""),
    ("an id with a colon", set_speed(id="speed:left"),
     "dial 'speed:left', id: expected a text of 1 to 64 characters without blanks and without "
     ", ; = / \\ : that does not begin with #, found \"speed:left\""),
    ("an id that begins a remark", set_speed(id="#1"),
     "dial '#1', id: expected a text of 1 to 64 characters without blanks and without "
     ", ; = / \\ : that does not begin with #, found \"#1\""),
    ("an id that means all", set_speed(id="whole"),
     "dial 'whole', id: expected an id other than 'whole', which means all of the cluster, found "
     "\"whole\""),
    ("negative length", set_needle(length_mm=-30),
     "dial 'speed', needle.length_mm: expected a length in mm above 0, found -30"),
    ("no width", set_needle(tip_width_mm=0),
     "dial 'speed', needle.tip_width_mm: expected a width in mm above 0, found 0"),
    ("long tail", set_needle(tail_mm=35),
     "dial 'speed', needle.tail_mm: expected less than the needle's length_mm of 30, found 35"),
    ("large hub", set_needle(hub_radius_mm=30),
     "dial 'speed', needle.hub_radius_mm: expected less than the needle's length_mm of 30, "
     "found 30"),
    ("thick needle", set_needle(thickness_mm=3.5),
     "dial 'speed', needle.thickness_mm: expected no more than height_mm, the needle's top above "
     "the face, of 3, found 3.5"),
    ("colour of 255", set_needle(colour=[255, 0, 0]),
     "dial 'speed', needle.colour[0]: expected a number from 0 to 1, found 255"),
    ("length in words", set_needle(length_mm="30 mm"),
     "dial 'speed', needle.length_mm: expected a length in mm above 0, found \"30 mm\""),
    ("yes for true", set_speed(rest_pin="yes"),
     "dial 'speed', rest_pin: expected true or false, found \"yes\""),
    ("rest a turn away", set_speed(rest_angle_deg=234),
     "dial 'speed', rest_angle_deg: expected an angle within 45 deg of the marks, which run from "
     "-120 to 120 deg, on the same turn, found 234; give it as -126"),
    ("rest far away", lambda d: d["dials"][1].update(rest_angle_deg=150),
     "dial 'fuel', rest_angle_deg: expected an angle within 45 deg of the marks, which run from "
     "60 to -60 deg, on the same turn, found 150"),
    ("programme of one point", set_speed(programme=[[0, 0]]),
     "dial 'speed', programme: expected at least two points, each [true value, shown value]"),
    ("programme that falls", set_speed(programme=[[0, 0], [100, 110], [200, 108]]),
     "dial 'speed', programme[2][1]: expected the shown values not to fall, found 108 after 110"),
    ("programme that goes back", set_speed(programme=[[0, 0], [100, 110], [90, 120]]),
     "dial 'speed', programme[2][0]: expected the true values to rise, found 90 after 100"),
    ("programme off the scale", set_speed(programme=[[0, 0], [200, 260]]),
     "dial 'speed', programme[1][1]: expected a value the needle can show, at most 20 deg past "
     "the marks from 0 to 200, found 260 shown at 200"),
    ("unknown rule", set_speed(rule="un-r40"),
     "dial 'speed', rule: expected un-r39, us-393.82, jp-148, "),
    ("rule of no share", set_speed(rule={"house": {"of_span": 0}}),
     "dial 'speed', rule: expected the share in a house rule to be a number above 0, "
     "found {\"house\": {\"of_span\": 0}}"),
    ("rule of two shares", set_speed(rule={"house": {"of_span": 0.01, "of_graduation": 1}}),
     "expected exactly one of of_span and of_graduation in a house rule"),
    ("rule of graduations unknown", set_speed(rule={"house": {"of_graduation": 0.5}}),
     "dial 'speed', rule: house rule 'of_graduation' needs the dial's graduation"),
    ("a speed rule on fuel", lambda d: d["dials"][1].update(rule="un-r39"),
     "dial 'fuel', rule: "),
    ("graduation above the marks", set_speed(graduation=60),
     "dial 'speed', graduation: expected no more than 50 km/h, the smallest interval between the "
     "marks, found 60"),
    ("unknown movement", set_speed(movement={"kind": "clockwork"}),
     "dial 'speed', movement.kind: expected 'stepper', 'air_core' or 'thermal', "
     "found \"clockwork\""),
    ("no coil angle", set_speed(movement={"coil_axes_deg": 45}),
     "dial 'speed', movement.coil_axes_deg: expected 60 or 90, the angle between the coils' axes "
     "in degrees, found 45"),
    ("no time constant", lambda d: d.update(cooling={"freezer_bag_min": [0, 1]}),
     "cooling.freezer_bag_min[0]: expected a number of minutes, found 0"),
    ("no cycle", set_speed(movement={"cycle_deg": 0}),
     "dial 'speed', movement.cycle_deg: expected an angle in degrees above 0 and up to 360, "
     "found 0"),
    ("rest mark", set_speed(rest_mark="zero"),
     "dial 'speed', rest_mark: expected 'rest' or 'first_mark', found \"zero\""),
    ("face of no size", lambda d: d.update(face_size_mm=[100, 0]),
     "face_size_mm[1]: expected a length in mm above 0, found 0"),
    ("no scale of the picture", lambda d: d.update(px_per_mm=0),
     "px_per_mm: expected pixels of face.png per mm, a number above 0, found 0"),
    ("a dial that is none", lambda d: d["dials"].append(7),
     "dials[2]: expected a dial, an object in braces, found 7"),
    ("variants twice", lambda d: d.update(variants=[{"id": "a"}, {"id": "a"}]),
     "variants: expected every id once, found 'a' 2 times"),
    ("lamps in words", lambda d: d.update(lamps="four"),
     "lamps: expected a list of objects, found \"four\""),
    ("refit in words", lambda d: d.update(refit="carefully"),
     "refit: expected an object or a list of objects, found \"carefully\""),
]  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_the_real_families_load_and_check(name: str) -> None:
    family = load_family(FAMILIES / name)
    assert family.name == name
    assert [n.sentence for n in check_family(FAMILIES / name) if n.kind == "error"] == []


def test_what_the_job_family_says() -> None:
    family = load_family(FAMILIES / "fam-job")
    assert [dial.id for dial in family.dials] == ["engine", "speed", "temp", "fuel"]
    assert (family.face_size_mm, family.px_per_mm, family.eccentricity_mm) == (
        (303.0, 124.7), 12, 0.15)  # fmt: skip
    engine, speedo, temp, fuel = family.dials
    assert (speedo.rule, fuel.rule) == ("un-r39", {"house": {"of_span": 0.01}})
    assert speedo.scale.values[-1] == 220
    assert speedo.scale.angles_deg[-1] == 118.555
    assert (temp.direction, temp.scale.sense, fuel.rest_pin) == ("ccw", -1, True)
    assert (engine.movement.cycle_deg, engine.movement.repeatability_deg) == (2.0, 0.15)
    assert fuel.needle.colour == (0.96, 0.42, 0.08)
    assert family.face_path.name == "face.png"


def test_core_fields_alone_work(tmp_path: Path) -> None:
    family = load_family(put(tmp_path, plain()))
    dial = family.dials[0]
    assert (dial.rule, dial.graduation, dial.needle.colour) == (None, None, None)
    assert (dial.movement.kind, dial.movement.cycle_deg, dial.movement.stop_below_deg) == (
        "stepper", 2, 2)  # fmt: skip
    assert dial.programme_angle_deg(75) == -25


@pytest.mark.parametrize(("spoil", "words"), [case[1:] for case in SPOILT],
                         ids=[case[0] for case in SPOILT])  # fmt: skip
def test_one_sentence_names_file_field_value_and_expectation(
    tmp_path: Path, spoil: Spoil, words: str
) -> None:
    document = plain()
    spoil(document)
    with pytest.raises(FamilyError) as caught:
        load_family(put(tmp_path, document))
    sentence = str(caught.value)
    assert sentence.startswith(f"{tmp_path / 'family.json'}: ")
    assert words in sentence
    assert "\n" not in sentence
    assert sentence in [note.sentence for note in check_family(tmp_path) if note.kind == "error"]


TEXTS = [
    ("empty", "", "the file is empty; expected one JSON object in braces"),
    ("a slip", '{\n "name": "a",\n "px_per_mm" 4\n}',
     "not valid JSON at line 3, column 14: Expecting ':' delimiter; found '4'"),
    ("cut off", '{"name": "a"', "not valid JSON at line 1, column 13: Expecting ',' delimiter; "
     "found the end of the line"),
    ("a list", "[]", "expected one JSON object in braces, found a list"),
    ("a number", "3", "expected one JSON object in braces, found the value 3"),
    ("no number", '{"dials": [{"scale": [[0, NaN]]}]}',
     "dials[0].scale[0][1]: expected a finite number, found NaN"),
    ("no bound", '{"px_per_mm": -Infinity}',
     "px_per_mm: expected a finite number, found -Infinity"),
    ("too great", '{"px_per_mm": 1e999}', "px_per_mm: expected a finite number, found Infinity"),
    ("twice", '{"name": "a", "name": "b"}',
     "the field 'name' stands twice in one object; keep one of them"),
    ("deep", "[" * 100_000, "lists or objects nested too deeply to be a family"),
    ("long number", '{"px_per_mm": ' + "1" * 5000 + "}", "a number in it cannot be read: "),
]  # fmt: skip


@pytest.mark.parametrize(("text", "words"), [case[1:] for case in TEXTS],
                         ids=[case[0] for case in TEXTS])  # fmt: skip
def test_a_text_that_is_no_family(tmp_path: Path, text: str, words: str) -> None:
    put(tmp_path, text)
    with pytest.raises(FamilyError) as caught:
        load_family(tmp_path)
    assert str(caught.value).startswith(f"{tmp_path / 'family.json'}: {words}")
    assert "\n" not in str(caught.value)
    assert check_family(tmp_path)[0].sentence == str(caught.value)


def test_a_text_in_another_encoding(tmp_path: Path) -> None:
    put(tmp_path, plain())
    text = json.dumps(plain() | {"name": "Öl"}, ensure_ascii=False)
    (tmp_path / "family.json").write_bytes(text.encode("latin-1"))
    with pytest.raises(FamilyError, match=r"not UTF-8 text \(byte 11\); save it as UTF-8$"):
        load_family(tmp_path)
    (tmp_path / "family.json").write_bytes(b"\xef\xbb\xbf" + text.encode())
    assert load_family(tmp_path).name == "Öl"


def test_a_huge_file_is_not_read(tmp_path: Path) -> None:
    put(tmp_path, plain())
    with (tmp_path / "family.json").open("ab") as stream:
        stream.truncate(5_000_000_000)  # holds no blocks
    with pytest.raises(FamilyError, match=r"larger than 4 MB, the limit for a family's JSON$"):
        load_family(tmp_path)


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path, plain())

    def refused(*_: Any, **__: Any) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refused)
    with pytest.raises(FamilyError, match=r"family\.json: cannot be read: Permission denied$"):
        load_family(tmp_path)


def test_a_folder_that_may_not_be_opened(tmp_path: Path) -> None:
    with pytest.raises(FamilyError, match=r": cannot be opened: File name too long$"):
        load_family(tmp_path / ("a" * 5000))
    (note,) = check_family(tmp_path / ("a" * 5000))
    assert note.words == "cannot be opened: File name too long"


def test_wrong_folders(tmp_path: Path) -> None:
    wish = r"expected the folder that holds family\.json and face\.png"
    with pytest.raises(FamilyError, match=rf"nowhere: there is no such folder; {wish}$"):
        load_family(tmp_path / "nowhere")
    file = put(tmp_path, plain()) / "family.json"
    with pytest.raises(FamilyError, match=rf"{wish}, found a file; give {tmp_path}$"):
        load_family(file)
    file.unlink()
    with pytest.raises(FamilyError, match=r"there is no such file; expected the family's JSON$"):
        load_family(tmp_path)
    file.mkdir()
    with pytest.raises(FamilyError, match=r"family\.json: expected a file, found a folder$"):
        load_family(tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes on this system")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "family.json")
    with pytest.raises(FamilyError, match=r"expected a file, found something that is none$"):
        load_family(tmp_path)


def test_checking_gathers_everything(tmp_path: Path) -> None:
    document = plain()
    document["px_per_mm"] = "12"
    document["dials"][0]["needle"]["length_mm"] = 0
    document["dials"][0]["unit"] = "knots"
    document["dials"][1]["centre_mm"] = [80, 81]
    document["dials"][1]["needle"]["tail_mm"] = 20
    notes = check_family(put(tmp_path, document, face=None))
    assert [(note.kind, note.field) for note in notes] == [
        ("error", "px_per_mm"),
        ("error", "dials[0].unit"),
        ("error", "dials[0].needle.length_mm"),
        ("error", "dials[1].centre_mm"),
        ("error", "dials[1].needle.tail_mm"),
        ("error", ""),
    ]
    assert notes[-1].file.endswith("face.png")


def test_a_misspelt_optional_field_is_remarked(tmp_path: Path) -> None:
    document = plain()
    document["dials"][0]["gradation"] = 5
    document["dials"][0]["needle"]["pitch_deg"] = 0.3
    document["dials"][0]["colour_of_the_bezel"] = "black"
    words = [n.words for n in check_family(put(tmp_path, document)) if "not known" in n.words]
    assert words == [
        "'gradation' is not known and is left alone; is 'graduation' meant?",
        "'pitch_deg' is not known and is left alone; is 'pitch_u_deg' meant?",
    ]


def test_a_programme_that_lifts_the_needle_at_standstill_is_remarked(tmp_path: Path) -> None:
    document = plain()
    document["dials"][0]["programme"] = [[0, 1.5], [180, 185.1]]
    words = [n.words for n in check_family(put(tmp_path, document)) if "standstill" in n.words]
    assert words == [
        "shows 1.5 km/h at standstill, so a needle parked at zero counts as reading low; "
        "usual is [0, 0] first and the rise just above it"
    ]


def test_remarks_say_what_is_left_to_defaults(tmp_path: Path) -> None:
    document = plain()
    document["dials"][0].update(rest_angle_deg=-110, programme=[[0, 0], [200, 200]])
    document["dials"][0]["needle"]["tip_width_mm"] = 3
    document["dials"][1].update(rest_angle_deg=65, rule={"house": {"of_span": 0.02}})
    notes = check_family(put(tmp_path, document))
    assert [(note.kind, note.subject, note.field.split(".", 1)[1]) for note in notes] == [
        ("remark", "dial 'speed'", "rule"),
        ("remark", "dial 'speed'", "movement"),
        ("remark", "dial 'speed'", "needle.tip_width_mm"),
        ("remark", "dial 'speed'", "rest_angle_deg"),
        ("remark", "dial 'fuel'", "programme"),
        ("remark", "dial 'fuel'", "movement"),
        ("remark", "dial 'fuel'", "rest_angle_deg"),
    ]
    words = [note.words for note in notes]
    assert words[0] == "no rule stated: the dial is read and not judged"
    assert words[2] == "the tip, 3 mm, is wider than the base, 2 mm; are they swapped?"
    assert words[3] == "the needle rests on the scale, 10.0 deg above the first mark"
    assert words[4] == "no programme stated: a sound unit is taken to show the true value"
    assert words[6].startswith("the needle rests 5.0 deg below the first mark with no pin")


@settings(max_examples=40)
@given(family_documents())
def test_usable_families_have_no_error(document: dict[str, Any]) -> None:
    assert [n.sentence for n in document_notes("f", document) if n.kind == "error"] == []


def places_of(node: Any) -> list[tuple[Any, Any]]:
    """Every (container, key) of a document."""
    keys: list[Any] = list(node) if isinstance(node, dict) else []
    keys = list(range(len(node))) if isinstance(node, list) else keys
    return [(node, key) for key in keys] + [p for key in keys for p in places_of(node[key])]


@settings(max_examples=60)
@given(st.data(), family_documents(), json_values())
def test_any_slip_is_one_sentence_or_none(
    data: st.DataObject, document: dict[str, Any], anything: Any
) -> None:
    """Whatever stands in whatever place: notes come back, nothing is thrown."""
    container, key = data.draw(st.sampled_from(places_of(document)))
    container[key] = anything
    for note in document_notes("family.json", document):
        assert note.sentence.startswith("family.json: ")
        assert note.words
