"""The camera's place from a registration, against cameras placed by hand (pinhole model)."""

import numpy as np
import pytest

from needlewright.readings.projection import Array, Projection
from needlewright.readings.viewpoint import Viewpoint, viewpoint_of

SHAPE = (1067, 1600)


def seen_from(place_mm: Array, look_at_mm: Array, focal_px: float) -> Projection:
    """Face points (z up toward the camera) through a pinhole at a place."""
    forward = np.append(look_at_mm, 0.0) - place_mm
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, -1.0, 0.0])
    right *= np.sign(right[0]) / np.linalg.norm(right)
    down = np.cross(forward, right)
    down *= np.sign(down[1])
    axes = np.stack([right, down, forward])
    pose = np.column_stack([axes[:, 0], axes[:, 1], -axes @ place_mm])
    matrix = np.array([[focal_px, 0, 799.5], [0, focal_px, 533.0], [0, 0, 1]]) @ pose
    return Projection.of_size(matrix, SHAPE[1], SHAPE[0])


@pytest.mark.parametrize("place", [[150.0, 60.0, 400.0], [40.0, 180.0, 300.0]])
def test_with_a_stated_focal_length_the_place_is_exact(place: list[float]) -> None:
    projection = seen_from(np.array(place), np.array([140.0, 62.0]), 1500.0)
    found = viewpoint_of(projection, 1500.0 / 1600 * 36, SHAPE)
    assert [*found.foot_mm, found.height_mm] == pytest.approx(place, abs=0.01)
    assert found.focal_stated


def test_without_one_an_oblique_view_tells_it() -> None:
    place = np.array([40.0, 250.0, 300.0])
    projection = seen_from(place, np.array([140.0, 62.0]), 1900.0)
    found = viewpoint_of(projection, None, SHAPE)
    # What the fit takes parallax to be known to: see PARALLAX_DOUBT in needle_fit.
    assert [*found.foot_mm, found.height_mm] == pytest.approx(place, abs=0.05 * place[2])
    assert not found.focal_stated


def test_a_lifted_point_is_seen_further_from_the_foot() -> None:
    """X + h (X - F) / (Z - h), by similar triangles."""
    view = Viewpoint((100.0, 50.0), 400.0, True)
    moved = view.lifted(np.array([[140.0, 80.0]]), 4.0)
    assert moved == pytest.approx(np.array([[140.0 + 4 * 40 / 396, 80.0 + 4 * 30 / 396]]))


def test_slant_points_away_from_the_foot() -> None:
    view = Viewpoint((100.0, 50.0), 400.0, True)
    tangent, lean_deg = view.slant(np.array([140.0, 50.0]))
    assert tangent == pytest.approx(0.1)
    assert lean_deg == pytest.approx(90.0)
