"""The scale laid over a photo, with a projection that scales by ten and shifts."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from needlewright.families.folder import load_family
from needlewright.readings.outline import outline_of

FAMILY = load_family(Path(__file__).parents[1] / "data" / "families" / "fam-a")


class TenTimes:
    def to_photo(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        return 10 * points_mm + np.array([100.0, 200.0])


def test_marks_lie_where_the_scale_says() -> None:
    dial = FAMILY.dial("speed")
    assert dial is not None
    outline = outline_of(dial, TenTimes())
    x0, y0 = 10 * dial.centre_mm[0] + 100, 10 * dial.centre_mm[1] + 200
    assert outline.centre_px == pytest.approx((x0, y0))
    assert len(outline.marks_px) == 10
    (ix, iy), (ox, oy) = outline.marks_px[4]  # 80 km/h, at -16.279 degrees
    assert np.degrees(np.arctan2(ix - x0, y0 - iy)) == pytest.approx(-16.279)
    assert np.degrees(np.arctan2(ox - x0, y0 - oy)) == pytest.approx(-16.279)
    assert np.hypot(ix - x0, iy - y0) == pytest.approx(349.5)
    assert np.hypot(ox - x0, oy - y0) == pytest.approx(349.5 * 1.09)


def test_arc_runs_from_the_first_mark_to_the_last_and_the_hub_is_closed() -> None:
    dial = FAMILY.dial("fuel")
    assert dial is not None
    outline = outline_of(dial, TenTimes())
    assert outline.arc_px[0] == pytest.approx(outline.marks_px[0][0])
    assert outline.arc_px[-1] == pytest.approx(outline.marks_px[-1][0])
    assert outline.hub_px[0] == pytest.approx(outline.hub_px[-1])
    radii = np.hypot(*(np.array(outline.hub_px) - outline.centre_px).T)
    assert radii == pytest.approx(52.8)
