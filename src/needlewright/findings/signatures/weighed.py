"""Weighed hypotheses, and the places of a parameter that were weighed for one."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from needlewright.findings.signatures.knowledge import FaultCode, Members
from needlewright.findings.signatures.noise import log_sum
from needlewright.findings.signatures.rows import Array

TRUST: Final = 0.7
"""Exponent of every likelihood. No model is quite the movement on the bench, and a model that is a
little wrong becomes the surer the more rows there are. A likelihood to this power is that of the
rows being near what was drawn, not exactly it. Chosen on 2,000 drawn dials other than those of the
figures in docs/findings.md, so that what is said comes true as often as it says.

**Source** coarsened posteriors: J. Miller, D. Dunson, Robust Bayesian inference via coarsening, J.
Am. Stat. Assoc. 114 (2019), section 2 (from memory)."""
_STEPS: Final = np.linspace(-4.2, 4.2, 15)


@dataclass(frozen=True, slots=True)
class Size:
    """How large, in the unit of the vocabulary, and its standard uncertainty (k = 1)."""

    size: float
    u_size: float


@dataclass(frozen=True, slots=True, eq=False)
class Weighed:
    """One hypothesis, weighed against the rows; angles in degrees of rise."""

    members: Members
    log_evidence: float
    """Marginal likelihood, without the weight of the hypothesis itself."""
    model_deg: Array
    """What the hypothesis makes of every row's error, at its most probable place."""
    sizes: Mapping[FaultCode, Size] = field(default_factory=dict)
    effects_deg: Mapping[FaultCode, float] = field(default_factory=dict)
    """How much of the error each member makes at its worst."""
    wild: int = -1
    """The row most probably wild, counted among all; -1: none."""

    @property
    def log_support(self) -> float:
        """What the rows say for it: its marginal likelihood, trusted as far as models can be."""
        return TRUST * self.log_evidence

    @property
    def main(self) -> FaultCode:
        """The member with the larger effect."""
        return max(self.members, key=lambda code: self.effects_deg.get(code, 0.0))


@dataclass(frozen=True, slots=True, eq=False)
class Zoomed:
    """Places of one parameter, with how much each weighs after the rows were seen."""

    at: Array
    log_mass: Array
    """Prior mass times likelihood."""

    @property
    def log_evidence(self) -> float:
        """All places together."""
        return float(log_sum(self.log_mass))

    @property
    def best(self) -> float:
        """The most probable place: its density, not the mass of its neighbourhood, decides."""
        return float(self.at[np.argmax(self.log_mass - np.log(cell_widths(self.at)))])

    def size(self, of: Callable[[Array], Array] | None = None) -> Size:
        """Mean and standard deviation of the parameter, or of something it says."""
        weights: Array = np.exp(self.log_mass - self.log_evidence)
        values = self.at if of is None else of(self.at)
        mean = float(weights @ values)
        variance = float(weights @ (values - mean) ** 2)
        return Size(mean, max(variance, 0.0) ** 0.5)


def places_of_size(wanted: float, without: float, u: float) -> Array:
    """Sizes above zero about two centres, and some far away."""
    far = np.geomspace(0.1, 30.0, 7)
    near = [centre + u * _STEPS for centre in (wanted, without)]
    at = np.unique(np.concatenate([far, *near]))
    return np.asarray(at[at > 0.02])


def cell_widths(at: Array) -> Array:
    """Width of the cell each of rising places stands for."""
    edges = np.concatenate([at[:1], (at[1:] + at[:-1]) / 2, at[-1:]])
    return np.maximum(np.diff(edges), 1e-12)


def log_normal_density(x: Array, sd: float) -> Array:
    """Logarithm of the normal density about zero."""
    return np.asarray(-0.5 * (x / sd) ** 2 - np.log(sd * np.sqrt(2 * np.pi)))


def log_lognormal(x: Array, median: float, factor: float) -> Array:
    """Logarithm of a log-normal density of positive places."""
    return np.asarray(log_normal_density(np.log(x / median), np.log(factor)) - np.log(x))
