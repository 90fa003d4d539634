"""The programme of a dial out of a sound unit's run.

Two points are a straight line: held against `plans.line_fit`, which is checked against JCGM
100:2008, H.3 elsewhere. That 95 % intervals hold in 95 % of runs: binomial law, central 99 %.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom

from needlewright.families.model import Dial, Programme
from needlewright.plans.line_fit import fit_line
from needlewright.plans.programme_fit import fit_programme
from plans.made_runs import made_rows, noise, points
from proofs.drawn_job import FAMILY

PLAIN = replace(FAMILY.dials[1], programme=Programme(), rule=None)
TOP = PLAIN.scale.values[-1]
TRUE = Programme((0.0, 0.36 * TOP, 0.9 * TOP), (0.0, 0.39 * TOP, 0.93 * TOP))
"""Bent at a value that is commanded."""


def fitted(dial: Dial, rows, ecc_mm: float = 0.0):
    """Fitted by a family that knows no programme."""
    return fit_programme(replace(dial, programme=Programme()), rows, ecc_mm)


def test_the_points_are_found_again_and_no_more_than_needed() -> None:
    dial = replace(PLAIN, programme=TRUE)
    found = fitted(dial, made_rows(dial, u_deg=0.02))
    assert found.faults == ()
    assert found.programme.shown_at(0.36 * TOP) == pytest.approx(0.39 * TOP, abs=0.006)
    assert found.programme.shown_at(0.9 * TOP) == pytest.approx(0.93 * TOP, abs=0.006)
    assert [round(p.true_value / TOP, 2) for p in found.points] == [0, 0.36, 0.9]
    assert not found.is_identity
    assert found.rows == 11  # all but the one at rest


def test_a_unit_that_shows_the_truth_needs_no_programme() -> None:
    rng = np.random.default_rng(5)
    found = fitted(PLAIN, made_rows(PLAIN, noise(rng, 0.06, 0.15)), 0.15)
    assert (found.is_identity, found.faults) == (True, ())
    assert found.programme == Programme()


def test_two_points_are_the_weighted_line_of_the_gum() -> None:
    rng = np.random.default_rng(11)
    dial = replace(PLAIN, programme=Programme((0.0, TOP), (2.0, 1.03 * TOP + 2.0)))
    rows = made_rows(dial, noise(rng, 0.06, 0.15))
    found = fitted(dial, rows)
    assert len(found.points) == 2
    free = [row for row in rows if row.commanded is not None and not row.on_stop]
    repeats = dial.movement.repeatability_deg
    u = [dial.scale.slope_at(row.angle_deg) * np.hypot(row.u_angle_deg, repeats) for row in free]
    line = fit_line([row.commanded for row in free], [row.indicated for row in free], u)
    for point in found.points:
        # stated to a tenth of u or finer
        rounded = pytest.approx(line.value_at(point.true_value), abs=0.05 * point.u_shown)
        assert point.shown_value == rounded
        assert point.u_shown == pytest.approx(line.u_value_at(point.true_value), rel=1e-6)


def test_the_stated_intervals_hold() -> None:
    """Each end by itself: the two of one run go together, and are no two trials."""
    dial = replace(PLAIN, programme=Programme((0.0, TOP), (1.0, 1.04 * TOP + 1.0)))
    runs, held = 150, np.zeros(2, dtype=int)
    for seed in range(runs):
        rng = np.random.default_rng(seed)
        points_of_run = fitted(dial, made_rows(dial, noise(rng, 0.06, 0.15))).points
        for i, point in enumerate((points_of_run[0], points_of_run[-1])):
            off = point.shown_value - dial.programme.shown_at(point.true_value)
            held[i] += abs(off) <= 1.96 * point.u_shown
    low, high = binom.interval(0.99, runs, 0.95)
    assert (held >= low).all(), held
    assert (held <= high).all(), held


def test_rows_that_state_no_uncertainty_are_weighed_alike() -> None:
    """An exact movement read exactly: still no better than 0.02 deg (common practice)."""
    exact = replace(PLAIN, movement=replace(PLAIN.movement, repeatability_deg=0.0), programme=TRUE)
    found = fitted(exact, made_rows(exact, u_deg=0.0))
    assert found.faults == ()
    floored = fitted(exact, made_rows(exact, u_deg=0.02))
    assert [p.true_value for p in found.points] == [p.true_value for p in floored.points]
    for zero, least in zip(found.points, floored.points, strict=True):
        assert zero.u_shown == pytest.approx(least.u_shown, rel=1e-9)
        assert zero.u_shown > 0


def test_the_seat_of_the_shaft_widens_every_point() -> None:
    """Independent parts add in squares; slope of the scale by differences (JCGM 100:2008, 5.1)."""
    dial = replace(PLAIN, programme=TRUE)
    rows = made_rows(dial)
    without, with_it = fitted(dial, rows), fitted(dial, rows, 0.15)
    turn_deg, scale, half = np.degrees(0.15 / dial.needle.length_mm), dial.scale, 0.5
    assert len(with_it.points) == 3
    for narrow, wide in zip(without.points, with_it.points, strict=True):
        at = dial.programme_angle_deg(wide.true_value)
        slope = (scale.value_at(at + half) - scale.value_at(at - half)) / (2 * half)
        expected = np.hypot(narrow.u_shown, slope * turn_deg)
        assert wide.u_shown == pytest.approx(expected, rel=0.001)
        assert wide.u_shown > 1.2 * narrow.u_shown


@pytest.mark.parametrize(("error", "says"), [
    (lambda i, told, way: 1.5 if way == "up" else -1.5, "rising and falling differ by 3.0 deg"),
    (lambda i, told, way: 4.0 if i >= 8 else 0.0, "rising and falling differ|jumps|scatter"),
    (lambda i, told, way: 2.0 * (i % 3 - 1), "rising and falling differ|jumps|scatter"),
])  # fmt: skip
def test_a_run_that_shows_a_fault_gives_no_programme(error, says) -> None:
    found = fitted(PLAIN, made_rows(PLAIN, error))
    assert found.points == ()
    assert len(found.faults) == 1
    assert any(word in found.faults[0] for word in says.split("|"))


def test_a_needle_seated_wrong_is_no_programme() -> None:
    found = fitted(PLAIN, made_rows(PLAIN, seat_deg=2.0))
    assert found.points == ()
    assert found.faults == (
        "every row stands +2.0 deg from where it should: the needle is seated wrong; set it first",
    )


def test_a_needle_that_stands_still_is_no_sound_one() -> None:
    stuck = PLAIN.programme_angle_deg(0.3 * TOP)

    def error(i: int, told: float, way: str) -> float:
        return stuck - PLAIN.programme_angle_deg(told) if told > 0.3 * TOP else 0.0

    found = fitted(PLAIN, made_rows(PLAIN, error))
    assert found.points == ()
    assert "the needle stands still between" in found.faults[0]


def test_too_little_is_said_to_be_too_little() -> None:
    rows = [row for row in made_rows(PLAIN) if row.commanded is None or row.commanded < 0.5 * TOP]
    found = fitted(PLAIN, rows)
    assert found.faults[0].startswith("not enough data: ")
    assert "of the scale; take a run with 3 or more over at least 60 % of it" in found.faults[0]
    ups = [row for row in made_rows(PLAIN, rest=False) if row.approach == "up"]
    assert [remark.split(",")[0] for remark in fitted(PLAIN, ups).remarks] == [
        "every value was told from one side only",
        "the uncertainty of what commanded the dial is not stated and is not in here",
        "the needle was not read at rest",
    ]
    assert len(points(PLAIN)) == 11
