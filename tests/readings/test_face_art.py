"""What the reader takes from a face, and faces no photo could ever be known by."""

import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from needlewright.cli.main import run
from needlewright.errors import PictureError
from needlewright.families.folder import load_family
from needlewright.readings.face_art import FEWEST_FEATURES, art_of

DATA = Path(__file__).parents[1] / "data"
SENTENCE = (
    "shows {found} features of print, and a face is found in a photo by 8 or more; scan or export "
    "the face with its scales and figures"
)


@pytest.fixture
def folder(tmp_path):
    """A family whose face can be drawn anew."""
    return Path(shutil.copytree(DATA / "families" / "fam-d", tmp_path / "fam-d"))


def blank(folder: Path, level: int = 30) -> Image.Image:
    with Image.open(folder / "face.png") as face:
        return Image.new("L", face.size, level)


@pytest.mark.parametrize("level", [0, 30, 255])
def test_a_face_of_one_colour_is_refused(folder, level):
    blank(folder, level).save(folder / "face.png")
    with pytest.raises(PictureError) as refused:
        art_of(load_family(folder))
    assert str(refused.value) == f"{folder / 'face.png'}: {SENTENCE.format(found=0)}"


def test_a_face_without_an_edge_is_refused(folder):
    """A shade across it: every pixel differs, and none is a mark."""
    shade = np.linspace(20, 60, blank(folder).width)
    face = np.broadcast_to(shade, (blank(folder).height, len(shade))).astype(np.uint8)
    Image.fromarray(face).save(folder / "face.png")
    with pytest.raises(PictureError, match="shows 0 features of print"):
        art_of(load_family(folder))


def test_a_single_disc_is_too_little(folder):
    face = blank(folder)
    ImageDraw.Draw(face).ellipse((300, 300, 500, 500), fill=220)
    face.save(folder / "face.png")
    with pytest.raises(PictureError, match=r"shows [1-7] features of print") as refused:
        art_of(load_family(folder))
    assert str(refused.value).endswith("export the face with its scales and figures")


def test_a_printed_face_has_far_more(folder):
    art = art_of(load_family(folder))
    assert len(art.features.points_mm) > 10 * FEWEST_FEATURES
    assert len(art.edges.points_mm) > 100


@pytest.mark.parametrize("command", ["read", "look"])
def test_the_commands_say_it_in_one_sentence(folder, tmp_path, capsys, command):
    blank(folder).save(folder / "face.png")
    photo = next((DATA / "photos").rglob("*.jpg"))
    told = ["--at", "speed=40"] if command == "look" else []
    with pytest.raises(SystemExit) as left:
        run([command, str(photo), "--family", str(folder), *told])
    said = capsys.readouterr()
    assert (left.value.code, said.out) == (1, "")
    assert said.err.endswith(f"{SENTENCE.format(found=0)}\n")
    assert "Traceback" not in said.err
