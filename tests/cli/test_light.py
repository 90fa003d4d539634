"""`needlewright light` by command line, on drawn photos of the demonstration's face."""

import json
import re
import shutil
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from jsonschema import Draft202012Validator

from needlewright.cli.main import run
from needlewright.findings.evidence_file import parse_evidence
from needlewright.readings.rehearsed_photo import marked_rehearsed
from needlewright.rehearsal.camera import project
from readings.light.lit_demo import FAMILY, SOUND, exposed, photo, view

FOLDER = FAMILY.folder
SCHEMA = Path(__file__).parents[2] / "docs" / "json" / "light.schema.json"
OTHER = Path(__file__).parents[1] / "data" / "families" / "fam-a"
DEAD = {"behind-engine": 0.0, "behind-speed": 1.0, "behind-small": 1.0}
SIGNS = {"stop": 1.0, "warning": 0.0}
DRAWN = {
    "sound.png": lambda: photo(SOUND),
    "dead.png": lambda: exposed(photo(DEAD, halo="speed"), 0.7),
    "signs.png": lambda: photo(SIGNS),
    "room.png": lambda: photo(SOUND, room=True),
    "black.png": lambda: np.zeros((200, 300, 3), np.uint8),
    "white.png": lambda: np.full((200, 300, 3), 255, np.uint8),
    "small.png": lambda: cv2.resize(photo(SOUND), (330, 220), interpolation=cv2.INTER_AREA),
    "larger.png": lambda: cv2.resize(photo(SOUND), (900, 600), interpolation=cv2.INTER_CUBIC),
}


@cache
def drawn(name: str) -> bytes:
    return cv2.imencode(".png", DRAWN[name]())[1].tobytes()


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def put(*names: str) -> None:
    for name in names:
        Path(name).write_bytes(drawn(name))


def called(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    given = list(map(str, words))
    if "--family" not in given:
        given = ["--family", str(FOLDER), *given]
    with pytest.raises(SystemExit) as left:
        run(["light", *given])
    said = capsys.readouterr()
    return int(left.value.code or 0), said.out, said.err


def document(capsys: pytest.CaptureFixture[str], *words: object) -> dict:
    code, out, err = called(capsys, "--json", *words)
    assert (code, err) == (0, "")
    found = json.loads(out)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(found)
    assert len(parse_evidence("light", out.encode())) == len(found["evidence"])
    return found


def test_a_dead_lamp_and_a_halo_against_a_healthy_unit(capsys, here) -> None:
    put("dead.png", "larger.png")
    found = document(capsys, "--healthy", "larger.png", "--out", "sheet.png", "dead.png")
    assert {one["seen_in"] for one in found["evidence"]} == {"dead.png"}
    assert (found["zones_by"], found["reference"]) == ("lamps", "healthy")
    states = {zone["id"]: zone["state"] for zone in found["zones"]}
    assert states == {"behind-engine": "dark", "behind-speed": "sound", "behind-small": "sound"}
    assert found["zones"][0]["light"] < 0.07
    halos = {hub["dial"] for hub in found["hubs"] if (hub["halo"] or 0) > 0.5}
    assert halos == {"speed"}
    ratios = {one["finding"]: one["ratio"] for one in found["evidence"]}
    assert ratios["lamp_check_dark"] > 10
    assert ratios["lamp_check_dim"] < 1
    assert "hundreds of volts" in found["cautions"][0]
    assert cv2.imread("sheet.png").shape[1] == 1648


def test_in_words_without_a_healthy_unit(capsys, here) -> None:
    """Of a photo whose file says that it was rehearsed."""
    Path("dead.png").write_bytes(marked_rehearsed(drawn("dead.png")))
    code, out, err = called(capsys, "dead.png")
    assert (code, err) == (0, "")
    assert "rehearsed: nothing of this was seen on a real cluster" in out
    assert "against the family's own print" in out
    assert "dark, over 99 %" in out
    assert "hub of speed: HALO" in out
    assert "set speed's needle at its height" in out
    assert "hundreds of volts" in out


def test_a_run_of_the_bench(capsys, here) -> None:
    put("sound.png", "signs.png")
    Path("run-photos").mkdir()
    for number, name in (("022", "sound.png"), ("023", "signs.png")):
        shutil.move(name, f"run-photos/{number}.png")
    lamps = [
        {"group": "backlight", "photo": "run-photos/022.png", "lit": list(SOUND)},
        {
            "group": "tell-tales",
            "photo": "run-photos/023.png",
            "lit": ["stop", "warning"],
            "not_lit": ["turn"],
        },
    ]
    Path("run.outcome.json").write_text(json.dumps({"lamps": lamps}))
    for given in (".", "run.outcome.json"):
        found = document(capsys, given)
        assert [zone["state"] for zone in found["zones"]] == ["sound"] * 3
        dark = {sign["id"]: sign["dark"] for sign in found["signs"]}
        assert dark["warning"] > 0.9
        assert dark["stop"] < 0.02
        why = {sign["id"]: sign["why"] for sign in found["signs"]}
        assert why["turn"] == "nobody could switch it on"
        ratios = {one["finding"]: one["ratio"] for one in found["evidence"]}
        assert ratios["tell_tale_check"] > 10
        assert ratios["lamp_check_dark"] < 0.25


def test_a_photo_too_dark_to_find_the_face_in_lies_as_its_neighbour(capsys, here) -> None:
    put("sound.png")
    signs = photo(SIGNS)
    signs[signs.max(axis=2) < 90] = 0  # nothing of the print is left
    cv2.imwrite("x-lamps-tell-tales.png", signs)
    code, _, err = called(capsys, "x-lamps-tell-tales.png")
    assert (code, "is not found in it" in err) == (1, True)
    found = document(capsys, "x-lamps-tell-tales.png", "sound.png")
    assert found["photos"][0]["placed_by"] == "sound.png"
    dark = {sign["id"]: sign["dark"] for sign in found["signs"]}
    assert dark["warning"] > 0.9
    assert dark["stop"] < 0.02


def test_a_sign_that_lights_in_one_of_several_photos_lights(capsys, here) -> None:
    put("sound.png")
    for name, lit in (("a", {"stop": 1.0, "warning": 0.0}), ("b", {"stop": 0.0, "warning": 1.0})):
        cv2.imwrite(f"{name}-lamps-tell-tales.png", photo(lit))
    words = ("a-lamps-tell-tales.png", "b-lamps-tell-tales.png")
    found = document(capsys, *words)
    assert [sign["id"] for sign in found["signs"]] == ["stop", "warning"]
    assert max(sign["dark"] for sign in found["signs"]) < 0.02
    assert [one["finding"] for one in found["evidence"]] == ["tell_tale_check"]


def test_every_photo_that_cannot_be_used_is_named(capsys, here) -> None:
    put("black.png", "white.png", "sound.png")
    code, _, err = called(capsys, "black.png", "white.png")
    assert (code, len(err.strip().splitlines())) == (1, 1)
    assert "black.png: nothing in it" in err
    assert "white.png: 100 %" in err
    code, out, err = called(capsys, "black.png", "sound.png")
    assert code == 1
    assert "sound, over 99 %" in out
    assert "black.png: nothing in it" in err


def test_a_family_may_keep_a_healthy_picture(capsys, here) -> None:
    put("dead.png")
    family = here / "family"
    shutil.copytree(FOLDER, family)
    (family / "healthy.png").write_bytes(drawn("sound.png"))
    found = document(capsys, "--family", family, "dead.png")
    assert (found["reference"], found["healthy"]) == ("healthy", str(family / "healthy.png"))
    assert found["zones"][0]["state"] == "dark"


def test_the_owners_photos_answer_the_questions_to_the_owner(capsys, here) -> None:
    put("dead.png")
    found = document(capsys, "--in-vehicle", "dead.png")
    assert {one["finding"] for one in found["evidence"]} == {"zone_dark", "lights_weak"}


def test_dim_all_over_shows_with_one_exposure_only(capsys, here) -> None:
    put("sound.png")
    cv2.imwrite("weak.png", exposed(photo(SOUND), 0.5))
    cancelled = document(capsys, "--healthy", "sound.png", "weak.png")
    same = document(capsys, "--healthy", "sound.png", "--same-exposure", "weak.png")
    assert [zone["state"] for zone in cancelled["zones"]] == ["sound"] * 3
    assert [zone["state"] for zone in same["zones"]] == ["dim"] * 3
    assert [zone["light"] for zone in same["zones"]] == pytest.approx([0.5] * 3, abs=0.03)


def test_a_series_of_a_display(capsys, here) -> None:
    family = here / "family"
    shutil.copytree(FOLDER, family)
    raw = json.loads((family / "family.json").read_text())
    raw["displays"] = [{"id": "odo", "centre_mm": [151.5, 95.2], "size_mm": [34, 8]}]
    (family / "family.json").write_text(json.dumps(raw))
    lines = ["photo,minutes"]
    whole = photo(SOUND)
    here_px = project(view().camera, view().pose, np.array([[151.5, 95.2, 0.0]]))[0]
    column, row = (round(float(at)) for at in here_px)
    for minutes, left in ((0, 1.0), (10, 0.85), (20, 0.72), (30, 0.62)):
        faded = whole.copy()
        box = (slice(row - 24, row + 24), slice(column - 70, column + 70))
        faded[box] = exposed(whole[box], left)
        cv2.imwrite(f"{minutes}.png", exposed(faded, 1.0 - minutes / 100))
        lines.append(f"{minutes}.png,{minutes}")
    Path("series.csv").write_text("\n".join(lines))
    found = document(capsys, "--family", family, "--series", "series.csv")
    fading = found["series"][0]["fading"]
    assert fading["lost"] == pytest.approx(0.38, abs=0.05)
    assert fading["halves_at"] == pytest.approx(30 * np.log(2) / -np.log(0.62), rel=0.15)
    assert found["evidence"][0]["finding"] == "display_check"
    assert found["evidence"][0]["ratio"] == 5.0


@pytest.mark.parametrize(
    ("words", "code", "sentence"),
    [
        (["black.png"], 1, "black.png: nothing in it gives light (too dark)"),
        (["white.png"], 1, "white.png: 100 % of it is blown out (too bright)"),
        (["room.png"], 1, "room.png: the room's light lies on the face"),
        (["signs.png"], 1, "signs.png: no lamp behind the face gives light in it"),
        (["small.png"], 1, "px wide in it and at least 300 px are needed"),
        (["--healthy", "room.png", "sound.png"], 1, "healthy picture room.png: the room's light"),
        (["--healthy", "black.png", "sound.png"], 1, "healthy picture black.png: nothing in it"),
        (["--healthy", "small.png", "sound.png"], 1, "healthy picture small.png: the face is"),
        (["--family", str(OTHER), "sound.png"], 1, "the face of family 'fam-a' is not found"),
        (["nothing.png"], 1, "nothing.png: "),
        (["--lit", "roof", "sound.png"], 2, "--lit: family 'invented-estate' has no group or lamp"),
        (["--same-exposure", "sound.png"], 2, "give that with --healthy"),
        (["--every-segment", "sound.png"], 2, "does not say where its displays are"),
        (["--out", "x.jpg", "sound.png"], 2, "--out: expected a file name that ends in .png"),
        ([], 2, "give photos of the lit face"),
        (["--series", "none.csv"], 1, "none.csv: there is no such table"),
        (["."], 1, "expected one run of the bench in it"),
    ],
)
def test_what_cannot_be_used_is_one_sentence(capsys, here, words, code, sentence) -> None:
    put(*(word for word in words if word in DRAWN))
    left, out, err = called(capsys, *words)
    assert (left, "Traceback" in err) == (code, False)
    assert sentence in err
    assert len(err.strip().splitlines()) == 1
    assert "zone " not in out


def test_the_familys_own_print_is_no_photo(capsys, here) -> None:
    shutil.copy(FOLDER / "face.png", "copy.png")
    for given in (FOLDER / "face.png", Path("copy.png")):
        code, out, err = called(capsys, given)
        assert (code, out) == (1, "")
        assert "is the print of family" in err
        assert "give one of the face with its lamps on" in " ".join(err.split())
        assert err.count("\n") == 1
    put("sound.png")
    code, _, err = called(capsys, "--healthy", "copy.png", "sound.png")
    assert (code, "healthy picture copy.png: is the print" in err) == (1, True)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda path: None, "nope.csv: there is no such table; give a CSV file"),
        (lambda path: path.mkdir(), "nope.csv: cannot be read: it is a folder; give a CSV file"),
        (lambda path: path.write_bytes(b"\xff\xfe\x00"), "nope.csv: is not text in UTF-8"),
    ],
)
def test_a_table_that_cannot_be_read_is_our_own_sentence(capsys, here, make, said) -> None:
    make(Path("nope.csv"))
    code, out, err = called(capsys, "--series", "nope.csv")
    assert (code, out) == (1, "")
    assert said in err
    assert "Errno" not in err


def test_evenness_never_begins_below_what_it_can_be(capsys, here) -> None:
    put("sound.png", "larger.png")
    code, out, _ = called(capsys, "--healthy", "larger.png", "sound.png")
    assert code == 0
    (line,) = (one for one in " ".join(out.split()).split("evenness: ")[1:])
    ratio, low, spread, least = re.match(
        r"brightest over darkest (\S+) \((\S+) to \S+\); spread over the zones (\d+) % \((\d+) to",
        line,
    ).groups()
    assert 1.0 <= float(low) <= float(ratio)
    assert 0 <= int(least) <= int(spread)
