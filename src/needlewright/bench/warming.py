"""How warm a cluster is while it is read: one body in other surroundings, with its uncertainty.

    T(t) = Ta + (T0 - Ta) exp(-t / tau)

T0 is the temperature it starts at, Ta that of its surroundings, tau its time constant. The same law
cools a cluster that soaks and warms one that was taken out.

Source: the lumped heat balance of one body, any textbook of heat transfer; its uncertainty by
JCGM 100 clause 5; derivation in docs/temperature-series.md.
"""

from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np
from numpy.typing import NDArray

from needlewright.errors import RunError

Matrix = tuple[tuple[float, ...], ...]
PARTS = ("start", "surroundings", "time_constant", "thermometer")
"""What the uncertainty of a temperature is made of."""


@dataclass(frozen=True, slots=True)
class Known:
    """A value somebody states, with its standard uncertainty (k = 1) in the same unit."""

    value: float
    u: float


@dataclass(frozen=True, slots=True)
class Temperature:
    """Of the movements at one moment."""

    degc: float
    u_degc: float
    """Standard uncertainty, k = 1."""
    parts_degc: tuple[tuple[str, float], ...]
    """What each of `PARTS` adds to it, signed: sensitivity times standard uncertainty."""


@dataclass(frozen=True, slots=True)
class Warming:
    """A cluster on its way to the temperature of its surroundings."""

    start: Known
    """At time 0, degC."""
    surroundings: Known
    """degC, held."""
    time_constant_s: Known
    place_u_degc: float
    """What the movements may be warmer or colder by than where a thermometer says: its
    calibration, its place. Common to all moments, so no reading takes it away."""
    correlation: Matrix | None = None
    """Of start, surroundings and the logarithm of the time constant; None: independent."""

    def __post_init__(self) -> None:
        """Refuse what no cluster can have.

        Raises
        ------
        RunError
            If the time constant is not above 0.
        """
        if not self.time_constant_s.value > 0.0:
            raise RunError(
                f"a time constant of {self.time_constant_s.value:g} s is none; give one above 0"
            )

    def degc_at(self, seconds: float) -> float:
        """Temperature at a moment.

        Parameters
        ----------
        seconds
            Since time 0, 0 or more.

        Returns
        -------
        float
            degC.
        """
        start, around = self.start.value, self.surroundings.value
        return around + (start - around) * exp(-seconds / self.time_constant_s.value)

    def slopes_at(self, seconds: float) -> NDArray[np.float64]:
        """Sensitivities of the temperature at a moment.

        Parameters
        ----------
        seconds
            Since time 0.

        Returns
        -------
        NDArray[np.float64]
            To the start, the surroundings and the logarithm of the time constant, degC each.
        """
        share = seconds / self.time_constant_s.value
        left = exp(-share)
        apart = self.start.value - self.surroundings.value
        return np.array([left, 1.0 - left, apart * left * share])

    def at(self, seconds: float) -> Temperature:
        """Temperature of the movements at a moment, with its uncertainty.

        Parameters
        ----------
        seconds
            Since time 0.

        Returns
        -------
        Temperature
            With its parts.
        """
        added = self.slopes_at(seconds) * self.u_parameters()
        correlation = np.eye(3) if self.correlation is None else np.array(self.correlation)
        variance = float(added @ correlation @ added) + self.place_u_degc**2
        parts = (*(float(one) for one in added), self.place_u_degc)
        return Temperature(
            self.degc_at(seconds), sqrt(max(variance, 0.0)), tuple(zip(PARTS, parts, strict=True))
        )

    def u_parameters(self) -> NDArray[np.float64]:
        """Standard uncertainties of start, surroundings and logarithm of the time constant."""
        tau = self.time_constant_s
        return np.array([self.start.u, self.surroundings.u, tau.u / tau.value])

    def seconds_until(self, degc: float) -> float | None:
        """How long until a temperature is reached.

        Parameters
        ----------
        degc
            Between the start and the surroundings, or passed already.

        Returns
        -------
        float or None
            Seconds since time 0, 0 where it starts there or has started past it; None: never.
        """
        start, around = self.start.value, self.surroundings.value
        if (degc - start) * (around - start) <= 0.0:
            return 0.0
        if abs(degc - start) >= abs(around - start):
            return None
        return self.time_constant_s.value * log((around - start) / (around - degc))

    def near(self, within_degc: float) -> float:
        """How long until the surroundings' temperature is reached but for a little.

        Parameters
        ----------
        within_degc
            How little, above 0.

        Returns
        -------
        float
            Seconds since time 0.
        """
        apart = abs(self.start.value - self.surroundings.value)
        if apart <= within_degc:
            return 0.0
        return self.time_constant_s.value * log(apart / within_degc)


def without_place(temperature: Temperature, place_u_degc: float) -> Known:
    """What a temperature is known by as the start of what comes next.

    Parameters
    ----------
    temperature
        At the moment when something else begins.
    place_u_degc
        What of its uncertainty is the thermometer's, and stays with it for good.

    Returns
    -------
    Known
        Degrees Celsius.
    """
    return Known(temperature.degc, sqrt(max(temperature.u_degc**2 - place_u_degc**2, 0.0)))
