"""A job from tag to return by command line; every document as its schema says."""

import json
import runpy
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from needlewright.cli.main import run as command_line
from needlewright.readings.run_csv import write_run
from needlewright.readings.runs import Run
from needlewright.records.opening import open_shop
from needlewright.records.run_photos import add_run_photo
from needlewright.records.run_readings import store_outcome
from needlewright.records.runs import start_run
from needlewright.records.sheet import job_sheet
from proofs.drawn_job import true_run
from records.benches import FAMILY_FOLDER, jpeg, outcomes, told

ROOT = Path(__file__).parents[2]
SCHEMAS = ROOT / "docs" / "json"
DEMO = ROOT / "src" / "needlewright" / "demo_data"
RECEIVE = (
    "--sender", "C. Ustomer", "--item", "cluster", "--missing", "lens screw", "--packing", "box",
    "--condition", "two screws missing", "--odometer", "184213", "--check", "family=ok",
    "--check", "variant=ok", "--check", "face=ok", "--check", "connector=ok",
)  # fmt: skip


@pytest.fixture
def call(tmp_path, capsys, monkeypatch):
    """The command line on a shop of its own: exit code, standard output, standard error."""
    monkeypatch.setenv("NEEDLEWRIGHT_SHOP", str(tmp_path / "shop"))

    def words(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            command_line([str(one) for one in arguments])
        said = capsys.readouterr()
        return int(left.value.code or 0), said.out, said.err

    return words


@pytest.fixture
def document(call):
    """The document of a command, held against the schema of that name."""

    def parsed(schema: str, *arguments: object) -> dict:
        code, out, err = call(*arguments, "--json")
        assert (code, err) == (0, ""), err
        found = json.loads(out)
        described = json.loads((SCHEMAS / f"{schema}.schema.json").read_text(encoding="utf-8"))
        Draft202012Validator.check_schema(described)
        assert list(Draft202012Validator(described).iter_errors(found)) == []
        return found

    return parsed


@pytest.fixture(scope="module")
def new_shop(tmp_path_factory):
    """An empty shop, made once."""
    folder = tmp_path_factory.mktemp("new") / "shop"
    open_shop(folder).close()
    return folder


@pytest.fixture
def shop(new_shop, tmp_path, document):
    """A shop with one person, a family and its settings."""
    shutil.copytree(new_shop, tmp_path / "shop")
    document("shop-person", "shop", "person", "Anna Invented")
    document("shop-show", "shop", "set", "--name", "Test Bench", "--place", "2 Test Road",
             "--authorised-by", "A. Uthor", "--invented")  # fmt: skip
    document("shop-family", "shop", "family", FAMILY_FOLDER)


@pytest.fixture
def job(shop, document):
    """A new job."""
    return document(
        "job-sheet", "jobs", "new", "T-77", "--family", "fam-job", "--serial", "S-1", "--owner",
        "C. Ustomer", "--vehicle", "an invented van", "--complaint", "sticks at 60",
        "--promised", "2030-03-20", "--max-speed", "180",
    )  # fmt: skip


def typed(tmp_path: Path, name: str) -> Path:
    """A run as a technician without a camera types it."""
    run = true_run(name)
    rows = tuple(replace(row, u_commanded=None if row.commanded is None else 0.05,
                         temperature_c=21.0) for row in run.rows)  # fmt: skip
    write_run(tmp_path / f"{name}.csv", Run(name, rows))
    return tmp_path / f"{name}.csv"


def test_a_job_from_tag_to_return(job, call, document, tmp_path):
    assert (job["tag"], job["waits_for"], job["promised"]) == ("T-77", "cluster", "2030-03-20")
    sheet = document("job-sheet", "jobs", "receive", "t-77", *RECEIVE)
    assert sheet["stages"][0]["state"] == "finished"
    assert [i["ticked"] for i in sheet["received"]["contents"]] == [True, False]
    found = typed(tmp_path, "as-found")
    run = document("job-run", "jobs", "bench", "T-77", "--typed", found)
    assert (run["run"], len(run["rows"]), run["missing"]) == ("as-found", 48, [])
    needles = document("needles", "jobs", "needles", "T-77", "--done")
    assert needles["dials"]["engine"]["verdict"] == "turn"
    document("shop-instrument", "shop", "instrument", "TH-9", "--name", "thermometer",
             "--due", "2030-09-30")  # fmt: skip
    document("job-sheet", "jobs", "instruments", "T-77", "TH-9")
    document("job-sheet", "jobs", "edit", "T-77", "--work-done", "movement replaced",
             "--waits-for", "parts")  # fmt: skip
    document("job-run", "jobs", "final", "T-77", "--typed", typed(tmp_path, "as-left"))
    document("job-sheet", "jobs", "note", "T-77", "the owner calls back")
    report = document("job-paper", "jobs", "report", "T-77")
    assert report["paper"]["kind"] == "as_found_report"
    box = ("--item", "cluster", "--packing", "box", "--carrier", "by hand")
    document("job-sheet", "jobs", "return", "T-77", "--odometer", 184213, *box, "--not-yet")
    issued = document("job-paper", "jobs", "certify", "T-77", "--out", tmp_path / "papers")
    assert issued["paper"]["kind"] == "certificate"
    assert (issued["why_not"], issued["exceptions"]) == ([], [])
    assert sorted(issued["files"]) == ["data", "label", "paper"]
    assert Path(issued["files"]["paper"]).read_bytes().startswith(b"%PDF")
    name = issued["paper"]["name"]
    assert json.loads(Path(issued["files"]["data"]).read_text())["name"] == name
    listed = document("jobs-papers", "jobs", "papers", "T-77", "--out", tmp_path / "again")
    assert [one["paper"]["name"] for one in listed["papers"]] == [report["paper"]["name"], name]
    closed = document("job-sheet", "jobs", "return", "T-77")
    assert closed["closed_at"] is not None
    assert document("jobs-list", "jobs", "list")["count"] == 0
    assert document("jobs-list", "jobs", "list", "ustomer", "--returned")["count"] == 1
    edits = document("jobs-history", "jobs", "history", "T-77", "--limit", 3)["edits"]
    assert edits[0]["what"] == "Returned finished"
    assert document("jobs-undo", "jobs", "undo", "T-77")["what"] == "Returned finished"
    assert document("shop-check", "shop", "check")["problems"] == []
    saved = document("backup", "backup", tmp_path / "b.zip")
    back = document("backup", "restore", tmp_path / "b.zip", "--into", tmp_path / "back")
    assert (back["jobs"], back["originals"]) == (1, saved["originals"])
    with open_shop(tmp_path / "shop") as one, open_shop(tmp_path / "back") as other:
        assert job_sheet(one, "T-77") == job_sheet(other, "T-77")


def test_photos_are_read_kept_with_overlays_rejected_and_taken_again(
    shop, document, call, tmp_path
):
    document("shop-family", "shop", "family", DEMO / "family")
    document("job-sheet", "jobs", "new", "EX-1", "--family", "invented-estate", "--serial", "I-1")
    document("job-sheet", "jobs", "receive", "EX-1", *RECEIVE)
    table = (DEMO / "as-found" / "commands.csv").read_text().splitlines()
    photos = sorted((DEMO / "as-found").glob("*.jpg"))
    head, rows = table[0], [line for line in table[1:] if any(p.name in line for p in photos[3:5])]
    (tmp_path / "commands.csv").write_text("\n".join([head, *rows]) + "\n")
    run = document("job-run", "jobs", "bench", "EX-1", *photos[3:5],
                   "--commands", tmp_path / "commands.csv")  # fmt: skip
    assert len(run["rows"]) == len(rows)
    assert run["missing"] == []
    assert all(row["angle_deg"] is not None for row in run["rows"] if row["dial"] == "engine")
    first = run["sheet"]["photos"][0]
    with open_shop(tmp_path / "shop") as opened:
        assert opened.originals.read(first["sha256"]) == photos[3].read_bytes()
        overlay = opened.originals.path(first["overlay_sha256"])
        with Image.open(overlay) as drawn, Image.open(photos[3]) as taken:
            assert drawn.width == taken.width
    step = first["step"]
    rejected = document("job-run", "jobs", "reject-reading", "EX-1", "as-found", step, "engine",
                        "--why", "a reflection")  # fmt: skip
    row = next(r for r in rejected["rows"] if r["step"] == step and r["dial"] == "engine")
    assert (row["angle_deg"], row["flags"]) == (None, ["rejected"])
    again = document("job-run", "jobs", "retake", "EX-1", "as-found", step, photos[6])
    row = next(r for r in again["rows"] if r["step"] == step and r["dial"] == "engine")
    assert row["angle_deg"] is not None
    assert len(again["sheet"]["older_photos"]) == 1
    aside = document("job-run", "jobs", "set-aside", "EX-1", "as-found", "--why", "wrong table")
    assert aside["sheet"]["set_aside_why"] == "wrong table"
    code, _, err = call("jobs", "read", "EX-1")
    assert (code, err) == (1, "needlewright: job EX-1: every photo has been read\n")


def test_reading_is_stopped_gone_on_with_and_an_unread_photo_rejected(
    job, call, document, tmp_path
):
    call("jobs", "receive", "T-77", *RECEIVE)
    with open_shop(tmp_path / "shop") as opened:
        rows = [row for row in told() if row.step < 2]
        run = start_run(opened, "T-77", "found", rows)
        add_run_photo(opened, run.id, jpeg(1), "1.jpg", step=0)
        seen = add_run_photo(opened, run.id, jpeg(2), "2.jpg", step=1)
        store_outcome(opened, seen.id, outcomes()[1])
    stopped = document("job-run", "jobs", "stop-reading", "T-77", "as-found")
    assert stopped["sheet"]["reading_stopped_at"] is not None
    assert stopped["missing"] == ["1 photos of run as-found are not read yet"]
    code, out, err = call("jobs", "stop-reading", "T-77", "as-found")
    assert (code, out) == (1, "")
    assert "the reading is stopped already" in err
    on = document("job-run", "jobs", "read-on", "T-77", "as-found")
    assert on["sheet"]["reading_stopped_at"] is None
    first = on["sheet"]["photos"][0]
    assert (first["found"], first["read_at"] is None) == (False, False)
    (lacking,) = on["missing"]
    assert "nothing was read in 1.jpg (step 0): " in lacking
    assert lacking.endswith("or reject the photo and say why")
    assert "the reading is not stopped" in call("jobs", "read-on", "T-77", "as-found")[2]
    code, out, err = call("jobs", "reject-photo", "T-77", "as-found", 1, "--why", "glare")
    assert (code, out) == (1, "")
    assert "the photo 2.jpg was read; only one in which nothing was read" in err
    done = document("job-run", "jobs", "reject-photo", "T-77", "as-found", 0, "--why", "no light")
    assert done["missing"] == []
    assert [row["flags"] for row in done["rows"] if row["step"] == 0] == [["rejected"]] * 4
    stages = document("job-sheet", "jobs", "show", "T-77")["stages"]
    assert [one["state"] for one in stages][:3] == ["finished", "finished", "to_do"]


def test_people_get_a_sheet_in_the_order_of_the_work(job, call, tmp_path):
    (tmp_path / "box.jpg").write_bytes(jpeg(3))
    code, out, _ = call("jobs", "receive", "T-77", *RECEIVE, "--photo",
                        f"damage={tmp_path / 'box.jpg'}", "--damage", "a dent")  # fmt: skip
    assert code == 0
    places = [
        out.index(words)
        for words in (
            "T-77: fam-job, serial S-1",
            "owner       C. Ustomer",
            "odometer    in: 184213 km",
            "Received     finished",
            "[x] cluster",
            "[ ] lens screw (missing)",
            "damage     a dent",
            "km/h or mph face   ok",
            "photo (received, damage) box.jpg",
        )
    ]
    assert places == sorted(places)
    _, out, _ = call("jobs", "list")
    assert out.splitlines()[1].split() == [
        "T-77", "fam-job", "Bench", "check", "a", "hand", "at", "the", "bench", "2030-03-20",
        "sticks", "at", "60",
    ]  # fmt: skip
    assert call("jobs", "photo", "T-77", f"packing={tmp_path / 'box.jpg'}")[0] == 0
    assert "taken back: photo: packing" in call("jobs", "undo", "T-77")[1]


def test_a_second_visit_opens_with_the_first_ones_results(job, call, tmp_path):
    call("jobs", "receive", "T-77", *RECEIVE)
    call("jobs", "bench", "T-77", "--typed", typed(tmp_path, "as-found"))
    call("jobs", "report", "T-77")
    call("jobs", "edit", "T-77", "--work-done", "movement replaced")
    _, out, _ = call("jobs", "new", "T-99", "--family", "fam-job", "--serial", "S-1",
                     "--return-of", "T-77")  # fmt: skip
    assert "a return of T-77" in out
    visits = out[out.index("other visits of this cluster") :]
    assert "T-77" in visits
    assert "movement replaced" in visits
    assert "as found report" in visits


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("jobs", "show", "T-78"), 1, "no job with the tag 'T-78'; is 'T-77' meant?"),
        (("jobs", "new", "t-77", "--family", "fam-job"), 1, "the tag 'T-77' is taken"),
        (("jobs", "new", "X", "--family", "fam-x"), 1, "keeps no family 'fam-x'"),
        (("jobs", "edit", "T-77"), 2, "state what is to be changed"),
        (("jobs", "edit", "T-77", "--promised", "soon"), 1, "promised: expected a day"),
        (("jobs", "list", "--waits-for", "rain"), 2, "--waits-for: 'rain' is none of cluster"),
        (("jobs", "bench", "T-77"), 2, "give the run's photos and --commands, or --typed"),
        (("jobs", "needles", "T-77"), 1, "there is no run as-found; take one first"),
        (("jobs", "certify", "T-77"), 1, "there is no run as found; there is no run as left"),
        (("jobs", "return", "T-77"), 1, "Returned cannot be finished: Received is not finished"),
        (("jobs", "notice", "T-77"), 1, "there is nothing to print"),
        (("jobs", "receive", "T-77", "--check", "colour=ok"), 2, "with a part of family, variant"),
        (("jobs", "receive", "T-77", "--photo", "selfie=x.jpg"), 2, "a kind of packing, damage"),
        (("jobs", "receive", "T-77", "--photo", "damage=none.jpg"), 1, "none.jpg"),
        (
            ("jobs", "photo", "T-77", "other=none.jpg", "--stage", "lunch"),
            2,
            "received or returned",
        ),
        (("jobs", "note", "T-77", "x", "--by", "Nobody"), 1, "nobody named 'Nobody' works"),
        (("jobs", "undo", "T-77"), 1, "the last thing saved is 'job opened'"),
        (("jobs", "retake", "T-77", "as-left", "1", "x.jpg"), 1, "there is no run 'as-left'"),
        (("jobs", "certify", "T-77", "--day", "soon"), 2, "--day 'soon': expected a day"),
        (("shop", "instrument", "N-1"), 1, "name: expected a text in one line"),
        (("shop", "set", "--law", "eu"), 1, "law: expected 'us' or 'local', found 'eu'"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(job, call, words, code, says):
    got, out, err = call(*words)
    assert (got, out) == (code, "")
    assert err.count("\n") == 1
    assert says in err


def test_a_photo_that_is_none_keeps_everything_from_being_saved(job, call, tmp_path):
    (tmp_path / "text.jpg").write_text("not a picture")
    code, _, err = call("jobs", "receive", "T-77", *RECEIVE, "--photo",
                        f"damage={tmp_path / 'text.jpg'}")  # fmt: skip
    assert code == 1
    assert "text.jpg: is not a picture" in err
    with open_shop(tmp_path / "shop") as opened:
        assert job_sheet(opened, "T-77").received.sender == ""


def test_an_odometer_that_changed_keeps_the_job_open(job, call, document):
    call("jobs", "receive", "T-77", *RECEIVE)
    call("jobs", "decide", "T-77", "back as it is", "--why", "too dear", "--kind", "no_paper")
    box = ("--item", "cluster", "--packing", "box", "--carrier", "by hand")
    code, _, err = call("jobs", "return", "T-77", "--odometer", 0, *box)
    assert code == 1
    assert "49 USC 32704(a)" in err
    today = document("job-sheet", "jobs", "show", "T-77")["received"]["day"]
    notice = ("--law", "us", "--notice-before", 184213, "--notice-day", today)
    code, _, err = call("jobs", "return", "T-77", *notice)
    assert "the notice with the mileage before and the date has not been printed" in err
    printed = document("job-paper", "jobs", "notice", "T-77")
    assert printed["paper"]["kind"] == "odometer_notice"
    assert document("job-sheet", "jobs", "return", "T-77")["closed_at"] is not None


def test_an_overdue_instrument_is_told_wherever_it_is_used(job, call, document, tmp_path):
    call("jobs", "receive", "T-77", *RECEIVE)
    lab = ("--traceable-to", "an invented lab")
    call("shop", "instrument", "TH-9", "--name", "thermometer", "--due", "2020-01-31", *lab)
    _, out, _ = call("shop", "instrument", "TH-10", "--name", "voltmeter", "--due", "2999-01-31")
    assert out == "TH-9: thermometer, due 2020-01-31, overdue\nTH-10: voltmeter, due 2999-01-31\n"
    _, out, _ = call("jobs", "instruments", "T-77", "TH-9", "TH-10")
    assert "thermometer, number TH-9, due 2020-01-31, overdue\n" in out
    assert "voltmeter, number TH-10, due 2999-01-31\n" in out
    says = (
        "thermometer, number TH-9: its calibration by an invented lab was due on 2020-01-31, before"
    )
    found = typed(tmp_path, "as-found")
    remarks = document("job-run", "jobs", "bench", "T-77", "--typed", found)["remarks"]
    assert [one.startswith(says) for one in remarks] == [True]
    code, out, _ = call("jobs", "final", "T-77", "--typed", typed(tmp_path, "as-left"))
    assert code == 0
    assert f"look: {says}" in out
    call("jobs", "return", "T-77", "--odometer", 184213, "--not-yet")
    _, out, _ = call("jobs", "certify", "T-77", "--out", tmp_path / "papers")
    assert f"look: {says}" in out
    assert "TH-10" not in out
    (made,) = (tmp_path / "papers").glob("*.json")
    assert any(
        sentence == "thermometer, number TH-9, was due on 2020-01-31, before the day of the work."
        for sentence in json.loads(made.read_text(encoding="utf-8"))["traceability"]
    )


def test_a_damaged_shop_is_found_with_exit_1(job, call, tmp_path):
    next((tmp_path / "shop" / "originals").glob("??/*.png")).unlink()
    code, out, err = call("shop", "check")
    assert (code, err) == (1, "")
    assert "1 things wrong" in out


def test_the_schemas_are_those_of_the_records():
    made = runpy.run_path(str(ROOT / "docs" / "make_record_schemas.py"))
    for name, schema in made["schemas"]().items():
        on_disk = (SCHEMAS / f"{name}.schema.json").read_text(encoding="utf-8")
        assert on_disk == made["text"](schema), "run docs/make_record_schemas.py"


def test_other_commands_do_not_load_the_database():
    code = (
        "import sys; from needlewright.cli import main; "
        "print(any(name.startswith('sqlalchemy') for name in sys.modules))"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout == "False\n"
