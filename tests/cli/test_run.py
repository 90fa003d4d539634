"""`needlewright run` and `needlewright needles` by command line, with a stand-in reader."""

import json
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from needlewright.cli.main import run
from needlewright.errors import PictureError
from needlewright.families.model import Dial, Family
from needlewright.readings.model import PhotoReadings, Reading
from needlewright.readings.run_csv import read_run, write_run
from readings.drawn_runs import DATA, drawn_run

FOLDER = DATA / "families" / "fam-job"
SCHEMAS = Path(__file__).parents[2] / "docs" / "json"


def validated(command: str, said: str) -> dict:
    """The one document on standard output, which is what docs/json says it is."""
    document = json.loads(said)
    schema = json.loads((SCHEMAS / f"{command}.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(document)
    return document


TABLE = (
    "photo,step,dial,commanded,unit,approach,temperature_c\n"
    "0.png,0,speed,,km/h,rest,21.5\n"
    "0.png,0,fuel,,fraction of full,rest,21.5\n"
    "1.png,1,speed,80,km/h,up,21.5\n"
    "1.png,1,fuel,0.4,fraction of full,up,21.5\n"
)


class SeesProgramme:
    """Reads the speedometer where it should be and the fuel gauge only in the first photo."""

    def __init__(self, family: Family) -> None:
        self.family = family

    def read_photo(self, path: Path, as_given: str | None = None) -> PhotoReadings:
        if path.stat().st_size > 5000:
            raise PictureError(f"{path}: is damaged or cut short; copy it from the camera again")
        first = path.stem == "0"
        return PhotoReadings(
            str(as_given), True, None, tuple(self.see(dial, first) for dial in self.family.dials)
        )

    def see(self, dial: Dial, first: bool) -> Reading:
        if dial.id == "fuel" and not first:
            return Reading(dial.id, "refused", dial.unit, "occluded")
        middle = dial.scale.values[-1] / 2
        told = 80.0 if dial.id == "speed" else middle
        angle = dial.rest_angle_deg if first else dial.programme_angle_deg(told)
        value = dial.scale.value_at(angle)
        return Reading(dial.id, "read", dial.unit, None, angle, 0.05, value, 0.2, 0.0)


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    reader = SimpleNamespace(FaceReader=SeesProgramme)
    monkeypatch.setitem(sys.modules, "needlewright.readings.reader", reader)
    folder = tmp_path / "as-found"
    folder.mkdir()
    (folder / "commands.csv").write_text(TABLE)
    for i in range(2):
        Image.new("L", (80, 80), 60 * i).save(folder / f"{i}.png")
    return folder


def called(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run([str(word) for word in words])
    said = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, said.out, said.err


def run_words(job: Path, *more: object) -> tuple[object, ...]:
    photos = (job / "1.png", job / "0.png")
    return ("run", "--family", FOLDER, "--commands", job / "commands.csv", *more, *photos)


def test_a_run_as_json_and_as_csv(capsys: pytest.CaptureFixture[str], job: Path) -> None:
    out = job.parent / "run.csv"
    code, said, _ = called(capsys, *run_words(job, "--json", "--out", out))
    assert code == 0
    document = validated("run", said)
    assert set(document) == {"run", "out", "rows", "remarks"}
    assert (document["run"], document["out"], document["remarks"]) == ("as-found", str(out), [])
    speed = document["rows"][2]
    assert set(speed) == {
        *("run", "dial", "commanded", "unit", "approach", "temperature_c", "angle_deg"),
        *("u_angle_deg", "indicated", "u_indicated", "flags", "photo", "step", "u_commanded"),
        *("key_cycle", "supply_v", "time"),
    }
    assert (speed["commanded"], speed["unit"], speed["approach"]) == (80.0, "km/h", "up")
    assert speed["indicated"] == pytest.approx(83.1, abs=0.01)
    assert document["rows"][1]["flags"] == ["on_stop"]
    assert document["rows"][3]["flags"] == ["occluded"]
    assert document["rows"][3]["angle_deg"] is None
    written = read_run(out)
    assert [row.photo for row in written.rows] == ["as-found/0.png"] * 2 + ["as-found/1.png"] * 2
    assert written.rows[2].indicated == speed["indicated"]


def test_a_run_for_people(capsys: pytest.CaptureFixture[str], job: Path) -> None:
    code, said, _ = called(capsys, *run_words(job, "--name", "before"))
    assert code == 0
    assert "run before, family fam-job" in said
    lines = said.splitlines()
    (speed,) = [line for line in lines if "80 km/h up" in line]
    assert speed.split() == ["1", "speed", "80", "km/h", "up", "83.1", "±", "0.4", "km/h", "+3.1"]
    (fuel,) = [line for line in lines if "0.4 of full up" in line]
    assert fuel.endswith("not read: occluded")
    (rest,) = [line for line in lines if "fuel" in line and "at rest" in line]
    assert rest.endswith("on stop")


def test_a_damaged_photo_writes_nothing(capsys: pytest.CaptureFixture[str], job: Path) -> None:
    with (job / "1.png").open("ab") as file:
        file.write(b"\0" * 6000)
    out = job.parent / "run.csv"
    code, said, errors = called(capsys, *run_words(job, "--out", out))
    assert (code, said) == (1, "")
    assert errors.count("\n") == 1
    assert "is damaged or cut short" in errors
    assert not out.exists()


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("80,km/h", "80,mph", "scaled in km/h"),
        ("1.png,1,fuel", "2.png,2,fuel", "names the photo '2.png'"),
        ("fuel", "boost", "column 'dial': given 'boost'"),
        ("approach", "aproach", "is 'approach' meant?"),
    ],
)
def test_slips_are_one_sentence(
    capsys: pytest.CaptureFixture[str], job: Path, old: str, new: str, sentence: str
) -> None:
    table = job / "commands.csv"
    table.write_text(TABLE.replace(old, new))
    found, said, errors = called(capsys, *run_words(job, "--json"))
    assert (found, said) == (1, "")
    assert sentence in errors
    assert errors.count("\n") == 1


def test_the_table_of_commands_is_never_overwritten(
    capsys: pytest.CaptureFixture[str], job: Path
) -> None:
    table = job / "commands.csv"
    code, _, errors = called(capsys, *run_words(job, "--out", table))
    assert code == 2
    assert "is the table of commands itself" in errors
    assert table.read_text() == TABLE
    code, _, errors = called(capsys, *run_words(job, "--out", job / "none" / "run.csv"))
    assert code == 1
    assert "there is no folder" in errors


def drawn_csv(tmp_path: Path, name: str) -> Path:
    path = tmp_path / f"{name}.csv"
    write_run(path, drawn_run(name, 0.05, seed=1))
    return path


def test_needles_of_the_drawn_job_as_json(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = drawn_csv(tmp_path, "as-found")
    code, said, _ = called(capsys, "needles", "--family", FOLDER, "--json", path)
    assert code == 0
    document = validated("needles", said)
    assert set(document) == {"dials"}
    dials = document["dials"]
    assert {name: dial["verdict"] for name, dial in dials.items()} == {
        "engine": "turn",
        "speed": "not_the_seat",
        "temp": "leave",
        "fuel": "not_the_seat",
    }
    for dial in dials.values():
        assert list(dial) == [
            *("verdict", "turn_deg", "u_turn_deg", "margin_before", "margin_after"),
            *("margin_unit", "worst_point", "reason"),
        ]
    engine = dials["engine"]
    assert engine["turn_deg"] == pytest.approx(3.4, abs=2 * engine["u_turn_deg"])
    assert engine["margin_before"] < 0 < engine["margin_after"]
    assert engine["margin_unit"] == "1000 r/min"
    assert set(engine["worst_point"]) == {"commanded", "approach"}
    assert dials["speed"]["turn_deg"] is None


def test_needles_as_left_are_all_left(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = drawn_csv(tmp_path, "as-left")
    code, said, _ = called(capsys, "needles", "--family", FOLDER, "--json", path)
    assert code == 0
    assert {dial["verdict"] for dial in validated("needles", said)["dials"].values()} == {"leave"}


def test_needles_for_people(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "as-found.csv"
    write_run(path, drawn_run("as-found", 0.05))
    code, said, _ = called(capsys, "needles", "--family", FOLDER, path)
    assert code == 0
    assert "engine: TURN" in said
    # 3.4 degrees of a tip 1.27 mm wide at 36.77 mm: 1.716 tip widths; 33.4 degrees a graduation.
    assert "3.4 ± 0.3° clockwise = 1.7 tip widths = about 0.10 graduations of 1 ×1000" in said
    assert "0.027 ×1000 r/min outside the rule at 4.8 ×1000 r/min down; after the turn" in said
    assert "speed: NOT THE SEAT" in said
    assert "between 80 km/h up and 120 km/h up" in said
    assert "temp: LEAVE IT" in said


def test_needles_of_a_typed_run(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Only what was told and shown, semicolons, decimal commas: a run like any other."""
    path = tmp_path / "typed.csv"
    lines = [
        f"speed;{told};km/h;{approach};{str(1.02 * told + 1.5 - 6.0).replace('.', ',')}"
        for told, approach in ((40, "up"), (80, "up"), (120, "up"), (80, "down"), (40, "down"))
    ]
    path.write_text("dial;commanded;unit;approach;indicated\n" + "\n".join(lines) + "\n")
    code, said, _ = called(capsys, "needles", "--family", FOLDER, "--json", path)
    assert code == 0
    (speed,) = validated("needles", said)["dials"].values()
    assert speed["verdict"] == "turn"
    assert speed["margin_before"] == pytest.approx(2.3 - 6.0, abs=0.01)


def test_a_run_of_another_family_is_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "typed.csv"
    path.write_text("dial,commanded,unit,approach,indicated\nboost,1,bar,up,1\n")
    code, said, errors = called(capsys, "needles", "--family", FOLDER, "--json", path)
    assert (code, said) == (1, "")
    assert "column 'dial': given 'boost'; family 'fam-job' has engine, speed, temp, fuel" in errors
