"""The electrical sums of the workbench against figures printed elsewhere; each names its source."""

import pytest

from needlewright.plans.sums.lamp_life import lamp_at


def test_a_lamp_below_its_rated_voltage():
    # Standard Handbook for Electrical Engineers, 11th ed., 22-8 (seen second-hand): at 13.5 V a
    # lamp of 14 V gives 0.880 of its light with the exponent 3.5, and lives 1.55 times as
    # long with 12.
    lamp = lamp_at(13.5, 14.0)
    assert round(lamp.light[0], 3) == 0.880
    assert round(lamp.life[0], 2) == 1.55
    # The same source: current with the power 0.55, power with 1.6 (computed).
    assert lamp.current == pytest.approx(0.98020, abs=5e-6)
    assert lamp.power == pytest.approx(0.94347, abs=5e-6)
