"""`needlewright explain` by command line."""

import json
import re
import shutil
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from needlewright.cli.main import run
from needlewright.families.folder import load_family
from needlewright.readings.run_csv import write_run
from needlewright.readings.runs import as_rehearsed
from readings.drawn_runs import DATA, drawn_run

FOLDER = DATA / "families" / "fam-job"
SCHEMA = Path(__file__).parents[2] / "docs" / "json" / "explain.schema.json"
TYPED = "dial,commanded,unit,approach,indicated\n"


def called(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["explain", "--family", str(FOLDER), *map(str, words)])
    said = capsys.readouterr()
    return int(left.value.code or 0), said.out, said.err


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("as-found", "as-left"):
        write_run(tmp_path / f"{name}.csv", drawn_run(name, 0.05, 3))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_drawn_job_in_the_order_given(capsys, job) -> None:
    code, out, err = called(capsys, "--json", "--chart", "c.svg", "as-left.csv", "as-found.csv")
    assert (code, err) == (0, "")
    document = json.loads(out)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(document)
    left, found = document["runs"]
    assert (left["run"], found["run"]) == ("as-left.csv", "as-found.csv")
    assert set(left["dials"]) == {"engine", "speed", "temp", "fuel"}
    assert all(one["combined"] == ["sound"] for one in left["dials"].values())
    tops = {d: one["faults"][0] for d, one in found["dials"].items()}
    assert {d: top["fault"] for d, top in tops.items()} == {
        "engine": "needle_offset",
        "speed": "lost_steps",
        "temp": "sound",
        "fuel": "backlash",
    }
    assert tops["speed"]["size"] == pytest.approx(-3)
    assert tops["engine"]["size"] == pytest.approx(-3.4, abs=0.1)
    assert tops["fuel"]["size"] == pytest.approx(2.8, abs=0.2)
    for dial in (*left["dials"].values(), *found["dials"].values()):
        assert sum(one["probability"] for one in dial["faults"]) == pytest.approx(1.0, abs=1e-9)
        shares = [one["probability"] for one in dial["faults"]]
        assert shares == sorted(shares, reverse=True)
    drawn = Path("c.svg").read_text(encoding="utf-8")
    assert "as-found: speed" in drawn
    assert "full line: movement slips" in drawn


def test_people_get_sentences(capsys, job) -> None:
    code, out, _ = called(capsys, "as-found.csv")
    assert code == 0
    assert "The movement slipped 3 cycles, 6 degrees, during the run" in out
    assert "it reads low by 3.4 degrees at every point" in out


def test_several_runs_in_a_file_must_be_named(capsys, job) -> None:
    both = (
        Path("as-found.csv").read_text().splitlines()
        + (Path("as-left.csv").read_text().splitlines()[1:])
    )
    Path("both.csv").write_text("\n".join(both) + "\n")
    code, out, err = called(capsys, "both.csv")
    assert (code, out) == (1, "")
    assert "holds 2 runs, 'as-found', 'as-left'; name the one that is meant" in err
    code, out, _ = called(capsys, "--run", "as-left", "--json", "both.csv")
    assert code == 0
    assert json.loads(out)["runs"][0]["dials"]["speed"]["combined"] == ["sound"]


def test_a_needle_that_stands_is_told_with_its_uncertainty(capsys, job) -> None:
    """A needle that follows to 80 and stands there, typed by eye."""
    told = (20, 40, 60, 80, 100, 120, 140, 160)
    rows = [f"speed,{v},km/h,up,{min(v, 80)}\n" for v in told]
    rows += [f"speed,{v},km/h,down,{min(v, 80)}\n" for v in told[-2::-1]]
    Path("typed.csv").write_text(TYPED + "".join(rows))
    code, out, _ = called(capsys, "typed.csv")
    assert code == 0
    assert "speed: BLOCKED" in out
    assert "about 95 %" in out
    (line,) = (line for line in out.splitlines() if "%  blocked  " in line)
    assert re.search(r"blocked  at [+−][0-9.]+ ± [0-9.]+°$", line)


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ("", "no rows"),
        ("speed,,km/h,rest,0\n", "no row in which a needle was commanded and read"),
        ("boost,40,km/h,up,41\n", "given 'boost'"),
        ("speed,40,mph,up,41\n", "scaled in km/h"),
    ],
)
def test_bad_input_is_one_sentence(capsys, job, rows, said) -> None:
    Path("typed.csv").write_text(TYPED + rows)
    code, out, err = called(capsys, "typed.csv")
    assert (code, out) == (1, "")
    assert said in err
    assert err.count("\n") == 1


def test_one_row_is_answered_and_says_how_little_it_is(capsys, job) -> None:
    Path("typed.csv").write_text(TYPED + "speed,40,km/h,up,42\n")
    code, out, _ = called(capsys, "--json", "typed.csv")
    assert code == 0
    assert "It rests on one row" in json.loads(out)["runs"][0]["dials"]["speed"]["reason"]


def test_a_rehearsed_run_is_explained_the_same_and_said_to_be_one(capsys, job) -> None:
    write_run(job / "rehearsed.csv", as_rehearsed(drawn_run("as-found", 0.05, 3)))
    _, out, err = called(capsys, "--json", "as-found.csv", "rehearsed.csv")
    real, rehearsed = json.loads(out)["runs"]
    assert rehearsed["dials"] == real["dials"]
    said = "run as-found: rehearsed: nothing of this was seen on a real cluster"
    assert err == f"{said}\n"


KEYED = "dial,commanded,unit,approach,angle_deg,u_angle_deg,key_cycle\n"


def keyed(*offs: float, key_ons: tuple[int, ...] = (0, 1, 3, 5)) -> None:
    """A run of rests alone."""
    rest = load_family(FOLDER).dial("speed").rest_target_deg
    rows = [
        f"speed,,km/h,rest,{rest + off},0.1,{n}\n" for off, n in zip(offs, key_ons, strict=True)
    ]
    Path("keyed.csv").write_text(KEYED + "".join(rows))


def test_a_key_on_test_is_explained_by_itself(capsys, job) -> None:
    keyed(12.0, 10.0, 6.0, 2.0)
    code, out, err = called(capsys, "keyed.csv")
    assert (code, err) == (0, "")
    assert "it creeps home" in out
    assert "relief for days, not a repair" in " ".join(out.split())
    code, out, _ = called(capsys, "--json", "keyed.csv")
    document = json.loads(out)
    Draft202012Validator(json.loads(SCHEMA.read_text(encoding="utf-8"))).validate(document)
    (entry,) = document["runs"]
    assert entry["dials"] == {}
    speed = entry["key_cycles"]["speed"]
    assert speed["faults"][0]["fault"] == "lost_steps"
    assert speed["crept_deg"] == pytest.approx(-10.0)
    assert [rest["key_ons"] for rest in speed["rests"]] == [0, 1, 3, 5]


def test_two_counts_of_key_ons_are_too_few(capsys, job) -> None:
    keyed(12.0, 2.0, key_ons=(0, 5))
    code, out, err = called(capsys, "keyed.csv")
    assert (code, out) == (1, "")
    assert "a key-on test wants three counts" in err
    assert err.count("\n") == 1


def test_a_chart_of_rests_alone_is_refused(capsys, job) -> None:
    keyed(12.0, 10.0, 6.0, 2.0)
    code, _, err = called(capsys, "--chart", "c.svg", "keyed.csv")
    assert code == 1
    assert "nothing was commanded, so there is nothing to draw" in err
    assert not Path("c.svg").exists()


def test_the_currents_of_a_bench_run_are_held_against_the_family(capsys, job, tmp_path) -> None:
    folder = tmp_path / "drawing"
    shutil.copytree(FOLDER, folder)
    document = json.loads((folder / "family.json").read_text("utf-8"))
    document["supply"] = {"rest_a": [0.15, 0.35], "sweep_a": [0.2, 0.5]}
    (folder / "family.json").write_text(json.dumps(document), encoding="utf-8")
    outcome = {"rest_current": [{"key_ons": 1, "volts": 13.5, "amperes": 0.62}]}
    Path("as-left.outcome.json").write_text(json.dumps(outcome))
    with pytest.raises(SystemExit):
        run(["explain", "--family", str(folder), "--json", "as-left.csv"])
    document = json.loads(capsys.readouterr().out)
    Draft202012Validator(json.loads(SCHEMA.read_text(encoding="utf-8"))).validate(document)
    (current,) = document["runs"][0]["currents"]
    assert (current["state"], current["side"], current["amperes"]) == ("rest", "above", 0.62)
    assert "above the family's range of 0.15 to 0.35 A" in current["words"]
