"""The Steinhart-Hart equation of a thermistor, both ways, and its fit through three points."""

from dataclasses import dataclass
from math import exp, log
from typing import Final

import numpy as np

from needlewright.errors import SignalError

KELVIN: Final = 273.15


@dataclass(frozen=True, slots=True)
class SteinhartHart:
    """1/T = a + b ln R + c (ln R)^3, T in kelvin, R in ohm.

    **Source**: Steinhart and Hart, Deep-Sea Research 15 (1968) 497, equation from memory.
    """

    a: float
    b: float
    c: float

    @staticmethod
    def through(points: tuple[tuple[float, float], ...]) -> "SteinhartHart":
        """Fit the three coefficients through three points.

        Parameters
        ----------
        points
            Three of (degrees Celsius, ohm), all different.

        Returns
        -------
        SteinhartHart
            Exact at the three.

        Raises
        ------
        SignalError
            If there are not three different ones, or they are no thermistor's.
        """
        if len({t for t, _ in points}) != 3 or len({r for _, r in points}) != 3 or len(points) != 3:
            raise SignalError("a thermistor's equation needs three different points")
        if any(ohm <= 0 or celsius <= -KELVIN for celsius, ohm in points):
            raise SignalError(
                "a thermistor's resistances and kelvins are above 0; check the points"
            )
        logs = [log(ohm) for _, ohm in points]
        rows = np.array([[1.0, x, x**3] for x in logs])
        inverse = np.array([1.0 / (celsius + KELVIN) for celsius, _ in points])
        a, b, c = (float(each) for each in np.linalg.solve(rows, inverse))
        return SteinhartHart(a, b, c)

    def celsius_at(self, ohm: float) -> float:
        """Temperature at a resistance above 0, degrees Celsius."""
        x = log(ohm)
        return 1.0 / (self.a + self.b * x + self.c * x**3) - KELVIN

    def ohm_at(self, celsius: float) -> float:
        """Resistance at a temperature, ohm: the one real root of the cubic in ln R."""
        y = self.a - 1.0 / (celsius + KELVIN)
        if self.c == 0.0:
            return exp(-y / self.b)
        half = y / (2.0 * self.c)
        root = ((self.b / (3.0 * self.c)) ** 3 + half**2) ** 0.5
        guess = float(np.cbrt(root - half) - np.cbrt(root + half))
        for _ in range(3):  # the two roots nearly cancel when c is small; Newton repairs the digits
            guess -= (y + self.b * guess + self.c * guess**3) / (self.b + 3 * self.c * guess**2)
        return exp(guess)

    def kelvin_an_ohm(self, ohm: float) -> float:
        """Slope of temperature by resistance, without sign."""
        x = log(ohm)
        kelvin = self.celsius_at(ohm) + KELVIN
        return abs(kelvin**2 * (self.b + 3.0 * self.c * x**2) / ohm)
