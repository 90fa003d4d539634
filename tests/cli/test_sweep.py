"""`needlewright sweep` on drawn videos whose truth is exact."""

import json
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from PIL import Image

from needlewright.cli.main import run
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


@pytest.fixture(scope="module")
def clip(tmp_path_factory):
    return write_clip(tmp_path_factory.mktemp("sweep") / "sweep.mp4", pictures_of(TIMES_S))


def call(capsys, *words):
    with pytest.raises(SystemExit) as left:
        run(["sweep", *map(str, words)])
    out, err = capsys.readouterr()
    return left.value.code, out, err


def sweep_json(capsys, path):
    code, out, err = call(capsys, path, "--family", FAMILIES / "fam-a", "--json")
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
    slips = [e for e in document["events"] if e["fault"] == "lost_steps"]
    assert [(e["dial"], e["size_deg"]) for e in slips] == [("engine", SLIP_DEG)]
    assert slips[0]["t_s"] == pytest.approx(SLIP_S, abs=0.15)
    assert document["summary"]["speed"]["swept_deg"] == pytest.approx(133.2, abs=0.5)


def test_a_needle_away_is_null_and_found_again(capsys, clip) -> None:
    document = sweep_json(capsys, clip)
    seen = track(document, "speed")
    away = [t for t in TIMES_S if GONE_S[0] <= t < GONE_S[1]]
    assert not any(GONE_S[0] - 1e-6 <= t < GONE_S[1] - 1e-6 for t in seen)
    assert len(seen) >= len(TIMES_S) - len(away) - 2


def test_people_get_a_table_and_a_chart(capsys, clip, tmp_path) -> None:
    chart = tmp_path / "chart.svg"
    code, out, _ = call(capsys, clip, "--family", FAMILIES / "fam-a", "--chart", chart)
    assert code == 0
    assert "engine: lost steps +4.0°" in out
    drawn = chart.read_text(encoding="utf-8")
    assert drawn.startswith("<svg")
    assert "lost steps +4.0°" in drawn
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
