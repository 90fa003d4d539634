"""A body that cools as a whole, against the example of a textbook of heat transfer."""

from math import pi

import pytest

from needlewright.bench.soak import lumped_s
from needlewright.bench.warming import Known, Warming


def test_the_thermocouple_of_the_textbook():
    # Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, example 5.1 (from memory): a
    # junction of 0.706 mm, 8500 kg/m3, 400 J/(kg K), in gas of 200 degC at 400 W/(m2 K), has a
    # time constant of 1 s and comes from 25 to 199 degC in 5.2 s
    diameter_m = 7.06e-4
    mass_kg = 8500.0 * pi * diameter_m**3 / 6.0
    tau_s = lumped_s(mass_kg, 400.0, 400.0, pi * diameter_m**2)
    assert tau_s == pytest.approx(1.0, abs=0.005)
    junction = Warming(Known(25.0, 0.0), Known(200.0, 0.0), Known(tau_s, 0.0), 0.0)
    assert junction.seconds_until(199.0) == pytest.approx(5.2, abs=0.05)
    assert junction.near(1.0) == pytest.approx(5.2, abs=0.05)


@pytest.mark.parametrize(("constants", "left"), [(1, 0.368), (2, 0.135), (3, 0.050), (5, 0.0067)])
def test_what_is_left_after_so_many_time_constants(constants: int, left: float):
    # e to the minus n, any table of the exponential
    body = Warming(Known(1.0, 0.0), Known(0.0, 0.0), Known(60.0, 0.0), 0.0)
    assert body.degc_at(60.0 * constants) == pytest.approx(left, abs=5e-4)
