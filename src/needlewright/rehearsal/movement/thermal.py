"""A thermal movement: a bimetal strip that bends as it is heated, a first-order lag.

Source: the lumped heat balance of one body, any textbook of heat transfer.
"""

from math import exp

import numpy as np
from numpy.typing import NDArray

from needlewright.rehearsal.movement.faults import SOUND, MovementFaults
from needlewright.rehearsal.movement.figures import (
    DRIVER,
    REFERENCE_DEGC,
    THERMAL,
    DriverFigures,
    ThermalFigures,
)
from needlewright.rehearsal.movement.run import Run, ticks_s


class Thermal:
    """One thermal movement, carried on from one call to the next.

    Parameters
    ----------
    figures
        Its parts.
    driver
        What heats it; only its tick matters.
    faults
        What is wrong with it: a block or no current; the rest means nothing here.
    temperature_degc
        Taken for likeness with the other kinds: the strip is compensated.
    at_deg
        Where the needle stands, degrees above its cold end.
    """

    def __init__(
        self,
        figures: ThermalFigures = THERMAL,
        driver: DriverFigures = DRIVER,
        faults: MovementFaults = SOUND,
        *,
        temperature_degc: float = REFERENCE_DEGC,
        at_deg: float = 0.0,
    ) -> None:
        self.figures = figures
        self.driver = driver
        self.faults = faults
        self.temperature_degc = temperature_degc
        self.bend_deg = at_deg
        self.time_s = 0.0

    @property
    def tick_s(self) -> float:
        """How often the target is looked at."""
        return self.driver.tick_s

    @property
    def needle_deg(self) -> float:
        """Where the needle stands, degrees above its cold end."""
        return float(self._within(np.array([self.bend_deg]))[0])

    def warm_to(self, temperature_degc: float) -> None:
        """Take another temperature; the strip is compensated and shows no difference.

        Parameters
        ----------
        temperature_degc
            Of the cluster.
        """
        self.temperature_degc = temperature_degc

    def key_on(self) -> Run:
        """Switch on; there is no zero to find.

        Returns
        -------
        Run
            One tick.
        """
        return self.follow(np.zeros(1))

    def key_off(self, settle_s: float = 0.1) -> Run:
        """Let the strip cool.

        Parameters
        ----------
        settle_s
            How long to watch the needle after it.

        Returns
        -------
        Run
            The needle falling.
        """
        return self.follow(np.zeros(max(1, round(settle_s / self.tick_s))))

    def follow(self, targets_deg: NDArray[np.float64]) -> Run:
        """Heat toward targets, one a tick, exactly as a first-order lag does.

        Parameters
        ----------
        targets_deg
            Degrees above the cold end.

        Returns
        -------
        Run
            One row a tick, at the tick's end.
        """
        wanted = np.asarray(targets_deg, dtype=np.float64)
        heat = np.zeros_like(wanted) if self.faults.dead else wanted
        keep = exp(-self.tick_s / self.figures.lag_s)
        from scipy.signal import lfilter  # noqa: PLC0415 (slow to load, and no start waits for it)

        bend, _ = lfilter([1.0 - keep], [1.0, -keep], heat, zi=[keep * self.bend_deg])
        bend = np.asarray(bend, dtype=np.float64)
        if len(bend):
            self.bend_deg = float(bend[-1])
        t_s = ticks_s(self.time_s, self.tick_s, len(wanted))
        self.time_s += self.tick_s * len(wanted)
        return Run(t_s, self._within(bend), heat, wanted)

    def _within(self, bend_deg: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.clip(bend_deg, 0.0, min(self.figures.travel_deg, self.faults.block_deg))
