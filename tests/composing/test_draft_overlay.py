"""The line drawn on a mark: as long as it was seen, and as far past the centre.

Derivation: a point at the distance r along a line that passes the centre at p is sqrt(r^2 - p^2)
from the foot of the perpendicular.
"""

from dataclasses import replace

import numpy as np
import pytest

from needlewright.composing.draft_overlay import mark_line
from needlewright.readings.drafting.drafting import draft_family
from needlewright.readings.drafting.model import DraftDial, DraftMark
from readings.drafting.drawn_face import clicks, drawn, named


@pytest.fixture(scope="module")
def dial() -> DraftDial:
    return draft_family(clicks(), named(drawn()), bare=True).draft.dials[0]


@pytest.mark.parametrize("past_mm", [0.4, -0.4, 0.0])
@pytest.mark.parametrize("angle_deg", [-120.0, 0.0, 75.0])
def test_a_line_passes_the_centre_as_far_aside_as_it_was_seen(
    dial: DraftDial, angle_deg: float, past_mm: float
) -> None:
    mark = DraftMark(angle_deg, 0.1, True, 20.0, 18.0, 23.0, past_mm=past_mm)
    inner, outer = mark_line(dial, mark) - np.array(dial.centre_mm)
    assert np.linalg.norm(inner) == pytest.approx(18.0, abs=1e-9)
    assert np.linalg.norm(outer) == pytest.approx(23.0, abs=1e-9)
    along = (outer - inner) / np.linalg.norm(outer - inner)
    right = np.array([-along[1], along[0]])  # seen outwards, y down
    assert inner @ right == pytest.approx(past_mm, abs=1e-9)
    x, y = (inner + outer) / 2
    assert np.degrees(np.arctan2(x, -y)) == pytest.approx(angle_deg, abs=1e-3)


def test_a_mark_placed_by_hand_points_at_the_centre(dial: DraftDial) -> None:
    mark = replace(dial.marks[3], past_mm=None)
    ends = mark_line(dial, mark) - np.array(dial.centre_mm)
    turn = np.radians(mark.angle_deg)
    assert ends @ np.array([np.cos(turn), np.sin(turn)]) == pytest.approx([0.0, 0.0], abs=1e-9)
