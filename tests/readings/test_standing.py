"""How a needle stands: geometry against a pinhole, solution against exact lines, one drawn unit.

The pinhole's law and the fall of parallax with height are derived in docs/calibrating.md and
checked here against `rehearsal.camera`, which projects points by itself.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2

from needlewright.readings.projection import Projection
from needlewright.readings.standing.geometry import Frame, Standing
from needlewright.readings.standing.looks import AxisSeen
from needlewright.readings.standing.measure import measure_standing
from needlewright.readings.standing.solve import Solution, solve
from needlewright.readings.viewpoint import Viewpoint
from needlewright.rehearsal.camera import Camera, place_camera, project
from needlewright.rehearsal.resting import draw_resting

CENTRE = np.array([60.0, 50.0])
FRAME = Frame(CENTRE, 40.0)
TRUE = Standing(np.radians(1.2), 0.2, 3.4, np.radians(-0.7))
VIEWS = [
    Viewpoint((60.0 + x, 50.0 + y), 320.0, True)
    for x, y in ((0, 0), (140, 20), (-150, -30), (30, 130), (-20, -140))
]
AT = np.array([6.0, 42.0])


def seen(rng: np.random.Generator | None = None, u: float = 0.02) -> list[AxisSeen]:
    found = []
    for view in VIEWS:
        noise = 0.0 if rng is None else rng.normal(0, u, 2)
        line = FRAME.line(TRUE, view, AT) + noise
        found.append(AxisSeen(AT, line, u**2 * np.eye(2), np.zeros(2)))
    return found


def test_a_needle_is_seen_where_a_pinhole_sees_it() -> None:
    camera = Camera(1600, 1067, 1500.0, 799.5, 533.0)
    pose = place_camera(pitch_deg=18, yaw_deg=-21, distance_mm=380, target_mm=(60, 50))
    eye = pose.eye_mm
    view = Viewpoint((float(eye[0]), float(eye[1])), float(eye[2]), True)
    along, across = (v @ np.eye(2) for v in (FRAME.along, FRAME.across))
    turned = np.array([[np.cos(TRUE.turn_rad), -np.sin(TRUE.turn_rad)],
                       [np.sin(TRUE.turn_rad), np.cos(TRUE.turn_rad)]])  # fmt: skip
    u, n = turned @ along, turned @ across
    corners = np.array([[0, 0, 0], [120, 0, 0], [120, 100, 0], [0, 100, 0]], float)
    matrix = _homography(corners[:, :2], project(camera, pose, corners))
    to_face = Projection.of_size(matrix, 1600, 1067).to_face
    for r in (0.0, 20.0, 44.0):
        flat = CENTRE + r * u + TRUE.beside_mm * n
        point = np.array([[*flat, TRUE.height_mm + r * np.tan(TRUE.pitch_rad)]])
        on_face = to_face(project(camera, pose, point))[0] - CENTRE
        beside = FRAME.line(TRUE, view, np.array([on_face @ along - 5, on_face @ along]))[1]
        assert beside == pytest.approx(on_face @ across, abs=1e-3)


def _homography(plane: np.ndarray, px: np.ndarray) -> np.ndarray:
    rows = []
    for (x, y), (a, b) in zip(plane, px, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -a * x, -a * y, -a], [0, 0, 0, x, y, 1, -b * x, -b * y, -b]]
    return np.linalg.svd(np.array(rows))[2][-1].reshape(3, 3)


def test_exact_lines_give_the_exact_needle() -> None:
    found = solve(FRAME, seen(), VIEWS, Standing(0, 0, 1.0, 0))
    for name in ("turn_rad", "beside_mm", "height_mm", "pitch_rad"):
        assert getattr(found.standing, name) == pytest.approx(getattr(TRUE, name), abs=2e-4), name
    assert found.chi2 < 1e-3
    assert found.degrees_of_freedom == 6


def test_the_covariance_is_what_noise_does() -> None:
    rng = np.random.default_rng(3)
    numbers, totals = [], []
    for _ in range(300):
        found = solve(FRAME, seen(rng), VIEWS, Standing(0, 0, 3.0, 0))
        s = found.standing
        numbers.append([s.turn_rad, s.beside_mm, s.height_mm, s.pitch_rad])
        totals.append(found.chi2)
    stated = np.sqrt(np.diag(found.covariance))
    assert np.std(numbers, axis=0) == pytest.approx(stated, rel=0.15)
    assert np.mean(totals) == pytest.approx(6.0, abs=3 * np.sqrt(12 / 300))
    assert np.mean(np.array(totals) > chi2.isf(0.05, 6)) == pytest.approx(0.05, abs=0.04)


@pytest.mark.parametrize(("total", "freedom"), [(0.0, 1), (3.84, 1), (12.59, 6), (27.9, 2)])
def test_the_chance_of_lines_is_that_of_chi_squared(total: float, freedom: int) -> None:
    """Equal to `scipy.stats`; 3.84 and 12.59 are 5 % points of printed tables (from memory)."""
    found = Solution(TRUE, np.eye(4), total, np.zeros(5), freedom)
    assert found.chance == chi2.sf(total, freedom)
    if total in (3.84, 12.59):
        assert found.chance == pytest.approx(0.05, abs=5e-5)


def test_views_along_the_needle_tell_no_height() -> None:
    along = [Viewpoint(tuple(CENTRE + d * FRAME.along), 320.0, True) for d in (0, 120, -120)]
    lines = [AxisSeen(AT, FRAME.line(TRUE, v, AT), 4e-4 * np.eye(2), np.zeros(2)) for v in along]
    found = solve(FRAME, lines, along, Standing(0, 0, 3.0, 0))
    assert np.sqrt(found.covariance[2, 2]) > 1.0  # mm: nothing


@pytest.fixture(scope="module")
def unit(tmp_path_factory):
    return draw_resting(tmp_path_factory.mktemp("unit"), 9101, 3)


def test_a_drawn_needle_from_a_wrong_height(unit) -> None:
    dial = unit.family.dials[0]
    needle = replace(dial.needle, height_mm=0.7 * dial.needle.height_mm, thickness_mm=0.9)
    guessed = replace(unit.family, dials=(replace(dial, needle=needle),))
    (found,) = measure_standing(guessed, unit.photos).needles
    assert len(found.photos) == 3
    assert found.left_out == ()
    height, pitch = found.height_mm, found.pitch_deg
    assert height.value == pytest.approx(dial.needle.height_mm, abs=0.3)
    assert abs(height.value - dial.needle.height_mm) <= 2.6 * height.u  # central 99 %
    assert 0.02 < height.u < 0.35
    assert abs(pitch.value - unit.seats[dial.id].pitch_deg) <= 2.6 * pitch.u
    assert pitch.u < 0.6


def test_one_side_alone_is_not_enough(unit) -> None:
    dial = unit.family.dials[0]
    alone = replace(unit.family, dials=(dial,))
    (found,) = measure_standing(alone, [unit.photos[0], unit.photos[0]]).needles
    assert found.height_mm.value is None
    assert found.height_mm.why_not.startswith("not enough data: the photos look across this needle")
