import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from families.places import FAMILIES, NAMES, plain, put
from needlewright.cli.main import run
from needlewright.families.schema import json_schema

ROOT = Path(__file__).parents[2]


def parsed(said: str, name: str) -> Any:
    """The document on standard output, after its schema has passed it."""
    schema = json.loads((ROOT / f"docs/json/{name}.schema.json").read_text(encoding="utf-8"))
    document = json.loads(said)
    assert [e.message for e in Draft202012Validator(schema).iter_errors(document)] == []
    return document


def call(*words: str | Path) -> int:
    with pytest.raises(SystemExit) as left:
        run([str(word) for word in words])
    assert isinstance(left.value.code, int)
    return left.value.code


def test_check_of_good_families(capsys: pytest.CaptureFixture[str]) -> None:
    assert call("family", "check", *(FAMILIES / name for name in NAMES)) == 0
    said = capsys.readouterr()
    assert said.err == ""
    assert said.out.count(": can be used\n") == 5
    assert "remark: engine, speed, fuel, temp: no rule stated: the dial is read and not" in said.out


def test_check_of_a_bad_one_says_all_and_leaves_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    document = plain()
    document["dials"][0]["direction"] = "left"
    document["dials"][1]["centre_mm"] = [80, -1]
    put(tmp_path, document)
    assert call("family", "check", FAMILIES / "fam-a", tmp_path) == 1
    said = capsys.readouterr()
    file = tmp_path / "family.json"
    assert said.err.splitlines() == [
        f"needlewright: {file}: dial 'speed', direction: expected 'cw' or 'ccw', found \"left\"",
        f"needlewright: {file}: dial 'fuel', centre_mm: expected a point on the face, x from 0 to "
        "100 and y from 0 to 80 mm from its top-left corner, found [80, -1]",
    ]
    assert f"{tmp_path}: cannot be used, 2 errors\n" in said.out
    assert "fam-a: can be used" in said.out


def test_check_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    document = plain()
    document["dials"][1]["unit"] = "litres"
    put(tmp_path, document)
    assert call("family", "check", tmp_path, "--json") == 1
    said = capsys.readouterr()
    assert said.err == ""
    (family,) = parsed(said.out, "family-check")["families"]
    assert (family["folder"], family["usable"]) == (str(tmp_path), False)
    (error,) = family["errors"]
    assert error["field"] == "dials[1].unit"
    assert error["sentence"].startswith(f"{tmp_path / 'family.json'}: dial 'fuel', unit: expected")
    assert [remark["field"] for remark in family["remarks"]] == [
        "dials[0].programme", "dials[0].rule", "dials[0].movement"
    ]  # fmt: skip


def test_show_makes_a_table_and_a_picture(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert call("family", "show", FAMILIES / "fam-job") == 0
    said = capsys.readouterr().out
    for cell in ("fam-job", "303 x 124.7 mm", "118.56", "anticlockwise", "rests 146.59", "un-r39",
                 "220 shown as", "on a pin", "1.77 deg", "fam-job-marks.png"):  # fmt: skip
        assert cell in said, cell
    with Image.open(tmp_path / "fam-job-marks.png") as picture:
        assert picture.size[0] == 3200


def test_show_as_json_draws_only_when_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert call("family", "show", FAMILIES / "fam-c", "--json") == 0
    shown = parsed(capsys.readouterr().out, "family-show")
    assert (shown["name"], shown["picture"], list(tmp_path.iterdir())) == ("fam-c", None, [])
    temp = shown["dials"][3]
    assert (temp["id"], temp["direction"], temp["scale"][0]) == ("temp", "ccw", [50, 42.766])
    assert temp["stop_angle_deg"] == 49.995
    assert temp["movement"]["repeatability_deg"] == 0.15
    assert temp["needle"]["tip_width_deg"] == pytest.approx(4.3880, abs=1e-3)
    there = tmp_path / "new" / "c.png"
    assert call("family", "show", FAMILIES / "fam-c", "--json", "--picture", there) == 0
    assert parsed(capsys.readouterr().out, "family-show")["picture"] == str(there)
    assert there.exists()


def test_show_refuses_to_draw_over_the_face(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    put(tmp_path, plain())
    before = (tmp_path / "face.png").read_bytes()
    assert call("family", "show", tmp_path, "--picture", tmp_path / "face.png") == 2
    assert "is the family's own face; give another name" in capsys.readouterr().err
    assert call("family", "show", tmp_path, "--picture", tmp_path / "x.jpg") == 2
    assert (tmp_path / "face.png").read_bytes() == before
    assert not (tmp_path / "x.jpg").exists()


def test_show_of_a_bad_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    put(tmp_path, "{", face=None)
    assert call("family", "show", tmp_path) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith(
        f"needlewright: {tmp_path / 'family.json'}: not valid JSON at line 1"
    )
    assert said.err.count("\n") == 1


def test_brackets_in_a_name_are_no_markup(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    put(tmp_path / "f", plain() | {"name": "../[red]a[/] é"})
    assert call("family", "show", "f") == 0
    assert "../[red]a[/] é" in capsys.readouterr().out
    assert sorted(p.name for p in tmp_path.iterdir()) == ["f", "red-a-é-marks.png"]


def test_schema(capsys: pytest.CaptureFixture[str]) -> None:
    assert call("family", "schema") == 0
    assert json.loads(capsys.readouterr().out) == json_schema()


def test_wrong_usage() -> None:
    assert call("family", "check") == 2
    assert call("family", "draw") == 2


@pytest.mark.parametrize("name", NAMES)
def test_json_of_the_real_families(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert call("family", "show", FAMILIES / name, "--json") == 0
    shown = parsed(capsys.readouterr().out, "family-show")
    stated = json.loads((FAMILIES / name / "family.json").read_text(encoding="utf-8"))
    assert [dial["scale"] for dial in shown["dials"]] == [d["scale"] for d in stated["dials"]]
    assert call("family", "check", FAMILIES / name, "--json") == 0
    (checked,) = parsed(capsys.readouterr().out, "family-check")["families"]
    assert (checked["usable"], checked["errors"]) == (True, [])
