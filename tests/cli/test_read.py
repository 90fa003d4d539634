"""`needlewright read` around the reader: JSON, table, overlays, exit codes."""

import json
import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from numpy.typing import NDArray
from PIL import Image

from needlewright.cli.main import run
from needlewright.cli.overlays import overlay_files
from needlewright.errors import PictureError
from needlewright.families.model import Family
from needlewright.readings.model import PhotoReadings, Reading

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "tests" / "data" / "families" / "fam-d"
SCHEMA = Draft202012Validator(json.loads((ROOT / "docs/json/read.schema.json").read_text()))


class ThreeTimes:
    def to_photo(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        return 3 * points_mm + 20.0


class StandIn:
    """Reads the speedometer at 90 degrees, refuses the fuel gauge, knows four photo names."""

    def __init__(self, family: Family) -> None:
        self.family = family

    def read_photo(self, path: Path, as_given: str | None = None) -> PhotoReadings:
        if not path.exists():
            raise PictureError(f"{path}: there is no such file; check the name and the folder")
        if path.stem == "lost":
            return PhotoReadings(str(as_given), False, "face_not_found", ())
        speed, fuel = self.family.dials
        x, y = np.array(speed.centre_mm)
        hub, tip = ThreeTimes().to_photo(np.array([[x + 9, y], [x + 30, y]])).tolist()
        readings = (
            Reading(
                speed.id,
                "read",
                speed.unit,
                None,
                90.0,
                0.0312,
                speed.scale.value_at(90.0),
                0.041234567,
                -0.12,
                ("glare", "rehearsed") if path.stem == "drawn" else ("glare",),
                (("fit", 0.02), ("registration", 0.024)),
                (tuple(hub), tuple(tip)),
            ),
            Reading(fuel.id, "refused", fuel.unit, "occluded"),
        )
        return PhotoReadings(str(as_given), True, None, readings, ThreeTimes())


@pytest.fixture(autouse=True)
def stand_in(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    reader = SimpleNamespace(FaceReader=StandIn)
    monkeypatch.setitem(sys.modules, "needlewright.readings.reader", reader)
    monkeypatch.chdir(tmp_path)
    for name in ("good.png", "lost.png", "bench/good.png"):
        Path(name).parent.mkdir(exist_ok=True)
        Image.new("RGB", (800, 500), (90, 90, 90)).save(name)


def called(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as left:
        run(["read", "--family", str(FOLDER), *words])
    said = capsys.readouterr()
    assert isinstance(left.value.code, int)
    return left.value.code, said.out, said.err


def test_json_has_exactly_these_fields(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, errors = called(capsys, "--json", "./good.png")
    assert (code, errors) == (0, "")
    assert json.loads(out) == {
        "photos": [
            {
                "photo": "./good.png",
                "found": True,
                "reason": None,
                "dials": [
                    {
                        "dial": "speed",
                        "status": "read",
                        "reason": None,
                        "angle_deg": 90.0,
                        "u_angle_deg": 0.0312,
                        "value": pytest.approx(162.56, abs=1.0),
                        "u_value": 0.041235,
                        "unit": "km/h",
                        "offset_mm": -0.12,
                        "flags": ["glare"],
                    },
                    {
                        "dial": "fuel",
                        "status": "refused",
                        "reason": "occluded",
                        "angle_deg": None,
                        "u_angle_deg": None,
                        "value": None,
                        "u_value": None,
                        "unit": "fraction of full",
                        "offset_mm": None,
                        "flags": [],
                    },
                ],
            }
        ]
    }
    SCHEMA.validate(json.loads(out))


def test_one_unusable_photo_leaves_the_others(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, errors = called(capsys, "--json", "none.png", "good.png")
    assert code == 1
    document = json.loads(out)
    SCHEMA.validate(document)
    missing, good = document["photos"]
    assert missing["photo"] == "none.png"
    assert missing["found"] is False
    assert "no such file" in missing["reason"]
    assert [d["status"] for d in missing["dials"]] == ["refused", "refused"]
    assert [d["reason"] for d in missing["dials"]] == ["photo_not_usable"] * 2
    assert good["found"] is True
    assert errors.count("\n") == 1
    assert "none.png: there is no such file" in errors


def test_a_face_that_is_not_found_is_an_answer(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, errors = called(capsys, "--json", "lost.png")
    assert (code, errors) == (0, "")
    document = json.loads(out)
    SCHEMA.validate(document)
    assert document["photos"][0]["reason"] == "face_not_found"
    dials = document["photos"][0]["dials"]
    assert [(d["dial"], d["reason"]) for d in dials] == [
        ("speed", "face_not_found"),
        ("fuel", "face_not_found"),
    ]
    code, out, _ = called(capsys, "lost.png")
    assert code == 0
    assert "not read: face not found" in out


def test_people_read_a_table(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = called(capsys, "good.png", "none.png")
    assert code == 1
    assert "90.00 ± 0.06" in out
    assert "± 0.08 km/h" in out
    assert "-0.12 mm" in out
    assert "glare" in out
    assert "not read: hidden" in out
    assert "not read: photo not usable" in out


def test_a_photo_of_a_rehearsal_is_said_to_be_one(capsys: pytest.CaptureFixture[str]) -> None:
    Path("good.png").rename("drawn.png")
    _, out, _ = called(capsys, "drawn.png", "bench/good.png")
    drawn, real = out.split("bench/good.png")
    assert "rehearsed: nothing of this was seen on a real cluster" in drawn
    assert "rehearsed" not in real
    _, out, _ = called(capsys, "drawn.png", "--json")
    assert "rehearsed" in json.loads(out)["photos"][0]["dials"][0]["flags"]


def test_the_budget(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = called(capsys, "--budget", "--json", "good.png")
    assert code == 0
    document = json.loads(out)
    SCHEMA.validate(document)
    speed, fuel = document["photos"][0]["dials"]
    assert speed["budget_deg"] == {"fit": 0.02, "registration": 0.024}
    assert fuel["budget_deg"] == {}
    _, out, _ = called(capsys, "--budget", "good.png")
    assert "u(angle) 0.0312 deg (k = 1) by squares of: fit 0.0200, registration 0.0240" in out


def test_overlays_are_written_beside_each_other(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = called(capsys, "--overlay", "drawn", "good.png", "lost.png")
    assert code == 0
    assert "overlays in drawn" in out
    assert sorted(p.name for p in Path("drawn").iterdir()) == [
        "good.overlay.jpg",
        "lost.overlay.jpg",
    ]
    with Image.open("drawn/good.overlay.jpg") as image:
        drawn = np.asarray(image).astype(int)
    speed_x, speed_y = (
        3 * np.array(json.loads((FOLDER / "family.json").read_text())["dials"][0]["centre_mm"]) + 20
    )
    red, green, blue = drawn[round(speed_y), round(speed_x + 3 * 20)]  # on the fitted needle
    assert blue > 180
    assert green > 150
    assert red < 120


def test_overlays_of_photos_with_one_name_keep_apart(tmp_path: Path) -> None:
    files = overlay_files(tmp_path / "o", ["as-found/01.jpg", "as-left/01.jpg", "02.jpg", "02.jpg"])
    assert [path.name for path in files.values()] == [
        "as-found-01.overlay.jpg",
        "as-left-01.overlay.jpg",
        "02.overlay.jpg",
    ]
    same = overlay_files(tmp_path / "o", ["a/x/01.jpg", "b/x/01.jpg", "a/x/01.png"])
    assert len(set(same.values())) == 3


def test_an_overlay_folder_that_cannot_be_one(capsys: pytest.CaptureFixture[str]) -> None:
    Path("file").touch()
    code, out, errors = called(capsys, "--overlay", "file", "good.png")
    assert (code, out) == (2, "")
    assert errors.startswith("needlewright: --overlay file: ")
    assert errors.count("\n") == 1


def test_names_are_never_taken_for_markup(capsys: pytest.CaptureFixture[str]) -> None:
    Image.new("RGB", (800, 500)).save("[bold]x.png")
    code, out, _ = called(capsys, "--budget", "[bold]x.png")
    assert code == 0
    assert out.count("[bold]x.png") == 1
