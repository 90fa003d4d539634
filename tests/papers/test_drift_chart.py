"""The drift of check points drawn: on a sheet it leaves the sheet's own ground."""

import pytest

from needlewright.papers import ink
from needlewright.papers.drift_chart import drift_charts_svg
from needlewright.papers.drift_lines import DriftChart, DriftLine


@pytest.mark.parametrize("ground", [True, False])
def test_only_a_screen_has_a_ground_of_its_own(ground: bool):
    line = DriftLine("40 km/h", ((0.0, 0.0), (1.0, 0.1)))
    svg = drift_charts_svg([DriftChart("speed", "too few looks", (line,), ())], 1.0, ground=ground)
    assert (f'fill="{ink.PAPER}"' in svg) is ground
    assert "40 km/h" in svg
