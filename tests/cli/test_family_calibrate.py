"""`family calibrate` and `family differs`: what they say, what they write, what they refuse."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from needlewright.cli import family_calibrate
from needlewright.cli.main import run as command_line
from needlewright.families.folder import load_family, write_family
from needlewright.families.model import Programme
from needlewright.readings.run_csv import write_run
from needlewright.readings.runs import Run, as_rehearsed
from needlewright.readings.standing.measure import Measured, NeedleStands, StandingNeedles
from plans.made_runs import made_rows
from proofs.drawn_job import DATA

SCHEMAS = Path(__file__).parents[2] / "docs" / "json"
FAM_A = DATA / "families" / "fam-a"
PHOTOS = [str(DATA / "photos" / "fam-a" / "photos" / f"00{n}.jpg") for n in (1, 2)]


@pytest.fixture
def folder(tmp_path) -> Path:
    """The drawn job's family, its speedometer without a programme and without a rule."""
    shutil.copytree(DATA / "families" / "fam-job", tmp_path / "family")
    family = load_family(tmp_path / "family")
    dials = tuple(
        replace(dial, programme=Programme(), rule=None if dial.id == "speed" else dial.rule)
        for dial in family.dials
    )
    write_family(replace(family, dials=dials), tmp_path / "family")
    return tmp_path / "family"


def call(capsys, *words: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        command_line([str(word) for word in words])
    said = capsys.readouterr()
    return int(left.value.code or 0), said.out, said.err


def document(capsys, schema: str, *words: object) -> dict:
    code, out, err = call(capsys, *words, "--json")
    assert (code, err) == (0, ""), err
    found = json.loads(out)
    described = json.loads((SCHEMAS / f"{schema}.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(described)
    assert [e.message for e in Draft202012Validator(described).iter_errors(found)] == []
    return found


def run_of(folder: Path, tmp_path: Path, programme: Programme, error=None) -> Path:
    dial = replace(load_family(folder).dial("speed"), programme=programme)
    rows = made_rows(dial) if error is None else made_rows(dial, error)
    path = tmp_path / "sound.csv"
    write_run(path, Run("made", rows))
    return path


def test_a_programme_is_shown_and_written_only_when_it_is_said(folder, tmp_path, capsys):
    csv = run_of(folder, tmp_path, Programme((0.0, 200.0), (0.0, 206.0)))
    before = (folder / "family.json").read_bytes()
    asked = ("family", "calibrate", folder, "--run", csv)
    code, out, _ = call(capsys, *asked)
    assert code == 0
    assert "Nothing was written; look at it, then say --write." in out
    code, out, err = call(capsys, *asked, "--write")
    assert (code, out) == (2, "")
    assert "a programme is only taken from a unit that is known to be sound; add --sound" in err
    assert (folder / "family.json").read_bytes() == before
    said = document(capsys, "family-calibrate", *asked, "--sound", "--write")
    (fit,) = said["programmes"]
    top = fit["points"][-1]
    assert top["shown_value"] == pytest.approx(1.03 * top["true_value"], abs=0.2)
    assert 0 < top["u_shown"] < 1
    assert said["written"]
    (change,) = said["changes"]
    assert change.startswith("dial 'speed', programme is [[0, 0")
    assert load_family(folder).dial("speed").programme.shown_at(100) == pytest.approx(103, abs=0.2)
    assert document(capsys, "family-calibrate", *asked, "--sound", "--write")["changes"] == []


def test_a_rehearsed_run_is_put_into_an_invented_family_only(folder, tmp_path, capsys):
    programme = Programme((0.0, 200.0), (0.0, 206.0))
    dial = replace(load_family(folder).dial("speed"), programme=programme)
    csv = tmp_path / "rehearsed.csv"
    write_run(csv, as_rehearsed(Run("made", made_rows(dial))))
    path = folder / "family.json"
    before = path.read_bytes()
    asked = ("family", "calibrate", folder, "--run", csv, "--sound")
    code, out, err = call(capsys, *asked, "--write")
    assert (code, out) == (1, "")
    assert "run 'made' was rehearsed: nothing of it was seen on a real cluster" in err
    assert path.read_bytes() == before
    code, _, err = call(capsys, *asked, "--write", "--rehearsed")
    assert (code, "so no programme is taken from it" in err) == (1, True)
    assert path.read_bytes() == before
    code, out, _ = call(capsys, *asked)  # it may be looked at
    assert (code, "run made: rehearsed" in out) == (0, True)
    path.write_text(json.dumps(json.loads(before) | {"invented": True}), encoding="utf-8")
    code, out, err = call(capsys, *asked, "--write")
    assert (code, out) == (1, "")
    assert "add --rehearsed if it is to be put into the invented family" in err
    code, out, _ = call(capsys, *asked, "--write", "--rehearsed")
    assert code == 0
    assert load_family(folder).dial("speed").programme.shown_at(100) == pytest.approx(103, abs=0.2)
    assert json.loads(path.read_text(encoding="utf-8"))["invented"] is True


def test_a_run_of_a_cluster_is_not_called_a_rehearsed_one(folder, tmp_path, capsys):
    csv = run_of(folder, tmp_path, Programme())
    asked = ("family", "calibrate", folder, "--run", csv, "--sound", "--write", "--rehearsed")
    code, out, err = call(capsys, *asked)
    assert (code, out) == (1, "")
    assert "was taken on a cluster, and is said to be a rehearsed one (--rehearsed)" in err


def test_a_run_that_shows_a_fault_is_never_written(folder, tmp_path, capsys):
    csv = run_of(folder, tmp_path, Programme(), lambda i, told, way: 2.0 if way == "up" else -2.0)
    before = (folder / "family.json").read_bytes()
    asked = ("family", "calibrate", folder, "--run", csv, "--dial", "speed", "--sound", "--write")
    said = document(capsys, "family-calibrate", *asked)
    (fit,) = said["programmes"]
    assert fit["points"] == []
    assert "rising and falling differ by 4.0 deg on average" in fit["faults"][0]
    assert said["changes"] == []
    assert (folder / "family.json").read_bytes() == before
    code, out, _ = call(capsys, *asked)
    assert (code, "not taken: rising and falling differ" in out) == (0, True)


def test_a_speedometer_that_reads_low_is_no_sound_one(folder, tmp_path, capsys):
    family = load_family(folder)
    ruled = tuple(replace(d, rule="un-r39") if d.id == "speed" else d for d in family.dials)
    write_family(replace(family, dials=ruled), folder)
    csv = run_of(folder, tmp_path, Programme((0.0, 200.0), (0.0, 190.0)))
    said = document(capsys, "family-calibrate", "family", "calibrate", folder, "--run", csv)
    (fit,) = said["programmes"]
    assert fit["points"] == []
    assert "does not conform to its rule" in fit["faults"][0]


def measured(dial: str) -> NeedleStands:
    return NeedleStands(
        dial, ("a.jpg", "b.jpg"), (("c.jpg", "moved"),), Measured(3.456, 0.1),
        Measured(None, None, "not enough data: x"), Measured(0.5, 0.2), (0.1, -0.3), 1.5, 2,
    )  # fmt: skip


def test_a_height_is_written_and_what_is_not_told_stays(folder, capsys, monkeypatch):
    found = StandingNeedles((measured("speed"),), ("a.jpg", "b.jpg"), (("d.jpg", "too_dark"),))
    monkeypatch.setattr(family_calibrate, "measure_standing", lambda *_: found)
    was = load_family(folder).dial("speed").needle
    code, out, _ = call(capsys, "family", "calibrate", folder, "a.jpg", "b.jpg")
    assert code == 0
    for words in (
        "3.46 ± 0.20", "not told", "+0.50 ± 0.40", "speed thickness: not enough data: x",
        "speed: not measured in c.jpg: moved", "d.jpg: no needle was measured in it",
    ):  # fmt: skip
        assert words in out, words
    said = document(
        capsys, "family-calibrate", "family", "calibrate", folder, "a.jpg", "b.jpg", "--write"
    )
    assert said["changes"] == [f"dial 'speed', needle.height_mm is 3.46, was {was.height_mm:g}"]
    now = load_family(folder).dial("speed").needle
    assert (now.height_mm, now.thickness_mm) == (3.46, was.thickness_mm)


def test_needles_that_moved_tell_nothing(capsys):
    """Two photos of one set, in which every needle stands elsewhere."""
    said = document(
        capsys, "family-calibrate", "family", "calibrate", FAM_A, *PHOTOS, "--dial",
        load_family(FAM_A).dials[0].id,
    )  # fmt: skip
    (needle,) = said["needles"]
    assert needle["height_mm"]["value"] is None
    assert needle["height_mm"]["why_not"]
    assert said["written"] is False


@pytest.mark.parametrize(("words", "says"), [
    ([], "nothing to measure by: give two or more photos, or --run RUN.csv"),
    (["one.jpg"], "'one.jpg': one photo tells no height; give 2 or more, from different sides"),
    (["a.jpg", "b.jpg", "--sound"], "--run-name, --sound: there is no run; give --run, or leave"),
    (["a.jpg", "b.jpg", "--write", "--rehearsed"], "--rehearsed: says that a rehearsed run is to"),
    (["a.jpg", "b.jpg", "--dial", "x"], "--dial 'x': family 'fam-a' has "),
])  # fmt: skip
def test_wrong_usage_is_said(capsys, words, says):
    code, out, err = call(capsys, "family", "calibrate", FAM_A, *words)
    assert (code, out) == (2, "")
    assert err.startswith(f"needlewright: {says}")


def test_what_differs_is_listed_and_drawn(folder, tmp_path, capsys):
    other = tmp_path / "other"
    shutil.copytree(folder, other)
    family = load_family(other)
    dials = tuple(replace(d, rest_angle_deg=d.rest_angle_deg - 0.25) for d in family.dials)
    write_family(replace(family, dials=dials), other)
    picture = tmp_path / "both.png"
    said = document(
        capsys, "family-differs", "family", "differs", folder, other, "--picture", picture
    )
    assert picture.read_bytes()[:4] == b"\x89PNG"
    assert [one["field"] for one in said["fields"]] == [
        f"dial '{dial.id}', rest_angle_deg" for dial in family.dials
    ]
    assert (said["regions"], said["left_out"]) == ([], 0)
    code, _, err = call(capsys, "family", "differs", folder, tmp_path / "none.jpg")
    assert code == 1
    assert "none.jpg: there is no such file" in err
