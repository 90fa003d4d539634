"""A coil's resistance as it would be at 20 degC, held against what it should be."""

from dataclasses import dataclass
from math import hypot
from typing import Final

from needlewright.errors import SumError
from needlewright.rules.decision import COVERAGE_K, Decision, decide
from needlewright.rules.model import Limits

COPPER_PER_K: Final = 0.00393
"""Change of annealed copper's resistance by a kelvin, of that at 20 degC (IEC 60028)."""
REFERENCE_C: Final = 20.0


@dataclass(frozen=True, slots=True)
class CoilResistance:
    """A coil at 20 degC; ohm."""

    measured_ohm: float
    """Without the leads."""
    at_c: float
    ohm: float
    """At 20 degC."""
    u_ohm: float
    """Of that, k = 1."""
    u_meter_ohm: float
    """The part that the meter has in it."""
    u_warmth_ohm: float
    """The part that the temperature has in it."""
    lower_ohm: float
    upper_ohm: float
    decision: Decision

    @property
    def expanded_ohm(self) -> float:
        """U, k = 2."""
        return COVERAGE_K * self.u_ohm


def copper_at(ohm: float, from_c: float, to_c: float) -> float:
    """A copper resistance at another temperature.

    Parameters
    ----------
    ohm
        At `from_c`.
    from_c
        degC, above -200.
    to_c
        degC, above -200.

    Returns
    -------
    float
        Ohm, at `to_c`.

    Notes
    -----
    **Source**: IEC 60028, R(t) = R(20) (1 + 0.00393 (t - 20)), within some -50 to 200 degC.
    """
    return ohm * _factor(to_c) / _factor(from_c)


def coil_resistance(
    read_ohm: float,
    leads_ohm: float,
    at_c: float,
    *,
    nominal_ohm: float,
    tolerance: float,
    meter: float,
    within_k: float,
) -> CoilResistance:
    """A coil that was measured warm or cold, judged as at 20 degC.

    Parameters
    ----------
    read_ohm
        What the meter showed.
    leads_ohm
        What it shows with its leads held together.
    at_c
        Of the coil, degC.
    nominal_ohm
        What it should have at 20 degC.
    tolerance
        Of that, a share of it: 0.1 for 10 %.
    meter
        Limits of the meter's error, a share of the reading.
    within_k
        How near the coil's temperature is known, K: limits either way.

    Returns
    -------
    CoilResistance
        With a guard band of U in its decision.

    Raises
    ------
    SumError
        If the leads have as much as was read.

    Notes
    -----
    **Source**: IEC 60028 for copper. Limits of error are taken as rectangular, divided by the root
    of three (JCGM 100, 4.3.7); the decision is that of ILAC-G8:09/2019, 4.2.3.
    """
    measured = read_ohm - leads_ohm
    if measured <= 0:
        raise SumError(
            f"Read with the leads held together: {leads_ohm:g} ohm is not less than the "
            f"{read_ohm:g} ohm that were read; hold the leads together and read them alone"
        )
    ohm = copper_at(measured, at_c, REFERENCE_C)
    u_meter = meter * read_ohm * ohm / measured / 3**0.5
    u_warmth = ohm * COPPER_PER_K / _factor(at_c) * within_k / 3**0.5
    u = hypot(u_meter, u_warmth)
    lower, upper = nominal_ohm * (1 - tolerance), nominal_ohm * (1 + tolerance)
    decision = decide(Limits(lower, upper), ohm, u)
    return CoilResistance(measured, at_c, ohm, u, u_meter, u_warmth, lower, upper, decision)


def _factor(at_c: float) -> float:
    return 1.0 + COPPER_PER_K * (at_c - REFERENCE_C)
