"""The stated truth against the pictures themselves, by a measure that knows nothing of drawing.

What a needle adds to a picture is the difference of two frames, one with and one without it. Each
changed pixel is carried back to the face by the stated camera (its equation is written out here
once more), and the direction is the principal axis of what was carried back.
"""

from collections.abc import Iterator

import numpy as np
import pytest

from needlewright.families.model import Family
from needlewright.rehearsal.camera import Camera, Pose, place_camera
from needlewright.rehearsal.fixed_view import FixedView
from needlewright.rehearsal.invent import generate_family
from needlewright.rehearsal.light import Light
from needlewright.rehearsal.outline import bar_of, finish_of, true_seats
from needlewright.rehearsal.painting import fineness
from needlewright.rehearsal.white_noise import CASES, white_noise_scene
from needlewright.rehearsal.window import parts_of, window_around, window_rays

NO_SHADOW = Light(room=0.8, lamp=0.0)


@pytest.fixture(scope="module")
def family(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Family]:
    return generate_family(5, tmp_path_factory.mktemp("drawn") / "drawn-0005")


def principal_axis_deg(x: np.ndarray, y: np.ndarray, weight: np.ndarray) -> float:
    """Clockwise from 12 o'clock, modulo 180."""
    total = weight.sum()
    x, y = x - (weight * x).sum() / total, y - (weight * y).sum() / total
    xx, yy, xy = ((weight * a * b).sum() for a, b in ((x, x), (y, y), (x, y)))
    # The axis makes half the double angle with x; 12 o'clock lies a quarter turn before x.
    return float(np.degrees(0.5 * np.arctan2(2 * xy, xx - yy)) + 90.0)


def off_deg(axis_deg: float, angle_deg: float) -> float:
    return (axis_deg - angle_deg + 90.0) % 180.0 - 90.0


def on_plane(camera: Camera, pose: Pose, u: np.ndarray, v: np.ndarray, z_mm: float) -> np.ndarray:
    """Points at a height over the face that pixels see, by the equations of truth.json."""
    bent_x, bent_y = (u - camera.cx_px) / camera.focal_px, (v - camera.cy_px) / camera.focal_px
    x, y = bent_x.copy(), bent_y.copy()
    for _ in range(30):
        r2 = x * x + y * y
        bend = 1 + camera.k1 * r2 + camera.k2 * r2 * r2
        x, y = bent_x / bend, bent_y / bend
    rays = np.stack([x, y, np.ones_like(x)], axis=-1) @ pose.turn
    eye = -pose.turn.T @ pose.shift_mm
    reach = (z_mm - eye[2]) / rays[:, 2]
    return eye[:2] + reach[:, None] * rays[:, :2]


@pytest.mark.parametrize(("tilt", "limit"), [((0.0, 0.0), 0.12), ((22.0, -14.0), 0.2)])
def test_a_frame_shows_each_needle_where_it_is_said_to_be(family: Family, tilt, limit):
    """Print of the needle's colour under it, and obliquely its side, turn this simple measure."""
    worst = 0.0
    width, height = family.face_size_mm
    camera = Camera(1600, 1067, 2222.0, 803.1, 529.7, k1=-0.05, k2=0.01)
    pose = place_camera(
        pitch_deg=tilt[0], yaw_deg=tilt[1], distance_mm=520, target_mm=(width / 2, height / 2)
    )
    view = FixedView(family, camera, pose, light=NO_SHADOW, noise=0.0, softness_px=0.0)
    bare = view.frame({}).astype(float)
    for dial in family.dials:
        needle = dial.needle
        for angle_deg in (-151.3, -63.7, 12.2, 88.9):
            changed = np.abs(view.frame({dial.id: angle_deg}) - bare).max(axis=2)
            v, u = np.nonzero(changed > 0)
            weight = changed[v, u]
            at = on_plane(camera, pose, u.astype(float), v.astype(float), needle.height_mm)
            at -= np.array(dial.centre_mm)
            free = np.hypot(*at.T) > 1.5 * needle.hub_radius_mm  # the cap, and what it hides
            free &= at @ [np.sin(np.radians(angle_deg)), -np.cos(np.radians(angle_deg))] > 0
            axis = principal_axis_deg(at[free, 0], at[free, 1], weight[free])
            worst = max(worst, abs(off_deg(axis, angle_deg)))
    assert worst < limit


def test_white_noise_scenes_hold_the_stated_noise_and_direction():
    case = CASES[0]
    scene = white_noise_scene(case, 33.3, seed=2, offset_px=1.5)
    clean = np.mean(
        [white_noise_scene(case, 33.3, seed=s, offset_px=1.5).picture for s in range(200)], axis=0
    )
    bar = np.clip(clean - scene.bare, 0, None) * (clean - scene.bare > case.contrast / 4)
    y, x = np.mgrid[: bar.shape[0], : bar.shape[1]]
    assert off_deg(principal_axis_deg(x, y, bar), 33.3) == pytest.approx(0.0, abs=0.05)
    noise = scene.picture - clean
    assert noise.std() == pytest.approx(case.sigma, rel=0.02)
    beside = np.mean(noise[:, 1:] * noise[:, :-1]) / noise.var()
    assert abs(beside) < 0.03  # white: neighbours know nothing of each other
    assert noise.mean() == pytest.approx(0.0, abs=0.1)


def test_the_bound_of_every_case_is_what_the_formula_gives():
    # Cramer-Rao bound of a bar's direction with its offset free, worked by hand for four views.
    bounds = [case.bound_deg for case in CASES]
    assert bounds == pytest.approx([0.064, 0.0027, 0.0009, 0.26], rel=0.06)


def test_edges_are_covered_exactly(family: Family):
    """The cover of a needle's top, the finest part of a drawing, before any light."""
    camera = Camera(1600, 1067, 2222.0, 799.5, 533.0)
    width, height = family.face_size_mm
    pose = place_camera(distance_mm=600, target_mm=(width / 2, height / 2))
    seats = true_seats(family)
    off = []
    for dial in family.dials:
        for angle_deg in np.linspace(-170, 170, 35) + 0.123:
            bar = bar_of(dial, finish_of(family, dial), seats[dial.id], float(angle_deg))
            window = window_around(camera, pose, bar.corners_mm())
            assert window is not None
            fine, pixels = fineness(window), window_rays(camera, pose, window)
            parts = parts_of(camera, pose, window, bar.near(pixels), fine)
            along, across = bar.per_px(pixels)
            top, _ = bar.cover(parts.rays, (along / fine, across / fine))
            axis = principal_axis_deg(
                parts.columns.astype(float), parts.rows.astype(float), top.mean(axis=1)
            )
            off.append(abs(off_deg(axis, angle_deg)))
    # The shortest needle is 73 px long; one in the direction of the pixels is the worst case.
    assert np.median(off) < 0.001
    assert max(off) < 0.02
