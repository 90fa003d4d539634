"""`needlewright jobs steps`, `tick`, `untick`, `step-note`, `guide`."""

import json
import shutil
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

import needlewright.plans.catalogue as catalogue_room
from composing.planned_work import SLIPS, WORN, option_of, planned
from needlewright.cli.main import run as command_line
from needlewright.families.folder import load_family
from needlewright.records.plans import keep_plan
from records.benches import ANNA, FAMILY_FOLDER, bench, furnished, received

SCHEMAS = Path(__file__).parents[2] / "docs" / "json"
TAG = "T-77"
BY = ("--by", ANNA)
OWN_GUIDE = """
title = "Set it our way"
operations = ["set_needle"]
cautions = ["static", "lens", "needle", "supply"]
tools = ["two levers"]
good = ["It reads."]
photos = ["the needle at rest"]
source = "invented"
step = [{ words = "Our way." }]
check = [{ words = "every mark read" }]
"""
PLAN = planned(load_family(FAMILY_FOLDER), TAG, SLIPS | WORN)


@pytest.fixture(scope="module")
def planned_shop(tmp_path_factory):
    folder = tmp_path_factory.mktemp("planned") / "shop"
    shutil.copytree(furnished(), folder)
    with bench(folder) as (opened, _):
        received(opened, TAG)
        received(opened, "T-78", serial="S-2")
        keep_plan(opened, TAG, PLAN, ANNA)
    return folder


@pytest.fixture
def call(planned_shop, tmp_path, capsys, monkeypatch):
    """The command line on a copy of it: exit code, standard output, standard error."""
    shutil.copytree(planned_shop, tmp_path / "shop")
    monkeypatch.setenv("NEEDLEWRIGHT_SHOP", str(tmp_path / "shop"))

    def words(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            command_line([str(one) for one in arguments])
        said = capsys.readouterr()
        return int(left.value.code or 0), said.out, said.err

    return words


def document(call, schema, *arguments):
    code, out, err = call("jobs", *arguments, "--json")
    assert code == 0, err
    said = json.loads(out)
    kept = json.loads((SCHEMAS / f"{schema}.schema.json").read_text(encoding="utf-8"))
    assert [e.message for e in Draft202012Validator(kept).iter_errors(said)] == []
    return said


def test_steps_are_listed_ticked_noted_and_unticked(call):
    said = document(call, "jobs-steps", "steps", TAG)
    assert [one["words"] for one in said["steps"]] == [
        one["words"] for one in option_of(PLAN)["steps"]
    ]
    said = document(call, "jobs-steps", "tick", TAG, "1", "2", "part:movement", *BY)
    assert [one["number"] for one in said["steps"] if one["done"]] == [1, 2]
    assert [one["id"] for one in said["parts"] if one["done"]] == ["movement"]
    said = document(
        call, "jobs-steps", "tick", TAG, "work:replace_movement:speed", "--note", "shaft bent", *BY
    )
    (speed,) = [one for one in said["steps"] if one["operation"] == "replace_movement:speed"]
    assert (speed["done"]["by"], speed["done"]["note"]) == (ANNA, "shaft bent")
    said = document(call, "jobs-steps", "step-note", TAG, "4", "one more cracked joint", *BY)
    assert [note["note"] for note in said["steps"][3]["notes"]] == ["one more cracked joint"]
    said = document(call, "jobs-steps", "untick", TAG, "2", *BY)
    assert [one["number"] for one in said["steps"] if one["done"]] == [1, speed["number"]]
    code, out, err = call("jobs", "untick", TAG, "2", *BY)
    assert (code, "was not ticked" in err) == (0, True)
    assert f"job {TAG}, plan {PLAN['number']}, option recommended: 2 of 23 steps, " in out
    assert "the owner has not agreed to this plan" in out
    assert "note: one more cracked joint" in out
    lines = [line.strip() for line in out.splitlines()]
    work = next(place for place, line in enumerate(lines) if "take the board out" in line)
    # under its own step, not above it where it reads as the one before
    assert lines[work + 1].startswith("caution: Electrostatic: wrist strap on")
    assert lines[0].startswith("job ")
    assert not lines[1].startswith("caution")


def test_a_guide_is_ticked_and_its_parts_counted(call):
    at = ("guide", TAG, "replace_movement", "--dial", "speed")
    said = document(call, "jobs-guide", *at)
    assert said["sheet"] == "guide:replace-movement@speed"
    case = next(one for one in said["lines"] if one["kind"] == "count")
    number = said["lines"].index(case) + 1
    code, out, err = call(
        "jobs", *at, "--tick", "1", "--out", f"{number}=7", "--in", f"{case['key']}=5", *BY
    )
    assert code == 0, err
    assert f"look: {case['words']}: 7 out, 5 in, 2 missing; find before closing" in out
    said = document(call, "jobs-guide", *at, "--untick", "1", "--in", f"{number}=7", *BY)
    line = said["lines"][number - 1]
    assert (line["counts"]["out"], line["counts"]["back"]) == (7, 7)
    assert said["lines"][0]["done"] is None
    said = document(call, "jobs-guide", "guide", TAG, "refit", "--read", "reading:shown-1=51", *BY)
    (read,) = [one for one in said["lines"] if one["key"] == "reading:shown-1"]
    assert read["reading"]["value"] == 51.0


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("steps", "T-78"), 1, "job T-78: has no plan, so there are no steps to tick"),
        (("steps", "NOBODY"), 1, "NOBODY"),
        (("tick", TAG, "1", "99", *BY), 1, "has no step '99'; its steps are 1 to 23"),
        (("tick", TAG, "1", "2", "--note", "x", *BY), 2, "--note goes with one step"),
        (("step-note", TAG, "1", " ", *BY), 1, "the note is empty"),
        (("tick", TAG, "1"), 1, "several people work in this shop"),
        (("guide", TAG, "polish"), 1, "there is no guide 'polish'"),
        (("guide", TAG, "reflow-joints", "--dial", "x"), 1, "'x' is none of"),
        (("guide", TAG, "reflow-joints", "--tick", "999", *BY), 1, "has no line '999'"),
        (("guide", TAG, "reflow-joints", "--out", "3", *BY), 2, "expected LINE=N, found '3'"),
        (
            ("guide", TAG, "reflow-joints", "--out", "1=3", *BY),
            1,
            "name one of the lines",
        ),
        (("guide", TAG, "refit", "--in", "3=-2", *BY), 1, "from 0 to 999, found -2"),
    ],
)
def test_what_cannot_be_is_one_sentence_and_nothing_is_kept(call, arguments, code, words):
    before = document(call, "jobs-steps", "steps", TAG)
    got, out, err = call("jobs", *arguments)
    assert (got, out) == (code, "")
    assert words in " ".join(err.replace("│", " ").split())
    assert "Traceback" not in err
    assert document(call, "jobs-steps", "steps", TAG)["version"] == before["version"]


def test_the_shops_own_guides_by_command(call, tmp_path):
    own = tmp_path / "set-needle.toml"
    own.write_text(OWN_GUIDE, encoding="utf-8")
    code, out, err = call("shop", "guides", own, *BY, "--json")
    assert code == 0, err
    said = json.loads(out)
    kept = json.loads((SCHEMAS / "shop-guides.schema.json").read_text(encoding="utf-8"))
    assert [e.message for e in Draft202012Validator(kept).iter_errors(said)] == []
    assert [(one["name"], one["by"]) for one in said["guides"]] == [("set-needle", ANNA)]
    marks = document(call, "jobs-guide", "guide", TAG, "set-needle")
    assert "Our way." in [one["words"] for one in marks["lines"]]
    code, out, err = call("shop", "guides", "--drop", "set-needle", *BY)
    assert (code, "the shop has no guides of its own" in out) == (0, True)
    code, _, err = call("shop", "guides", "--drop", "set-needle", *BY)
    assert code == 1
    assert "the shop has no guide 'set-needle' of its own; it has: none" in err
    own.write_text(OWN_GUIDE.replace("source", "sauce"), encoding="utf-8")
    code, _, err = call("shop", "guides", own, *BY)
    assert (code, "sauce: there is no such key" in err) == (1, True)
    code, _, err = call("shop", "guides", tmp_path / "none.toml", *BY)
    assert (code, "there is no such file" in err) == (1, True)


def test_guides_next_to_a_catalogue_are_listed(call, tmp_path):
    shipped = Path(catalogue_room.__file__).parent / "catalogue.toml"
    text = shipped.read_text(encoding="utf-8")
    (tmp_path / "guides").mkdir()
    (tmp_path / "guides" / "set-needle.toml").write_text(OWN_GUIDE, encoding="utf-8")
    mine = tmp_path / "mine.toml"
    mine.write_text(text.replace('guide = "mend-stop"', 'guide = "ours"'), encoding="utf-8")
    code, out, err = call("guides", "--catalogue", mine)
    assert code == 0
    assert "Set it our way" in out
    assert "names the guide 'ours', which is not there" in " ".join(err.split())
    code, out, _ = call("guides", "set-needle", "--catalogue", mine)
    assert (code, "Our way." in out) == (0, True)


def test_work_of_several_dials_is_ticked_for_one_of_them(call):
    _, out, _ = call("jobs", "steps", TAG, "--json")
    steps = json.loads(out)["steps"]
    dials = {one["dial"] for one in steps if one["guide"] == "replace-movement"}
    assert dials
    assert None not in dials
    code, _, err = call("jobs", "guide", TAG, "replace-movement", "--tick", "1", *BY)
    assert code == 2
    assert "say of which with --dial, such as --dial" in err
    assert all(one in err for one in dials)
