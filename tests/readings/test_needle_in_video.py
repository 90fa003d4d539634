"""What a video teaches about a needle: the face under it, its shadow, its axle, and colour."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtr

from needlewright.families.model import Needle
from needlewright.readings.axle import Axle, FreeLine, Siting
from needlewright.readings.bare_ground import BareGround
from needlewright.readings.frame import Frame, frame_of_colours, plane_of
from needlewright.readings.needle_shade import NO_LIGHT, Caster, Light, Shadow, learn_light
from needlewright.readings.projection import Array, Projection
from needlewright.readings.seen_ground import PRINT_DOUBT, SEEN_DOUBT, SeenGround
from needlewright.readings.shadow_kernel import shaded
from needlewright.readings.shadow_looks import Look, look_beside, places_beside
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
    print_doubt = PRINT_DOUBT * np.abs(ground.grey - np.median(ground.grey))
    assert ground.doubt[swept] == pytest.approx(np.hypot(SEEN_DOUBT, print_doubt)[swept], abs=0.01)


def test_a_needle_that_never_moved_teaches_nothing() -> None:
    points = np.zeros((5, 5, 2))
    flat = np.full((5, 5), 100, np.float32)
    drawn = BareGround(flat, flat, np.zeros(2), points, 100.0)
    learner = SeenGround(drawn, NEEDLE, np.zeros(2), STEEP, 1.0)
    learner.see(np.zeros((5, 5), np.uint8), np.zeros(14), 10.0, moved=False)
    assert not learner.wants(10.4)
    assert learner.learned() is drawn


class Drawn:
    """A needle whose shadow was drawn lamp by lamp, by its own geometry and not by the kernel's."""

    caster = Caster(NEEDLE, np.array([0.1, -0.2]), 0.4)

    def __init__(self, lamps: list[tuple[float, float, float]], seed: int) -> None:
        self._lamps, self._rng = lamps, np.random.default_rng(seed)

    def looks(self, light: Light) -> list[Look]:
        rows, cols = places_beside(NEEDLE, 2.5)
        bare = np.full((len(rows), len(cols)), 180.0)
        found = []
        for angle in range(-75, 76, 10):
            lost = np.zeros_like(bare)
            for right, down, share in self._lamps:
                lost += 180 * share * self._taken(float(angle), rows, cols, (right, down))
            strip = np.stack([bare - lost + self._rng.normal(0, 1.0, bare.shape), bare, bare * 0])
            seen = strip, np.ones(len(rows), np.bool_)
            found.append(look_beside(NEEDLE, 0.4, float(angle), (rows, cols), seen))
        return found

    @staticmethod
    def _taken(
        angle_deg: float, rows: Array, cols: Array, lean: tuple[float, float]
    ) -> NDArray[np.float64]:
        """Shadow of the slab the needle is, plate by plate, seen from where the caster says."""
        a = np.radians(angle_deg)
        plates = []
        for height_mm in np.linspace(NEEDLE.height_mm - NEEDLE.thickness_mm, NEEDLE.height_mm, 5):
            right, down = (np.array(lean) - [0.1, -0.2]) * height_mm
            out = rows[:, None] - (right * np.sin(a) - down * np.cos(a))
            away = cols[None, :] - (right * np.cos(a) + down * np.sin(a))
            half = (2.0 - 0.05 * np.abs(out)) / 2
            over = ndtr((away + half) / 0.5) - ndtr((away - half) / 0.5)
            plates.append(over * ndtr((20.0 - out) / 0.5))
        return np.asarray(np.max(plates, axis=0))


def test_a_lamp_is_found_where_its_shadows_fall() -> None:
    found = learn_light([Drawn([(0.3, 0.9, 0.3)], 7)])
    assert found.lean / found.depth == pytest.approx([0.3, 0.9], abs=0.04)
    assert found.depth == pytest.approx(0.3, abs=0.03)


def test_two_lamps_are_told_apart_by_two_needles_together() -> None:
    lamps = [(0.7, 0.35, 0.2), (-1.05, 0.35, 0.1)]
    found = learn_light([Drawn(lamps, 1), Drawn(lamps, 2)])
    for right, down, share in lamps:
        near = np.linalg.norm(found.leans - [right, down], axis=1) < 0.5
        assert found.shares[near].sum() == pytest.approx(share, abs=0.03)
        assert found.shares[near] @ found.leans[near] / found.shares[near].sum() == pytest.approx(
            [right, down], abs=0.08
        )


def test_no_light_is_believed_where_nothing_casts_a_shadow() -> None:
    assert learn_light([Drawn([], 8)]) is NO_LIGHT
    assert learn_light([]) is NO_LIGHT


def test_the_table_of_a_shadow_shades_the_ground_as_its_lamps_do() -> None:
    light = Light(np.array([[0.4, 0.8], [-0.9, 0.2]]), np.array([0.3, 0.15]), 0.175)
    shadow = Shadow(Drawn.caster, NEEDLE, light, 3.0, 2.5)
    rows, cols = np.linspace(5.0, 19.0, 30), np.linspace(-2.8, 2.8, 25)
    bare = np.full((30, 25), 200.0)
    axis = np.full(30, 0.2)
    taken = Drawn.caster.taken(40.0, rows, cols - 0.2, light.leans, light.apart)
    expected = bare * (1 - np.tensordot(light.shares, taken, 1))
    shown = shaded(bare, rows, cols, axis, *shadow.at(40.0))
    assert expected.min() < 150
    assert np.abs(shown - expected).max() < 2.0
    assert shaded(
        bare, rows, cols, axis, *Shadow(Drawn.caster, NEEDLE, NO_LIGHT, 3.0, 2.5).at(40.0)
    )[0, 0] == pytest.approx(200.0)


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
