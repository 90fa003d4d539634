"""What a movement did."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """One row a tick of the firmware; degrees of needle above the lower stop."""

    t_s: NDArray[np.float64]
    """End of the tick, since the movement was made."""
    needle_deg: NDArray[np.float64]
    rotor_deg: NDArray[np.float64]
    """Of a stepper the rotor's angle, geared down to the needle; else where the coils point."""
    driver_deg: NDArray[np.float64]
    """Where the firmware believes the needle to be."""

    def then(self, later: "Run") -> "Run":
        """Put another run behind this one.

        Parameters
        ----------
        later
            What the same movement did next.

        Returns
        -------
        Run
            Both.
        """
        return Run(
            np.concatenate([self.t_s, later.t_s]),
            np.concatenate([self.needle_deg, later.needle_deg]),
            np.concatenate([self.rotor_deg, later.rotor_deg]),
            np.concatenate([self.driver_deg, later.driver_deg]),
        )


class Running(Protocol):
    """A movement that is carried on from one call to the next."""

    @property
    def needle_deg(self) -> float:
        """Where the needle stands, degrees above the lower stop."""

    @property
    def tick_s(self) -> float:
        """How often the firmware looks at its target."""

    def key_on(self) -> Run:
        """Switch on; whatever the firmware does then to find its zero."""

    def follow(self, targets_deg: NDArray[np.float64]) -> Run:
        """Follow targets, one a tick, degrees above the lower stop."""

    def key_off(self, settle_s: float = 0.1) -> Run:
        """Switch off."""

    def warm_to(self, temperature_degc: float) -> None:
        """Take another temperature and go on from where the needle stands."""


def ticks_s(start_s: float, tick_s: float, count: int) -> NDArray[np.float64]:
    """Ends of ticks.

    Parameters
    ----------
    start_s
        Beginning of the first.
    tick_s
        Length of each.
    count
        How many.

    Returns
    -------
    NDArray[np.float64]
        Seconds.
    """
    return np.asarray(start_s + tick_s * np.arange(1, count + 1), dtype=np.float64)
