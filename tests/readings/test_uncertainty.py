"""The components of a direction's uncertainty: the formulas, and the page that derives them."""

import json
import re
import runpy
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from needlewright.cli.read import readings_document
from needlewright.families.folder import load_family
from needlewright.readings import uncertainty
from needlewright.readings.projection import Projection
from needlewright.readings.reader import FaceReader
from needlewright.readings.uncertainty import combined_deg, pitch_deg, registration_deg
from needlewright.readings.viewpoint import Viewpoint

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
PAGE = (DOCS / "uncertainty.md").read_text(encoding="utf-8")
SCHEMA = json.loads((DOCS / "json/read.schema.json").read_text(encoding="utf-8"))
CENTRE = np.array([80.0, 60.0])
LENGTH_MM = 40.0


def seen(**more: object) -> SimpleNamespace:
    needle = SimpleNamespace(length_mm=LENGTH_MM, pitch_u_deg=1.0)
    return SimpleNamespace(dial=SimpleNamespace(needle=needle), centre_mm=CENTRE, **more)


def test_components_add_by_squares() -> None:
    """JCGM 100:2008, 5.1.2, equation (10), sensitivities 1."""
    assert combined_deg((("fit", 0.03), ("pitch", 0.04), ("model", 0.12))) == pytest.approx(0.13)
    assert combined_deg(()) == 0.0


@pytest.mark.parametrize("angle_deg", [-110.0, 0.0, 37.0, 90.0, 171.0])
@pytest.mark.parametrize("tilt_deg", [0.0, 12.0, 33.0])
def test_pitch_against_points_seen_from_a_far_camera(angle_deg: float, tilt_deg: float) -> None:
    """A point at height h over X is seen on the face at X + h (X - F) / (Z - h)."""
    height_mm = 1e6
    away = height_mm * np.tan(np.radians(tilt_deg)) * np.array([np.sin(0.7), -np.cos(0.7)])
    viewpoint = Viewpoint(tuple(CENTRE - away), height_mm, focal_stated=True)
    a = np.radians(angle_deg)
    tip = CENTRE + LENGTH_MM * np.array([np.sin(a), -np.cos(a)])
    rise = LENGTH_MM * np.tan(np.radians(1.0))
    x, y = viewpoint.lifted(tip[None], rise)[0] - CENTRE
    turned = np.degrees(np.arctan2(x, -y)) - angle_deg
    # the tip also moves along the needle, by up to 1 %: the formula leaves that out
    assert pitch_deg(seen(viewpoint=viewpoint), angle_deg) == pytest.approx(
        abs((turned + 180) % 360 - 180), rel=0.02, abs=1e-4
    )


def test_pitch_of_one_degree_at_twenty_degrees() -> None:
    """atan(tan 1 tan 20) = 0.364 degrees across the needle; along it none."""
    away = 1e6 * np.tan(np.radians(20.0)) * np.array([1.0, 0.0])
    viewpoint = Viewpoint(tuple(CENTRE - away), 1e6, focal_stated=True)
    assert pitch_deg(seen(viewpoint=viewpoint), 0.0) == pytest.approx(0.3640, abs=5e-5)
    assert pitch_deg(seen(viewpoint=viewpoint), 90.0) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("angle_deg", [-75.0, 20.0, 140.0])
def test_registration_against_registrations_drawn_from_its_covariance(angle_deg: float) -> None:
    rng = np.random.default_rng(8)
    matrix = np.array([[7.0, 0.6, 200.0], [-0.4, 6.5, 150.0], [4e-4, -3e-4, 1.0]])
    projection = Projection.of_size(matrix, 1600, 1067)
    mixed = rng.normal(size=(9, 9)) * 2e-6
    spread = mixed @ mixed.T
    a = np.radians(angle_deg)
    ends = CENTRE + np.array([[0.0], [LENGTH_MM]]) * np.array([np.sin(a), -np.cos(a)])
    turns = []
    for step in rng.multivariate_normal(np.zeros(9), spread, size=3000):
        hub, tip = projection.to_face(projection.moved(step).to_photo(ends))
        x, y = tip - hub
        turns.append(np.degrees(np.arctan2(x, -y)) - angle_deg)
    stated = registration_deg(seen(projection=projection), angle_deg, spread)
    # the standard deviation of 3000 draws is known to 1.3 %
    assert stated == pytest.approx(np.std(turns), rel=0.05)


def test_a_shift_of_the_whole_photo_turns_nothing() -> None:
    projection = Projection.of_size(np.diag([7.0, 7.0, 1.0]), 1600, 1067)
    shift = np.zeros((3, 3))
    shift[0, 2] = 1e-3 * projection.matrix[2, 2]
    step = np.append(projection.tangent.T @ shift.reshape(9), 0.0)
    assert np.linalg.norm(step) > 1e-9
    # the part of the step along the matrix only scales it
    assert registration_deg(
        seen(projection=projection), 33.0, np.outer(step, step)
    ) == pytest.approx(0.0, abs=1e-6)


def test_the_budget_of_a_photo_is_whole_and_documented() -> None:
    """Squares of what the JSON names add up to what it states, to its last digit."""
    family = load_family(ROOT / "tests/data/families/fam-d")
    path = ROOT / "tests/data/photos/fam-d/photos/003.jpg"
    document = readings_document(family, [FaceReader(family).read_photo(path)], with_budget=True)
    Draft202012Validator(SCHEMA).validate(document)
    described = SCHEMA["$defs"]["dial"]["properties"]["budget_deg"]["properties"]
    read = [d for d in document["photos"][0]["dials"] if d["status"] == "read"]
    assert len(read) >= 2
    for dial in read:
        budget = dial["budget_deg"]
        # each of the five is rounded to 1e-6
        assert np.sqrt(sum(u * u for u in budget.values())) == pytest.approx(
            dial["u_angle_deg"], abs=2e-6
        )
        assert set(budget) == set(described)
        assert set(re.findall(r"^## `(\w+)`$", PAGE, re.M)) == set(budget)
    sum_shown = re.search(r"u_angle\^2 = (.+)", PAGE)
    assert sum_shown
    assert sum_shown.group(1) == " + ".join(f"{name}^2" for name in read[0]["budget_deg"])


def test_the_constants_on_the_page_are_the_programs() -> None:
    shown = dict(re.findall(r"^\| `([A-Z_]+)` \| ([\d.]+) \|", PAGE, re.M))
    assert shown
    assert {name: float(value) for name, value in shown.items()} == {
        name: getattr(uncertainty, name) for name in shown
    }


def test_the_measured_figures_on_the_page_are_the_benchmarks() -> None:
    made = runpy.run_path(str(DOCS / "make_uncertainty.py"))
    assert made["filled"](PAGE) == PAGE
