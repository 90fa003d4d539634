"""When water comes out of the air onto a cold cluster."""

from math import exp, log
from typing import Final

from needlewright.errors import RunError

MAGNUS_A: Final = 17.625
MAGNUS_B_DEGC: Final = 243.04
MAGNUS_0_PA: Final = 610.94
"""Over water, for -40 to 50 degC: M. G. Lawrence, Bulletin of the American Meteorological Society
86 (2005) 225, equation 6, after Alduchov and Eskridge, Journal of Applied Meteorology 35 (1996)
601."""


def saturation_pa(degc: float) -> float:
    """Pressure of water vapour that air can hold.

    Parameters
    ----------
    degc
        Of the air, -40 to 50.

    Returns
    -------
    float
        Over water, Pa.

    **Source**: Magnus' formula; see `MAGNUS_A`.
    """
    return MAGNUS_0_PA * exp(MAGNUS_A * degc / (MAGNUS_B_DEGC + degc))


def dew_point_degc(degc: float, humidity: float) -> float:
    """Temperature below which a surface gets wet.

    Parameters
    ----------
    degc
        Of the air, -40 to 50.
    humidity
        Relative, above 0 up to 1.

    Returns
    -------
    float
        degC.

    Raises
    ------
    RunError
        If the air cannot be so.

    **Source**: Magnus' formula turned round; see `MAGNUS_A`.
    """
    if not -40.0 <= degc <= 50.0:
        raise RunError(f"air of {degc:g} degC: a dew point is worked out from -40 to 50 degC")
    if not 0.0 < humidity <= 1.0:
        raise RunError(f"a relative humidity of {100 * humidity:g} %: expected above 0 up to 100 %")
    gamma = log(humidity) + MAGNUS_A * degc / (MAGNUS_B_DEGC + degc)
    return MAGNUS_B_DEGC * gamma / (MAGNUS_A - gamma)
