"""What a video teaches about a needle: the face under it, its shadow, its axle, and colour."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtr

from needlewright.families.model import Needle
from needlewright.readings import bar_kernel as kernel
from needlewright.readings.axle import Axle, FreeLine, Siting
from needlewright.readings.bare_ground import BareGround
from needlewright.readings.frame import Frame, frame_of_colours, plane_of
from needlewright.readings.needle_prior import NeedlePrior
from needlewright.readings.needle_shade import Look, Shade, learn_shade
from needlewright.readings.projection import Projection
from needlewright.readings.seen_ground import SEEN_DOUBT, SeenGround
from needlewright.readings.viewpoint import Viewpoint

NEEDLE = Needle(20.0, 6.0, 2.0, 1.0, 4.0, 3.0, 0.9, (0.85, 0.1, 0.1))
STEEP = Viewpoint((30.0, 30.0), 1e6, True)
"""So far away that there is no parallax."""
RED_BGR = (20, 20, 220)


def line_at(angle_deg: float, offset_mm: float, *, coloured: bool = False) -> FreeLine:
    return FreeLine(angle_deg, offset_mm, 0.3, 0.05, -0.013, coloured)


def test_the_face_shows_where_the_needle_was_not() -> None:
    rng = np.random.default_rng(3)
    face = rng.integers(60, 200, (61, 61)).astype(np.uint8)
    x, y = np.meshgrid(np.arange(61.0), np.arange(61.0))
    points = np.stack([x, y], axis=-1)
    drawn = BareGround(
        np.full((61, 61), 128, np.float32),
        np.full((61, 61), 30, np.float32),
        np.zeros(2),
        points,
        128.0,
    )
    learner = SeenGround(drawn, NEEDLE, np.array([30.0, 30.0]), STEEP, 1.0)
    for angle in range(-90, 91, 6):
        a = np.radians(angle)
        across = (x - 30) * np.cos(a) + (y - 30) * np.sin(a)
        along = (x - 30) * np.sin(a) - (y - 30) * np.cos(a)
        frame = face.copy()
        frame[(np.abs(across) < 1.2) & (along > -6) & (along < 20)] = 250
        assert learner.wants(float(angle))
        learner.see(frame, np.zeros(14), float(angle), moved=False)
    assert not learner.wants(0.0)
    ground = learner.learned()
    swept = np.hypot(x - 30, y - 30) > 9
    swept &= np.hypot(x - 30, y - 30) < 19
    assert np.abs(ground.grey - face)[swept].max() <= 0.5
    assert np.all(ground.doubt[swept] == pytest.approx(SEEN_DOUBT, abs=0.01))


def test_a_needle_that_never_moved_teaches_nothing() -> None:
    points = np.zeros((5, 5, 2))
    flat = np.full((5, 5), 100, np.float32)
    drawn = BareGround(flat, flat, np.zeros(2), points, 100.0)
    learner = SeenGround(drawn, NEEDLE, np.zeros(2), STEEP, 1.0)
    learner.see(np.zeros((5, 5), np.uint8), np.zeros(14), 10.0, moved=False)
    assert not learner.wants(10.4)
    assert learner.learned() is drawn


def drawn_look(angle_deg: float, shade: Shade, rng: np.random.Generator) -> Look:
    """A strip drawn by the fit's own model: whether what was put in comes out again."""
    rows = np.arange(5.0, 19.0, 0.5)
    cols = np.arange(-6.0, 6.01, 0.4)
    halves = (2.0 - 0.05 * rows) / 2
    ends = np.ones(len(rows))
    bare = np.full((len(rows), len(cols)), 180.0)
    level, blur = 70.0, 0.4
    ground = kernel.shadowed(
        bare, rows, halves, cols, np.zeros(len(rows)), shade.beside(angle_deg, NEEDLE)
    )
    over = ndtr((cols + halves[:, None]) / blur) - ndtr((cols - halves[:, None]) / blur)
    light = ground + over * (level - ground) + rng.normal(0, 1.0, ground.shape)
    strip = np.stack([light, bare, np.full_like(bare, 0.8)])
    return Look(angle_deg, strip, np.ones(len(rows), bool), rows, halves, ends, cols, 0.05)


def test_a_shadow_is_found_where_the_light_puts_it() -> None:
    rng = np.random.default_rng(7)
    true = Shade(0.3, 0.9, 0.3, (0.2, 0.0, 0.2))
    looks = [drawn_look(float(a), true, rng) for a in range(-75, 76, 10)]
    prior = NeedlePrior(2.5, 0.4)
    found = learn_shade(looks, prior, NEEDLE)
    assert (found.right, found.down) == pytest.approx((true.right, true.down), abs=0.08)
    assert found.depth == pytest.approx(true.depth, abs=0.06)


def test_no_shadow_is_believed_where_there_is_none() -> None:
    rng = np.random.default_rng(8)
    none = Shade(0.0, 0.0, 0.0, (1.0, 0.0, 1.0))
    looks = [drawn_look(float(a), none, rng) for a in range(-75, 76, 10)]
    assert learn_shade(looks, NeedlePrior(2.5, 0.4), NEEDLE).depth < 0.02


def test_where_colour_lies_is_learned_apart_from_the_axle() -> None:
    axle = Axle(0.2, 0.01, Siting.unknown(0.1))
    for angle in range(-120, 121, 5):
        a = np.radians(angle)
        offset = float(0.05 + 0.1 * np.cos(a) - 0.08 * np.sin(a))
        axle.learn(line_at(angle, offset))
        coloured = offset + float(0.12 * np.cos(a) - 0.03 * np.sin(a))
        axle.learn(line_at(angle, coloured, coloured=True))
    assert axle.siting.shift_mm == pytest.approx([0.12, -0.03], abs=0.01)
    assert axle.at(90.0)[0] == pytest.approx(0.05 - 0.08, abs=0.01)
    assert axle.at(90.0, coloured=True)[0] == pytest.approx(0.05 - 0.08 - 0.03, abs=0.01)


def test_a_shadows_pull_does_not_pass_for_the_shaft() -> None:
    known, doubted = (Axle(0.1, 0.01, Siting.unknown(0.1)) for _ in range(2))
    doubted.pulled(np.array([0.0, 0.2]))
    for angle in range(-45, 46, 5):
        pulled = 0.15 * float(np.sin(np.radians(angle)))
        for axle in (known, doubted):
            axle.learn(line_at(angle, pulled))
    # the prior of 0.1 mm holds both back a little
    assert known.at(45.0)[0] == pytest.approx(0.083, abs=0.01)
    assert doubted.at(45.0)[0] == pytest.approx(0.0, abs=0.04)
    assert doubted.at(45.0)[1] > known.at(45.0)[1]


def red_on_grey() -> NDArray[np.uint8]:
    pixels = np.full((40, 60, 3), 120, np.uint8)
    pixels[10:20, 20:40] = RED_BGR
    return pixels


def test_a_red_needle_is_looked_for_in_red_and_a_white_one_in_light() -> None:
    frame = frame_of_colours(red_on_grey())
    assert plane_of((0.85, 0.1, 0.08), frame) == "red"
    assert plane_of((0.1, 0.2, 0.9), frame) == "blue"
    assert plane_of((0.95, 0.95, 0.95), frame) == "light"
    assert plane_of(None, frame) == "light"
    assert plane_of((0.85, 0.1, 0.08), Frame(frame.light)) == "light"


def test_a_plane_of_half_the_size_shows_the_same_place() -> None:
    frame = frame_of_colours(red_on_grey())
    projection = Projection.of_size(np.array([[2.0, 0, 3], [0, 2.0, 1], [0, 0, 1]]), 60, 40)
    corner_mm = np.array([[8.5, 4.5]])
    (x, y), (u, v) = (
        p.to_photo(corner_mm)[0] for p in (projection, frame.seen_in("red", projection))
    )
    assert (x, y) == pytest.approx((20.0, 10.0))
    # the first of a half-size plane's pixels is the mean of the first two: its centre lies at 0.5
    assert (u, v) == pytest.approx(((20.0 - 0.5) / 2, (10.0 - 0.5) / 2))
    assert frame.red is not None
    assert frame.red[5:10, 10:20].min() > 190
    assert frame.red[0:5].max() < 130
