"""JCGM 100:2008 (GUM), H.3: calibration of a thermometer; sub-clause numbers from memory."""

import pytest

from needlewright.plans.line_fit import fit_line

T_C = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
B_C = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)


def test_line_of_gum_h3() -> None:
    """JCGM 100:2008, H.3.3: y1 -0.1712 (0.0029), y2 0.00218 (0.00067), r -0.930, t0 20."""
    line = fit_line(T_C, B_C, x_zero=20.0)
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.u_intercept == pytest.approx(0.0029, abs=5e-5)
    assert line.u_slope == pytest.approx(0.00067, abs=5e-6)
    assert line.correlation == pytest.approx(-0.930, abs=5e-4)
    assert line.degrees_of_freedom == 9


def test_prediction_of_gum_h3() -> None:
    """JCGM 100:2008, H.3.4: correction at 30 degC -0.1494 (0.0041)."""
    line = fit_line(T_C, B_C, x_zero=20.0)
    assert line.value_at(30.0) == pytest.approx(-0.1494, abs=5e-5)
    assert line.u_value_at(30.0) == pytest.approx(0.0041, abs=5e-5)


def test_prediction_does_not_depend_on_where_the_intercept_is_taken() -> None:
    """JCGM 100:2008, H.3.5 (from memory): at the mean of t the two parts are uncorrelated."""
    mean_c = sum(T_C) / len(T_C)
    line = fit_line(T_C, B_C, x_zero=mean_c)
    assert line.correlation == pytest.approx(0.0, abs=1e-12)
    assert line.u_value_at(30.0) == pytest.approx(
        fit_line(T_C, B_C, x_zero=20.0).u_value_at(30.0), rel=1e-12
    )


def test_equal_stated_uncertainties_give_the_same_line() -> None:
    """Weighted least squares with equal weights is H.3's; its u then come from what is stated."""
    stated = fit_line(T_C, B_C, u=[0.0035] * len(T_C), x_zero=20.0)
    free = fit_line(T_C, B_C, x_zero=20.0)
    assert stated.slope == pytest.approx(free.slope, rel=1e-12)
    assert stated.correlation == pytest.approx(free.correlation, rel=1e-12)
    # JCGM 100:2008, H.3.3 gives s = 0.0035 degC (from memory): so does this.
    assert stated.u_slope == pytest.approx(0.00067, abs=1e-5)


def test_one_place_makes_no_line() -> None:
    with pytest.raises(ValueError, match="two places"):
        fit_line([1.0, 1.0, 1.0], [0.0, 1.0, 2.0])
