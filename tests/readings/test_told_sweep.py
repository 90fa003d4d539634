"""A table of what the dials were told in a sweep, and its slips."""

from pathlib import Path

import pytest

from needlewright.errors import RunError
from needlewright.families.folder import load_family
from needlewright.readings.told_sweep import read_told_sweep

FAMILY = load_family(Path(__file__).parents[1] / "data" / "families" / "fam-a")
SPEED = FAMILY.dial("speed")
HEADER = "t_s,dial,commanded,unit\n"


def written(tmp_path: Path, lines: str) -> Path:
    path = tmp_path / "told.csv"
    path.write_text(HEADER + lines, encoding="utf-8")
    return path


def test_what_was_told_becomes_where_a_sound_needle_stands(tmp_path: Path) -> None:
    assert SPEED is not None
    lines = f"10,speed,,{SPEED.unit}\n11.5,speed,40,{SPEED.unit}\n11.5,fuel,0.5,fraction of full\n"
    lines += "14,fuel,1,fraction of full\n13,speed,80," + SPEED.unit + "\n"
    told = read_told_sweep(written(tmp_path, lines), FAMILY)
    assert list(told.dials) == ["speed", "fuel"]
    speed = told.dials["speed"]
    assert speed.t_s.tolist() == [10.0, 11.5, 13.0]
    expected = [SPEED.rest_angle_deg, SPEED.programme_angle_deg(40), SPEED.programme_angle_deg(80)]
    assert speed.angle_deg == pytest.approx(expected)
    assert told.lasts_s == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        ("", "has a header and no rows"),
        ("0,speed,0,km/h\n", "line 2, column 't_s': given '0'; the only line of dial 'speed'"),
        (
            "0,speed,0,km/h\n2,speed,50,km/h\n2,speed,60,km/h\n",
            "line 4, column 't_s': given '2'; the line of dial 'speed' before it says 2; the times "
            "of a dial must rise",
        ),
        (
            "0,sped,0,km/h\n",
            "line 2, column 'dial': given 'sped'; family 'fam-a' has engine, speed, fuel, temp",
        ),
        ("0,speed,0,mph\n", "line 2, column 'unit': given 'mph', but dial 'speed' is scaled in"),
        ("0,speed,900,km/h\n", "line 2, column 'commanded': given '900'"),
        ("0,speed,fast,km/h\n", "line 2, column 'commanded': given 'fast'; a number is expected"),
        (",speed,1,km/h\n", "line 2, column 't_s': given ''; type the time in seconds"),
        ("0,,1,km/h\n", "line 2, column 'dial' is empty"),
    ],
)
def test_a_slip_is_named_with_its_place(tmp_path: Path, lines: str, sentence: str) -> None:
    assert SPEED is not None
    lines = lines.replace("km/h", SPEED.unit)
    with pytest.raises(RunError, match=r"told\.csv") as caught:
        read_told_sweep(written(tmp_path, lines), FAMILY)
    assert sentence in str(caught.value)


def test_a_missing_column_and_a_missing_file_are_named(tmp_path: Path) -> None:
    path = tmp_path / "told.csv"
    path.write_text("t_s,dial,commanded\n0,speed,1\n")
    with pytest.raises(RunError, match="unit"):
        read_told_sweep(path, FAMILY)
    with pytest.raises(RunError, match="nowhere"):
        read_told_sweep(tmp_path / "nowhere.csv", FAMILY)
