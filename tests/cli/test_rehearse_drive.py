"""`needlewright rehearse drive`, and what `in-vehicle` makes of it."""

import json
from importlib.resources import files
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from needlewright.cli.main import run
from needlewright.readings.photo_moment import photo_moment
from needlewright.signals.port_log.reading import read_port_log

FAMILY = str(files("needlewright") / "demo_data" / "family")
SCHEMAS = Path(__file__).parents[2] / "docs" / "json"


def called(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run([*map(str, words)])
    said = capsys.readouterr()
    return int(left.value.code or 0), said.out, said.err


def test_a_rehearsed_drive_is_marked_and_its_fault_is_found(capsys, tmp_path) -> None:
    out = tmp_path / "drive"
    code, said, _ = called(
        capsys,
        *("rehearse", "drive", "--family", FAMILY, "--out", out, "--seed", 3, "--photos", 1),
        *("--fault", "engine:needle_offset=-5", "--json"),
    )
    assert code == 0
    truth = json.loads(said)
    described = json.loads((SCHEMAS / "rehearse-drive.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator(described).validate(truth)
    (photo,) = truth["photos"]
    log = read_port_log(Path(truth["log"]))
    assert log.rehearsed
    assert photo_moment(photo["photo"]).rehearsed
    # the port says what the cluster was told, to half a step of its number: 1 km/h
    assert log.of_pid(0x0D)[-1].value == pytest.approx(photo["told"]["speed"], abs=0.5)

    code, said, _ = called(
        capsys,
        *("in-vehicle", "--family", FAMILY, "--log", truth["log"], "--json", photo["photo"]),
    )
    assert code == 0
    check = json.loads(said)
    described = json.loads((SCHEMAS / "in-vehicle.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator(described).validate(check)
    assert check["rehearsed"]
    dials = {one["dial"]: one for one in check["dials"]}
    assert {name: one["verdict"] for name, one in dials.items()} == {
        "engine": "does_not",
        "speed": "shows_what_it_is_told",
        "temp": "shows_what_it_is_told",
        "fuel": "shows_what_it_is_told",
    }
    assert dials["engine"]["size_deg"] == pytest.approx(-5.0, abs=0.4)
    (row,) = dials["engine"]["photos"]
    assert row["told"] == pytest.approx(photo["told"]["engine"], abs=0.001)
    assert {one["seen_in"] for one in check["evidence"]} == {"port.csv with dash-1.jpg (rehearsed)"}


def test_a_folder_in_use_and_a_wrong_number_of_photos(capsys, tmp_path) -> None:
    (tmp_path / "kept.txt").write_text("kept")
    words = ("rehearse", "drive", "--family", FAMILY, "--out")
    code, _, err = called(capsys, *words, tmp_path)
    assert code == 1
    assert "expected a new or empty folder" in " ".join(err.split())
    code, _, err = called(capsys, *words, tmp_path / "new", "--photos", 0)
    assert code == 2
    assert "--photos 0: expected a whole number from 1 to 20" in " ".join(err.split())
    assert [path.name for path in tmp_path.iterdir()] == ["kept.txt"]
