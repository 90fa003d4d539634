"""`certify`, `report` and `before-after`: papers filed whole, numbers kept, slips said."""

import json
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from jsonschema import Draft202012Validator
from PIL import Image
from referencing import Registry, Resource

from needlewright.cli.main import run
from needlewright.readings.evidence import (
    Evidence,
    NeedleEvidence,
    PhotoEvidence,
    ProjectionEvidence,
    evidence_path,
    sha256_of,
    write_evidence,
)
from needlewright.readings.run_csv import write_run
from needlewright.readings.runs import as_rehearsed
from papers.proof_paper import pages, text
from proofs.proof_job import measured, turned, with_rows

ROOT = Path(__file__).parents[2]
FAMILY = ROOT / "tests" / "data" / "families" / "fam-job"
SCHEMAS = ROOT / "docs" / "json"

JOB = """
shop = "Test Bench"
place = "2 Test Road"
customer = "C. Ustomer"
vehicle = "an invented van"
tag = "T-77"
serial = "S-123"
condition = "two screws missing"
received = 2026-03-02
work = 2026-03-05
issued = 2026-03-06
number = "TB-77"
authorised_by = "A. Uthor"
[odometer]
as_received = 184213
as_returned = 184213
"""


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    write_run(tmp_path / "found.csv", measured("as-found").run)
    write_run(tmp_path / "left.csv", measured("as-left").run)
    (tmp_path / "job.toml").write_text(JOB)
    return tmp_path


def call(capsys, *words: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as leave:
        run([str(word) for word in words])
    said = capsys.readouterr()
    return leave.value.code, said.out, said.err


def certify(capsys, bench: Path, *more: object, left: str = "left.csv", job: str = "job.toml"):
    return call(
        capsys, "certify", "--family", FAMILY, "--job", bench / job, "--found",
        bench / "found.csv", "--left", bench / left, "--out", bench / "papers", *more,
    )  # fmt: skip


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


def schema(name: str) -> Draft202012Validator:
    loaded = {p.name: json.loads(p.read_text(encoding="utf-8")) for p in SCHEMAS.glob("*.json")}
    resources = [(file, Resource.from_contents(content)) for file, content in loaded.items()]
    registry = Registry().with_resources(resources)
    return Draft202012Validator(loaded[f"{name}.schema.json"], registry=registry)


# certify


def test_a_certificate_its_data_and_its_label_are_filed(capsys, bench):
    code, out, err = certify(capsys, bench)
    assert (code, err) == (0, "")
    assert names(bench / "papers") == ["TB-77-label.pdf", "TB-77.json", "TB-77.pdf"]
    assert out.startswith("Certificate of check after rebuild, number TB-77")
    filed = json.loads((bench / "papers" / "TB-77.json").read_text(encoding="utf-8"))
    schema("proof").validate(filed)
    assert filed["issued_as_certificate"] is True
    assert pages((bench / "papers" / "TB-77.pdf").read_bytes())[0].count("Conforms") == 1


def test_json_on_standard_output_is_one_document(capsys, bench):
    _, out, _ = certify(capsys, bench, "--json")
    document = json.loads(out)
    schema("certify").validate(document)
    assert sorted(document["files"]) == ["data", "label", "paper"]
    assert all(Path(path).is_file() for path in document["files"].values())


@pytest.mark.parametrize("side", ["found", "left"])
def test_a_rehearsed_run_proves_nothing(capsys, bench, side):
    run = measured(f"as-{side}").run
    first = replace(run.rows[0], flags=("rehearsed",))
    write_run(bench / f"{side}.csv", replace(run, rows=(first, *run.rows[1:])))
    code, out, err = certify(capsys, bench)
    assert (code, out, names(bench / "papers")) == (1, "", [])
    assert err == (
        f"needlewright: run as-{side} was rehearsed: nothing of it was seen on a real cluster; "
        "take the run on the cluster, or state 'invented = true' in the job file where the job is "
        "invented too\n"
    )


def test_an_invented_job_says_of_its_rehearsed_run_what_it_is(capsys, bench):
    write_run(bench / "found.csv", as_rehearsed(measured("as-found").run))
    words = ("report", bench / "found.csv", "--family", FAMILY, "--out", bench / "papers")
    code, _, err = call(capsys, *words, "--job", bench / "job.toml")
    assert (code, "run as-found was rehearsed: nothing of it was seen" in err) == (1, True)
    (bench / "job.toml").write_text("invented = true\n" + JOB)
    assert call(capsys, *words, "--job", bench / "job.toml")[0] == 0
    [data] = (bench / "papers").glob("*.json")
    document = json.loads(data.read_text(encoding="utf-8"))
    assert document["remarks"] == [
        "Run as-found: rehearsed; nothing of it was seen on a real cluster."
    ]
    out = bench / "both.pdf"
    runs = (bench / "found.csv", bench / "left.csv")
    _, said, _ = call(capsys, "before-after", *runs, "--family", FAMILY, "--out", out)
    assert "run as-found: rehearsed: nothing of this was seen on a real cluster" in said
    assert "Rehearsed: as-found. Not seen on a real cluster." in pages(out.read_bytes())[0]


def test_a_failed_speedometer_gets_a_report_and_no_label(capsys, bench):
    write_run(bench / "low.csv", with_rows(measured("as-left"), "speed", turned(-6.0)).run)
    code, out, _ = certify(capsys, bench, left="low.csv")
    assert code == 0
    assert names(bench / "papers") == ["TB-77.json", "TB-77.pdf"]
    assert "not conforming" in out
    assert "Speedometer speed: does not conform" in out


def test_the_same_papers_may_be_drawn_again(capsys, bench):
    certify(capsys, bench)
    first = (bench / "papers" / "TB-77.pdf").read_bytes()
    assert certify(capsys, bench)[0] == 0
    assert (bench / "papers" / "TB-77.pdf").read_bytes() == first


def test_a_number_is_given_once(capsys, bench):
    certify(capsys, bench)
    before = {p: p.read_bytes() for p in (bench / "papers").iterdir()}
    (bench / "job.toml").write_text(JOB.replace("C. Ustomer", "S. Omebody"))
    code, out, err = certify(capsys, bench)
    assert (code, out) == (1, "")
    assert "TB-77.json: number TB-77 is taken by another paper" in err
    assert err.count("\n") == 1
    assert {p: p.read_bytes() for p in (bench / "papers").iterdir()} == before


def test_a_new_version_that_names_the_old_stands_beside_it(capsys, bench):
    certify(capsys, bench)
    new = 'version = 2\nreplaces = "TB-77"\nreplaces_because = "name corrected"\n'
    (bench / "job.toml").write_text(new + JOB.replace("C. Ustomer", "S. Omebody"))
    assert certify(capsys, bench)[0] == 0
    assert "TB-77-v2.pdf" in names(bench / "papers")
    assert "TB-77.pdf" in names(bench / "papers")
    said = pages((bench / "papers" / "TB-77-v2.pdf").read_bytes())
    assert "it replaces TB-77, because: name corrected" in said[0]


def test_an_altered_odometer_gets_no_certificate(capsys, bench):
    (bench / "job.toml").write_text(JOB.replace("as_returned = 184213", "as_returned = 99000"))
    code, out, _ = certify(capsys, bench)
    assert code == 0
    assert names(bench / "papers") == ["TB-77.json", "TB-77.pdf"]
    assert "not a lawful one" in out


@pytest.mark.parametrize(
    ("file", "slip", "said"),
    [
        ("job.toml", ('shop = "Test Bench"', ""), "'shop' is the shop's name"),
        ("job.toml", ("as_returned = 184213", ""), "job.toml: [odometer]: 'as_returned' is"),
        ("left.csv", ("speed", "sped"), "dial"),
        ("left.csv", ("km/h", "mph"), "scaled in km/h"),
    ],
)
def test_bad_input_is_one_sentence_and_nothing_is_written(capsys, bench, file, slip, said):
    path = bench / file
    path.write_text(path.read_text().replace(*slip))
    code, out, err = certify(capsys, bench)
    assert (code, out) == (1, "")
    assert said in err
    assert err.count("\n") == 1
    assert "Traceback" not in err
    assert not (bench / "papers").exists()


def test_evidence_that_is_none_is_said(capsys, bench):
    evidence_path(bench / "left.csv").write_text("{}}")
    code, _, err = certify(capsys, bench)
    assert code == 1
    assert "left.evidence.json" in err


def test_a_folder_of_overlays_that_is_none_is_wrong_usage(capsys, bench):
    assert certify(capsys, bench, "--overlays", bench / "none")[0] == 2


# pictures


def with_photo(bench: Path) -> Path:
    """A photo and its evidence for the row that decides, 40 km/h as left."""
    photo = bench / "as-left" / "02.jpg"
    photo.parent.mkdir()
    Image.effect_noise((1280, 854), 60).convert("RGB").save(photo, quality=95)
    # face millimetres to pixels, 4 px per mm, over half the diagonal of the photo
    half = (1280**2 + 854**2) ** 0.5 / 2
    matrix = ((4 / half, 0, -639.5 / half), (0, 4 / half, -426.5 / half), (0, 0, 1))
    evidence = PhotoEvidence(
        photo="as-left/02.jpg",
        sha256=sha256_of(photo),
        projection=ProjectionEvidence(
            matrix=matrix, radial=0.0, centre_px=(639.5, 426.5), half_diagonal_px=half
        ),
        needles=(NeedleEvidence(dial="speed", line_px=((600, 260), (430, 190))),),
    )
    write_evidence(evidence_path(bench / "left.csv"), Evidence(photos=(evidence,)))
    return photo


def test_the_deciding_row_is_shown_with_its_fit(capsys, bench):
    with_photo(bench)
    assert certify(capsys, bench)[0] == 0
    assert "speed, as left, 40 km/h, up" in text((bench / "papers" / "TB-77.pdf").read_bytes())


def test_another_photo_of_that_name_is_refused(capsys, bench):
    photo = with_photo(bench)
    Image.effect_noise((1280, 854), 60).convert("RGB").save(photo, quality=95)
    code, _, err = certify(capsys, bench)
    assert code == 1
    assert "is not the photo that was read for this run (its SHA-256 differs)" in err
    assert not (bench / "papers").exists()


def test_overlays_stand_in_where_photos_are_not_there(capsys, bench):
    overlays = bench / "drawn"
    overlays.mkdir()
    Image.new("RGB", (1280, 900), "#335577").save(overlays / "as-left-02.overlay.jpg")
    assert certify(capsys, bench, "--overlays", overlays)[0] == 0
    assert "as photographed" in text((bench / "papers" / "TB-77.pdf").read_bytes())


def test_an_overlay_that_could_be_of_either_run_is_not_shown(capsys, bench):
    overlays = bench / "drawn"
    overlays.mkdir()
    Image.new("RGB", (1280, 900), "#335577").save(overlays / "02.overlay.jpg")
    assert certify(capsys, bench, "--overlays", overlays)[0] == 0
    assert "as photographed" not in text((bench / "papers" / "TB-77.pdf").read_bytes())


# report


def test_the_report_as_found(capsys, bench):
    (bench / "job.toml").write_text(JOB.replace("as_returned = 184213", ""))
    code, out, _ = call(
        capsys, "report", "--family", FAMILY, "--job", bench / "job.toml",
        bench / "found.csv", "--out", bench / "papers", "--json",
    )  # fmt: skip
    assert code == 0
    document = json.loads(out)
    schema("report").validate(document)
    assert names(bench / "papers") == ["TB-77-as-found.json", "TB-77-as-found.pdf"]
    verdicts = {needle["dial"]: needle["verdict"] for needle in document["needle_set"]}
    assert verdicts == {
        "engine": "turn", "speed": "not_the_seat", "temp": "leave", "fuel": "not_the_seat",
    }  # fmt: skip


def test_report_and_certificate_of_one_job_do_not_share_a_number(capsys, bench):
    certify(capsys, bench)
    assert call(
        capsys, "report", "--family", FAMILY, "--job", bench / "job.toml",
        bench / "found.csv", "--out", bench / "papers",
    )[0] == 0  # fmt: skip
    assert len(names(bench / "papers")) == 5


# before-after


def before_after(capsys, bench: Path, *more: object):
    runs = bench / "found.csv", bench / "left.csv"
    return call(capsys, "before-after", "--family", FAMILY, *runs, *more)


def test_before_and_after_side_by_side(capsys, bench):
    code, out, _ = before_after(capsys, bench)
    assert code == 0
    at_120 = next(line for line in out.splitlines() if line.split()[:2] == ["120", "up"])
    assert "−1.8 ± 0.4  does not conform" in at_120
    assert "+4.0 ± 0.4  conforms" in at_120


@pytest.mark.parametrize(("ending", "starts"), [("pdf", b"%PDF-"), ("svg", b"<svg ")])
def test_a_comparison_is_written_as_asked(capsys, bench, ending, starts):
    code, out, _ = before_after(capsys, bench, "--out", bench / f"ba.{ending}", "--json")
    assert code == 0
    schema("before-after").validate(json.loads(out))
    assert (bench / f"ba.{ending}").read_bytes().startswith(starts)


def test_a_drawing_of_a_rehearsed_run_says_so(capsys, bench):
    before_after(capsys, bench, "--out", bench / "seen.svg")
    write_run(bench / "left.csv", as_rehearsed(measured("as-left").run))
    assert before_after(capsys, bench, "--out", bench / "ba.svg")[0] == 0
    seen, drawn = ((bench / name).read_text(encoding="utf-8") for name in ("seen.svg", "ba.svg"))
    assert "Rehearsed" not in seen
    said = ElementTree.fromstring(drawn).findtext(".//{http://www.w3.org/2000/svg}text")
    assert said == "Rehearsed: as-left. Not seen on a real cluster."


def test_another_ending_is_wrong_usage(capsys, bench):
    code, _, err = before_after(capsys, bench, "--out", bench / "ba.png")
    assert code == 2
    assert "must be .pdf or .svg" in err
    assert not (bench / "ba.png").exists()
