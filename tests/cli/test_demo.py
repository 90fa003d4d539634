"""`needlewright demo`: the invented job from photos to certificate, once, as a person runs it."""

import json
from contextlib import redirect_stdout
from io import BytesIO, StringIO
from pathlib import Path

import pypdf
import pypdfium2
import pytest
import zxingcpp
from jsonschema import Draft202012Validator

from needlewright.cli.demo import MARKER
from needlewright.cli.main import run
from papers.proof_paper import pages

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "docs" / "json" / "demo.schema.json").read_text(encoding="utf-8"))


def call(*words: object) -> int:
    with pytest.raises(SystemExit) as leave:
        run([str(word) for word in words])
    return leave.value.code


@pytest.fixture(scope="module")
def demo(tmp_path_factory) -> tuple[Path, str]:
    out = tmp_path_factory.mktemp("demo") / "demo-papers"
    with redirect_stdout(StringIO()) as said:
        assert call("demo", "--out", out, "--json") == 0
    return out, said.getvalue()


def test_it_says_what_the_papers_say(demo):
    document = json.loads(demo[1])
    Draft202012Validator(SCHEMA).validate(document)
    data = {
        name: json.loads(Path(document["files"][name]).read_text(encoding="utf-8"))
        for name in ("report_data", "data")
    }
    found = {dial["dial"]: dial["found"]["words"] for dial in data["report_data"]["dials"]}
    left = {dial["dial"]: dial["left"]["words"] for dial in data["data"]["dials"]}
    for dial, words in found.items():
        assert f"{dial} {words}" in document["summary"]["came_in"]
    for words in left.values():
        assert words in document["summary"]["goes_out"]


def test_what_was_put_into_the_pictures_is_found(demo):
    """As found: three cycles lost on the speedometer, engine needle 3.4 degrees off, worn fuel."""
    summary = json.loads(demo[1])["summary"]
    assert "speed does not conform" in summary["came_in"]
    assert summary["needles"].startswith("turn: engine +3.4 ± ")
    assert "not the seat: speed and fuel" in summary["needles"]
    assert "leave: temp" in summary["needles"]
    assert summary["turned"].startswith("engine by +3.")
    assert summary["goes_out"].startswith("Certificate of check after rebuild; ")


def test_the_faults_put_into_the_pictures_are_named(demo):
    """The same faults that the pictures were drawn with, each first and with its size."""
    said = json.loads(demo[1])["summary"]["findings"].split("; ")
    named = {dial: rest for dial, _, rest in (one.partition(": ") for one in said)}
    assert named["speed"].startswith("movement slips, 3 cycles counter-clockwise")
    assert named["temp"].startswith("nothing wrong")
    for dial, words, drawn in (
        ("engine", "needle turned on its shaft, ", -3.4),
        ("fuel", "play in the gears, ", 2.8),
    ):
        size, _, expanded = named[dial].removeprefix(words).partition("°")[0].partition(" ± ")
        assert abs(float(size.replace("−", "-")) - drawn) <= float(expanded)


def test_the_quote_shows_three_options_and_the_sheet_follows_the_one_that_is_taken(demo):
    document = json.loads(demo[1])
    quote = Path(document["files"]["quote"]).read_text(encoding="utf-8")
    priced = [one.rsplit(" ", 2) for one in document["summary"]["plan"].split("; ")[:3]]
    assert [title for title, _, _ in priced] == [
        "recommended",
        "only what failed",
        "replace everything",
    ]
    assert all(f"{price} {currency}" in quote for _, price, currency in priced)
    assert "INVENTED DEMONSTRATION" in quote
    sheet = " ".join(pages(Path(document["files"]["plan"]).read_bytes()))
    _, price, currency = priced[1]
    assert "only what failed" in sheet
    assert f"{price} {currency}" in sheet


def test_a_person_sees_one_row_for_each_step_of_the_job(demo):
    out, _ = demo
    with redirect_stdout(StringIO()) as said:
        assert call("demo", "--out", out) == 0
    lines = said.getvalue().splitlines()
    assert lines[0].strip() == "invented demonstration"
    assert lines[-1] == f"papers in {out / 'papers'}; everything in them is invented"
    steps = [line.strip().split("  ")[0] for line in lines if line[1:2].isalpha()]
    assert steps[1:-1] == [  # under the title and the heads, above the last line
        "step",
        "as found",
        "findings",
        "plan",
        "needles",
        "work",
        "as left",
        "certificate",
    ]


def test_the_papers_are_marked_as_invented(demo):
    out, said = demo
    files = json.loads(said)["files"]
    chart = Path(files["findings_chart"]).read_text(encoding="utf-8")
    assert chart.count("(invented demonstration)") >= 4  # one title for each dial
    sheets = [name for name in files if name.startswith("guide_")]
    assert sheets
    for name in ("report_paper", "paper", "plan", "refit", *sheets):
        assert all(
            "INVENTED DEMONSTRATION" in page for page in pages(Path(files[name]).read_bytes())
        )
    assert (out / MARKER).is_file()


def test_every_deciding_row_is_shown_in_its_photo(demo):
    certificate = Path(json.loads(demo[1])["files"]["paper"]).read_bytes()
    shown = sum(len(page.images) for page in pypdf.PdfReader(BytesIO(certificate)).pages)
    assert shown == 8  # four dials, as found and as left


def test_the_budget_is_broken_down_by_component(demo):
    data = json.loads(Path(json.loads(demo[1])["files"]["data"]).read_text(encoding="utf-8"))
    for dial in data["dials"]:
        components = [line["component"] for line in dial["budget"]["lines"]]
        assert sum(c.startswith("direction: ") for c in components) >= 3


def test_the_label_leads_to_the_certificate(demo):
    files = json.loads(demo[1])["files"]
    (page,) = pypdfium2.PdfDocument(files["label"])
    (code,) = zxingcpp.read_barcodes(page.render(scale=6).to_pil())
    assert f"{code.text}.pdf" == Path(files["paper"]).name


def test_the_folder_is_whole_and_nothing_else_is_left(demo):
    out, _ = demo
    assert [path.name for path in out.parent.iterdir()] == ["demo-papers"]
    assert {"as-found.csv", "as-left.csv", "family", "job.toml", "overlays", "papers"} <= {
        path.name for path in out.iterdir()
    }


def test_a_folder_with_other_files_is_not_touched(tmp_path, capsys):
    (tmp_path / "mine.txt").write_text("mine")
    assert call("demo", "--out", tmp_path) == 2
    assert "is not an earlier demo's" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
