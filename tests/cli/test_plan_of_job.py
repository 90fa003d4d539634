"""`needlewright plan --job`: a plan from the records of a job."""

import json
import shutil
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from needlewright.cli.main import run as command_line
from needlewright.records.opinions import Decided, give_opinion
from records.benches import bench, furnished, measured_side, received

SCHEMA = Path(__file__).parents[2] / "docs" / "json" / "plan.schema.json"
ANNA = ("--by", "Anna Invented")


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """A shop with a job that was measured as found, and decided on in part."""
    folder = tmp_path_factory.mktemp("measured") / "shop"
    shutil.copytree(furnished(), folder)
    with bench(folder) as (opened, _):
        received(opened)
        measured_side(opened, "T-77", "found")
        felt = Decided(("dragging",), "felt the needle rub", {}, dial="temp")
        give_opinion(opened, "T-77", felt, ANNA[1])
    return folder


@pytest.fixture
def call(measured, tmp_path, capsys, monkeypatch):
    """The command line on a copy of it: exit code, standard output, standard error."""
    shutil.copytree(measured, tmp_path / "shop")
    monkeypatch.setenv("NEEDLEWRIGHT_SHOP", str(tmp_path / "shop"))

    def words(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            command_line([str(one) for one in arguments])
        said = capsys.readouterr()
        return int(left.value.code or 0), said.out, said.err

    return words


def planned(call, *arguments):
    code, out, err = call("plan", *arguments, "--json")
    assert code == 0, err
    document = json.loads(out)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    assert [e.message for e in Draft202012Validator(schema).iter_errors(document)] == []
    return document


def test_a_job_is_planned_by_what_was_found_and_by_what_a_person_decided(call):
    document = planned(call, "--job", "t-77")
    assert (document["tag"], document["family"]) == ("T-77", "fam-job")
    assert document["mileage_km"] is not None
    decisions = {one["id"]: one for one in document["decisions"]}
    assert decisions["speed:movement"]["choice"] == "replace now"
    shares = {name: one["chance_now"] for name, one in decisions.items()}
    # over 99 % that the movement slips (test_jobs_findings), 90 % of that in the movement itself
    assert shares["speed:movement"] == pytest.approx(0.9, abs=0.01)
    # dragging is certain now, and lies in its parts as the knowledge file says
    assert shares["temp:movement"] == pytest.approx(0.6)
    assert shares["temp:needle"] == pytest.approx(0.35)


def test_wrong_usage_and_jobs_there_are_not(call, tmp_path):
    assert call("plan", "--job", "T-77", "--family", tmp_path)[0] == 2
    assert call("plan", "--fault", "speed:lost_steps=0.9")[0] == 2
    code, _, err = call("plan", "--job", "T-78")
    assert (code, len(err.strip().splitlines())) == (1, 1)
    assert "T-78" in err


def test_a_job_without_findings_has_no_plan(call):
    new = ("--family", "fam-job", "--complaint", "none told yet", "--owner", "Nobody Invented")
    code, _, err = call("jobs", "new", "T-80", *new, *ANNA)
    assert code == 0, err
    code, _, err = call("plan", "--job", "T-80")
    assert code == 1
    assert "job T-80 has no findings: nobody complained of anything" in err
