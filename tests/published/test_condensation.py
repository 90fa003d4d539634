"""Dew points against a library that was made for them, and vapour pressures against a handbook."""

import pytest

from needlewright.bench.condensation import dew_point_degc, saturation_pa
from needlewright.errors import RunError


@pytest.mark.parametrize(
    ("degc", "humidity", "dew_degc"),
    [
        # psychrolib 2.5.0, GetTDewPointFromRelHum: the ASHRAE Handbook Fundamentals (2017),
        # chapter 1, equations 5 and 6; computed with it
        (20.0, 0.50, 9.272),
        (23.0, 0.45, 10.440),
        (25.0, 0.60, 16.701),
        (30.0, 0.80, 26.169),
        (15.0, 0.40, 1.522),
        (10.0, 0.90, 8.437),
        (35.0, 0.30, 14.844),
    ],
)
def test_dew_points_above_freezing(degc: float, humidity: float, dew_degc: float):
    assert dew_point_degc(degc, humidity) == pytest.approx(dew_degc, abs=0.03)


@pytest.mark.parametrize(
    ("degc", "pa"),
    [
        # vapour pressure of water, CRC Handbook of Chemistry and Physics, section 6 (from memory;
        # psychrolib 2.5.0, GetSatVapPres, gives the same within 0.01 %)
        (0.0, 611.2),
        (10.0, 1228.0),
        (20.0, 2338.8),
        (30.0, 4246.0),
    ],
)
def test_vapour_pressures_within_what_the_formulas_authors_state(degc: float, pa: float):
    # Lawrence (2005), after equation 6: a relative error below 0.4 % from -40 to 50 degC
    assert saturation_pa(degc) == pytest.approx(pa, rel=4e-3)


def test_the_rule_of_thumb_of_damp_air():
    # Lawrence (2005), Bulletin of the American Meteorological Society 86, page 225: the dew point
    # falls by about 1 degC for every 5 % of relative humidity, in air above 50 %
    falls = [dew_point_degc(20.0, h) - dew_point_degc(20.0, h - 0.05) for h in (1.0, 0.9, 0.8, 0.7)]
    assert falls == pytest.approx([1.0] * 4, abs=0.3)


def test_full_air_is_at_its_dew_point():
    assert dew_point_degc(12.5, 1.0) == pytest.approx(12.5)


@pytest.mark.parametrize(("degc", "humidity"), [(20.0, 0.0), (20.0, 1.01), (60.0, 0.5)])
def test_air_that_cannot_be_is_refused(degc: float, humidity: float):
    with pytest.raises(RunError, match=r"relative humidity|air of 60 degC"):
        dew_point_degc(degc, humidity)
