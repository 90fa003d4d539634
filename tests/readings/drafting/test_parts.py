"""The parts of a draft, each against exact truth, an outside library or a published formula."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares

from needlewright.errors import FamilyError
from needlewright.readings.drafting.convergence import converge, line_doubt
from needlewright.readings.drafting.descent import descend
from needlewright.readings.drafting.even import even_steps
from needlewright.readings.drafting.hidden import complete
from needlewright.readings.drafting.ink import angle_of, on_circle
from needlewright.readings.drafting.inputs import DraftInputs, TypedDial, TypedMark
from needlewright.readings.drafting.level import level_of
from needlewright.readings.drafting.plane import DialLines, fit_plane
from needlewright.readings.drafting.values import count_values, graduation_of
from needlewright.readings.drafting.view import View

ANGLES = np.linspace(-60.0, 75.0, 10)


def lines(centre, angles=ANGLES, radii=(80.0, 100.0), noise=0.0, seed=1):
    rng = np.random.default_rng(seed)
    ends = [on_circle(np.array(centre), angles, np.full(len(angles), r)) for r in radii]
    return [e + rng.normal(0.0, noise, e.shape) for e in ends]


def test_lines_meet_where_scipy_finds_them_and_a_stray_one_has_no_say():
    """Against SciPy's `least_squares` (a general-purpose library), on the same weighted lines."""
    inner, outer = lines((12.0, -7.0), noise=0.1)
    doubt = line_doubt(inner, outer, 0.1, np.array([12.0, -7.0]))
    met = converge(inner, outer, doubt)
    assert met is not None

    def past(centre):
        along = (outer - inner) / np.linalg.norm(outer - inner, axis=1)[:, None]
        out = inner - centre
        return (along[:, 0] * out[:, 1] - along[:, 1] * out[:, 0]) / doubt

    assert met.centre == pytest.approx(least_squares(past, np.zeros(2)).x, abs=0.15)
    stray_in, stray_out = np.vstack([inner, [[0.0, 40.0]]]), np.vstack([outer, [[90.0, 45.0]]])
    again = converge(stray_in, stray_out, np.append(doubt, doubt.mean()))
    assert again is not None
    assert again.centre == pytest.approx(met.centre, abs=0.05)
    assert abs(again.offsets[-1]) > 5.0


def test_parallel_lines_and_a_single_one_meet_nowhere():
    inner = np.array([[0.0, 0.0], [5.0, 0.0], [9.0, 0.0]])
    assert converge(inner, np.add(inner, (0.0, 10.0)), np.ones(3)) is None
    assert converge(inner[:1], inner[:1] + 1.0, np.ones(1)) is None


def test_the_stated_covariance_is_the_scatter_of_the_point():
    found, stated = [], []
    for seed in range(300):
        inner, outer = lines((0.0, 0.0), noise=0.2, seed=seed)
        # two ends of 0.2 each: the line at the centre, 4.5 lengths away from its middle
        doubt = np.full(len(inner), 0.2 * np.sqrt((100.0 / 20.0) ** 2 + (80.0 / 20.0) ** 2))
        met = converge(inner, outer, doubt)
        assert met is not None
        found.append(met.centre)
        stated.append(np.sqrt(np.diag(met.covariance)))
    ratio = np.std(found, axis=0) / np.median(stated, axis=0)
    assert ratio == pytest.approx(np.ones(2), abs=0.25)


def test_descent_ends_where_scipy_does():
    """Against SciPy's `least_squares`: Rosenbrock's function, robustly and plainly a line."""

    def rosenbrock(x):
        return np.array([10.0 * (x[1] - x[0] ** 2), 1.0 - x[0]])

    least = descend(rosenbrock, np.array([-0.5, 0.7]), np.ones(2), robust=False)
    assert least.x == pytest.approx(least_squares(rosenbrock, [-0.5, 0.7]).x, abs=1e-3)
    at = np.arange(12.0)
    seen = 3.0 + 0.5 * at
    seen[4] += 30.0

    def off(x):
        return (x[0] + x[1] * at - seen) / 0.1

    robust = descend(off, np.zeros(2), np.ones(2), robust=True).x
    theirs = least_squares(off, np.zeros(2), loss="soft_l1").x
    assert robust == pytest.approx(theirs, abs=0.02)
    assert robust == pytest.approx([3.0, 0.5], abs=0.05)


def test_a_tilted_plane_falls_where_opencv_projects_it():
    """Against OpenCV's `projectPoints`, the same turn and focal length, no distortion."""
    view = View((0.21, -0.13), 900.0, 0.0, (801, 601))
    points = np.array([[0.0, 0.0], [120.0, -40.0], [-200.0, 150.0]])
    camera = np.array([[900.0, 0, 400], [0, 900.0, 300], [0, 0, 1]])
    theirs, _ = cv2.projectPoints(
        np.column_stack([points, np.zeros(3)]),
        np.array([0.21, -0.13, 0.0]),
        np.array([0.0, 0.0, 900.0]),
        camera,
        None,
    )
    assert view.projection.to_photo(points) == pytest.approx(theirs[:, 0], abs=1e-6)
    assert view.tilt_deg == pytest.approx(np.degrees(np.hypot(0.21, 0.13)))


def kasa(points):
    """Algebraic circle fit: I. Kasa, IEEE Trans. Instrum. Meas. 25 (1976) 8-14 (from memory)."""
    design = np.column_stack([2 * points, np.ones(len(points))])
    solution, *_ = np.linalg.lstsq(design, np.sum(points**2, axis=1), rcond=None)
    return solution[:2]


def dial_lines(view, centre, seed, angles=ANGLES, noise=0.05):
    inner, outer = lines(centre, angles)
    rng = np.random.default_rng(seed)
    at = [view.projection.to_photo(e) + rng.normal(0, noise, e.shape) for e in (inner, outer)]
    return DialLines(
        at[0],
        at[1],
        np.zeros(len(angles), int),
        np.ones(len(angles)),
        np.ones((len(angles), 2), bool),
    )


def test_on_a_scan_the_centre_is_that_of_a_circle_fit():
    view = View((0.0, 0.0), 640.0, 0.0, (640, 400))
    made = dial_lines(view, (31.0, -12.0), 3, np.linspace(-140, 140, 24))
    plane = fit_plane([made], np.array([[28.0, -10.0]]), view, focal_stated=True, flat=True)
    assert plane.centres[0] == pytest.approx([31.0, -12.0], abs=0.05)
    ends = view.projection.to_face(made.outer_px)
    assert plane.centres[0] == pytest.approx(kasa(ends), abs=0.05)


@pytest.mark.parametrize("tilt", [(0.0, 0.0), (0.12, -0.2), (-0.35, 0.1)])
def test_the_tilt_shows_in_where_marks_end(tilt):
    view = View(tilt, 640.0, 0.0, (640, 400))
    full = np.linspace(-125, 125, 26)
    made = [dial_lines(view, c, s, full) for s, c in enumerate([(-150.0, 10.0), (140.0, 25.0)])]
    start = View((0.0, 0.0), 640.0, 0.0, (640, 400))
    guess = start.projection.to_face(
        view.projection.to_photo(np.array([(-150.0, 10.0), (140.0, 25.0)]))
    )
    plane = fit_plane(made, guess, start, focal_stated=True)
    assert plane.view.tilt == pytest.approx(tilt, abs=4 * np.radians(plane.tilt_doubt_deg) + 1e-3)
    assert plane.tilt_doubt_deg < 0.4
    apart = np.linalg.norm(plane.centres[1] - plane.centres[0])
    assert apart == pytest.approx(np.hypot(290.0, 15.0), abs=0.6)


@given(st.floats(-150, 60), st.floats(3, 12), st.integers(8, 30))
def test_an_even_scale_is_known_and_its_missing_mark_leaves_a_step(start, pitch, count):
    angles = start + pitch * np.arange(count)
    if angles[-1] - angles[0] < 62 or angles[-1] - angles[0] > 330:
        assert even_steps(angles[:5], 100.0) is None
        return
    kept = np.delete(np.arange(count), 2)
    steps = even_steps(angles[kept], 100.0)
    assert steps is not None
    assert (steps - steps[0]).tolist() == kept.tolist()


def test_a_scale_that_bunches_up_is_not_even():
    assert even_steps(np.array([-48, -37, -27, -15, -4, 8, 20, 35, 50.0]), 90.0) is None


def test_values_are_counted_between_typed_marks_and_beyond_them():
    major = np.array([True, False, True, False, True, False, True])
    counted = count_values("speed", major, ((2, 20.0), (4, 40.0)))
    assert counted.values == (0.0, None, 20.0, None, 40.0, None, 60.0)
    assert counted.remarks == ()
    assert graduation_of(counted.values) == 10.0
    falling = count_values("temp", major, ((0, 130.0), (6, 50.0)))
    assert falling.values[::2] == pytest.approx([130.0, 103.333333, 76.666667, 50.0], abs=1e-5)
    assert "a mark may be missing" in falling.remarks[0]


def test_a_third_typed_value_changes_the_step():
    counted = count_values("boost", np.ones(5, bool), ((0, 0.0), (2, 2.0), (4, 12.0)))
    assert counted.values == (0.0, 1.0, 2.0, 7.0, 12.0)
    assert graduation_of(counted.values) is None


def test_values_that_go_up_and_down_are_refused():
    with pytest.raises(FamilyError, match="run 0, 40, 20 along the scale; they must all rise"):
        count_values("speed", np.ones(3, bool), ((0, 0.0), (1, 40.0), (2, 20.0)))


def test_a_major_mark_under_a_needle_is_put_between_its_minor_ones():
    angles = np.array([0, 10, 20, 30, 50, 60, 70, 80.0])  # the mark at 40 is hidden
    major = np.array([1, 0, 1, 0, 0, 1, 0, 1], bool)
    whole = complete(angles, major)
    assert whole.angles_deg.tolist() == [0, 10, 20, 30, 40, 50, 60, 70, 80]
    assert whole.origin.tolist() == [0, 1, 2, 3, -1, 4, 5, 6, 7]
    assert whole.major.tolist() == [True, False] * 4 + [True]
    assert whole.doubt_deg[4] == pytest.approx(0.5)
    assert complete(angles[:4], major[:4]).origin.tolist() == [0, 1, 2, 3]


def test_level_is_what_most_lines_between_dials_agree_on():
    view = View((0.0, 0.0), 640.0, 0.0, (640, 400))
    turn = np.radians(3.0)
    axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    centres = np.array([[-200.0, 0], [200.0, 0], [0.0, -60], [0.0, 60]]) @ axes
    dials = tuple(
        TypedDial(f"d{i}", (0, 0), (TypedMark((0, 0), 0), TypedMark((1, 1), 1)), "V")
        for i in range(4)
    )
    level = level_of(DraftInputs("x", dials), centres, view.projection)
    assert level.turned_deg == pytest.approx(3.0)
    assert "d0-d1" in level.words
    assert "d2-d3" in level.words
    assert angle_of(np.zeros(2), np.array([1.0, 0.0])) == pytest.approx(90.0)
    typed = DraftInputs("x", dials, level_px=((100.0, 100.0), (300.0, 120.0)))
    assert level_of(typed, centres, view.projection).turned_deg == pytest.approx(5.7106, abs=1e-3)
    aslant = level_of(DraftInputs("x", dials[:1]), centres[:1], view.projection)
    assert (aslant.turned_deg, "no two dials" in aslant.words) == (0.0, True)
