"""`needlewright temperature-series onset`: from a rehearsed series, from typed runs, from rates."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import jsonschema
import pytest

import needlewright
from needlewright.bench.series import KeptSeries
from needlewright.bench.series_state import Stated, Stay, fresh_series
from needlewright.cli.main import run
from needlewright.families.folder import load_family
from needlewright.readings.run_csv import write_run
from needlewright.readings.runs import Run, RunRow

SCHEMAS = Path(__file__).parents[2] / "docs" / "json"
WHOLE = Path(needlewright.__file__).parent / "demo_data" / "family"
TYPED = "dial,commanded,unit,approach,angle_deg,u_angle_deg,temperature_c\n"


@pytest.fixture(scope="module")
def engine(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A family of one dial that must work at -20 degC, its grease and its rate stated."""
    folder = tmp_path_factory.mktemp("family")
    document = json.loads((WHOLE / "family.json").read_text("utf-8"))
    (dial,) = (d for d in document["dials"] if d["id"] == "engine")
    dial["movement"] = {**dial.get("movement", {}), "rate_deg_s": 400, "grease_k": [4000, 200]}
    document |= {"dials": [dial], "cooling": {"freezer_bag_min": [15, 1.5]}, "winter_degc": -20}
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


def checked(said: str, name: str = "onset") -> dict:
    document = json.loads(said)
    schema = json.loads((SCHEMAS / f"temperature-series-{name}.schema.json").read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(document, schema)
    return document


MOVES = ((1, "up", 0), (6, "up", 1), (1, "down", 1), (6, "up", 2))
"""Thousands of revolutions, and how many long moves lie behind."""


def rows_at(degc: float | str, lost_deg: float) -> list[tuple[int, str, float, float | str]]:
    """Command, way, angle and temperature; the needle is left behind on each long move."""
    engine = load_family(WHOLE).dial("engine")
    return [
        (value, way, engine.programme_angle_deg(value) + times * lost_deg, degc)
        for value, way, times in MOVES
    ]


def typed(folder: Path, *temperatures: tuple[float | str, float]) -> str:
    """A table of rows at several temperatures."""
    rows = [
        f"engine,{value},1000 r/min,{way},{angle},0.1,{degc}\n"
        for degc, lost_deg in temperatures
        for value, way, angle, _ in rows_at(degc, lost_deg)
    ]
    path = folder / "typed.csv"
    path.write_text(TYPED + "".join(rows))
    return str(path)


def kept_series(folder: Path, *temperatures: tuple[float, float]) -> str:
    """A finished series whose temperatures are known by its stay out of the freezer."""
    folder.mkdir()
    stay = Stay(
        started_s=0.0,
        start_c=Stated(value=-25.0, u=1.0),
        surroundings_c=Stated(value=21.5, u=1.0),
        time_constant_s=Stated(value=900.0, u=90.0),
        place_u_c=1.0,
    )
    state = fresh_series(
        family="x", cluster="bench", which="as-found", way="freezer-bag",
        at=tuple(degc for degc, _ in temperatures), time_constant_source="stated", clock_s=0.0,
    ).model_copy(update={"stays": (stay,)})  # fmt: skip
    taken = []
    for at, (degc, lost_deg) in zip(state.temperatures, temperatures, strict=True):
        begins_s = stay.stated.seconds_until(degc)
        steps = {n: state.temperature_of(0, begins_s + 10.0 * n) for n in range(len(MOVES))}
        rows = tuple(
            RunRow(
                at.run, "engine", "1000 r/min", way, value, steps[n].temperature_c, angle, 0.1,
                step=n, flags=("rehearsed",),
            )
            for n, (value, way, angle, _) in enumerate(rows_at(degc, lost_deg))
        )  # fmt: skip
        write_run(folder / at.run, Run(at.run, rows))
        taken.append(at.model_copy(update={"state": "finished", "steps": steps}))
    KeptSeries(folder, state).keep(state.model_copy(update={"temperatures": tuple(taken)}))
    return str(folder)


def test_a_series_says_where_the_cold_begins_and_warns_of_winter(series, engine, tmp_path):
    out = kept_series(tmp_path / "cold", (-20.0, -6.0), (-14.0, -6.0), (-3.0, 0.0), (20.0, 0.0))
    code, said, told = series("onset", out, "--family", engine, "--json")
    assert code == 0
    assert "rehearsed" in told
    (cold,) = checked(said)["cold"]
    assert (cold["onset"], cold["moves"], cold["failed"]) == ("found", 12, 4)
    assert cold["low_c"] < -9.0 < cold["high_c"]
    assert cold["at_c"] < cold["tenth"]["at_c"] < cold["tenth"]["high_c"]
    # the place of the thermometer, 1 degC, is in it, and half the gap of 11 degC
    assert 2.5 < cold["u_at_c"] < 5.0
    assert cold["winter"]["state"] == "less"
    code, said, _ = series("onset", out, "--family", engine)
    assert "engine: half of the demanding moves fail at" in said
    assert "WARNING engine: passes warm, but not at the family's winter figure, -20 °C" in said


def test_rows_typed_at_several_temperatures_are_a_series(series, engine, tmp_path):
    path = typed(tmp_path, (-20, -6.0), (-10, -6.0), (0, 0.0), (21, 0.0))
    code, said, _ = series("onset", path, "--family", engine, "--json", "--u-temperature", "0.5")
    assert code == 0
    (cold,) = checked(said)["cold"]
    assert (cold["onset"], cold["moves"]) == ("found", 12)
    assert -12.0 < cold["at_c"] < 0.0


@pytest.mark.parametrize(
    ("temperatures", "said"),
    [
        (
            ((-20, 0.0), (21, 0.0)),
            "no move failed from -20 to 21 °C; if half of the demanding moves fail",
        ),
        (((21, 0.0),), "no move failed at about 21 °C"),
        (((-20, -6.0),), "all at about -20 °C; one temperature does not say where it begins"),
    ],
)
def test_what_cannot_be_said_is_said_plainly(series, engine, tmp_path, temperatures, said):
    code, out, _ = series("onset", typed(tmp_path, *temperatures), "--family", engine)
    assert code == 0
    assert said in " ".join(out.split())


def test_a_failure_at_the_coldest_alone_gives_no_temperature(series, engine, tmp_path):
    path = Path(typed(tmp_path, (-15, 0.0), (0, 0.0), (22, 0.0)))
    text = path.read_text(encoding="utf-8").splitlines()
    place = max(n for n, line in enumerate(text) if line.endswith(",-15"))
    cells = text[place].split(",")
    at = text[0].split(",").index("angle_deg")
    cells[at] = f"{float(cells[at]) - 6.0:.2f}"
    text[place] = ",".join(cells)
    path.write_text("\n".join(text) + "\n", encoding="utf-8")
    code, said, _ = series("onset", str(path), "--family", engine, "--json")
    assert code == 0
    document = checked(said)
    (cold,) = document["cold"]
    assert (cold["onset"], cold["at_c"], cold["low_c"], cold["tenth"]) == (
        "beyond_cold", None, None, None,
    )  # fmt: skip
    assert "some moves already fail at -15 °C" in cold["words"]
    assert [one["size"] for one in document["evidence"]] in ([], [None])


def test_rows_without_a_temperature_are_one_sentence(series, engine, tmp_path):
    code, out, err = series("onset", typed(tmp_path, ("", 0.0)), "--family", engine)
    assert (code, out) == (1, "")
    assert "no row says how warm the cluster was; type it under 'temperature_c'" in err
    assert err.count("\n") == 1


def test_rates_at_room_temperature_give_a_range(series, engine):
    rates = ("--rate", "engine@560=held", "--rate", "engine@640=slipped")
    code, said, _ = series("onset", "--family", engine, *rates, "--json")
    assert code == 0
    (limit,) = checked(said)["limits"]
    assert limit["enough_data"]
    assert limit["low_c"] < limit["high_c"] < 21.0
    code, said, _ = series("onset", "--family", engine, *rates)
    assert "it works down to somewhere between" in said
    code, said, _ = series("onset", "--family", engine, "--rate", "engine@300=held")
    assert "engine: not enough data: nothing slipped up to 300°/s" in said


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((), 2, "name a series' folder or runs, or give moves with --rate"),
        (("--rate", "engine@fast=held"), 2, "expected it like speed@450=held"),
        (("--rate", "oil@450=held"), 2, "the family has no dial 'oil'; it has engine"),
        (("--rate", "engine@450=held", "--u-temperature", "-1"), 2, "expected degC from 0 to 50"),
        (("nowhere.csv",), 1, "nowhere.csv"),
    ],
)
def test_bad_input_is_one_sentence(series, engine, words, code, said):
    ended, out, err = series("onset", "--family", engine, *words)
    assert (ended, out) == (code, "")
    assert said in " ".join(err.split())
    assert "Traceback" not in err
