"""`needlewright family draft`: words of the command line, what is kept, what is refused."""

import json
import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from jsonschema import Draft202012Validator

sys.path.insert(0, str(Path(__file__).parents[1] / "readings" / "drafting"))

from drawn_face import FUEL, SPEED, clicks, drawn

from needlewright.cli.main import run
from needlewright.readings.drafting.inputs import DraftInputs, read_inputs

ROOT = Path(__file__).parents[2]


def call(*words: str | Path) -> int:
    with pytest.raises(SystemExit) as left:
        run([str(word) for word in words])
    assert isinstance(left.value.code, int)
    return left.value.code


def dial_words(inputs: DraftInputs) -> list[str]:
    words = []
    for dial in inputs.dials:
        marks = ":".join(f"{m.value:g}@{m.at_px[0]:.0f},{m.at_px[1]:.0f}" for m in dial.marks)
        hub = f"{dial.hub_px[0]:.0f},{dial.hub_px[1]:.0f}"
        words += ["--dial", f"{dial.id}@{hub}:{marks}:{dial.unit}"]
    return words


@pytest.fixture(scope="module")
def scan(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("scan") / "face.png"
    cv2.imwrite(str(path), drawn((FUEL,)))
    return path


def document(said: str) -> Any:
    schema = json.loads((ROOT / "docs/json/family-draft.schema.json").read_text(encoding="utf-8"))
    made = json.loads(said)
    assert [e.message for e in Draft202012Validator(schema).iter_errors(made)] == []
    return made


def test_a_scan_becomes_a_family_that_passes_its_check(
    scan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "small-car"
    words = dial_words(clicks((FUEL,), known=False))
    more = ["--dpi", "127", "--rest", "fuel=-52.5,pin", "--needle", "fuel:length=17.2"]
    assert call("family", "draft", "--bare", scan, "--out", out, *words, *more, "--json") == 0
    made = document(capsys.readouterr().out)
    (dial,) = made["dials"]
    values = [mark["value"] for mark in dial["marks"] if mark["value"] is not None]
    assert values == [0, 0.25, 0.5, 0.75, 1]
    angles = [mark["angle_deg"] for mark in dial["marks"] if mark["value"] is not None]
    assert angles == pytest.approx(FUEL.angles_deg, abs=0.25)
    assert (dial["rest_angle_deg"], dial["rest_pin"]) == (-52.5, True)
    assert dial["rest_source"] == "typed"
    past_mm = np.array([mark["past_mm"] for mark in dial["marks"]])
    rms_mm = float(np.sqrt(np.mean(past_mm**2)))
    assert rms_mm == pytest.approx(dial["line_rms_mm"], rel=0.05)
    assert (dial["needle"]["length_mm"], dial["needle_sources"]["length_mm"]) == (17.2, "typed")
    assert (made["name"], made["tilt_deg"]) == ("small-car", None)
    assert sorted(p.name for p in out.iterdir()) == [
        "draft.json", "draft.overlay.jpg", "face.png", "family.json"
    ]  # fmt: skip
    assert call("family", "check", out) == 0
    capsys.readouterr()
    # the same again from the file that was left, by a person: told not to write over it, then to
    assert (
        call("family", "draft", "--bare", scan, "--out", out, "--clicks", out / "draft.json") == 2
    )
    assert "holds a family already" in capsys.readouterr().err
    again = ["--clicks", out / "draft.json", "--replace"]
    assert call("family", "draft", "--bare", scan, "--out", out, *again) == 0
    said = capsys.readouterr().out
    assert "small-car  face" in said
    assert "each mark should carry a line" in said
    family = json.loads((out / "family.json").read_text(encoding="utf-8"))
    assert [value for value, _ in family["dials"][0]["scale"]] == values


def test_what_was_typed_is_kept_when_a_click_meets_nothing(
    scan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    words = ["--dial", "fuel@450,232:0@379,175:1@600,30:fraction of full:tank", "--dpi", "127"]
    assert call("family", "draft", "--bare", scan, "--out", out, *words) == 1
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "nothing stands out from the face at the click on mark 1 (600, 30)" in said
    assert f"(what was typed is kept: --clicks {out / 'draft.json'})" in said
    assert [p.name for p in out.iterdir()] == ["draft.json"]
    kept = read_inputs(out / "draft.json")
    assert kept.dpi == 127.0
    (dial,) = kept.dials
    assert (dial.quantity, dial.unit, dial.hub_px) == ("tank", "fraction of full", (450.0, 232.0))
    assert [(m.value, m.at_px) for m in dial.marks] == [(0.0, (379.0, 175.0)), (1.0, (600.0, 30.0))]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--dial", "fuel"], "--dial fuel: expected ID@X,Y:VALUE@X,Y:VALUE@X,Y:UNIT"),
        (["--dial", "fuel@1:0@1,2:1@3,4:V"], "expected a place X,Y in pixels of the picture"),
        (["--dial", "fuel@1,2:full@1,2:1@3,4:V"], "expected the number that is printed at a mark"),
        (["--dial", "fuel@1,2:0@1,2:1@3,4"], "expected the unit after the marks"),
        (["--dial", "fu el@1,2:0@1,2:1@3,4:V"], "expected an id without blanks"),
        ([], "no dial is clicked; say --dial"),
        (["--dial", "a@1,2:0@1,2:1@3,4:V", "--known-mm", "12"], "--known-mm 12: expected MM:DIAL"),
        (["--dial", "a@1,2:0@1,2:1@3,4:V", "--known-mm", "0:a:b"], "expected millimetres above 0"),
        (["--dial", "a@1,2:0@1,2:1@3,4:V", "--level", "5,6"], "--level 5,6: expected two places"),
        (["--dial", "a@1,2:0@1,2:1@3,4:V", "--rest", "a"], "--rest a: expected DIAL=DEGREES"),
        (["--dial", "a@1,2:0@1,2:1@3,4:V", "--rest", "b=3"], "--rest: there is no dial 'b'"),
        (["--dial", "a@1,2:0@1,2:1@3,4:V", "--needle", "a:wing=3"], "expected DIAL:MEASURE=MM"),
    ],
)
def test_words_that_cannot_be_read_are_wrong_usage(
    words: list[str], sentence: str, scan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert call("family", "draft", "--bare", scan, "--out", out, *words) == 2
    said = capsys.readouterr().err
    assert sentence in said
    assert said.count("\n") == 1
    assert not out.exists()


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        ({"name": "x"}, "dials: field required"),
        ({"name": "x", "dials": []}, "dials: list should have at least 1 item after validation"),
        (
            {"name": "x", "dials": [{"id": "a", "hub_px": [1, 2], "unit": "V", "marks": [
                {"at_px": [1, 2], "value": 3}]}]},
            "dials[0].marks: list should have at least 2 items",
        ),
    ],
)  # fmt: skip
def test_a_file_of_clicks_that_cannot_be_used_is_one_sentence(
    content: dict[str, Any],
    sentence: str,
    scan: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    file = tmp_path / "clicks.json"
    file.write_text(json.dumps(content), encoding="utf-8")
    words = ("--out", tmp_path / "out", "--clicks", file)
    assert call("family", "draft", "--bare", scan, *words) == 1
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert str(file) in said
    assert sentence in said


def test_no_picture_and_a_picture_that_is_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = dial_words(clicks((SPEED,), known=False))
    assert call("family", "draft", "--out", tmp_path / "out", *words) == 2
    assert "no picture is named" in capsys.readouterr().err
    broken = tmp_path / "photo.jpg"
    broken.write_bytes(np.arange(200, dtype=np.uint8).tobytes())
    assert call("family", "draft", broken, "--out", tmp_path / "out", "--dpi", "127", *words) == 1
    assert "is not a picture" in capsys.readouterr().err


def test_a_photo_at_rest_must_be_one_of_those_named(
    scan: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = [*dial_words(clicks((FUEL,), known=False)), "--dpi", "127", "--at-rest", "other.jpg"]
    assert call("family", "draft", "--bare", scan, "--out", tmp_path / "car", *words) == 1
    said = capsys.readouterr().err
    assert "other.jpg" in said
    assert "Traceback" not in said
    assert read_inputs(tmp_path / "car" / "draft.json").at_rest == ("other.jpg",)
