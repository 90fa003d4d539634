"""`needlewright intake` and `needlewright troubleshoot`."""

import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from playwright.sync_api import Browser, Page

from needlewright.cli import console
from needlewright.cli.main import run
from needlewright.cli.troubleshoot_shown import duration_words
from needlewright.families.folder import load_family
from needlewright.findings.troubleshooting.answers import answers_in
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import Answer
from web.walking import browser, needs_chromium

ROOT = Path(__file__).parents[2]
FAMILY = ROOT / "src/needlewright/demo_data/family"
PLAIN = ROOT / "tests/data/families/fam-a"
"""Its speedometer is programmed to read true."""
NAME = "invented-estate"
DIALS = ["engine", "speed", "temp", "fuel"]
CAME_BACK = f"""
> answers about {NAME}
> fuel: reads_wrong yes, worse_cold no
>
> whole: all_at_once no
"""


def call(*words: str | Path) -> int:
    with pytest.raises(SystemExit) as left:
        run([str(word) for word in words])
    assert isinstance(left.value.code, int)
    return left.value.code


def parsed(said: str, name: str) -> Any:
    schema = json.loads((ROOT / f"docs/json/{name}.schema.json").read_text(encoding="utf-8"))
    document = json.loads(said)
    assert [e.message for e in Draft202012Validator(schema).iter_errors(document)] == []
    return document


def test_answers_that_came_back_lead_to_a_test(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "back.txt").write_text(CAME_BACK, encoding="utf-8")
    words = ("troubleshoot", "--family", FAMILY, "--answers", tmp_path / "back.txt")
    assert call(*words, "--json") == 0
    document = parsed(capsys.readouterr().out, "troubleshoot")
    assert document["answers"] == [
        {"finding": "reads_wrong", "dial": "fuel", "yes": True},
        {"finding": "worse_cold", "dial": "fuel", "yes": False},
        {"finding": "all_at_once", "dial": None, "yes": False},
    ]
    assert document["responsible"][0] == {
        "cause": "sender",
        "dial": "fuel",
        "probability": pytest.approx(0.15, abs=0.03),
        "complained_of": True,
    }
    assert document["options"][0]["kind"] == "test"
    assert call(*words) == 0
    said = capsys.readouterr().out
    assert "responsible for the complaint" in said
    assert "what to do next" in said


def test_without_a_complaint_it_says_what_to_ask(capsys: pytest.CaptureFixture[str]) -> None:
    assert call("troubleshoot", "--family", FAMILY) == 0
    said = capsys.readouterr().out
    assert "no complaint so far" in said
    assert "DIAL is one of engine, speed, temp, fuel" in said
    assert "'whole: all_at_once yes'   Do all gauges fail or come back together?" in said


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        ("fuel reads_wrong yes", "line 1: expected 'DIAL: QUESTION yes, QUESTION no', found"),
        ("hello", "begins with 'answers about ...': paste all of it"),
        ("fuel: reads_wrong maybe", "line 1: expected 'QUESTION yes' or 'QUESTION no', found"),
        ("oil: reads_wrong yes", "line 1: there is no dial 'oil'; known: engine, speed, temp"),
        ("fuel: smells yes", "line 1: 'smells' is not asked of a dial; known: reads_wrong"),
        ("whole: dead yes", "line 1: 'dead' is not asked of the whole; known: all_at_once"),
        ("fuel: dead yes, dead no", "'dead' of dial 'fuel' is answered with yes and with no"),
        ("answers about another", "they are about 'another', and this is 'invented-estate'"),
    ],
)
def test_an_answer_that_cannot_be_used_is_said(
    answer: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert call("troubleshoot", "--family", FAMILY, "--answer", answer) == 1
    told = capsys.readouterr()
    assert said in told.err
    assert told.out == ""


@pytest.mark.parametrize("content", [None, b"\xff\xfe\x00", b"x" * 200_000])
def test_a_file_of_answers_that_is_none_is_said(
    content: bytes | None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "back.txt"
    if content is not None:
        path.write_bytes(content)
    assert call("troubleshoot", "--family", FAMILY, "--answers", path) == 1
    assert capsys.readouterr().err.startswith(f"needlewright: {path}: ")


def test_answers_are_read_as_they_come_by_mail() -> None:
    lines = [f"answers about {NAME}", "fuel: reads_wrong yes, dead no", "whole: got_wet yes"]
    expected = (
        Answer("reads_wrong", True, "fuel"),
        Answer("dead", False, "fuel"),
        Answer("got_wet", True),
    )
    for mailed in ("\n".join(lines), "\r\n".join(f"> {line}  " for line in lines)):
        assert answers_in(mailed, load_knowledge(), NAME, DIALS) == expected


def test_a_dial_called_as_the_whole_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    family, out = tmp_path / "family", tmp_path / "questions.html"
    shutil.copytree(PLAIN, family)
    document = json.loads((family / "family.json").read_text(encoding="utf-8"))
    document["dials"][0]["id"] = "whole"
    (family / "family.json").write_text(json.dumps(document), encoding="utf-8")
    for words in (("intake", "--out", out), ("troubleshoot",)):
        assert call(*words, "--family", family) == 1
        assert "expected an id other than 'whole', which means all of the cluster" in (
            capsys.readouterr().err
        )
    assert not out.exists()


def test_a_knowledge_file_of_ones_own(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "k.toml").write_text("prior_weight = 0", encoding="utf-8")
    words = ("troubleshoot", "--family", FAMILY, "--knowledge", tmp_path / "k.toml")
    assert call(*words) == 1
    assert "k.toml: prior_weight: " in capsys.readouterr().err


@pytest.fixture(scope="module")
def form(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("intake") / "questions.html"
    sender = "Test Bench, 2 Test Road <b>&"
    assert call("intake", "--family", FAMILY, "--out", path, "--sent-by", sender, "--json") == 0
    return path


def test_the_form_stands_alone(form: Path) -> None:
    page = form.read_text(encoding="utf-8")
    assert "default-src 'none'" in page
    assert "Test Bench, 2 Test Road &lt;b&gt;&amp;" in page
    for outside in ("http://", "https://", "src=", "@import", "url("):
        assert outside not in page


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser() as one:
        yield one


@pytest.fixture
def opened(chromium: Browser, form: Path) -> Iterator[Page]:
    """The form with nothing ticked in it."""
    with chromium.new_context(viewport={"width": 390, "height": 844}) as context:
        page = context.new_page()
        page.goto(form.as_uri())
        yield page


@needs_chromium
def test_what_is_ticked_comes_back_as_text_the_command_reads(
    opened: Page, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert opened.locator('[data-section="fuel"] .question:visible').count() == 1
    opened.locator('input[name="fuel.reads_wrong"][value="yes"]').check()
    opened.locator('input[name="fuel.worse_cold"][value="yes"]').check()
    opened.locator('input[name="speed.reads_wrong"][value="no"]').check()
    opened.locator('input[name="whole.got_wet"][value="no"]').check()
    text = opened.locator("#text").input_value()
    assert answers_in(text, load_knowledge(), NAME, DIALS) == (
        Answer("reads_wrong", False, "speed"),
        Answer("reads_wrong", True, "fuel"),
        Answer("worse_cold", True, "fuel"),
        Answer("got_wet", False),
    )
    assert opened.evaluate("document.documentElement.scrollWidth") <= 390
    (tmp_path / "back.txt").write_text(text, encoding="utf-8")
    capsys.readouterr()
    back = tmp_path / "back.txt"
    assert call("troubleshoot", "--family", FAMILY, "--answers", back, "--json") == 0
    document = parsed(capsys.readouterr().out, "troubleshoot")
    first = {one["cause"] for one in document["responsible"][:2]}
    assert first == {"cold_stall", "lost_steps"}


@needs_chromium
def test_what_was_answered_and_closed_again_is_not_sent(opened: Page) -> None:
    opened.locator('input[name="engine.reads_wrong"][value="yes"]').check()
    opened.locator('input[name="engine.dead"][value="yes"]').check()
    opened.locator('input[name="engine.reads_wrong"][value="no"]').check()
    assert "engine: reads_wrong no\n" in opened.locator("#text").input_value()


def test_the_form_that_cannot_be_written_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert call("intake", "--family", FAMILY, "--out", tmp_path / "no" / "q.html") == 1
    assert "cannot be written" in capsys.readouterr().err


def test_intake_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "q.html"
    assert call("intake", "--family", FAMILY, "--out", path, "--json") == 0
    document = parsed(capsys.readouterr().out, "intake")
    assert document["questions"][0] == "reads_wrong"
    assert len(document["questions"]) == 21


def typed_run(path: Path, error_kmh: float) -> Path:
    """A speedometer read by eye: the same error everywhere, from below and from above."""
    values = (40, 60, 80, 100, 120, 140)
    ways = [("up", v) for v in values] + [("down", v) for v in values[-2::-1]]
    rows = [f"typed,speed,{v},km/h,{way},{v + error_kmh},0.4" for way, v in ways]
    head = "run,dial,commanded,unit,approach,indicated,u_indicated"
    path.write_text("\n".join([head, *rows, ""]), encoding="utf-8")
    return path


def weighed(capsys: pytest.CaptureFixture[str], *words: str | Path) -> Any:
    assert call("troubleshoot", "--family", PLAIN, "--at", "bench", *words, "--json") == 0
    return parsed(capsys.readouterr().out, "troubleshoot")


def test_a_run_that_shows_a_fault_names_it_and_its_dial_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    document = weighed(capsys, "--run", typed_run(tmp_path / "run.csv", 8.0))
    first = document["responsible"][0]
    assert (first["cause"], first["dial"]) == ("needle_offset", "speed")
    assert first["probability"] > 0.9
    assert document["options"][0]["kind"] == "open"
    assert document["options"][0]["id"] == "set_needle"


def test_what_nobody_complains_of_is_no_cause_of_the_complaint(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run_csv = typed_run(tmp_path / "run.csv", 8.0)
    words = ("troubleshoot", "--family", PLAIN, "--at", "bench", "--run", run_csv)
    assert call(*words) == 0
    alone = capsys.readouterr().out
    assert "found; nobody complained yet" in alone
    assert "responsible for the complaint" not in alone
    assert "over 99 %" in alone
    assert "100.0 %" not in alone
    assert call(*words, "--answer", "fuel: reads_wrong yes") == 0
    complaint, also = capsys.readouterr().out.split("also found, nobody complained of it")
    assert complaint.index("responsible for the complaint") < complaint.index(" fuel ")
    assert " speed " not in complaint
    assert "needle turned on its shaft" in also.split("what to do next")[0]


def test_a_table_fits_a_terminal_of_eighty_columns(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(console.out, "_width", 80)
    assert call("troubleshoot", "--family", FAMILY, "--answer", "speed: reads_wrong yes") == 0
    said = capsys.readouterr().out
    table = said.split("the answer to the first")[0]
    assert max(map(len, table.splitlines())) <= 80
    assert "█" not in table
    (joint,) = [line for line in table.splitlines() if "cracked joint" in line]
    assert joint.split()[:6] == ["cracked", "joint", "of", "connector", "or", "regulator"]
    assert joint.rstrip().endswith("%")
    assert "only if still wrong: " in " ".join(table.split())


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(4.6, "5 min"), (54.9, "55 min"), (55.0, "1 h"), (277.0, "4 h 40 min"), (599.0, "10 h")],
)
def test_how_long_it_takes_is_said_in_hours(minutes: float, words: str) -> None:
    assert duration_words(minutes) == words


def test_a_document_without_evidence_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What explain finds in the rows of a run is weighed with the run, not with its document."""
    run_csv, seen = typed_run(tmp_path / "run.csv", 8.0), tmp_path / "explain.json"
    assert call("explain", "--family", PLAIN, "--json", run_csv) == 0
    seen.write_text(capsys.readouterr().out, encoding="utf-8")
    words = ("troubleshoot", "--family", PLAIN, "--evidence", seen)
    assert call(*words) == 0
    said = capsys.readouterr().err
    assert "explain.json: holds no evidence; " in said
    assert "--run RUN.csv" in said
    assert call(*words, "--run", run_csv) == 0
    assert "--run" not in capsys.readouterr().err
    seen.write_text("[]", encoding="utf-8")
    assert call(*words) == 0
    assert "holds no evidence, so it changes nothing" in capsys.readouterr().err


def test_a_sound_run_of_a_gauge_complained_of_speaks_for_the_vehicle(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of what a run can show nothing is left; a sender never shows in one."""
    said = ("--answer", "speed: reads_wrong yes")
    before = weighed(capsys, *said)
    after = weighed(capsys, *said, "--run", typed_run(tmp_path / "run.csv", 0.0))
    assert before["dials"]["speed"]["sender"] < after["dials"]["speed"]["sender"]
    for code in ("lost_steps", "needle_offset", "stalled", "blocked"):
        assert after["dials"]["speed"][code] < 0.2 * before["dials"]["speed"][code]
    seldom_shown = {"sender", "wiring", "ground", "bus", "battery", "supply_joint"}
    assert after["responsible"][0]["cause"] in seldom_shown


def test_a_dial_is_not_answered_for_twice(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run_csv = typed_run(tmp_path / "run.csv", 0.0)
    words = ("--answer", "speed: bench_wrong no", "--run", run_csv)
    assert call("troubleshoot", "--family", FAMILY, "--at", "bench", *words) == 1
    assert "'bench_wrong' of dial 'speed' is answered already" in capsys.readouterr().err


def test_a_run_of_one_approach_speaks_neither_for_play_nor_against_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Rising points alone: play looks like a seat, which the run does speak about."""
    rows = [f"typed,speed,{v},km/h,up,{v},0.4" for v in (40, 60, 80, 100, 120)]
    head = "run,dial,commanded,unit,approach,indicated,u_indicated"
    path = tmp_path / "up.csv"
    path.write_text("\n".join([head, *rows, ""]), encoding="utf-8")
    said = ("--answer", "speed: reads_wrong yes")
    before = weighed(capsys, *said)["dials"]["speed"]
    after = weighed(capsys, *said, "--run", path)["dials"]["speed"]
    ratio = (after["backlash"] / after["sound"]) / (before["backlash"] / before["sound"])
    assert 0.3 < ratio < 3


def test_the_same_run_is_not_weighed_twice(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = typed_run(tmp_path / "run.csv", 8.0)
    words = ("--family", PLAIN, "--at", "bench", "--run", path, "--run", path)
    assert call("troubleshoot", *words) == 1
    assert "a run of dial 'speed' was weighed already" in capsys.readouterr().err


EVIDENCE = {
    "finding": "sweep_uneven",
    "dial": "fuel",
    "ratio": 400.0,
    "words": "it stands while it is told to move",
    "seen_in": "sweep.mp4",
    "part": "driver",
}


def test_what_an_analysis_saw_is_taken_from_a_file_and_moves_what_is_believed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "seen.json"
    path.write_text(json.dumps({"evidence": [EVIDENCE]}), encoding="utf-8")
    words = ("troubleshoot", "--family", FAMILY, "--at", "bench", "--json")
    complaint = ("--answer", "fuel: reads_wrong yes, dead yes")
    assert call(*words, *complaint) == 0
    before = parsed(capsys.readouterr().out, "troubleshoot")
    assert call(*words, *complaint, "--evidence", path) == 0
    after = parsed(capsys.readouterr().out, "troubleshoot")
    assert after["dials"]["fuel"]["stalled"] > 1.5 * before["dials"]["fuel"]["stalled"]
    assert after["parts"]["fuel"]["driver"] > 3 * before["parts"]["fuel"]["driver"]
    assert after["evidence"][0]["counts"] is True
    assert after["contradictions"] == []
    denied = ("--answer", "fuel: sweep_uneven no")
    assert call(*words, *complaint, *denied, "--evidence", path) == 0
    told = parsed(capsys.readouterr().out, "troubleshoot")
    assert told["evidence"][0]["counts"] is False
    assert "is not what sweep.mp4 shows" in told["contradictions"][0]


def test_a_contradiction_is_said_beside_the_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "seen.json"
    path.write_text(json.dumps([EVIDENCE]), encoding="utf-8")
    answer = ("--answer", "fuel: reads_wrong yes, sweep_uneven no")
    words = ("--evidence", path)
    assert call("troubleshoot", "--family", FAMILY, *answer, *words) == 0
    said = capsys.readouterr()
    assert "look: 'fuel: sweep_uneven no' is not what sweep.mp4 shows" in said.err
    assert "asked: In a slow sweep filmed at the bench: does fuel jump" in said.err
    assert "responsible for the complaint" in said.out
    assert "a person answered instead" in " ".join(said.out.split())
    assert call("troubleshoot", "--family", FAMILY, *answer[:1], "fuel: dead yes", *words) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "400 : 1 for yes to: In a slow sweep filmed at the bench: does fuel jump" in said


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"dial": "oil"}, "evidence of sweep.mp4: there is no dial 'oil'"),
        ({"finding": "smells"}, "evidence of sweep.mp4: there is no question or test 'smells'"),
        ({"ratio": "much"}, "seen.json: evidence 0.ratio: "),
    ],
)
def test_evidence_that_does_not_fit_is_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], change: dict[str, str], said: str
) -> None:
    path = tmp_path / "seen.json"
    path.write_text(json.dumps([{**EVIDENCE, **change}]), encoding="utf-8")
    assert call("troubleshoot", "--family", FAMILY, "--evidence", path) == 1
    assert said in capsys.readouterr().err


def test_a_knowledge_file_that_says_nothing_of_runs_cannot_weigh_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (ROOT / "src/needlewright/findings/knowledge.toml").read_text(encoding="utf-8")
    path = tmp_path / "k.toml"
    path.write_text(text[: text.index("\n[run.dials]")], encoding="utf-8")
    run_csv = typed_run(tmp_path / "run.csv", 0.0)
    words = ("troubleshoot", "--family", FAMILY, "--at", "bench", "--knowledge", path)
    assert call(*words, "--answer", "fuel: reads_wrong yes", "--json") == 0
    parsed(capsys.readouterr().out, "troubleshoot")
    assert call(*words, "--run", run_csv) == 1
    assert capsys.readouterr().err == (
        f"needlewright: {path}: has no [run], so a run cannot be weighed; add it, or leave the run "
        "out\n"
    )


def test_a_key_on_test_speaks_as_a_run_and_as_what_explain_says_of_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Both ways it says the same, and said twice it says no more."""
    rest = load_family(FAMILY).dial("speed").rest_target_deg
    run_csv, seen = tmp_path / "keyed.csv", tmp_path / "seen.json"
    run_csv.write_text(
        "dial,commanded,unit,approach,angle_deg,u_angle_deg,key_cycle\n"
        + "".join(f"speed,,km/h,rest,{rest + 12 - 2 * n},0.1,{n}\n" for n in (0, 1, 3, 5)),
        encoding="utf-8",
    )
    assert call("explain", "--family", FAMILY, "--json", run_csv) == 0
    seen.write_text(capsys.readouterr().out, encoding="utf-8")
    words = ("troubleshoot", "--family", FAMILY, "--at", "bench", "--json")
    documents = []
    for source in (
        ("--run", run_csv),
        ("--evidence", seen),
        ("--evidence", seen, "--run", run_csv),
    ):
        assert call(*words, *source) == 0
        documents.append(parsed(capsys.readouterr().out, "troubleshoot"))
    first = documents[0]
    assert [one["finding"] for one in first["evidence"]] == ["creeps_home"]
    assert first["responsible"][0]["cause"] == "lost_steps"
    for other in documents[1:]:
        assert other["dials"]["speed"] == pytest.approx(first["dials"]["speed"], abs=2e-6)
    assert len(documents[2]["evidence"]) == 2
