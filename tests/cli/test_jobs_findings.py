"""The findings of a job by command line: answers in, ranking out, a decision over it, and undo."""

import io
import json
import re
import shutil
import sys
from importlib.resources import files
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from needlewright.cli.main import run as command_line
from needlewright.composing.kept_looks import keep_looks
from needlewright.families.folder import load_family
from needlewright.findings.lamps.looked import Looked
from needlewright.records.opening import open_shop
from needlewright.records.runs import start_run
from records.benches import bench, furnished, measured_side, received

SCHEMA = Path(__file__).parents[2] / "docs" / "json" / "jobs-findings.schema.json"
ANNA = ("--by", "Anna Invented")
FAMILY = Path(__file__).parents[1] / "data" / "families" / "fam-job"


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    """A shop with a job that was received and measured as found."""
    folder = tmp_path_factory.mktemp("measured") / "shop"
    shutil.copytree(furnished(), folder)
    with bench(folder) as (opened, _):
        received(opened)
        measured_side(opened, "T-77", "found")
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


def document(call, *arguments):
    code, out, err = call(*arguments, "--json")
    assert (code, err) == (0, ""), err
    found = json.loads(out)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    assert [e.message for e in Draft202012Validator(schema).iter_errors(found)] == []
    return found


def card(found, name):
    return next(one for one in found["cards"] if one["id"] == name)


def test_findings_answers_and_undo(call):
    found = document(call, "jobs", "findings", "t-77")
    assert (found["at"], found["outcome"]) == ("bench", "faulty")
    assert card(found, "speed")["shares"][0]["cause"] == "lost_steps"
    asked = document(call, "jobs", "answer", "T-77", "temp: ways_differ yes", "--at-bench", *ANNA)
    (answer,) = [e for e in card(asked, "temp")["evidence"] if e["kind"] == "answer"]
    assert (answer["finding"], answer["yes"]) == ("ways_differ", True)
    assert answer["seen_in"] == "found at the bench, Anna Invented"
    assert card(asked, "temp")["faulty"] > card(found, "temp")["faulty"]
    code, out, _ = call("jobs", "undo", "T-77", *ANNA)
    assert (code, out[:46]) == (0, "taken back: answer: ways_differ of dial 'temp'")
    assert card(document(call, "jobs", "findings", "T-77"), "temp") == card(found, "temp")


def test_the_text_that_came_back_is_taken_in_and_an_answer_taken_away(call, monkeypatch):
    pasted = b"> answers about fam-job\n> fuel: reads_wrong yes, worse_cold no\n"
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(pasted)))
    found = document(call, "jobs", "answer", "T-77", "--pasted", "-", *ANNA)
    answers = {q["finding"]: q["answer"] for q in found["questions"] if q["dial"] == "fuel"}
    assert (answers["reads_wrong"], answers["worse_cold"], answers["dead"]) == (True, False, None)
    after = document(call, "jobs", "answer", "T-77", "--not-known", "fuel: worse_cold", *ANNA)
    answers = {q["finding"]: q["answer"] for q in after["questions"] if q["dial"] == "fuel"}
    assert (answers["reads_wrong"], answers["worse_cold"]) == (True, None)


def test_for_people_a_card_has_its_bar_its_words_and_what_shows_it(call):
    code, out, err = call("jobs", "findings", "T-77")
    assert (code, err) == (0, "")
    assert "Road speed gauge: Most probably: movement slips.\n" in out
    assert re.search(r"^nothing was seen of: (.+, )?Lamps", out, re.MULTILINE)
    assert "Lamps: " not in out
    assert "over 99 %  movement slips (lost_steps)\n" in out
    assert "  + The movement slipped 3 cycles, 6 degrees" in out
    assert "what to do next" in out
    _, out, _ = call("jobs", "findings", "T-77", "--texts")
    assert out.startswith("--- faulty\nAbout your instrument cluster (T-77).")


def test_an_overruled_opinion_stays_on_record(call):
    reason = ("--reason", "felt it touch")
    found = document(call, "jobs", "overrule", "T-77", "speed", "dragging", *reason, *ANNA)
    opinion = card(found, "speed")["opinion"]
    assert (opinion["decided"], opinion["why"]) == (["dragging"], "felt it touch")
    assert opinion["said"]["lost_steps"] > 0.9
    _, out, _ = call("jobs", "findings", "T-77")
    assert "  overruled: dragging, because felt it touch (" in out
    _, out, _ = call("jobs", "show", "T-77", "--json")
    assert json.loads(out)["opinions"] == [opinion]


def test_what_an_analysis_saw_is_taken_in_by_its_document(call, tmp_path):
    piece = {"finding": "lamp_check_dark", "dial": None, "ratio": 50.0, "words": "Two are dark.",
             "seen_in": "night.jpg"}  # fmt: skip
    file = tmp_path / "light.json"
    file.write_text(json.dumps({"zones": [], "evidence": [piece]}), encoding="utf-8")
    found = document(call, "jobs", "evidence", "T-77", file, *ANNA)
    lamps = card(found, "lamps")
    assert lamps["shares"][0]["cause"] == "lamp_out"
    (seen,) = lamps["evidence"]
    assert (seen["words"], seen["seen_in"], seen["strength"]) == (
        *("Two are dark.", "night.jpg", "strongly"),
    )
    for wrong, says in (
        ({"evidence": [{**piece, "finding": "hums"}]}, "light.json: evidence of night.jpg"),
        ({"evidence": [{**piece, "ratio": 0}]}, "light.json: evidence"),
        ({"zones": []}, "has no list under 'evidence'"),
        ({"places": [], "share_seen": 0.9}, "set pins on the photos of the job's board"),
        ([], "holds no evidence"),
    ):
        file.write_text(json.dumps(wrong), encoding="utf-8")
        code, out, err = call("jobs", "evidence", "T-77", file, *ANNA)
        assert (code, out) == (1, "")
        assert says in err
    assert card(document(call, "jobs", "findings", "T-77"), "lamps") == lamps


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("answer", "T-77", "fuel wrong"), "expected 'DIAL: QUESTION yes"),
        (("answer", "T-77", "--not-known", "fuel"), "write it as 'DIAL: QUESTION'"),
        (("answer", "T-77"), "give an answer such as"),
        (("answer", "T-77", "--pasted", "no/such.txt"), "there is no such file; give a text file"),
        (("overrule", "T-77", "oil", "dragging", "--reason", "x"), "no dial or system 'oil'"),
        (("overrule", "T-77", "fuel", "dragging", "--reason", ""), "needs its reason"),
        (("findings", "T-78"), "there is no job with the tag 'T-78'; is 'T-77' meant?"),
        (("findings", "T-77", "--at", "home"), "'home' is no place of a cluster"),
    ],
)
def test_what_cannot_be_used_is_one_sentence(call, words, says):
    by = () if words[0] == "findings" else ANNA
    code, out, err = call("jobs", *words, *by)
    assert (code, out) == (2 if says[:6] in ("give a", "'home'") else 1, "")
    assert says in err
    assert "Traceback" not in err


def test_troubleshooting_takes_a_shop_s_own_jobs(call, tmp_path):
    words = ("troubleshoot", "--family", FAMILY, "--answer", "fuel: reads_wrong yes", "--json")
    code, out, _ = call(*words)
    plain = json.loads(out)["dials"]["fuel"]
    reason = ("--reason", "seen", *ANNA)
    assert call("jobs", "overrule", "T-77", "fuel", "blocked", *reason)[0] == 0
    with bench(tmp_path / "shop") as (opened, _), opened.writing("returned") as session:
        session.connection().exec_driver_sql("UPDATE job SET closed_at = opened_at")
    code, out, _ = call(*words, "--shop", tmp_path / "shop")
    assert code == 0
    assert json.loads(out)["dials"]["fuel"]["blocked"] > 2 * plain["blocked"]
    assert json.loads(out)["shop"]["opinions"] == 1
    code, shown, _ = call("shop", "show", "--shop", tmp_path / "shop", "--json")
    assert (code, json.loads(shown)["findings"]) == (0, json.loads(out)["shop"])
    _, shown, _ = call("shop", "show", "--shop", tmp_path / "shop")
    assert "findings        1 decision of returned jobs, 1 against what was most" in shown
    code, _, err = call(*words, "--shop", tmp_path / "nowhere")
    assert code == 1
    assert "nowhere" in err


def test_what_commands_write_is_taken_in_as_it_is(call, tmp_path, capsys):
    """`explain` and `in-vehicle` as they really write, of the drawn cluster."""
    demo = files("needlewright") / "demo_data"
    rests = tmp_path / "rests.csv"
    at_rest = load_family(demo / "family").dial("speed").rest_target_deg
    rests.write_text(
        "dial,commanded,unit,approach,angle_deg,u_angle_deg,key_cycle\n"
        + "".join(
            f"speed,,km/h,rest,{at_rest + off},0.1,{key_ons}\n"
            for off, key_ons in ((12, 0), (10, 1), (6, 3), (2, 5))
        ),
        encoding="utf-8",
    )
    port = tmp_path / "port.csv"
    port.write_text(
        "time,pid,value,unit\n" + "".join(f"{t},0C,3200,rpm\n" for t in range(30)), encoding="utf-8"
    )
    family = str(demo / "family")
    taken = {
        "explain.json": ("explain", "--family", family, rests),
        "vehicle.json": (
            *("in-vehicle", "--family", family, "--log", port, "--steady", "10"),
            demo / "as-found" / "03-up.jpg",
        ),
    }
    for name, words in taken.items():
        code, out, err = call(*words, "--json")
        assert (code, err) == (0, ""), err
        assert json.loads(out)["evidence"], name
        (tmp_path / name).write_text(out, encoding="utf-8")
        found = document(call, "jobs", "evidence", "T-77", tmp_path / name, *ANNA)
        seen = {one["seen_in"] for card in found["cards"] for one in card["evidence"]}
        assert {piece["seen_in"] for piece in json.loads(out)["evidence"]} <= seen


def test_what_the_work_did_to_lamps_is_told_worst_first(call, tmp_path):
    """As found one lamp dark and one lit; as left the other way round."""
    with open_shop(tmp_path / "shop") as shop:
        sides = {}
        for side, oil, fog in (("found", "dark", "right"), ("left", "right", "dark")):
            run = start_run(shop, "T-77", side, (), "Anna Invented")
            looks = [
                Looked("tell_tale", "oil", None, oil, 0.97),
                Looked("tell_tale", "fog", None, fog, 0.95),
                Looked("hub", "fuel", None, "right", 0.99),
                Looked("hub", "temp", None, "right", 0.99)
                if side == "found"
                else Looked("hub", "temp", None, None, None, why="a needle covers it"),
            ]
            keep_looks(shop, run, looks, ("photo two: too dark",), "Anna Invented")
            sides[side] = run.name
    code, out, _ = call("jobs", "findings", "T-77")
    assert code == 0
    told = out[out.index("lamps and currents as left") :].splitlines()
    assert told[0] == f"lamps and currents as left (run {sides['left']}), beside as found:"
    assert [" ".join(line.split()) for line in told[1:6]] == [
        "NEWLY WRONG Tell-tale fog: lights as found (95 %), dark as left (95 %)",
        "mended Tell-tale oil: dark as found (97 %), lights as left (97 %)",
        "right 1 of 4 things",
        "not seen Hub of the coolant temperature gauge: no halo as found (99 %), not seen as left "
        "(a needle covers it)",
        "look: photo two: too dark",
    ]
    code, out, _ = call("jobs", "findings", "T-77", "--json")
    document = json.loads(out)
    Draft202012Validator(json.loads(SCHEMA.read_text(encoding="utf-8"))).validate(document)
    after = document["after_work"]
    assert [one["outcome"] for one in after["lines"]] == [
        "new",
        "right_not_seen",
        "mended",
        "right",
    ]
    assert after["lines"][0]["found"]["probability"] == 0.95
