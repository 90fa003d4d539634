"""`needlewright temperature-series`: said beforehand, rehearsed, corrected by a thermometer."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

import needlewright
from bench.cold import BAG
from needlewright.bench.stays import Cooling
from needlewright.cli.main import run
from needlewright.cli.temperature_attendant import PersonAtTerminal, SeriesBar
from needlewright.readings.run_csv import read_run

SCHEMAS = Path(__file__).parents[2] / "docs" / "json"
WHOLE = Path(needlewright.__file__).parent / "demo_data" / "family"


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A family of one of the four dials, its time constant stated."""
    folder = tmp_path_factory.mktemp("family")
    document = json.loads((WHOLE / "family.json").read_text("utf-8"))
    document["dials"] = [d for d in document["dials"] if d["id"] == "engine"]
    document["cooling"] = {"freezer_bag_min": [15, 1.5]}
    (folder / "family.json").write_text(json.dumps(document), encoding="utf-8")
    shutil.copy(WHOLE / "face.png", folder)
    return str(folder)


@pytest.fixture
def series(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    def call(*arguments: str) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            run(["temperature-series", *arguments])
        captured = capsys.readouterr()
        return int(left.value.code or 0), captured.out, captured.err

    return call


def checked(said: str, name: str) -> dict:
    document = json.loads(said)
    schema = json.loads((SCHEMAS / f"temperature-series-{name}.schema.json").read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(document, schema)
    return document


def test_the_protocol_is_said_beforehand(series, engine: str):
    asked = ("plan", "--family", engine, "--at", "-20,0,23", "--freezer", "-25,0.7")
    code, said, told = series(*asked)
    assert (code, told) == (0, "")
    for words in (
        "time constant 15.0 ± 3.0 min (k = 2), stated by the family",
        "into the freezer (-25 degC), sealed in its bag, for 64 min",
        "the room's dew point is 10.2 degC: the bag stays shut until",
        "caution: seal the cluster in a clear bag BEFORE it is cooled",
        "caution: supply: set the current limit and fit a fuse",
    ):
        assert words in said
    document = checked(series(*asked, "--json")[1], "plan")
    assert document["conditions"]["dew_point_c"] == pytest.approx(10.2, abs=0.03)
    cold, middle, warm = document["protocol"]
    assert (cold["at_c"], cold["soak_min"]) == (-20.0, 64)
    assert cold["temperature_c"] == pytest.approx(-21.0)
    assert cold["warms_c_per_min"] == pytest.approx(42.0 / 15.0, abs=0.01)
    assert middle["u_temperature_c"] > cold["u_temperature_c"]
    assert warm["temperature_c"] == pytest.approx(20.0)  # the room, 21, is not quite reached


def test_a_chamber_is_planned_from_warm_to_cold(series, engine: str):
    asked = ("plan", "--family", engine, "--at", "-20,0,23", "--way", "chamber")
    code, said, _ = series(*asked, "--mass", "0.8")
    assert code == 0
    places = [said.index(f"set the chamber to {degc} degC") for degc in (23, 0, -20)]
    assert places == sorted(places)
    assert "worked out from 0.8 kg and the face's size (common practice, no source)" in said
    assert "nobody goes into a walk-in chamber alone" in said
    document = checked(series(*asked, "--json")[1], "plan")
    assert [one["at_c"] for one in document["protocol"]] == [23.0, 0.0, -20.0]
    assert document["conditions"]["freezer_c"] is None


def test_a_rehearsed_series_and_what_a_thermometer_makes_of_it(series, engine: str, tmp_path: Path):
    out = tmp_path / "cold"
    few = ("--points", "engine=3", "--key-ons", "", "--rehearse", "--seed", "2")
    code, said, told = series(
        "run", "as-found", "--family", engine, "--at", "-5", *few, "--out", str(out), "--json"
    )
    assert code == 0
    assert "caution: no food in that freezer" in told
    document = checked(said, "run")
    assert (document["state"], document["which"]) == ("finished", "as-found")
    assert document["rehearsed"] == {"faults": [], "seed": 2}
    (at,) = document["temperatures"]
    (step,) = at["steps"]
    off = step["true_temperature_c"] - step["temperature_c"]
    assert abs(off) < 3.0 * step["u_temperature_c"]
    (largest,) = at["largest_errors"]
    assert (largest["dial"], largest["read"]) == ("engine", 1)
    assert abs(largest["error_deg"]) < 0.6
    minutes = f"{step['seconds'] / 60:.2f}"
    code, said, told = series(
        "thermometer", "--read", f"-5@{minutes}=-4", "--out", str(out), "--json"
    )
    assert (code, told) == (0, "")
    corrected = checked(said, "thermometer")
    assert corrected["changed"] == ["at-minus-5.csv"]
    ((after,),) = [one["steps"] for one in corrected["temperatures"]]
    assert step["temperature_c"] < after["temperature_c"] < -4.0
    (row,) = read_run(out / "at-minus-5.csv").rows
    assert row.temperature_c == after["temperature_c"]
    assert "rehearsed" in row.flags, "corrected, it is still a rehearsal"
    code, said, told = series("thermometer", "--read", f"-5@{minutes}=25", "--out", str(out))
    assert (code, said) == (1, "")
    assert "check its sign, its minutes and its place" in told
    code, said, told = series("thermometer", "--read", "-20@1=-3", "--out", str(out))
    assert code == 1
    assert "the series has taken no step at -20 degC; it has at -5" in told
    left = ("run", "as-left", "--family", engine, "--out", str(tmp_path / "left"), "--rehearse")
    code, said, _ = series(*left, "--repeats", str(out), "--key-ons", "", "--json")
    assert code == 0
    document = checked(said, "run")
    assert document["which"] == "as-left"
    same = [
        [(row.step, row.commanded, row.approach) for row in read_run(folder / at["run"]).rows]
        for folder in (out, tmp_path / "left")
    ]
    assert same[0] == same[1]


@pytest.mark.parametrize(
    ("options", "code", "words"),
    [
        (["--at", "-20,x"], 2, "--at -20,x: expected temperatures in degC"),
        (["--at", "-60"], 2, "-60 degC is beyond -40 to 85"),
        (["--at", "0,0"], 2, "names a temperature twice"),
        (["--at", "-35"], 1, "-35 degC is colder than the freezer, -25 degC"),
        (["--at", "40"], 1, "40 degC is warmer than the room, 21 degC"),
        (["--at", "0", "--way", "fridge"], 2, "expected freezer-bag or chamber"),
        (["--at", "0", "--freezer", "cold"], 2, "--freezer cold: expected a number, or a number"),
        (["--at", "0", "--room", "21,-1"], 2, "--room 21,-1: expected a number"),
        (["--at", "0", "--humidity", "0"], 2, "--humidity 0: expected percent"),
        (["--at", "0", "--time-constant", "0"], 2, "expected minutes from 0.5 to 600"),
        (["--at", "0", "--time-constant", "9", "--mass", "1"], 2, "leave --mass out"),
        (["--at", "0", "--mass", "90"], 1, "a cluster of 90 kg: expected 0.05 to 20 kg"),
        (["--at", "0", "--within", "nan"], 2, "--within nan: expected degrees above 0"),
        (["--at", "0", "--repeats", "x"], 2, "--repeats goes with as-left"),
        ([], 2, "say at which temperatures"),
        (["--at", "0", "--points", "engine=9000"], 1, "is beyond the dial"),
        (["--at", "0", "--bench", "b.toml"], 2, "--rehearse needs no bench"),
        (["--at", "0", "--fault", "engine:rust=1"], 2, "'rust' is no fault of a dial"),
    ],
)
def test_what_cannot_be_is_told_in_one_sentence_and_writes_nothing(  # noqa: PLR0917
    series, engine: str, tmp_path: Path, options: list[str], code: int, words: str
):
    base = ("run", "as-found", "--family", engine, "--rehearse", "--out", str(tmp_path / "cold"))
    ended, said, told = series(*base, *options)
    assert (ended, said) == (code, "")
    assert words in " ".join(told.split())
    assert "Traceback" not in told
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("text", ["-20", "-20@3", "-20@-1=3", "cold@1=2", "@="])
def test_a_typed_reading_that_is_none_is_wrong_usage(series, tmp_path: Path, text: str):
    (tmp_path / "series.json").write_text(
        '{"family": "x", "cluster": "bench", "which": "as-found", "way": "chamber", '
        '"time_constant_source": "stated", "clock_s": 0, "temperatures": []}',
        encoding="utf-8",
    )
    code, said, told = series("thermometer", "--out", str(tmp_path), "--read", text)
    assert (code, said) == (2, "")
    assert f"{text}: expected a temperature of the series, minutes and what was read" in told


class Typing:
    """A person who types answers, and a clock that goes on while nothing is typed."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, *answers: str) -> None:
        self.left, self.now_s = list(answers), 1000.0
        monkeypatch.setattr("builtins.input", self._answer)
        self.person = PersonAtTerminal(
            SeriesBar((0.0,)), thermometer=True, clock=lambda: self.now_s, sleep=self._sleep
        )

    def _answer(self) -> str:
        if not self.left:
            raise EOFError
        return self.left.pop(0)

    def _sleep(self, seconds: float) -> None:
        self.now_s += seconds


COOLING = Cooling(-20.0, BAG, BAG.room)


def test_a_person_is_shown_the_protocol_and_asked_for_minutes_and_degrees(monkeypatch, capsys):
    typing = Typing(monkeypatch, "an hour", "70", "cold", "-24,5")
    soaked = typing.person.cool(COOLING)
    assert soaked is not None
    assert (soaked.soaked_s, soaked.thermometer_c) == (4200.0, -24.5)
    told = capsys.readouterr().err
    assert "into the freezer (-25 degC), sealed in its bag, for 64 min" in told
    assert "'an hour' is no number of minutes" in told
    assert "'cold' is no temperature in degC" in told
    typing = Typing(monkeypatch, "", "")
    soaked = typing.person.cool(COOLING)
    assert soaked is not None
    assert (soaked.soaked_s, soaked.thermometer_c) == (3840.0, None)


@pytest.mark.parametrize("answers", [("q",), ()])
def test_a_person_may_give_up(monkeypatch, answers):
    assert Typing(monkeypatch, *answers).person.cool(COOLING) is None


def test_waiting_goes_by_the_clock_and_says_how_long(monkeypatch, capsys):
    typing = Typing(monkeypatch)
    typing.person.wait(90.0, "the cluster warms to -20 degC")
    assert typing.person.now_s() == 1090.0
    assert "the cluster warms to -20 degC: 1.5 min; Ctrl-C stops" in capsys.readouterr().err
