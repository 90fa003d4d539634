"""Guides and the refit sheet by command."""

import json
import shlex
from io import BytesIO
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from pypdf import PdfReader
from typer.main import get_command

from needlewright.cli.main import app, run
from needlewright.composing.guides import guide_book

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "src" / "needlewright" / "demo_data"
SCHEMA = ROOT / "docs" / "json" / "guides.schema.json"


def said(capsys, *words: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["guides", *words])
    out, err = capsys.readouterr()
    return int(left.value.code or 0), out, err


@pytest.fixture(scope="module")
def schema() -> Draft202012Validator:
    document = json.loads(SCHEMA.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(document)
    return Draft202012Validator(document)


@pytest.fixture
def in_an_empty_folder(monkeypatch, tmp_path) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_list_names_every_guide_and_the_refit_sheet(capsys, schema):
    code, out, _ = said(capsys)
    assert code == 0
    _, text, _ = said(capsys, "--json")
    document = json.loads(text)
    schema.validate(document)
    names = [one["name"] for one in document["guides"]]
    assert names == [*guide_book().guides, "refit"]
    assert all(name in out for name in names)


def test_a_guide_is_found_by_its_operation(capsys, schema):
    _, text, _ = said(capsys, "replace_tell_tale", "--family", str(DEMO / "family"), "--json")
    document = json.loads(text)
    schema.validate(document)
    assert document["name"] == "replace-lamps"
    assert document["family"] == json.loads((DEMO / "family" / "family.json").read_text())["name"]
    assert document["file"] is None
    code, out, _ = said(capsys, "reflow-joints")
    assert code == 0
    assert "Caution: Leaded solder: extraction on, wash hands afterwards." in out
    assert "fasteners of the case: to count" in out


def test_the_refit_sheet_takes_what_the_job_says(capsys, tmp_path, schema):
    out = tmp_path / "refit.pdf"
    job = tmp_path / "job.toml"
    text = (DEMO / "job.toml").read_text(encoding="utf-8")
    job.write_text(f'battery_wait = "90 s, its manual"\n{text}', encoding="utf-8")
    words = ("refit", "--family", str(DEMO / "family"), "--job", str(job), "--out", str(out))
    code, text, err = said(capsys, *words, "--paper", "letter", "--json")
    assert (code, err) == (0, "")
    document = json.loads(text)
    schema.validate(document)
    assert document["file"] == str(out)
    assert "wait 90 s, its manual." in document["steps"][0]["words"]
    printed = PdfReader(BytesIO(out.read_bytes())).pages
    assert len(printed) == 1
    assert document["tag"] in printed[0].extract_text()


@pytest.mark.parametrize(
    ("words", "code", "sentence"),
    [
        (("polish",), 1, "there is no guide 'polish'; there are: bridge-track,"),
        (("refit",), 1, "the refit sheet is of a family: give its folder with --family"),
        (("--out", "a.pdf"), 2, "name the guide that --job or --out is for"),
        (("set-needle", "--job", "job.toml"), 2, "--job goes with `refit` only"),
        (("set-needle", "--out", "no/such/a.pdf"), 1, "make the folder first"),
        (("set-needle", "--family", "nowhere"), 1, "nowhere"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(capsys, in_an_empty_folder, words, code, sentence):
    left, out, err = said(capsys, *words)
    assert (left, out) == (code, "")
    assert sentence in " ".join(err.split())
    assert "Traceback" not in err
    assert list(in_an_empty_folder.iterdir()) == []


def test_every_command_a_guide_names_is_one_with_those_options():
    book = guide_book()
    tables = [*(one.check for one in book.guides.values()), book.refit.check]
    commands = {one.command for table in tables for one in table if one.command}
    assert len(commands) >= 15
    for words in commands:
        first, *rest = shlex.split(words)
        assert first == "needlewright"
        command = get_command(app)
        while hasattr(command, "get_command"):
            command, rest = command.get_command(None, rest[0]), rest[1:]
            assert command is not None, words
        known = {name for one in command.params for name in one.opts}
        assert {word for word in rest if word.startswith("--")} <= known, words
