"""`needlewright look` around the reader: what is asked wrongly, what is answered, and how."""

import json
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from needlewright.cli.main import run
from needlewright.errors import PictureError
from needlewright.families.folder import load_family
from needlewright.families.model import Family
from needlewright.readings.model import PhotoReadings, Reading

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "tests" / "data" / "families" / "fam-job"
SCHEMA = Draft202012Validator(json.loads((ROOT / "docs/json/look.schema.json").read_text()))
JOB = load_family(FOLDER)

SHOWN = {"speed": 78.0, "engine": 3.0, "temp": 90.0}
"""What the stand-in reader sees; the fuel gauge it cannot read."""


class SeesFixedValues:
    def __init__(self, family: Family) -> None:
        self.family = family

    def read_photo(self, path: Path, as_given: str | None = None) -> PhotoReadings:
        if not path.exists():
            raise PictureError(f"{path}: there is no such file; check the name and the folder")
        return PhotoReadings(str(as_given), True, None, tuple(map(self.see, self.family.dials)))

    def see(self, dial: object) -> Reading:
        assert hasattr(dial, "id")
        known = self.family.dial(dial.id)
        assert known is not None
        if known.id not in SHOWN:
            return Reading(known.id, "refused", known.unit, "occluded")
        value = SHOWN[known.id]
        angle = known.scale.angle_at(value)
        u_value = 0.05 * abs(known.scale.slope_at(angle))
        return Reading(known.id, "read", known.unit, None, angle, 0.05, value, u_value, 0.0)


@pytest.fixture(autouse=True)
def stand_in(monkeypatch: pytest.MonkeyPatch) -> None:
    reader = SimpleNamespace(FaceReader=SeesFixedValues)
    monkeypatch.setitem(sys.modules, "needlewright.readings.reader", reader)


@pytest.fixture
def photo(tmp_path: Path) -> str:
    Image.new("RGB", (80, 80)).save(tmp_path / "p.png")
    return str(tmp_path / "p.png")


def called(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["look", "--family", str(FOLDER), *words])
    said = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, said.out, said.err


def test_the_turn_is_said_in_degrees_tip_widths_and_graduations(
    capsys: pytest.CaptureFixture[str], photo: str
) -> None:
    code, out, _ = called(capsys, "--at", "speed=80", photo)
    assert code == 0
    assert "speed: NOT THERE YET" in out
    assert "told 80 km/h" in out
    assert "turn 5.3° clockwise (known to ± 0.3°)" in out
    assert "= 3.0 tip widths" in out
    assert "= 0.25 graduations of 20 km/h" in out
    assert "belongs at 83.1 km/h" in out
    assert "reads low by 2.00 ± 0.10 km/h" in out
    assert "allowed 80 to 92 km/h: does not conform" in out


def test_several_dials_in_the_order_asked(capsys: pytest.CaptureFixture[str], photo: str) -> None:
    code, out, _ = called(
        capsys, "--at", "temp=90", "--at", "fuel=0.5", "--at", "engine=3.02", photo
    )
    assert code == 0
    places = [out.index(f"{name}:") for name in ("temp", "fuel", "engine")]
    assert places == sorted(places)
    assert "temp: THERE" in out
    assert "no turn that one look could show" in out
    assert "fuel: NOT READ" in out
    assert "hidden: too little of the needle is free" in out
    assert "engine: WITHIN THE RULE" in out


def test_json(capsys: pytest.CaptureFixture[str], photo: str) -> None:
    code, out, _ = called(capsys, "--at", "speed=80", "--at", "fuel=0.5", "--json", photo)
    assert code == 0
    document = json.loads(out)
    SCHEMA.validate(document)
    assert document["photo"] == photo
    assert document["found"] is True
    speed, fuel = document["dials"]
    assert speed["answer"] == "not_there"
    assert speed["turn_deg"] == pytest.approx(5.306, abs=0.001)
    assert speed["u_turn_deg"] == pytest.approx(0.158114)
    assert speed["turn_tip_widths"] == pytest.approx(3.004, abs=0.002)
    assert speed["turn_graduations"] == pytest.approx(0.255, abs=0.001)
    assert speed["error"] == pytest.approx(-2.0)
    assert speed["band"] == {"of": "value", "unit": "km/h", "lower": 80.0, "upper": 92.0}
    assert speed["rule"] == "un-r39"
    assert speed["decision"] == "fail"
    assert fuel["answer"] == "not_read"
    assert fuel["reason"] == "occluded"
    assert fuel["turn_deg"] is None
    assert fuel["value"] is None


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        ("tacho=3", "there is no dial 'tacho' in family 'fam-job': engine, speed, temp, fuel"),
        ("speed", "expected a dial and a value, like speed=80"),
        ("=80", "expected a dial and a value"),
        ("speed=", "expected a dial and a value"),
        ("speed=fast", "'fast' is no number in km/h"),
        ("speed=50mph", "'50mph' is no number in km/h, the unit of dial 'speed'"),
        ("speed=nan", "'nan' is not finite"),
        ("speed=inf", "'inf' is not finite"),
        (
            "speed=500",
            "beyond the scale of dial 'speed', whose marks run from 0 to 220",
        ),
        ("speed=-50", "beyond the scale"),
    ],
)
def test_what_is_asked_wrongly(
    capsys: pytest.CaptureFixture[str], photo: str, at: str, expected: str
) -> None:
    code, out, errors = called(capsys, "--at", at, photo)
    assert code == 2
    assert out == ""
    assert f"--at {at}: " in errors
    assert expected in errors
    assert errors.count("\n") == 1


def test_a_dial_named_twice(capsys: pytest.CaptureFixture[str], photo: str) -> None:
    code, _, errors = called(capsys, "--at", "speed=80", "--at", "speed=90", photo)
    assert code == 2
    assert "named twice" in errors


def test_the_dials_own_unit_may_be_written(capsys: pytest.CaptureFixture[str], photo: str) -> None:
    code, out, _ = called(capsys, "--at", "speed=80km/h", "--at", "speed=80 km/h", photo)
    assert code == 2
    code, out, _ = called(capsys, "--at", "speed = 80 km/h", photo)
    assert code == 0
    assert "told 80 km/h" in out


def test_a_photo_that_cannot_be_used(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, errors = called(capsys, "--at", "speed=80", "none.jpg")
    assert (code, out) == (1, "")
    assert "none.jpg: there is no such file" in errors
    code, out, _ = called(capsys, "--at", "speed=80", "--json", "none.jpg")
    assert code == 1
    document = json.loads(out)
    SCHEMA.validate(document)
    assert document["found"] is False
    assert "no such file" in document["reason"]
    assert document["dials"][0]["status"] == "refused"
    assert document["dials"][0]["answer"] == "not_read"
