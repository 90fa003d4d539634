import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from needlewright.errors import PictureError
from needlewright.families.folder import load_family
from needlewright.rehearsal.invent import generate_family, invent_family
from needlewright.rehearsal.photo_set import draw_set
from needlewright.rehearsal.staging import CONDITIONS

SMALL = (480, 320)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("set") / "drawn"
    draw_set(out, count=len(CONDITIONS), seed=3, size_px=SMALL)
    return out / "drawn-0003"


def entries(folder: Path) -> list[dict]:
    return json.loads((folder / "truth.json").read_text(encoding="utf-8"))["photos"]


@pytest.mark.parametrize("seed", [0, 1, 2, 7, 11])
def test_an_invented_family_is_a_family_as_any_other(tmp_path: Path, seed: int):
    made = generate_family(seed, tmp_path / f"drawn-{seed:04d}")
    again = load_family(tmp_path / f"drawn-{seed:04d}")
    assert again.dials == made.dials
    assert 2 <= len(made.dials) <= 6


def test_seeds_differ_and_the_same_seed_does_not():
    first, same, other = (invent_family(seed) for seed in (4, 4, 6))
    assert np.array_equal(first.art, same.art)
    assert first.art.shape != other.art.shape or not np.array_equal(first.art, other.art)


def test_every_condition_is_drawn_with_its_truth(drawn: Path):
    family = load_family(drawn)
    photos = entries(drawn)
    assert {tag for photo in photos for tag in photo["tags"]} >= set(CONDITIONS)
    for photo in photos:
        assert set(photo["dials"]) == {dial.id for dial in family.dials}
        with Image.open(drawn / "photos" / photo["file"]) as picture:
            assert picture.size == SMALL
    hidden = next(photo for photo in photos if "occluded" in photo["tags"])
    shares = {dial: said["needle_visible_fraction"] for dial, said in hidden["dials"].items()}
    assert min(shares, key=lambda dial: shares[dial]) == hidden["occluded_dial"]
    outside = next(photo for photo in photos if "out_of_frame" in photo["tags"])
    assert min(said["needle_visible_fraction"] for said in outside["dials"].values()) < 0.85


def test_the_tip_lies_where_camera_and_angle_put_it(drawn: Path):
    """By the camera equation that truth.json states, for needles that stand level."""
    family = load_family(drawn)
    for photo in entries(drawn):
        camera = photo["camera"]
        matrix = np.array(photo["pose_world_to_camera"])
        for dial in family.dials:
            said = photo["dials"][dial.id]
            a, needle = np.radians(said["true_angle_deg"]), dial.needle
            tilt = np.radians(said["pitch_deg"])
            reach = needle.length_mm * np.cos(tilt)
            at = np.array(said["pivot_mm"]) + reach * np.array([np.sin(a), -np.cos(a)])
            height = needle.height_mm + needle.length_mm * np.sin(tilt)
            x, y, z = matrix @ [*at, height, 1.0]
            r2 = (x * x + y * y) / z**2
            bend = 1 + camera["k1"] * r2 + camera["k2"] * r2**2
            u = camera["fx"] * x / z * bend + camera["cx"]
            v = camera["fy"] * y / z * bend + camera["cy"]
            assert said["tip_px"] == pytest.approx([u, v], abs=0.1), (photo["file"], dial.id)


def test_the_same_seed_gives_the_same_photos(tmp_path: Path, drawn: Path):
    draw_set(tmp_path / "again", count=2, seed=3, size_px=SMALL)
    again = tmp_path / "again" / "drawn-0003"
    assert entries(again) == entries(drawn)[:2]
    for name in ("001.jpg", "002.jpg"):
        assert (again / "photos" / name).read_bytes() == (drawn / "photos" / name).read_bytes()


def test_nothing_is_left_of_a_set_that_was_broken_off(tmp_path: Path):
    def stop(done: int, _: int) -> None:
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        draw_set(tmp_path / "half", count=3, seed=1, size_px=SMALL, told=stop)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_use_is_refused(tmp_path: Path):
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(PictureError, match="new or empty folder"):
        draw_set(tmp_path, count=1, seed=1, size_px=SMALL)
    assert (tmp_path / "mine.txt").read_text(encoding="utf-8") == "mine"
