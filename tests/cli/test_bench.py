"""`needlewright bench` and `needlewright rehearse cluster`, on a rehearsed cluster."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

import needlewright
from needlewright.bench.run import BenchRun
from needlewright.cli.main import run
from needlewright.readings.run_csv import read_run

SCHEMAS = Path(__file__).parents[2] / "docs" / "json"
WHOLE = Path(needlewright.__file__).parent / "demo_data" / "family"
FEW = ("--points", "engine=2,5", "--points", "speed=40,120")


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A family of two of the four dials: half the needles to read."""
    folder = tmp_path_factory.mktemp("family")
    document = json.loads((WHOLE / "family.json").read_text("utf-8"))
    document["dials"] = [d for d in document["dials"] if d["id"] in ("engine", "speed")]
    (folder / "family.json").write_text(json.dumps(document), encoding="utf-8")
    shutil.copy(WHOLE / "face.png", folder)
    return str(folder)


def call(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(list(arguments))
    captured = capsys.readouterr()
    return int(left.value.code or 0), captured.out, captured.err


@pytest.fixture
def bench(capsys: pytest.CaptureFixture[str], two: str) -> Callable[..., tuple[int, str, str]]:
    return lambda *arguments: call(capsys, "bench", "--family", two, *arguments)


def checked(said: str, name: str) -> dict:
    document = json.loads(said)
    jsonschema.validate(document, json.loads((SCHEMAS / f"{name}.schema.json").read_text("utf-8")))
    return document


def test_an_as_found_run_is_repeated_as_left_point_for_point(bench, tmp_path: Path):
    found, left = tmp_path / "as-found.csv", tmp_path / "as-left.csv"
    options = ("--rehearse", "--fault", "engine:needle_offset=3", *FEW, "--key-ons", "")
    code, said, told = bench(*options, "as-found", "--out", str(found), "--no-sweep")
    assert (code, told) == (0, "")
    assert "lamps backlight: behind-engine, behind-speed, behind-small switched on, " in said
    assert "current at rest at 13.50 V, after each key-on: 0.087 A" in said
    assert "engine:needle_offset=3, 23 degC, seed 0; nothing of this was seen on a real" in said
    assert "2 ×1000 r/min up" in said
    code, said, _ = bench(
        *("--rehearse", "as-left", "--repeats", str(found), "--out", str(left), "--json"),
    )
    document = checked(said, "bench")
    assert code == 0
    assert (document["which"], document["state"], document["steps_done"]) == (
        "as-left",
        "finished",
        3 + 1 + 3,
    )
    sweep = document["outcome"]["sweep"]
    assert (sweep["dials"], sweep["found"]["events"]) == (["engine", "speed"], [])
    assert [photo["group"] for photo in document["outcome"]["lamps"]] == [
        "backlight",
        "tell-tales",
        "indicators",
    ]
    assert document["outcome"] == json.loads((tmp_path / "as-left.outcome.json").read_text("utf-8"))
    kept = json.loads((tmp_path / "as-left-sweep.json").read_text("utf-8"))
    jsonschema.validate(kept, json.loads((SCHEMAS / "sweep.schema.json").read_text("utf-8")))
    before, after = read_run(found), read_run(left)
    same = [
        [(r.step, r.dial, r.commanded, r.approach, r.key_cycle) for r in one.rows]
        for one in (before, after)
    ]
    assert same[0] == same[1]
    assert all("rehearsed" in row.flags for one in (before, after) for row in one.rows)
    assert not list(tmp_path.glob("*.bench.json")), "the rows alone say so from now on"
    for was, now in zip(before.of_dial("engine"), after.of_dial("engine"), strict=True):
        assert was.angle_deg is not None
        assert now.angle_deg is not None
        assert was.angle_deg - now.angle_deg == pytest.approx(3.0, abs=0.25)


def test_ctrl_c_keeps_the_run_and_the_same_command_goes_on(bench, tmp_path: Path, monkeypatch):
    out = tmp_path / "as-found.csv"
    plain = ("--rehearse", "--no-sweep", "--no-lamps", *FEW, "--key-ons", "")
    options = (*plain, "as-found", "--out", str(out))
    looks = 0
    whole = BenchRun._look

    def twice(self, place, settled):
        nonlocal looks
        looks += 1
        if looks > 2:
            raise KeyboardInterrupt
        return whole(self, place, settled)

    monkeypatch.setattr(BenchRun, "_look", twice)
    code, said, told = bench(*options)
    assert code == 130
    assert told == (
        "2 of 3 steps are kept, and the same command goes on from there\nneedlewright: stopped\n"
    )
    assert "5 ×1000 r/min up" in said
    monkeypatch.setattr(BenchRun, "_look", whole)
    code, _, told = bench(*options)
    assert code == 0
    assert told == "going on at step 3 of 3\n"
    assert [row.step for row in read_run(out).of_dial("speed")] == [0, 1, 2]
    code, _, told = bench(*options)
    assert code == 1
    assert "as-found.csv: is there already; name another file, or move it away" in told


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (["as-found", "--fault", "speed:backlash=1"], 2, "--fault is put on a rehearsed cluster"),
        (["as-found", "--rehearse", "--in-vehicle"], 2, "--rehearse needs no bench"),
        (["as-left", "--rehearse"], 2, "as-left repeats the as-found run; name it"),
        (["as-found", "--rehearse", "--repeats", "x.csv"], 2, "--repeats goes with as-left"),
        (["as-found", "--rehearse", "--dial", "boost"], 2, "--dial boost: 'invented-estate' has"),
        (["as-found", "--rehearse", "--points", "speed=a,b"], 2, "expected a dial and its values"),
        (["as-found", "--rehearse", "--points", "speed=90,20"], 2, "check points must rise"),
        (["as-found", "--rehearse", "--points", "speed=nan"], 2, "expected a dial and its values"),
        (["as-found", "--rehearse", "--points", "x=80,20"], 2, "'invented-estate' has engine, sp"),
        (["as-found", "--rehearse", "--key-ons", "-1"], 2, "key-ons must rise from 0 or more"),
        (["as-found", "--rehearse", "--points", "speed=400"], 1, "is beyond the dial"),
        (["as-found", "--rehearse", "--key-ons", "one"], 2, "expected whole numbers"),
        (["as-found", "--rehearse", "--temperature", "400"], 2, "from -40 to 85 degC"),
        (["as-found", "--rehearse", "--fault", "speed:dragging=9"], 2, "then loses steps"),
        (["as-found", "--camera", "250"], 1, "camera 250: cannot be opened"),
    ],
)
def test_what_cannot_be_is_told_in_one_sentence_and_writes_nothing(
    bench, tmp_path: Path, options: list[str], code: int, words: str
):
    ended, said, told = bench(*options, "--out", str(tmp_path / "run.csv"))
    assert (ended, said) == (code, "")
    assert words in " ".join(told.split())
    assert "Traceback" not in told
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("out", "words"), [("away/run.csv", "no folder"), ("run.txt", ".csv")])
def test_a_file_that_cannot_be_written_is_refused_before_the_run(
    bench, tmp_path: Path, out: str, words: str
):
    code, _, told = bench("as-found", "--rehearse", "--out", str(tmp_path / out))
    assert code == 1
    assert words in told


def test_an_adapter_that_is_absent_is_one_sentence(bench, tmp_path: Path, monkeypatch):
    class Still:
        def __init__(self, number: int) -> None:
            del number

        def set(self, what: int, value: float) -> None:
            return

        def isOpened(self) -> bool:
            return True

        def release(self) -> None:
            return

    monkeypatch.setattr("cv2.VideoCapture", Still)
    settings = tmp_path / "bench.toml"
    settings.write_text('[bus]\ninterface = "nowhere"\n', encoding="utf-8")
    out = tmp_path / "run.csv"
    code, _, told = bench("as-found", "--bench", str(settings), "--out", str(out))
    assert code == 1
    assert "bus interface 'nowhere' is not known" in told
    assert "Bench supply: set the current limit" in told
    assert not out.exists()


def test_nothing_is_sent_in_a_vehicle_unless_it_is_meant(bench, tmp_path: Path):
    settings = tmp_path / "bench.toml"
    settings.write_text('[bus]\ninterface = "virtual"\nwhere = "vehicle"\n', encoding="utf-8")
    out = tmp_path / "run.csv"
    options = ("as-found", "--bench", str(settings), "--out", str(out), "--camera", "250")
    code, _, told = bench(*options)
    assert code == 1
    assert "nothing is sent in a vehicle unless that is said outright" in told
    assert "park it, wheels chocked" in told
    code, _, told = bench(*options, "--in-vehicle")
    assert "Sending on the bus of a vehicle can set off what other units do" in told
    assert "camera 250: cannot be opened" in told


def test_rehearse_tells_the_truth_of_a_faulty_cluster_without_naming_the_command(capsys, tmp_path):
    code, said, told = call(
        capsys,
        *("rehearse", "--family", str(WHOLE), "--fault", "engine:backlash=1.5"),
        *("--temperature", "-10", "--seed", "7", "--json"),
    )
    document = checked(said, "rehearse-cluster")
    assert (code, told) == (0, "")
    assert document["faults"] == [
        {"dial": "engine", "fault": "backlash", "size": 1.5, "begins": None}
    ]
    by_way = {
        point["approach"]: point["error_deg"]
        for point in document["points"]
        if point["dial"] == "engine" and point["told"] == 5.0
    }
    assert by_way["down"] - by_way["up"] == pytest.approx(1.5, abs=0.15)


def test_rehearse_refuses_what_is_no_fault(capsys):
    code, said, told = call(capsys, "rehearse", "--family", str(WHOLE), "--fault", "speed:rust=1")
    assert (code, said) == (2, "")
    assert "'rust' is no fault of a dial" in told
