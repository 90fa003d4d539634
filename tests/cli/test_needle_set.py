"""`needle-set` from the command line: text, documents, and sentences for what cannot be used."""

import json
from pathlib import Path

import jsonschema
import pytest

from needlewright.cli.main import run
from needlewright.composing.pressed_needles import PressedOnto, pressed_line, pressed_onto_line
from needlewright.plans.pressing.hand import PressedNeedle, hand_spread
from needlewright.readings.run_csv import write_run
from needlewright.readings.runs import Run
from needlewright.records.families import keep_family
from needlewright.records.intake import receive
from needlewright.records.jobs import edit_job, new_job
from needlewright.records.opening import open_shop
from needlewright.records.shop import add_person
from needlewright.records.stages import finish_stage
from readings.drawn_runs import DATA, FAMILY, drawn_run

FOLDER = str(DATA / "families" / "fam-job")
SCHEMAS = Path(__file__).parents[2] / "docs" / "json"


def call(capsys, *words: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(list(words))
    said = capsys.readouterr()
    return int(left.value.code or 0), said.out, said.err


def valid(document, name: str) -> None:
    schema = json.loads((SCHEMAS / f"{name}.schema.json").read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(document, schema)


@pytest.fixture
def left(tmp_path: Path) -> Path:
    path = tmp_path / "left.csv"
    write_run(path, drawn_run("as-left"))
    return path


def test_press_says_where_to_drive_and_where_to_press(capsys, left):
    code, out, err = call(capsys, "needle-set", "press", str(left), "--family", FOLDER)
    assert (code, err) == (0, "")
    assert "speed: PRESS\n    home, drive speed to " in out
    assert "km/h from below, press at " in out
    assert "expected pass " in out
    assert "common practice, no source" in out
    assert "never force a needle" in out
    assert "A speedometer is never set to read low." in out


def test_press_as_a_document(capsys, left, tmp_path):
    hand = tmp_path / "hand.csv"
    rows = "".join(f"engine;3,0;{3 + 0.1 * (i % 5):.1f}\n".replace(".", ",") for i in range(12))
    hand.write_text("dial;intended_deg;achieved_deg\n" + rows, encoding="utf-8")
    words = ("needle-set", "press", str(left), "--family", FOLDER, "--json")
    document = json.loads(call(capsys, *words, "--hand", str(hand), "--at", "speed=80")[1])
    valid(document, "needle-set-press")
    assert list(document["dials"]) == [dial.id for dial in FAMILY.dials]
    assert document["dials"]["speed"]["press"]["drive_to"] == 80
    assert document["hand"]["needles"] == 12
    assert document["hand"]["is_default"] is False
    one = document["dials"]["engine"]["expected"]
    assert abs(one["pass"] - one["pass_by_trials"]) < 5 * one["u_pass_by_trials"]
    only = json.loads(call(capsys, *words, "--dial", "temp")[1])
    assert list(only["dials"]) == ["temp"]


def test_the_shops_own_needles_teach_its_hand(capsys, left, tmp_path):
    place = tmp_path / "shop"
    with open_shop(place) as shop:
        add_person(shop, "R. Example")
        keep_family(shop, Path(FOLDER))
        family = FAMILY.name
        new_job(shop, {"tag": "EX-1", "family": family, "serial": "INVENTED-1"})
        needles = [PressedNeedle("speed", 3.0, 3.0 + 0.2 * (i % 4), 1.77) for i in range(11)]
        lines = [pressed_line(one, "80 km/h") for one in needles]
        edit_job(shop, "EX-1", {"work_done": [*lines, "lamps replaced"]})
    words = ("needle-set", "press", str(left), "--family", FOLDER, "--shop", str(place), "--json")
    hand = json.loads(call(capsys, *words)[1])["hand"]
    assert (hand["needles"], hand["is_default"]) == (11, False)
    assert hand["sd_tip_widths"] == pytest.approx(hand_spread(needles).sd_tips, abs=0.01)


def test_a_dial_that_says_nothing_leaves_the_others_their_plan(capsys, tmp_path):
    drawn = drawn_run("as-left")
    rows = tuple(r for r in drawn.rows if r.dial != "temp" or r.approach != "rest")
    path = tmp_path / "no-rest.csv"
    write_run(path, Run(drawn.name, rows))
    words = ("needle-set", "press", str(path), "--family", FOLDER, "--json")
    document = json.loads(call(capsys, *words)[1])
    valid(document, "needle-set-press")
    assert document["dials"]["temp"]["verdict"] is None
    assert "no row at rest after homing" in document["dials"]["temp"]["reason"]
    assert document["dials"]["speed"]["verdict"] == "press"


@pytest.mark.parametrize(
    ("more", "code", "says"),
    [
        (("--dial", "oil"), 1, "has no row of a dial 'oil'; it has "),
        (("--at", "speed"), 2, "--at speed: a dial and a value are expected"),
        (("--at", "speed=nan"), 2, "the value must be a finite number"),
        (("--at", "speed=83.21", "--dial", "speed"), 1, "no row of the run at 83.21 km/h"),
    ],
)
def test_what_cannot_be_used_is_one_sentence(capsys, left, more, code, says):
    left_with, out, err = call(capsys, "needle-set", "press", str(left), "--family", FOLDER, *more)
    assert (left_with, out, err.count("\n")) == (code, "", 1)
    assert says in err


def test_a_table_of_hands_names_the_row_that_is_wrong(capsys, left, tmp_path):
    hand = tmp_path / "hand.csv"
    hand.write_text("dial,intended_deg,achieved_deg\nengine,3,three\n", encoding="utf-8")
    words = ("needle-set", "press", str(left), "--family", FOLDER, "--hand", str(hand))
    code, _, err = call(capsys, *words)
    assert code == 1
    assert "line 2, column 'achieved_deg': given 'three'" in err
    hand.write_text("dial,intended_deg,achieved_deg\nother,3,3\n", encoding="utf-8")
    assert "type tip_deg for another's" in call(capsys, *words)[2]


STACK = (
    "--shaft",
    "6.0+-0.1",
    "--face",
    "1.0",
    "--hub",
    "6,5±0,05",
    "--bore",
    "5.0+-0.05",
    "--lens",
    "9+/-0.3",
)


def test_height_says_the_gauge_and_draws_the_section(capsys, tmp_path):
    drawing = tmp_path / "section.svg"
    words = ("needle-set", "height", *STACK, "--thickness", "0.8", "--out", str(drawing))
    code, out, err = call(capsys, *words)
    assert (code, err) == (0, "")
    assert "press down to a gauge of " in out
    assert "limits of contact, halo, lens, grip: common practice, no source" in out
    assert "what it comes from" in out
    svg = drawing.read_text(encoding="utf-8")
    assert "hub's foot" in svg
    assert "lens 9.00" in svg


def test_where_no_gauge_keeps_every_limit_that_is_said_first_and_none_is_offered(capsys, tmp_path):
    long = ("--shaft", "9.0+-0.1", *STACK[2:], "--thickness", "0.8")
    drawing = tmp_path / "section.svg"
    first = call(capsys, "needle-set", "height", *long, "--out", str(drawing))[1].splitlines()
    assert any(line.strip().startswith("no gauge keeps every limit") for line in first[:2])
    assert not any("press down to a gauge" in line for line in first)
    said = "\n".join(line.strip() for line in first)
    assert said.count(" mm or more for: ") == 1
    assert said.count(" mm or less for: ") == 1
    assert "; within at least" not in said  # of a height nobody sets nothing is within anything
    svg = drawing.read_text("utf-8")
    assert "hub's foot" in svg
    assert "no gauge keeps every limit" in svg


def test_height_as_a_document_with_a_family_and_a_measured_height(capsys, tmp_path):
    measured = {"value": 2.3, "u": 0.1, "before": 2.0, "why_not": None}
    calibrated = tmp_path / "calibrated.json"
    calibrated.write_text(json.dumps({"needles": [{"dial": "speed", "height_mm": measured}]}))
    words = ("needle-set", "height", *STACK, "--family", FOLDER, "--dial", "speed", "--json")
    document = json.loads(call(capsys, *words, "--calibrated", str(calibrated))[1])
    valid(document, "needle-set-height")
    assert document["measured"]["top_mm"] == 2.3
    assert document["keeps_worst_case"] is True
    by_depth = json.loads(call(capsys, *words, "--depth", "3.6", "--halo", "1.5")[1])
    valid(by_depth, "needle-set-height")
    assert by_depth["gap_mm"] == pytest.approx(1.4)
    assert by_depth["limits"]["stated"] == ["halo"]


@pytest.mark.parametrize(
    ("more", "code", "says"),
    [
        (("--thickness", "-0.8"), 1, "thickness: given -0.8 mm; a length here is 0 or more"),
        (("--thickness", "thin"), 1, "thickness: given 'thin'; a length in mm is expected"),
        (("--thickness", "0.8", "--bore", "7"), 1, "bore: 7 mm is deeper than the hub"),
        ((), 2, "--thickness: state it, or name --family and --dial that do"),
        (("--thickness", "1", "--gauge", "1", "--depth", "4"), 2, "--gauge and --depth: state one"),
        (("--thickness", "1", "--out", "a.png"), 2, "the ending must be .svg"),
        (("--family", FOLDER, "--dial", "oil"), 1, "dial 'oil': family 'fam-job' has "),
    ],
)
def test_a_height_that_cannot_be_is_one_sentence(capsys, more, code, says):
    left_with, out, err = call(capsys, "needle-set", "height", *STACK, *more)
    assert (left_with, out, err.count("\n")) == (code, "", 1)
    assert says in err


def test_a_file_that_is_no_calibration_is_said(capsys, tmp_path):
    words = ("needle-set", "height", *STACK, "--family", FOLDER, "--dial", "speed")
    wrong = tmp_path / "wrong.json"
    wrong.write_text("[1]", encoding="utf-8")
    assert "is no document of" in call(capsys, *words, "--calibrated", str(wrong))[2]
    told = {"value": None, "u": None, "before": 2.0, "why_not": "too few photos"}
    wrong.write_text(json.dumps({"needles": [{"dial": "speed", "height_mm": told}]}))
    code, _, err = call(capsys, *words, "--calibrated", str(wrong))
    assert code == 1
    assert "the height of 'speed' was not told: too few photos" in err


def test_a_jobs_run_of_new_movements_is_kept_planned_and_followed(capsys, left, tmp_path):
    place = str(tmp_path / "shop")
    with open_shop(Path(place)) as shop:
        add_person(shop, "R. Example")
        keep_family(shop, Path(FOLDER))
        new_job(shop, {"tag": "EX-1", "family": FAMILY.name, "serial": "INVENTED-1"})
        whole = {f"{what}_ok": True for what in ("family", "variant", "face", "connector")}
        ticked = [{"what": "cluster", "ticked": True}]
        receive(
            shop, "EX-1", {"sender": "A. Sample", "condition": "new", "contents": ticked,
                           "odometer_in": 771627, **whole},
        )  # fmt: skip
        finish_stage(shop, "EX-1", "received")
    words = ("needle-set", "press", "--job", "EX-1", "--shop", place)
    code, _, err = call(capsys, *words)
    assert code == 1
    assert "job EX-1: there is no run of its new movements" in err
    more = ("--typed", str(left), "--shop", place, "--json")
    code, out, err = call(capsys, "needle-set", "run", "EX-1", *more)
    assert (code, err) == (0, "")
    kept = json.loads(out)
    valid(kept, "job-run")
    assert (kept["sheet"]["side"], kept["sheet"]["name"]) == ("other", "check")
    before = json.loads(call(capsys, *words, "--json")[1])
    valid(before, "needle-set-press")
    assert (before["job"], before["run"]) == ("EX-1", "check")
    chance = 1.0
    for one in before["dials"].values():
        chance *= one["expected"]["pass"]
        assert one["pressed"] is None
    assert before["expected_pass_of_all"] == pytest.approx(chance, abs=1e-3)
    aim = before["dials"]["engine"]["press"]
    needle = PressedOnto(
        "engine", "check", aim["drive_to"], aim["approach"], aim["press_deg"],
        aim["press_deg"] + 0.3, 0.1, 1.98,
    )  # fmt: skip
    with open_shop(Path(place)) as shop:
        edit_job(shop, "EX-1", {"work_done": [pressed_onto_line(needle, "x1000 r/min")]})
    after = json.loads(call(capsys, *words, "--json", "--run", "check")[1])
    valid(after, "needle-set-press")
    came = after["dials"]["engine"]["pressed"]
    assert came["achieved_deg"] - came["intended_deg"] == pytest.approx(0.3, abs=0.011)
    assert abs(came["pass"] - came["pass_by_trials"]) < 5 * came["u_pass_by_trials"]
    out = call(capsys, *words, "--dial", "engine")[1]
    assert "pressed: reached " in out
    assert "; expected pass of dial engine: " in out
    code, _, err = call(capsys, *words, "--family", FOLDER)
    assert (code, "--job: goes without a file" in err) == (2, True)
    assert call(capsys, "needle-set", "press", str(left))[0] == 2
