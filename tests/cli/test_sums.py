"""The sums of the workbench by command."""

import json
import runpy
from pathlib import Path
from xml.etree import ElementTree

import pytest
from jsonschema import Draft202012Validator

from needlewright.cli.main import run
from needlewright.plans.sums.catalogue import SUMS, names
from needlewright.plans.sums.model import Amount

DOCS = Path(__file__).parents[2] / "docs" / "json"


def said(capsys, *words: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["sums", *words])
    out, err = capsys.readouterr()
    return int(left.value.code or 0), out, err


def schema(name: str) -> Draft202012Validator:
    document = json.loads((DOCS / f"sums-{name}.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(document)
    return Draft202012Validator(document)


def test_without_a_name_all_are_listed(capsys):
    code, out, _ = said(capsys)
    assert code == 0
    for one in SUMS:
        assert one.name in out
        assert one.title in out
    assert said(capsys, "list") == (0, out, "")


def test_the_list_is_as_its_schema_says(capsys):
    for words in (("--json",), ("list", "--json")):
        _, out, _ = said(capsys, *words)
        document = json.loads(out)
        schema("list").validate(document)
        assert [one["name"] for one in document["sums"]] == list(names())


@pytest.mark.parametrize("name", names())
def test_an_answer_is_as_its_schema_says_and_is_drawn(capsys, tmp_path, name):
    file = tmp_path / "drawing.svg"
    code, out, err = said(capsys, name, "--json", "--out", str(file))
    assert (code, err) == (0, "")
    document = json.loads(out)
    schema("answer").validate(document)
    assert document["sum"] == name
    drawn = ElementTree.fromstring(file.read_text(encoding="utf-8"))
    assert drawn.tag == "{http:" + "//www.w3.org/2000/svg}svg"
    code, out, _ = said(capsys, name)
    assert code == 0
    for word in (document["title"], "Why:", "Source: ", document["figures"][0]["words"]):
        assert word in out


def test_an_input_in_another_unit_is_used_in_its_own(capsys):
    _, out, _ = said(capsys, "lamp-life", "--voltage", "13500 mV", "--json")
    document = json.loads(out)
    assert document["inputs"][0] == {"name": "voltage", "value": 13.5, "unit": "V"}
    assert document["inputs"][2] == {"name": "rated-life", "value": None, "unit": "h"}


@pytest.mark.parametrize("which", SUMS, ids=names())
def test_every_number_of_a_command_takes_a_decimal_comma(capsys, which):
    answers = []
    for mark in ".,":
        words = [
            f"--{one.name}={one.default:.4f}".replace(".", mark)
            for one in which.inputs
            if isinstance(one, Amount) and one.default is not None and not one.whole
        ]
        code, out, err = said(capsys, which.name, *words, "--json")
        assert (code, err) == (0, "")
        answers.append(out)
    assert answers[0] == answers[1]


@pytest.mark.parametrize(
    ("words", "code", "sentence"),
    [
        (
            ("lamp-life", "--voltage", "40"),
            1,
            "needlewright: Voltage at the lamp: 40 V on a lamp of 14 V is 286% of its rating, and "
            "the powers hold from 80% to 120%; give a voltage from 11.2 to 16.8 V",
        ),
        (
            ("lamp-life", "--voltage", "hot"),
            1,
            "needlewright: Voltage at the lamp: expected a number from 0.5 to 60 V, found 'hot'",
        ),
        (
            ("--json", "lamp-life"),
            2,
            "needlewright: --json stands before 'lamp-life'; "
            "write: needlewright sums lamp-life --json",
        ),
        (("dinner",), 2, "needlewright: No such command 'dinner'."),
    ],
)
def test_what_cannot_be_used_is_said_in_a_sentence(capsys, words, code, sentence):
    got, out, err = said(capsys, *words)
    assert (got, out) == (code, "")
    assert err.strip() == sentence


def test_the_page_of_sums_is_not_stale():
    made = runpy.run_path(str(DOCS.parent / "make_sums.py"))["filled"]
    page = (DOCS.parent / "sums.md").read_text(encoding="utf-8")
    assert page == made(page), "run docs/make_sums.py"


def test_a_drawing_that_cannot_be_written_is_said(capsys, tmp_path):
    code, _, err = said(capsys, "lamp-life", "--out", str(tmp_path / "no" / "a.svg"))
    assert code == 1
    assert "cannot be written" in err
