"""`needlewright burn-in`: planned, run on a rehearsed cluster, reported."""

import json
import shutil
from io import BytesIO
from pathlib import Path

import jsonschema
import pypdfium2
import pytest

import needlewright
from needlewright.bench.burn_in.journal import Beat, Counts, Looked, now, read_journal
from needlewright.cli.main import run
from needlewright.composing.burn_in_known import A_YEAR
from needlewright.composing.burn_in_statements import Beforehand
from needlewright.plans.burn_in.early import EarlyLaw
from needlewright.plans.wear.weibull import Weibull
from needlewright.records.families import keep_family
from needlewright.records.intake import receive
from needlewright.records.jobs import new_job
from needlewright.records.opening import open_shop
from needlewright.records.shop import add_person
from needlewright.records.stages import finish_stage

SCHEMAS = Path(__file__).parents[2] / "docs" / "json"
WHOLE = Path(needlewright.__file__).parent / "demo_data" / "family"


def call(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["burn-in", *arguments])
    captured = capsys.readouterr()
    return int(left.value.code or 0), captured.out, captured.err


def checked(said: str, name: str) -> dict:
    document = json.loads(said)
    jsonschema.validate(document, json.loads((SCHEMAS / f"{name}.schema.json").read_text("utf-8")))
    return document


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A family of two of the four dials: half the needles to read."""
    folder = tmp_path_factory.mktemp("family")
    document = json.loads((WHOLE / "family.json").read_text("utf-8"))
    document["dials"] = [d for d in document["dials"] if d["id"] in ("engine", "speed")]
    (folder / "family.json").write_text(json.dumps(document), encoding="utf-8")
    shutil.copy(WHOLE / "face.png", folder)
    return str(folder)


def test_a_plan_says_both_and_mixes_nothing(capsys, two: str):
    costs = ("--cost-hour", "0.01", "--cost-return", "180.00")
    code, said, _ = call(capsys, "plan", "--family", two, *costs, "--json")
    document = checked(said, "burn-in-plan")
    assert code == 0
    assert document["sweeps"] == 288
    # 1 - exp(-(1000 / 4e5)^0.5 - (20000 / 2e7)^0.5): usual laws, no source
    assert document["beforehand"]["fails_without"] == pytest.approx(0.0784, abs=5e-5)
    shown = document["would_show"]["parts"][0]
    assert shown["least_mean_between"] == pytest.approx(8.011, abs=1e-3)
    assert document["batch"]["units_without_failure"] == 59
    # where 180 x 0.5 / sqrt(4e5) x (1 / sqrt(t) - 1 / sqrt(t + 1000)) = 0.01
    assert document["pays"]["hours"] == pytest.approx(99.13, abs=0.01)
    assert document["pays"]["currency"] == "EUR"
    code, said, _ = call(capsys, "plan", "--family", two, "--prior", "hours=1.5,4000")
    assert code == 0
    assert "burn-in takes nothing away here: with a shape of 1.5 a unit that has run" in said
    assert "caution: never unattended without a current limit on the supply and a fuse" in said
    assert "nothing is shown against a failure within 1\u202f000 h" in said
    assert "warranty: 24 months at 14\u202f000 km a year (the catalogue that comes with" in said


KEPT = Beforehand((EarlyLaw("sweeps", Weibull(0.7, 3e6), "taught"),), A_YEAR)
SHORT = ("--rehearse", "--hours", "0.003", "--sweeps-each", "0", "--dwell", "1", "--no-lamps")
POINTS = ("--points", "engine=4", "--points", "speed=100")


@pytest.mark.parametrize(
    ("arguments", "wrong"),
    [
        (("--hours", "nan"), "hours: expected a finite number, found 'nan'"),
        (("--hours", "inf"), "hours: expected a finite number, found 'inf'"),
        (("--dwell", "nan"), "dwell: expected a finite number"),
        (("--check-every", "inf"), "check points every: expected a finite number"),
        (("--points", "speed=40,nan"), "dial 'speed', check points: expected a finite number"),
        (
            ("--points", "speed=40,1e300"),
            "dial 'speed': check points must lie within 1 000 000 000 of 0",
        ),
        (("--chamber", "0=nan"), "--chamber: expected HOUR=DEGC,..."),
        (("--chamber", "1e400=20"), "--chamber: expected HOUR=DEGC,..."),
        (("--prior", "hours=1e9,1"), "the shape must lie between 0.02 and 50, found 1 000 000 000"),
        (("--prior", "hours=50,1", "--warranty-hours", "1e7"), "correct the law or the warranty"),
        (("--warranty-hours", "inf"), "warranty: it must hold more than 0 hours, found inf"),
        (("--confidence", "nan"), "confidence: must be between 0 and 1"),
        (("--cost-hour", "sNaN", "--cost-return", "9"), "--cost-hour: expected an amount"),
        (("--cost-hour", "1", "--cost-return", "1e400"), "cost of a return: must be above 0 and"),
    ],
)
def test_numbers_that_cannot_be_planned_with_are_one_sentence(capsys, two, arguments, wrong):
    code, said, told = call(capsys, "plan", "--family", two, *arguments)
    assert (code in (1, 2), said) == (True, "")
    assert wrong in " ".join(told.split())
    assert "Traceback" not in told
    assert "pydantic" not in told


def test_a_rehearsed_burn_in_is_run_and_reported_and_proves_nothing(capsys, two, tmp_path: Path):
    out, pdf, svg = tmp_path / "unit", tmp_path / "unit.pdf", tmp_path / "drift.svg"
    options = ("run", "--family", two, "--out", str(out), "--unit", "A 1", *SHORT, *POINTS)
    code, said, told = call(capsys, *options, "--json")
    document = checked(said, "burn-in-run")
    assert (code, document["state"], document["rehearsed"]) == (0, "finished", True)
    assert document["hours"] >= 0.003
    assert "smoke detector" in told
    code, _, told = call(capsys, *options)
    assert code == 1
    assert told.endswith("journal.jsonl: is finished; report it, or name another folder\n")
    add_hours(out)
    given = ("--pdf", str(pdf), "--svg", str(svg))
    code, said, _ = call(capsys, "report", str(out), "--family", two, *given, "--json")
    report = checked(said, "burn-in-report")
    assert (code, report["rehearsed"], report["hours"]) == (0, True, 30.0)
    assert report["shown"]["words"].endswith("on a real cluster, and it proves nothing)")
    drift = {row["dial"]: row for row in report["drift"]}
    assert (drift["speed"]["drifts"], drift["engine"]["drifts"]) == (True, False)
    assert drift["speed"]["change_deg"] == pytest.approx(1.45, abs=0.05)
    assert "Rehearsed: nothing of this was seen on a real cluster" in svg.read_text("utf-8")
    pages = pypdfium2.PdfDocument(BytesIO(pdf.read_bytes()))
    text = "".join(page.get_textpage().get_text_bounded() for page in pages)
    assert "Rehearsed. Not seen on a real cluster." in text
    assert "The two are not to be mixed" in text
    code, said, _ = call(capsys, "report", str(out), "--family", two)
    assert code == 0
    assert "speed at 100 km/h: +1." in said
    assert "DRIFTS" in said


def add_hours(folder: Path) -> None:
    """As if it had run on for thirty hours, the speedometer's needle drifting."""
    journal = read_journal(folder)
    first = {one.dial: one for one in journal.lines[::-1] if isinstance(one, Looked)}
    for visit in range(2, 12):
        counts = Counts(powered_s=3600.0 * (10 + 2 * (visit - 1.5)), sweeps=0, key_ons=visit)
        for dial, look in first.items():
            off = 0.05 * counts.hours if dial == "speed" else 0.01 * (-1) ** visit
            assert look.angle_deg is not None
            journal.write(
                Looked(
                    at=now(),
                    counts=counts,
                    visit=visit,
                    dial=dial,
                    value=look.value,
                    angle_deg=look.angle_deg + off,
                    u_angle_deg=0.05,
                )
            )
    journal.write(Beat(at=now(), counts=Counts(powered_s=3600.0 * 30, key_ons=12)))


@pytest.mark.parametrize(
    ("arguments", "wrong"),
    [
        (("--rehearse", "--hours", "0"), "burn-in of 0 h: give more than 0"),
        ((), "states no current limit: a burn-in runs without anybody there"),
        (("--rehearse", "--camera", "1"), "--rehearse needs no bench"),
        (("--fault", "speed:backlash=1"), "are of a rehearsed cluster; add --rehearse"),
        (("--rehearse", "--chamber", "cold"), "--chamber: expected HOUR=DEGC"),
        (("--rehearse", "--points", "oil=3"), "--points oil=3: expected one of engine, speed"),
        (("--rehearse", "--job", "T-5"), "--job knows family, folder and unit; leave --family"),
        (("--rehearse", "--by", "Anna"), "--shop and --by are of a job's burn-in; add --job TAG"),
    ],
)
def test_what_cannot_be_run_is_one_sentence(capsys, two, tmp_path, arguments, wrong):
    out = tmp_path / "unit"
    code, said, told = call(
        capsys, "run", "--family", two, "--out", str(out), "--unit", "A 1", *arguments
    )
    assert (code in (1, 2), said) == (True, "")
    assert wrong in told.splitlines()[-1]
    assert not out.exists()


@pytest.mark.parametrize(
    ("bench", "wrong"),
    [
        ("", "the bench has no supply that the program can limit and switch off"),
        ('[supply]\nresource = "ASRL9::INSTR"\n', "is told its values by this bench without"),
        (
            '[supply]\nresource = "ASRL9::INSTR"\n[bus]\ninterface = "virtual"\n',
            "camera 98: cannot be opened",
        ),
    ],
)
def test_a_bench_that_nobody_may_leave_is_refused(capsys, two, tmp_path, bench: str, wrong: str):
    folder = tmp_path / "family"
    shutil.copytree(two, folder)
    document = json.loads((folder / "family.json").read_text("utf-8"))
    document["supply"] = {"limit_a": 1.5}
    (folder / "family.json").write_text(json.dumps(document), encoding="utf-8")
    settings = tmp_path / "bench.toml"
    settings.write_text(bench, encoding="utf-8")
    options = ("--bench", str(settings), "--camera", "98", "--unit", "A 1")
    code, _, told = call(
        capsys, "run", "--family", str(folder), "--out", str(tmp_path / "unit"), *options
    )
    assert code == 1
    assert wrong in told
    assert not (tmp_path / "unit").exists()


RECEIVED = {
    "sender": "A. Sample",
    "condition": "whole",
    "contents": [{"what": "cluster", "ticked": True}],
    "odometer_in": 12345,
    **{f"{what}_ok": True for what in ("family", "variant", "face", "connector")},
}


def interrupt(*_: object) -> None:
    raise KeyboardInterrupt


def listed(capsys, shop: Path, *options: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["jobs", "burn-ins", "T-5", "--shop", str(shop), *options])
    captured = capsys.readouterr()
    return int(left.value.code or 0), captured.out, captured.err


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory, two: str) -> Path:
    """A shop with one person, the family of two dials and a job."""
    folder = tmp_path_factory.mktemp("records") / "shop"
    with open_shop(folder) as opened:
        add_person(opened, "Anna Invented")
        family = keep_family(opened, Path(two))
        new_job(opened, {"tag": "T-5", "family": family.name})
    return folder


def one_law_is_stated(capsys, monkeypatch, of_job: tuple[str, ...]) -> None:
    """The law of the other clock, which the shop had taught, stays."""
    for name, place in (("report", "report.known_in"), ("plan", "plan.known_of_job")):
        with monkeypatch.context() as patched:
            patched.setattr(f"needlewright.cli.burn_in_{place}", lambda *_: KEPT)
            code, said, _ = call(capsys, name, *of_job, "--prior", "hours=0.6,2e5", "--json")
        parts = checked(said, f"burn-in-{name}")["beforehand"]["parts"]
        laws = [(one["shape"], one["scale"], one["from"]) for one in parts]
        assert (code, laws) == (0, [(0.6, 2e5, "stated"), (0.7, 3e6, "taught")]), name


def test_a_jobs_burn_in_is_kept_in_the_records_and_gone_on_with(
    capsys, shop, two, tmp_path, monkeypatch
):
    of_job = ("--job", "T-5", "--shop", str(shop))
    options = ("run", *of_job, *SHORT, *POINTS)
    code, said, told = call(capsys, *options)
    assert (code, said) == (1, "")
    assert told.endswith("job T-5: no work before the cluster is received: finish Received first\n")
    with open_shop(shop) as opened:
        receive(opened, "T-5", RECEIVED)
        finish_stage(opened, "T-5", "received")
    code, said, _ = call(capsys, "plan", *of_job, "--json")
    planned = checked(said, "burn-in-plan")
    assert (code, planned["beforehand"]["parts"][0]["warranty"]) == (0, 1000.0)
    with monkeypatch.context() as patched:  # stopped before anything is done
        patched.setattr("needlewright.bench.burn_in.acts.Acts.light_by_hand", interrupt)
        code, _, told = call(capsys, *options)
    assert code == 130
    assert "job T-5: its needles are not set yet" in told
    assert "0.000 h are kept, and the same command goes on from there" in told
    code, said, _ = listed(capsys, shop, "--json")
    (one,) = checked(said, "jobs-burn-ins")["burn_ins"]
    assert (one["state"], one["unit"], one["lines"]) == ("stopped", "T-5", 2)
    early, chart = tmp_path / "early.pdf", tmp_path / "early.svg"
    both = ("--pdf", str(early), "--svg", str(chart))
    code, said, told = call(capsys, "report", *of_job, *both)  # the paper can be, the chart cannot
    assert (code, "no event" in said) == (1, True)
    assert "early.svg: is not written, for no check point was read yet; ask again after" in told
    assert (early.read_bytes()[:4], chart.exists()) == (b"%PDF", False)
    code, _, told = call(capsys, "run", *of_job, *SHORT, "--points", "engine=2")
    assert code == 1
    assert f"jobs burn-ins T-5 --set-aside {one['id']} --why TEXT" in told
    code, said, _ = call(capsys, *options, "--json")
    document = checked(said, "burn-in-run")
    assert (code, document["state"], document["unit"]) == (0, "finished", "T-5")
    pdf = tmp_path / "T-5.pdf"
    code, said, _ = call(capsys, "report", *of_job, "--pdf", str(pdf), "--json")
    report = checked(said, "burn-in-report")
    code, said, _ = call(capsys, "report", document["folder"], "--family", two, "--json")
    assert checked(said, "burn-in-report") == report
    assert report["gone_on"] == 1
    one_law_is_stated(capsys, monkeypatch, of_job)
    assert pdf.read_bytes().startswith(b"%PDF")
    code, said, _ = listed(capsys, shop)
    assert f"finished: {report['result']}" in said
    assert "nothing of this was seen on a real cluster" in said
    code, said, _ = listed(capsys, shop, "--set-aside", str(one["id"]), "--why", "only tried")
    assert "set aside: only tried" in said
    code, _, told = call(capsys, "report", *of_job)
    assert (code, "has no burn-in to report" in told) == (1, True)
