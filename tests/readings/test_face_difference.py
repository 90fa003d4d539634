"""What differs in print: nothing in the same face, and what was changed where it was changed.

Thresholds: common practice, no source; held against faces with a known change.
"""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from needlewright.errors import PictureError
from needlewright.families.folder import load_family
from needlewright.papers.face_pair import write_face_pair
from needlewright.readings import face_laid
from needlewright.readings.face_difference import compare_face, compare_units
from needlewright.readings.face_laid import find_picture, grain
from needlewright.readings.picture import open_picture, picture_from_array

DATA = Path(__file__).parents[1] / "data"
FAMILY = load_family(DATA / "families" / "fam-a")
WIDTH, HEIGHT = FAMILY.face_size_mm
DIAL = FAMILY.dials[0]
DOT_MM = (0.5 * WIDTH, 0.93 * HEIGHT)


@pytest.fixture(scope="module")
def variant(tmp_path_factory) -> Path:
    """The face with a dot more."""
    return _dotted(tmp_path_factory.mktemp("variant") / "face.png", DOT_MM)


def _dotted(path: Path, at_mm: tuple[float, float]) -> Path:
    face = Image.open(FAMILY.face_path).convert("RGB")
    scale = FAMILY.px_per_mm
    x, y = at_mm
    ImageDraw.Draw(face).ellipse(
        [(x - 2) * scale, (y - 2) * scale, (x + 2) * scale, (y + 2) * scale], fill=(220, 40, 30)
    )
    face.save(path)
    return path


def test_a_dot_more_is_found_where_it_is(variant: Path, tmp_path: Path) -> None:
    found = compare_face(FAMILY, open_picture(variant), "variant", needles=False)
    (region,) = found.regions  # and nothing else differs
    assert found.share_compared > 0.9
    assert region.left_mm + region.width_mm / 2 == pytest.approx(DOT_MM[0], abs=0.6)
    assert region.top_mm + region.height_mm / 2 == pytest.approx(DOT_MM[1], abs=0.6)
    assert 3.5 < region.width_mm < 6.5
    box = tuple(
        value * found.px_per_mm
        for value in (region.left_mm, region.top_mm, region.left_mm + region.width_mm,
                      region.top_mm + region.height_mm)
    )  # fmt: skip
    write_face_pair(
        tmp_path / "a" / "pair.png", [("x", found.first), ("y", found.apart)], [box], "t"
    )
    drawn = np.asarray(Image.open(tmp_path / "a" / "pair.png"))
    assert ((drawn == (255, 196, 0)).all(axis=2)).sum() > 100


def test_another_design_is_refused() -> None:
    other = load_family(DATA / "families" / "fam-b")
    with pytest.raises(PictureError, match=r"theirs: .* family 'fam-a'"):
        compare_face(FAMILY, open_picture(other.face_path), "theirs", needles=False)


def test_of_two_units_only_what_differs_between_them_is_told(tmp_path: Path) -> None:
    """What both have is none of their differences, though the family's face lacks it."""
    x, y = 0.5 * WIDTH, 12.0  # bare ground, far from every needle
    both = find_picture(FAMILY, open_picture(_dotted(tmp_path / "dot.png", (x, y))), "one")
    plain = find_picture(FAMILY, open_picture(FAMILY.face_path), "other")
    assert compare_units(FAMILY, both, both).regions == ()
    (more,) = compare_units(FAMILY, plain, both).regions
    (less,) = compare_units(FAMILY, both, plain).regions
    for region in (more, less):
        assert region.left_mm + region.width_mm / 2 == pytest.approx(x, abs=0.6)
        assert region.top_mm + region.height_mm / 2 == pytest.approx(y, abs=0.6)
    assert more.by_grey_levels > 10 > -10 > less.by_grey_levels  # a red dot on black


def test_a_photo_from_too_far_aside_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    photo = open_picture(DATA / "photos" / "fam-a" / "photos" / "003.jpg")  # truth: 27.8 degrees
    monkeypatch.setattr(face_laid, "MOST_OBLIQUE_DEG", 25.0)
    with pytest.raises(PictureError, match=r"003\.jpg: taken 2[789] degrees from straight on"):
        find_picture(FAMILY, photo, "003.jpg")
    close = open_picture(
        DATA / "photos" / "fam-a" / "photos" / "005.jpg"
    )  # a part, nearly straight
    find_picture(FAMILY, close, "005.jpg")


def test_grain_that_would_be_taken_for_print_is_refused() -> None:
    face = np.asarray(Image.open(FAMILY.face_path).convert("RGB").resize((1200, 516)))
    rng = np.random.default_rng(3)
    for sigma, refused in ((3.0, False), (20.0, True)):
        noisy = np.clip(face + rng.normal(0.0, sigma, face.shape), 0, 255).astype(np.uint8)
        even = np.full(face.shape, 128, np.uint8)
        grey = np.clip(even + rng.normal(0.0, sigma, face.shape), 0, 255).astype(np.uint8)
        # what a blur of 3 px leaves of it is 1 / (4 pi 9) of its variance
        assert grain(grey, np.ones(grey.shape[:2], bool)) == pytest.approx(sigma, rel=0.1)
        found = find_picture(FAMILY, picture_from_array(noisy[..., ::-1].copy()), "grainy.png")
        if refused:
            with pytest.raises(PictureError, match=r"grainy\.png: too noisy to compare print"):
                compare_units(FAMILY, found, found)
        else:
            assert compare_units(FAMILY, found, found).regions == ()


def test_a_photo_of_the_same_design_shows_little() -> None:
    photo = DATA / "photos" / "fam-a" / "photos" / "001.jpg"
    found = compare_face(FAMILY, open_picture(photo), "001.jpg", needles=True)
    assert sum(region.area_mm2 for region in found.regions) < 0.01 * WIDTH * HEIGHT
