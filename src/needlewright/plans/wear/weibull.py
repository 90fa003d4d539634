"""Weibull's law of wear-out."""

from dataclasses import dataclass
from math import exp, expm1, gamma, sqrt


@dataclass(frozen=True, slots=True)
class Weibull:
    """Life with two numbers.

    Parameters
    ----------
    shape
        Beta: above 1 it wears out, at 1 it fails at any age alike, below 1 it fails early.
    scale
        Eta, in whatever the age is counted in: by then 63.2 % have failed.

    Notes
    -----
    **Source**: NIST/SEMATECH e-Handbook of Statistical Methods, 8.1.6.2: F(t) =
    1 - exp(-(t / eta)^beta).
    """

    shape: float
    scale: float

    def hazard_sum(self, age: float) -> float:
        """Cumulative hazard (t / eta)^beta."""
        return float((age / self.scale) ** self.shape)

    def survival(self, age: float) -> float:
        """Probability of living longer than an age."""
        return exp(-self.hazard_sum(age))

    def fails_within(self, ahead: float, age: float = 0.0) -> float:
        """Probability of failing within a time, having lived to an age.

        Parameters
        ----------
        ahead
            How far is looked.
        age
            Lived until now.

        Returns
        -------
        float
            1 - S(age + ahead) / S(age).
        """
        return -expm1(self.hazard_sum(age) - self.hazard_sum(age + ahead))

    @property
    def mean(self) -> float:
        """Mean life."""
        return self.scale * gamma(1 + 1 / self.shape)

    @property
    def deviation(self) -> float:
        """Standard deviation of life."""
        second = gamma(1 + 2 / self.shape)
        return self.scale * sqrt(second - gamma(1 + 1 / self.shape) ** 2)
