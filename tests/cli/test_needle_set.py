"""`needle-set` from the command line: text, documents, and sentences for what cannot be used."""

import json
from pathlib import Path

import jsonschema
import pytest

from needlewright.cli.main import run
from needlewright.readings.run_csv import write_run
from needlewright.readings.runs import Run
from readings.drawn_runs import DATA, FAMILY, drawn_run

FOLDER = str(DATA / "families" / "fam-job")
SCHEMAS = Path(__file__).parents[2] / "docs" / "json"


def call(capsys, *words: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(list(words))
    said = capsys.readouterr()
    return int(left.value.code or 0), said.out, said.err


def valid(document, name: str) -> None:
    schema = json.loads((SCHEMAS / f"{name}.schema.json").read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(document, schema)


@pytest.fixture
def left(tmp_path: Path) -> Path:
    path = tmp_path / "left.csv"
    write_run(path, drawn_run("as-left"))
    return path


def test_press_says_where_to_drive_and_where_to_press(capsys, left):
    code, out, err = call(capsys, "needle-set", "press", str(left), "--family", FOLDER)
    assert (code, err) == (0, "")
    assert "speed: PRESS\n    home, drive speed to " in out
    assert "km/h from below, press at " in out
    assert "expected pass " in out
    assert "common practice, no source" in out
    assert "never force a needle" in out
    assert "A speedometer is never set to read low." in out


def test_press_as_a_document(capsys, left, tmp_path):
    hand = tmp_path / "hand.csv"
    rows = "".join(f"engine;3,0;{3 + 0.1 * (i % 5):.1f}\n".replace(".", ",") for i in range(12))
    hand.write_text("dial;intended_deg;achieved_deg\n" + rows, encoding="utf-8")
    words = ("needle-set", "press", str(left), "--family", FOLDER, "--json")
    document = json.loads(call(capsys, *words, "--hand", str(hand), "--at", "speed=80")[1])
    valid(document, "needle-set-press")
    assert list(document["dials"]) == [dial.id for dial in FAMILY.dials]
    assert document["dials"]["speed"]["press"]["drive_to"] == 80
    assert document["hand"]["needles"] == 12
    assert document["hand"]["is_default"] is False
    one = document["dials"]["engine"]["expected"]
    assert abs(one["pass"] - one["pass_by_trials"]) < 5 * one["u_pass_by_trials"]
    only = json.loads(call(capsys, *words, "--dial", "temp")[1])
    assert list(only["dials"]) == ["temp"]


def test_a_dial_that_says_nothing_leaves_the_others_their_plan(capsys, tmp_path):
    drawn = drawn_run("as-left")
    rows = tuple(r for r in drawn.rows if r.dial != "temp" or r.approach != "rest")
    path = tmp_path / "no-rest.csv"
    write_run(path, Run(drawn.name, rows))
    words = ("needle-set", "press", str(path), "--family", FOLDER, "--json")
    document = json.loads(call(capsys, *words)[1])
    valid(document, "needle-set-press")
    assert document["dials"]["temp"]["verdict"] is None
    assert "no row at rest after homing" in document["dials"]["temp"]["reason"]
    assert document["dials"]["speed"]["verdict"] == "press"


@pytest.mark.parametrize(
    ("more", "code", "says"),
    [
        (("--dial", "oil"), 1, "has no row of a dial 'oil'; it has "),
        (("--at", "speed"), 2, "--at speed: a dial and a value are expected"),
        (("--at", "speed=nan"), 2, "the value must be a finite number"),
        (("--at", "speed=83.21", "--dial", "speed"), 1, "no row of the run at 83.21 km/h"),
    ],
)
def test_what_cannot_be_used_is_one_sentence(capsys, left, more, code, says):
    left_with, out, err = call(capsys, "needle-set", "press", str(left), "--family", FOLDER, *more)
    assert (left_with, out, err.count("\n")) == (code, "", 1)
    assert says in err


def test_a_table_of_hands_names_the_row_that_is_wrong(capsys, left, tmp_path):
    hand = tmp_path / "hand.csv"
    hand.write_text("dial,intended_deg,achieved_deg\nengine,3,three\n", encoding="utf-8")
    words = ("needle-set", "press", str(left), "--family", FOLDER, "--hand", str(hand))
    code, _, err = call(capsys, *words)
    assert code == 1
    assert "line 2, column 'achieved_deg': given 'three'" in err
    hand.write_text("dial,intended_deg,achieved_deg\nother,3,3\n", encoding="utf-8")
    assert "type tip_deg for another's" in call(capsys, *words)[2]
