"""The efficiency benchmark: its geometry, its arithmetic, and one case read."""

import numpy as np
import pytest
from benchmarks.efficiency import AT_MOST, Scatter, scatter_of, table_of, view_of
from benchmarks.tables import as_document

from needlewright.rehearsal.white_noise import CASES, white_noise_scene


def test_the_view_sees_the_needle_where_it_was_drawn() -> None:
    """90 degrees: to the right; an offset clockwise is downward; picture values untouched."""
    scene = white_noise_scene(CASES[0], 90.0, seed=3, offset_px=2.0)
    view = view_of(scene)
    offset_mm = np.array(2.0 / 4.0)
    at = view.projection.to_photo(view.along_needle(90.0, np.array(10.0), offset_mm))
    column, row = scene.centre_px
    assert at == pytest.approx([column + 40.0, row + 2.0], abs=1e-3)
    assert view.px_per_mm == pytest.approx(4.0)
    assert view.pixels[:, :, 1] == pytest.approx(scene.picture, abs=1e-4)


def test_the_ratio_and_its_interval() -> None:
    case = CASES[0]
    errors = np.tile([1.2, -1.2], 50) * case.bound_deg
    one = Scatter(case, errors, np.full(100, 0.5 * case.bound_deg), errors * 2, 0, 0.02)
    assert one.ratio == pytest.approx(1.2)
    # chi square with 100 degrees of freedom: 2.5 % and 97.5 % points 74.222 and 129.561
    # (NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.4)
    assert one.ratio_range == pytest.approx(
        (1.2 * np.sqrt(100 / 129.561), 1.2 * np.sqrt(100 / 74.222)), rel=1e-5
    )
    assert one.met
    (row,) = as_document(table_of([one]))["rows"]
    assert row == [
        "small dial, webcam", "100", "0.0643", "0.0772", "1.20", "1.05 to 1.39", "<= 1.3", "met",
        "0.50", "2.4", "20",
    ]  # fmt: skip


def test_a_refused_needle_misses() -> None:
    one = Scatter(CASES[0], np.full(99, 0.01), np.full(99, 0.05), np.zeros(0), 1, 0.02)
    assert not one.met
    assert as_document(table_of([one]))["rows"][0][7] == "1 refused"


def test_the_bound_is_nearly_reached_on_a_small_dial() -> None:
    one = scatter_of(CASES[0], 60, seed=1)
    assert one.refused == 0
    low, _ = one.ratio_range
    assert 0.8 < one.ratio < AT_MOST
    assert low < 1.15
