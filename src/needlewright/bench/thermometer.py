"""Thermometer readings that somebody typed, and what they correct of a warming curve.

Start, surroundings and time constant are known beforehand with their uncertainties; each reading
says what the curve was at a moment. The curve that is most probable given both is found by least
squares, and what is left of the uncertainties is the inverse of the weighted normal matrix.

Source: Gauss and Newton's least squares with prior knowledge, any textbook of estimation; JCGM 100
clause 5.2 for what comes of correlated parameters; derivation in docs/temperature-series.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, hypot, log
from typing import Final

import numpy as np

from needlewright.bench.warming import Known, Warming
from needlewright.errors import RunError

ROUNDS: Final = 25
LEAST_U: Final = 1e-6
"""Taken for a parameter that is known exactly, so that it can stand in a matrix."""
TOO_FAR: Final = 4.0
"""A reading further off than so many standard uncertainties is a slip, or a time constant that
was stated wrongly."""


@dataclass(frozen=True, slots=True)
class Reading:
    """What a thermometer beside the movements showed."""

    seconds: float
    """Since time 0 of the curve."""
    degc: float
    u_degc: float
    """Standard uncertainty of reading it and of the moment; not of its calibration and place."""


def corrected(warming: Warming, readings: Sequence[Reading]) -> Warming:
    """The curve as the readings leave it.

    Parameters
    ----------
    warming
        As it was known beforehand: its parameters independent.
    readings
        Typed, in any order.

    Returns
    -------
    Warming
        The same where there are none.

    Raises
    ------
    RunError
        If a reading cannot be, whatever the parameters are within reason.
    """
    if not readings:
        return warming
    for reading in readings:
        _refuse_slip(warming, reading)
    u_prior = np.maximum(warming.u_parameters(), LEAST_U)
    prior = np.array(
        [warming.start.value, warming.surroundings.value, log(warming.time_constant_s.value)]
    )
    weight = np.diag(1.0 / u_prior**2)
    now, normal = warming, weight
    at = prior.copy()
    for _ in range(ROUNDS):
        slopes = np.array([now.slopes_at(one.seconds) for one in readings])
        off = np.array([one.degc - now.degc_at(one.seconds) for one in readings])
        each = np.array([1.0 / one.u_degc**2 for one in readings])
        normal = weight + slopes.T @ (each[:, None] * slopes)
        step = np.linalg.solve(normal, slopes.T @ (each * off) - weight @ (at - prior))
        at = at + step
        now = _with(warming, at)
        if float(np.max(np.abs(step) / u_prior)) < 1e-9:
            break
    covariance = np.linalg.inv(normal)
    u = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(u, u)
    tau_s = exp(float(at[2]))
    return Warming(
        Known(float(at[0]), float(u[0])),
        Known(float(at[1]), float(u[1])),
        Known(tau_s, tau_s * float(u[2])),
        warming.place_u_degc,
        tuple(tuple(float(one) for one in row) for row in correlation),
    )


def _with(warming: Warming, at: np.ndarray) -> Warming:
    start, around, tau = float(at[0]), float(at[1]), exp(float(at[2]))
    return Warming(
        Known(start, warming.start.u),
        Known(around, warming.surroundings.u),
        Known(tau, warming.time_constant_s.u),
        warming.place_u_degc,
    )


def _refuse_slip(warming: Warming, reading: Reading) -> None:
    expected = warming.at(reading.seconds)
    u_degc = hypot(expected.u_degc, reading.u_degc)
    if abs(reading.degc - expected.degc) > TOO_FAR * u_degc:
        raise RunError(
            f"thermometer: {reading.degc:g} degC {reading.seconds / 60:.1f} min after the start, "
            f"where {expected.degc:.1f} degC is expected within {TOO_FAR * u_degc:.1f}; check its "
            "sign, its minutes and its place, or state the cluster's time constant and begin again"
        )
