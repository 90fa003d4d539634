"""Run CSV: what is written reads back the same, what people type is understood, slips are named."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from needlewright.errors import RunError
from needlewright.readings.run_csv import read_run, read_runs, run_as_csv, write_run
from needlewright.readings.runs import Run, RunRow

NUMBERS = st.floats(allow_nan=False, allow_infinity=False, width=64)
POSITIVE = st.floats(min_value=0, allow_nan=False, allow_infinity=False)
WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zs", "Zl", "Zp")))
NAMES = WORDS.filter(lambda text: text.strip(" \t\u00a0") == text and text != "")


@st.composite
def rows(draw: st.DrawFn) -> RunRow:
    approach = draw(st.sampled_from(["up", "down", "rest"]))
    commanded = None if approach == "rest" else draw(NUMBERS)
    angle, indicated = draw(st.none() | NUMBERS), draw(st.none() | NUMBERS)
    return RunRow(
        run="as-found",
        dial=draw(NAMES),
        unit=draw(st.sampled_from(["km/h", "1000 r/min", "fraction of full", "degC"])),
        approach=approach,
        commanded=commanded,
        temperature_c=draw(st.none() | st.floats(-40, 90)),
        angle_deg=angle,
        u_angle_deg=None if angle is None else draw(st.none() | POSITIVE),
        indicated=indicated,
        u_indicated=None if indicated is None else draw(st.none() | POSITIVE),
        flags=draw(st.lists(st.sampled_from(["on_stop", "glare", "beyond_scale"])).map(tuple)),
        step=draw(st.none() | st.integers(0, 10**6)),
        u_commanded=None if commanded is None else draw(st.none() | POSITIVE),
        key_cycle=draw(st.none() | st.integers(0, 99)),
        supply_v=draw(st.none() | st.floats(0, 30)),
        time=draw(st.none() | NAMES),
    )


@given(st.lists(rows(), min_size=1, max_size=8).map(tuple))
def test_what_is_written_reads_back_the_same(tmp_path_factory, run_rows) -> None:
    path = tmp_path_factory.mktemp("run") / "as-found.csv"
    write_run(path, Run("as-found", run_rows))
    assert read_run(path) == Run("as-found", run_rows)


def test_the_header_is_that_of_the_contract() -> None:
    row = RunRow("r", "speed", "km/h", "up", 80.0, photo="p.jpg")
    header, line = run_as_csv(Run("r", (row,))).splitlines()
    assert header == (
        "run,dial,commanded,unit,approach,temperature_c,angle_deg,u_angle_deg,indicated,"
        "u_indicated,flags,photo"
    )
    assert line == "r,speed,80.0,km/h,up,,,,,,,p.jpg"
    known = run_as_csv(Run("r", (row, replace(row, photo="q.jpg", step=3, supply_v=13.5))))
    assert known.splitlines()[0].endswith("flags,photo,step,supply_v")
    assert known.splitlines()[1].endswith("p.jpg,,")
    assert known.splitlines()[2].endswith("q.jpg,3,13.5")


def typed(tmp_path: Path, text: str | bytes, name: str = "typed.csv") -> Path:
    path = tmp_path / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


PLAIN = "dial,commanded,unit,approach,indicated\nspeed,80.5,km/h,up,83\nspeed,,km/h,rest,0\n"


@pytest.mark.parametrize(
    "text",
    [
        PLAIN,
        b"\xef\xbb\xbf" + PLAIN.encode(),
        PLAIN.replace("\n", "\r\n"),
        "\n\n" + PLAIN.replace("up,83\n", "up,83\n\n,,,,\n"),
        PLAIN.replace(",", ";").replace("80.5", "80,5"),
        "sep=;\n" + PLAIN.replace(",", ";").replace("80.5", "80,5"),
        PLAIN.replace(",", "\t").encode("utf-16"),
        PLAIN.replace("dial", " Dial ").replace("indicated", '"Indicated"'),
        PLAIN.replace("80.5", '"80,5"'),
        "note," + PLAIN.replace("speed", "seen from the left,speed"),
        PLAIN.replace("approach,", "approach,note,")
        .replace("up,", "up,ok,")
        .replace("rest", "rest,é"),
        "note," + PLAIN.replace("speed", "zählt,speed"),
        PLAIN.replace("indicated\n", "indicated,,\n"),
    ],
    ids=[
        "plain",
        "byte order mark",
        "windows lines",
        "blank lines",
        "semicolons and decimal comma",
        "separator hint",
        "utf-16 tabs",
        "spaced header",
        "quoted decimal comma",
        "note first",
        "note between",
        "umlaut",
        "blank columns",
    ],
)
def test_a_typed_table_is_understood(tmp_path: Path, text: str | bytes) -> None:
    run = read_run(typed(tmp_path, text))
    assert run.name == "typed"
    assert run.rows == (
        RunRow("typed", "speed", "km/h", "up", 80.5, indicated=83.0),
        RunRow("typed", "speed", "km/h", "rest", indicated=0.0),
    )


def test_the_western_code_page_is_understood(tmp_path: Path) -> None:
    text = "run,dial,commanded,unit,approach,indicated\nvorläufig,speed,80,km/h,up,83\n"
    assert read_run(typed(tmp_path, text.encode("cp1252"))).name == "vorläufig"


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("80.5", "eighty", r"line 2, column 'commanded': given 'eighty'; a number is expected"),
        ("80.5", "nan", r"line 2, column 'commanded': given 'nan'; a number is expected"),
        ("80.5", "inf", r"line 2, column 'commanded': given 'inf'; a number is expected"),
        ("80.5", "1e999", r"line 2, column 'commanded': given '1e999'; a number is expected"),
        ("80.5", "1_0", r"line 2, column 'commanded': given '1_0'; a number is expected"),
        ("80.5", "", r"line 2, column 'commanded': given ''; type the value the dial was told"),
        ("rest,0", "up,0", r"line 3, column 'commanded': given ''; type the value"),
        ("up,83", "rest,83", r"line 2, column 'commanded': given '80.5'; at rest the key is off"),
        ("up,83", "rising,83", r"line 2, column 'approach': given 'rising'; up, down or rest"),
        ("up,83", ",83", r"line 2, column 'approach' is empty; type up, down or rest"),
        ("km/h,up", "kmh,up", r"line 2, column 'unit': given 'kmh'; unit 'kmh' is not known"),
        ("km/h,up", ",up", r"line 2, column 'unit' is empty; type the unit"),
        ("speed,80.5", ",80.5", r"line 2, column 'dial' is empty; type the dial's id"),
        ("up,83", "up,83,1", r"line 2: has a cell '1' under no column name"),
        ("up,83", 'up,"83', r"line \d: is no line of a table .*; check its quotes"),
        ("indicated", "indicatd", r"line 1: column 'indicatd' is not known; is 'indicated' meant"),
        ("indicated", "dial", r"line 1: column 'dial' stands twice; keep one"),
        ("approach,", "note,", r"line 1: column 'approach' is missing; the header must name"),
        ("indicated", "temperature_c", r"neither a column 'indicated' nor 'angle_deg'"),
        (PLAIN, "", r"typed.csv: is empty; a header line"),
        (PLAIN, " \n\n", r"typed.csv: is empty; a header line"),
        (PLAIN, "speed,80\n", r"line 1: given 'speed,80'; a header line is expected"),
        (PLAIN, PLAIN.splitlines()[0], r"has a header and no rows"),
        (PLAIN, "PK\0\0", r"is not a text table; save the spreadsheet as CSV"),
    ],
)
def test_a_slip_is_named_with_its_place(tmp_path: Path, old: str, new: str, sentence: str) -> None:
    path = typed(tmp_path, PLAIN.replace(old, new, 1))
    with pytest.raises(RunError, match=sentence) as error:
        read_runs(path)
    assert str(error.value).startswith(str(path))
    assert "\n" not in str(error.value)


def test_a_point_in_a_file_of_decimal_commas_is_refused(tmp_path: Path) -> None:
    path = typed(tmp_path, "dial;commanded;unit;approach;indicated\nengine;1.000;rpm;up;998,5\n")
    with pytest.raises(RunError, match=r"column 'commanded': given '1.000'; .* decimal comma"):
        read_run(path)


def test_negative_uncertainty_and_broken_counts_are_refused(tmp_path: Path) -> None:
    head = "dial,commanded,unit,approach,indicated,u_indicated,step,flags\n"
    for cells, sentence in (
        ("speed,8,km/h,up,8,-1,,", "'u_indicated': given '-1'; a number of at least 0"),
        ("speed,8,km/h,up,,1,,", "'u_indicated': given '1'; an uncertainty belongs to a value"),
        ("speed,8,km/h,up,8,,1.5,", "'step': given '1.5'; a whole number"),
        ("speed,8,km/h,up,8,,,On Stop", "'flags': given 'On Stop'; flags in small letters"),
    ):
        with pytest.raises(RunError, match=re.escape(sentence)):
            read_run(typed(tmp_path, head + cells + "\n"))


def test_the_same_photo_twice_for_a_dial_is_refused(tmp_path: Path) -> None:
    line = "speed,8,km/h,up,8,a.jpg\n"
    path = typed(tmp_path, "dial,commanded,unit,approach,indicated,photo\n" + line + line)
    with pytest.raises(RunError, match=r"line 3, column 'photo': given 'a.jpg'; .* in line 2 too"):
        read_run(path)


def test_a_file_of_two_runs_wants_the_name(tmp_path: Path) -> None:
    head = "run,dial,commanded,unit,approach,indicated\n"
    path = typed(tmp_path, head + "b,speed,8,km/h,up,8\na,speed,8,km/h,up,9\nb,speed,9,km/h,up,9\n")
    assert [(run.name, len(run.rows)) for run in read_runs(path)] == [("b", 2), ("a", 1)]
    assert read_run(path, "a").rows[0].indicated == 9.0
    with pytest.raises(RunError, match=r"holds 2 runs, 'b', 'a'; name the one"):
        read_run(path)
    with pytest.raises(RunError, match=r"holds no run 'c'; it holds 'b', 'a'"):
        read_run(path, "c")


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(RunError, match="there is no such file"):
        read_run(tmp_path / "none.csv")
    with pytest.raises(RunError, match="is a folder"):
        read_run(tmp_path)


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_what_is_no_number_is_never_written_and_the_old_file_stays(
    tmp_path: Path, bad: float
) -> None:
    path = tmp_path / "run.csv"
    row = RunRow("r", "speed", "km/h", "up", 80.0, indicated=81.0)
    write_run(path, Run("r", (row,)))
    before = path.read_text()
    with pytest.raises(RunError, match=r"row 2, dial 'speed', column 'indicated'"):
        write_run(path, Run("r", (row, replace(row, indicated=bad))))
    assert path.read_text() == before
    assert [p.name for p in tmp_path.iterdir()] == ["run.csv"]


def test_writing_into_no_folder_is_one_sentence(tmp_path: Path) -> None:
    row = RunRow("r", "speed", "km/h", "up", 80.0)
    with pytest.raises(RunError, match="cannot be written"):
        write_run(tmp_path / "none" / "run.csv", Run("r", (row,)))
    assert list(tmp_path.iterdir()) == []


@given(st.binary(max_size=200) | st.text(max_size=200).map(lambda t: (PLAIN + t).encode()))
def test_any_bytes_are_a_run_or_one_sentence(tmp_path_factory, data: bytes) -> None:
    path = tmp_path_factory.mktemp("any") / "any.csv"
    path.write_bytes(data)
    sentence, rows_each = f"{path}: none", [1]
    try:
        rows_each = [len(run.rows) for run in read_runs(path)]
    except RunError as error:
        sentence = str(error)
    assert sentence.startswith(f"{path}: ")
    assert len(sentence.splitlines()) == 1
    assert min(rows_each) >= 1
