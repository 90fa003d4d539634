"""What a simulated cluster draws from its supply: electronics, coils, lamps.

A stepper's coils are fed at their own voltage through a regulator that passes their current on, so
the supply gives the coils' energy over that voltage. Blocked, a stepper draws what it draws
turning; without current it draws nothing.
"""

from typing import Final

from needlewright.rehearsal.movement import stepper_kernel as kernel
from needlewright.rehearsal.movement.air_core import AirCore
from needlewright.rehearsal.movement.run import Running
from needlewright.rehearsal.movement.stepper import Stepper
from needlewright.rehearsal.movement.thermal import Thermal

ELECTRONICS_A: Final = 0.06
"""Controller, bus and display of a cluster with its needles at rest, coils apart; from memory."""
AIR_CORE_A: Final = 0.07
"""Both coils of an air core, wherever it points; from memory."""
THERMAL_A: Final = 0.1
"""A bimetal's heater at its full bend; the mean of it goes as the bend. From memory."""


class CoilCurrent:
    """The mean current of one movement over the last stretch of time.

    Parameters
    ----------
    running
        The movement.
    """

    def __init__(self, running: Running) -> None:
        self._running = running
        self._given_j = self._energy_j()
        self.amperes = 0.0

    def over(self, seconds: float) -> float:
        """Take the mean since the call before.

        Parameters
        ----------
        seconds
            How long that was.

        Returns
        -------
        float
            Amperes from the supply.
        """
        given_j = self._energy_j()
        if seconds > 0.0:
            self.amperes = self._mean_a(given_j - self._given_j, seconds)
        self._given_j = given_j
        return self.amperes

    def _energy_j(self) -> float:
        running = self._running
        return float(running.state[kernel.GIVEN]) if isinstance(running, Stepper) else 0.0

    def _mean_a(self, given_j: float, seconds: float) -> float:
        running = self._running
        if isinstance(running, Stepper):
            return max(given_j / seconds / running.figures.supply_v, 0.0)
        if isinstance(running, AirCore):
            return AIR_CORE_A if running.powered else 0.0
        if isinstance(running, Thermal) and not running.faults.dead:
            return THERMAL_A * max(running.bend_deg, 0.0) / running.figures.travel_deg
        return 0.0
