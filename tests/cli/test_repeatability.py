"""`needlewright repeatability` by command line."""

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from needlewright.cli.main import run
from needlewright.families.folder import load_family, write_family
from needlewright.readings.evidence import Evidence, evidence_path, write_evidence
from needlewright.readings.reader import FaceReader
from readings.drawn_runs import DATA, FAMILY

SCHEMA = Path(__file__).parents[2] / "docs" / "json" / "repeatability.schema.json"
HEAD = "run,dial,commanded,unit,approach,angle_deg,u_angle_deg,photo\n"


def called(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["repeatability", *map(str, words)])
    said = capsys.readouterr()
    return int(left.value.code or 0), said.out, said.err


def documented(said: str) -> dict:
    document = json.loads(said)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(document)
    return document


@pytest.fixture
def family(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DATA / "families" / "fam-job", tmp_path / "family"))


@pytest.fixture
def runs(tmp_path: Path) -> dict[str, list[Path]]:
    """Three people, three photos of five speeds each; ben reads 0.3 degrees high."""
    rng = np.random.default_rng(1)
    speed = FAMILY.dial("speed")
    files: dict[str, list[Path]] = {}
    for who, high in (("anna", 0.0), ("ben", 0.3), ("cem", 0.0)):
        for photo in range(3):
            path = tmp_path / f"{who}-{photo}.csv"
            lines = [
                f"{who},speed,{told},km/h,up,"
                f"{speed.programme_angle_deg(told) + high + rng.normal(0, 0.05):.4f},0.05,\n"
                for told in (30, 60, 90, 120, 150)
            ]
            path.write_text(HEAD + "".join(lines), encoding="utf-8")
            files.setdefault(who, []).append(path)
    return files


def test_three_people(capsys, family, runs, tmp_path) -> None:
    chart = tmp_path / "strips.svg"
    every = [path for files in runs.values() for path in files]
    code, out, err = called(capsys, "--family", family, "--chart", chart, "--json", *every)
    assert (code, err) == (0, "")
    document = documented(out)
    assert document["names"] == ["anna", "ben", "cem"]
    speed = document["dials"]["speed"]
    assert (speed["positions"], speed["people"], speed["photos"]) == (5, 3, 3)
    assert speed["anova"]["repeatability_deg"] == pytest.approx(0.05, rel=0.25)
    # 0.3 high of one among three is a standard deviation of 0.173
    assert speed["anova"]["between_deg"] == pytest.approx(0.173, rel=0.15)
    drawn = chart.read_text(encoding="utf-8")
    assert all(f">{who}<" in drawn for who in ("anna", "ben", "cem"))
    code, out, _ = called(capsys, "--family", family, *every)
    assert code == 0
    assert "5 positions x 3 persons x 3 photos" in out
    assert "of the tightest tolerance" in out


def test_names_given_with_the_files(capsys, family, runs) -> None:
    named = [f"x={p}" for p in runs["anna"]] + [f"y={p}" for p in runs["cem"]]
    code, out, _ = called(capsys, "--family", family, "--by", "camera", "--json", *named)
    assert code == 0
    assert documented(out)["names"] == ["x", "y"]


def test_equal_readings_have_no_bound_and_say_so(capsys, family, runs) -> None:
    one = runs["anna"][0]
    named = [f"{who}={one}" for who in ("x", "x", "y", "y")]
    code, out, _ = called(capsys, "--family", family, "--json", *named)
    assert code == 0
    document = documented(out)
    assert document["dials"]["speed"]["anova"]["ndc"] is None
    assert "ndc has no bound" in document["remarks"][0]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("anna-0.csv", "ben-0.csv"), 1, "one photo of each position by each"),
        (("anna-0.csv", "anna-1.csv"), 1, "of the one person 'anna'"),
        (("--by", "view", "anna-0.csv"), 1, "no needle was read from 3 views"),
        (("--keep", "anna-0.csv"), 2, "only --by view finds"),
        (("=anna-0.csv",), 2, "NAME=RUN.csv is expected"),
        (("empty.csv", "ben-0.csv"), 1, "empty.csv"),
        (("--by", "views", "anna-0.csv"), 2, "views"),
    ],
)
def test_bad_input_is_one_sentence(  # noqa: PLR0917
    capsys, family, runs, monkeypatch, words, code, said
) -> None:
    monkeypatch.chdir(family.parent)
    Path("empty.csv").write_text(HEAD, encoding="utf-8")
    left, out, err = called(capsys, "--family", family, *words)
    assert (left, out) == (code, "")
    assert said in err
    assert err.count("\n") == 1


def views(path: Path, wide_deg: float, u_deg: float = 0.05) -> Path:
    rng = np.random.default_rng(2)
    lines = [
        f"views,speed,100,km/h,up,{80 + rng.normal(0, wide_deg):.4f},{u_deg},{i}.jpg\n"
        for i in range(10)
    ]
    path.write_text(HEAD + "".join(lines), encoding="utf-8")
    return path


def test_the_view_dependent_part_is_kept_and_used_by_name(capsys, family, tmp_path) -> None:
    file = views(tmp_path / "views.csv", 0.2)
    chart = tmp_path / "views.svg"
    before = (family / "family.json").read_bytes()
    code, out, _ = called(capsys, "--family", family, "--by", "view", "--json", file)
    assert code == 0
    found = documented(out)["dials"]["speed"]["u_view_deg"]
    low, high = documented(out)["dials"]["speed"]["u_view_interval_deg"]
    assert low < 0.2 < high
    assert (family / "family.json").read_bytes() == before
    words = ("--family", family, "--by", "view", "--keep", "--chart", chart, file)
    code, out, _ = called(capsys, *words)
    assert code == 0
    assert "kept in the family as view_u_deg" in out
    assert "10 views" in chart.read_text(encoding="utf-8")
    speed = load_family(family).dial("speed")
    assert speed is not None
    assert speed.view_u_deg == pytest.approx(found, abs=5e-5)
    assert load_family(family).dial("fuel").view_u_deg == 0.0


def kept(family: Path, view_u_deg: float) -> None:
    cluster = load_family(family)
    dials = tuple(
        replace(dial, view_u_deg=view_u_deg if dial.id == "speed" else 0.0)
        for dial in cluster.dials
    )
    write_family(replace(cluster, dials=dials), family)


def test_keeping_again_adds_to_what_the_readings_hold(capsys, family, tmp_path) -> None:
    """Independent parts add in squares (JCGM 100:2008, 5.1.2)."""
    kept(family, 0.2)
    words = ("--family", family, "--by", "view", "--keep", "--json")
    enough = views(tmp_path / "enough.csv", 0.2, 0.25)
    code, out, _ = called(capsys, *words, enough)
    assert code == 0
    assert documented(out)["dials"]["speed"]["u_view_deg"] == 0.0
    assert load_family(family).dial("speed").view_u_deg == 0.2
    more = views(tmp_path / "more.csv", 0.4, 0.21)
    code, out, _ = called(capsys, *words, more)
    found = documented(out)["dials"]["speed"]["u_view_deg"]
    assert found > 0.1
    together = np.hypot(0.2, found)
    assert load_family(family).dial("speed").view_u_deg == pytest.approx(together, abs=5e-5)
    assert f"comes on top: {together:.4g} together" in documented(out)["remarks"][0]


def test_keeping_again_replaces_what_the_readings_cannot_hold(capsys, family, tmp_path) -> None:
    """Readings that state 0.05 hold no part of 0.2, and evidence tells one apart."""
    file = views(tmp_path / "views.csv", 0.2)
    for _ in range(2):
        kept(family, 0.2)
        code, out, _ = called(capsys, "--family", family, "--by", "view", "--keep", "--json", file)
        assert (code, documented(out)["remarks"]) == (0, [])
        found = documented(out)["dials"]["speed"]["u_view_deg"]
        assert load_family(family).dial("speed").view_u_deg == pytest.approx(found, abs=5e-5)
        views(file, 0.2, 0.206)
        needles = [{"dial": "speed", "components_deg": {"fit": 0.05, "view": 0.2}}]
        photos = [{"photo": f"{i}.jpg", "needles": needles} for i in range(10)]
        write_evidence(evidence_path(file), Evidence.model_validate({"photos": photos}))


def test_views_of_a_needle_that_moved_are_not_kept(capsys, family, tmp_path) -> None:
    before = (family / "family.json").read_bytes()
    chart = tmp_path / "views.svg"
    file = views(tmp_path / "views.csv", 2.0)
    words = ("--family", family, "--by", "view", "--chart", chart, file)
    code, out, err = called(capsys, *words, "--keep")
    assert (code, out) == (1, "")
    assert "look whether the needle moved between them; nothing was kept" in err
    assert err.count("\n") == 1
    assert ((family / "family.json").read_bytes(), chart.exists()) == (before, False)
    code, out, _ = called(capsys, *words)
    assert code == 0
    assert "look whether the needle moved" in " ".join(out.split())


def test_nothing_is_kept_without_the_chart_that_was_asked_for(capsys, family, tmp_path) -> None:
    before = (family / "family.json").read_bytes()
    (tmp_path / "taken.svg").mkdir()
    file = views(tmp_path / "views.csv", 0.2)
    words = ("--family", family, "--by", "view", "--keep", "--chart", tmp_path / "taken.svg", file)
    code, _, err = called(capsys, *words)
    assert code == 1
    assert "taken.svg" in err
    assert (family / "family.json").read_bytes() == before


def test_a_reading_states_the_kept_part_by_name(tmp_path) -> None:
    folder = Path(shutil.copytree(DATA / "families" / "fam-d", tmp_path / "fam-d"))
    document = json.loads((folder / "family.json").read_text(encoding="utf-8"))
    document["dials"][0]["view_u_deg"] = 0.1
    (folder / "family.json").write_text(json.dumps(document), encoding="utf-8")
    photo = DATA / "photos" / "fam-d" / "photos" / "003.jpg"
    with_part, without = (
        {r.dial: r for r in FaceReader(load_family(f)).read_photo(photo).readings}
        for f in (folder, DATA / "families" / "fam-d")
    )
    dial = document["dials"][0]["id"]
    read, plain = with_part[dial], without[dial]
    assert read.status == plain.status == "read"
    assert dict(read.components_deg)["view"] == 0.1
    assert read.u_angle_deg == pytest.approx(np.hypot(plain.u_angle_deg, 0.1))
    others = [d for d in with_part if d != dial]
    assert all("view" not in dict(with_part[d].components_deg) for d in others)


def test_readings_that_hold_the_part_are_judged_without_it(capsys, family, tmp_path) -> None:
    """With 0.05 stated, of which 0.04 is the view: 0.03 is left, and the evidence says so."""
    file = views(tmp_path / "views.csv", 0.1)
    needles = [{"dial": "speed", "components_deg": {"fit": 0.03, "view": 0.04}}]
    photos = [{"photo": f"{i}.jpg", "needles": needles} for i in range(10)]
    write_evidence(evidence_path(file), Evidence.model_validate({"photos": photos}))
    code, out, _ = called(capsys, "--family", family, "--by", "view", "--json", file)
    assert code == 0
    assert documented(out)["dials"]["speed"]["stated_deg"] == pytest.approx(0.03, abs=1e-6)
