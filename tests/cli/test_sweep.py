"""`needlewright sweep` on drawn videos whose truth is exact."""

import json
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from needlewright.cli.main import run
from needlewright.families.folder import load_family
from readings.drawn_clips import FAMILIES, drawing, needles_at, write_clip

ROOT = Path(__file__).parents[2]
SCHEMA = Draft202012Validator(json.loads((ROOT / "docs/json/sweep.schema.json").read_text()))
TIMES_S = np.arange(75) / 25
GONE_S = (0.5, 0.9)
"""The speed's needle is away between these."""
SLIP_S, SLIP_DEG = 2.3, 4.0


def pictures_of(times_s, *, shaken=False):
    frame = drawing(shaken=shaken)
    for t in times_s.tolist():
        moved = {}
        if GONE_S[0] <= t < GONE_S[1]:
            moved["speed"] = None
        if t >= SLIP_S:
            moved["engine"] = needles_at(t)["engine"] + SLIP_DEG
        yield t, frame(t, **moved)


FAULT_TIMES_S = np.arange(95) / 25
PLAY_DEG, BLOCK_DEG, STALL_DEG = 1.6, 5.0, -60.0
LATE_S = 0.25
"""The bench began to tell so long after the camera began to film."""


def told_at(t_s):
    """What is asked of the needles, degrees: up and back, smoothly."""
    up = 0.5 - 0.5 * np.cos(2 * np.pi * np.clip(t_s / 3.2, 0, 1))
    return {"engine": -123 + 200 * up, "speed": -120 + 200 * up, "fuel": -50 + 90 * up}


def faulty_pictures():
    """One needle is stalled, one has play, one is blocked, and one is told nothing."""
    frame = drawing()
    for t in FAULT_TIMES_S.tolist():
        asked = told_at(t - LATE_S)
        falls = t - LATE_S > 1.6
        yield (
            t,
            frame(
                t,
                engine=STALL_DEG,
                speed=asked["speed"] + (PLAY_DEG if falls else 0.0),
                fuel=min(asked["fuel"], BLOCK_DEG),
                temp=0.0,
            ),
        )


@pytest.fixture(scope="module")
def faulty(tmp_path_factory):
    """The video, and the table of what was told."""
    folder = tmp_path_factory.mktemp("faulty")
    cluster = load_family(FAMILIES / "fam-a")
    lines = ["t_s,dial,commanded,unit"]
    for t in np.arange(0, 3.21, 0.1):
        for name, angle in told_at(t).items():
            dial = cluster.dial(name)
            lines.append(f"{t + 40:.1f},{name},{dial.scale.value_at(angle):.4f},{dial.unit}")
    (folder / "told.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return write_clip(folder / "faulty.mp4", faulty_pictures()), folder / "told.csv"


@pytest.fixture(scope="module")
def clip(tmp_path_factory):
    return write_clip(tmp_path_factory.mktemp("sweep") / "sweep.mp4", pictures_of(TIMES_S))


def call(capsys, *words):
    with pytest.raises(SystemExit) as left:
        run(["sweep", *map(str, words)])
    out, err = capsys.readouterr()
    return left.value.code, out, err


def sweep_json(capsys, path, *words):
    code, out, err = call(capsys, path, "--family", FAMILIES / "fam-a", "--json", *words)
    assert (code, err) == (0, "")
    document = json.loads(out)
    SCHEMA.validate(document)
    return document


def track(document, dial):
    return {
        frame["t_s"]: frame["dials"][dial]["angle_deg"]
        for frame in document["frames"]
        if frame["dials"][dial] is not None
    }


def test_every_needle_is_followed_and_a_slip_is_named(capsys, clip) -> None:
    document = sweep_json(capsys, clip)
    assert [frame["t_s"] for frame in document["frames"]] == pytest.approx(TIMES_S, abs=1e-3)
    for dial in ("engine", "speed"):
        seen = track(document, dial)
        slipped = {t: SLIP_DEG if dial == "engine" and t >= SLIP_S else 0.0 for t in seen}
        errors = [angle - needles_at(t)[dial] - slipped[t] for t, angle in seen.items()]
        assert np.median(np.abs(errors)) < 0.1
        assert np.percentile(np.abs(errors), 95) < 0.4
    whole = [one["finding"] for one in document["evidence"] if one["dial"] is None]
    assert whole == ["all_at_once"]
    slips = [e for e in document["events"] if e["fault"] == "lost_steps"]
    assert [(e["dial"], e["size_deg"]) for e in slips] == [("engine", SLIP_DEG)]
    assert slips[0]["t_s"] == pytest.approx(SLIP_S, abs=0.15)
    assert document["summary"]["speed"]["swept_deg"] == pytest.approx(133.2, abs=0.5)
    causes = {one["dial"]: one["cause"] for one in document["findings"]}
    assert (causes["engine"], causes["speed"]) == ("lost_steps", None)
    (engine,) = (one for one in document["findings"] if one["dial"] == "engine")
    assert engine["parts"][0]["part"] == "movement"
    assert sum(one["probability"] for one in engine["parts"]) == pytest.approx(1.0, abs=1e-5)


def test_a_needle_away_is_null_and_found_again(capsys, clip) -> None:
    document = sweep_json(capsys, clip, "--knocked")
    whole = [one["finding"] for one in document["evidence"] if one["dial"] is None]
    assert whole == ["knocking"]  # what fails together is then the answer to that test
    seen = track(document, "speed")
    away = [t for t in TIMES_S if GONE_S[0] <= t < GONE_S[1]]
    assert not any(GONE_S[0] - 1e-6 <= t < GONE_S[1] - 1e-6 for t in seen)
    assert len(seen) >= len(TIMES_S) - len(away) - 2


def test_people_get_a_table_and_a_chart(capsys, clip, tmp_path) -> None:
    chart = tmp_path / "chart.svg"
    code, out, _ = call(capsys, clip, "--family", FAMILIES / "fam-a", "--chart", chart, "--knocked")
    assert code == 0
    assert "knocked: no needles failed together, and no current dropped" in out
    assert "engine: lost steps, 4.0° too far clockwise since (± 0." in out
    assert "± is U, k = 2" in out
    assert "engine: lost steps in 1 of" in out
    assert "; points at the movement itself (" in out
    drawn = chart.read_text(encoding="utf-8")
    assert drawn.startswith("<svg")
    assert "lost steps, 4.0° too far clockwise since" in drawn
    assert drawn.count(">seconds of the video<") == 4


def test_another_family_is_refused_in_one_sentence(capsys, clip) -> None:
    code, out, err = call(capsys, clip, "--family", FAMILIES / "fam-b", "--json")
    assert (code, out) == (1, "")
    assert "the face of family" in err
    assert "is in none of its 75 frames" in err
    assert err.count("\n") == 1


def test_a_needle_that_leaves_the_picture_is_null_from_then_on(capsys, tmp_path) -> None:
    frame = drawing()
    moved = []
    for t in TIMES_S[:40].tolist():
        picture = frame(t)
        right = 0 if t < 0.8 else 170
        moved.append((t, np.roll(picture, right, axis=1)))
        if right:
            moved[-1][1][:, :right] = 60
    document = sweep_json(capsys, write_clip(tmp_path / "v.mp4", moved))
    right_most = track(document, "speed")
    assert len([t for t in right_most if t < 0.8]) >= 18
    assert [t for t in right_most if t >= 0.8] == []
    left_most = track(document, "engine")
    errors = [angle - needles_at(t)["engine"] for t, angle in left_most.items()]
    assert np.abs(errors).max() < 1.0


def test_a_file_that_is_no_video_is_named(capsys, tmp_path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("speed 80")
    code, out, err = call(capsys, path, "--family", FAMILIES / "fam-a")
    assert (code, out) == (1, "")
    assert err.startswith("needlewright: notes.txt: is not a video that can be opened")


def test_a_single_picture_is_no_sweep(capsys, tmp_path) -> None:
    path = tmp_path / "still.png"
    Image.new("RGB", (320, 240)).save(path)
    code, out, err = call(capsys, path, "--family", FAMILIES / "fam-a")
    assert (code, out) == (1, "")
    assert "still.png: is a single picture, in which nothing moves; read it with" in err


def test_a_chart_without_a_folder_is_told_before_anything_is_followed(capsys, tmp_path) -> None:
    words = (tmp_path / "none.mp4", "--family", FAMILIES / "fam-a", "--chart", "nowhere/a.svg")
    code, out, err = call(capsys, *words)
    assert (code, out) == (1, "")
    assert err == "needlewright: nowhere/a.svg: cannot be written (no such folder); " + (
        "make the folder first\n"
    )


def test_with_what_was_told_stall_play_and_block_are_named(capsys, faulty) -> None:
    video, table = faulty
    document = sweep_json(capsys, video, "--told", table)
    found = {(e["dial"], e["fault"]): e["size_deg"] for e in document["events"]}
    assert found == {
        ("engine", "stalled"): pytest.approx(STALL_DEG, abs=0.3),
        ("speed", "backlash"): pytest.approx(PLAY_DEG, abs=0.3),
        ("fuel", "blocked"): pytest.approx(BLOCK_DEG, abs=0.8),
    }
    assert document["told"]["dials"] == ["engine", "speed", "fuel"]
    assert document["told"]["offset_s"] == pytest.approx(LATE_S - 40, abs=0.05)
    assert document["summary"]["speed"]["backlash_deg"] == pytest.approx(PLAY_DEG, abs=0.3)


def test_people_are_told_where_the_table_lies_in_the_video(capsys, faulty) -> None:
    video, table = faulty
    code, out, err = call(capsys, video, "--family", FAMILIES / "fam-a", "--told", table)
    assert (code, err) == (0, "")
    assert "told: engine, speed, fuel; the table's time 0 is 39." in out
    assert "s before the video begins (likeness of the speeds 0.9" in out
    assert "engine: stalled at −60" in out


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        ("0,speed,0,km/h\n9,speed,50,km/h\n", "goes on for 9.0 s, but the video lasts 3.0 s"),
        (
            "0,speed,150,km/h\n0.2,speed,0,km/h\n",
            "the needles of the video did not move like this",
        ),
    ],
)
def test_a_table_that_does_not_fit_the_video_is_refused(
    capsys, clip, tmp_path, lines, sentence
) -> None:
    table = tmp_path / "told.csv"
    table.write_text("t_s,dial,commanded,unit\n" + lines, encoding="utf-8")
    code, out, err = call(capsys, clip, "--family", FAMILIES / "fam-a", "--told", table)
    assert (code, out) == (1, "")
    assert sentence in err
    assert err.count("\n") == 1
