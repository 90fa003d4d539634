"""A rehearsed bench whose cluster takes another temperature as time passes."""

from collections.abc import Callable
from typing import Final

from needlewright.families.model import Family
from needlewright.rehearsal.cluster.rehearsal import Rehearsal, Unit

LOOK_S: Final = 0.5
"""So often the movements take the temperature they have by then; a cluster warms by a hundredth of
a degree meanwhile."""


class WarmingRehearsal(Rehearsal):
    """A rehearsed bench with a thermal clock: it runs with the cluster's, and while nothing is on.

    Parameters
    ----------
    family
        The design; a dial without a signal gets an invented sender.
    unit
        What is wrong with the cluster, and how warm it is until something else is said.
    begun_s
        What the clock shows now.
    options
        As `Rehearsal` has them.

    Raises
    ------
    UsageError
        If a movement cannot have its fault.
    SignalError
        If a signal of the family cannot be used.
    """

    def __init__(
        self, family: Family, unit: Unit | None = None, *, begun_s: float = 0.0, **options: object
    ) -> None:
        super().__init__(family, unit, **options)  # type: ignore[arg-type]
        self._rested_s = begun_s
        self._degc_at: Callable[[float], float] | None = None
        self._looked_s = -LOOK_S

    @property
    def thermal_s(self) -> float:
        """The thermal clock, seconds."""
        return self._rested_s + self.cluster.now_s

    def warm_by(self, degc_at: Callable[[float], float]) -> None:
        """Say how warm the movements are at each moment from now on.

        Parameters
        ----------
        degc_at
            From seconds of the thermal clock to degC.
        """
        self._degc_at = degc_at
        self._take_temperature()

    def rest(self, seconds: float) -> None:
        """Let time pass in which the cluster is off and nothing but its temperature changes.

        Parameters
        ----------
        seconds
            How much.
        """
        self._rested_s += seconds
        self._take_temperature()

    def pass_time(self, seconds: float) -> None:
        """Let time pass on the bus and in the cluster, which warms meanwhile.

        Parameters
        ----------
        seconds
            How much.
        """
        if self._degc_at is None:
            super().pass_time(seconds)
            return
        left = seconds
        while left > 1e-9:
            if self.thermal_s - self._looked_s >= LOOK_S:
                self._take_temperature()
            part = min(left, LOOK_S)
            super().pass_time(part)
            left -= part

    def _take_temperature(self) -> None:
        if self._degc_at is None:
            return
        self._looked_s = self.thermal_s
        degc = self._degc_at(self._looked_s)
        if degc == self.cluster.temperature_degc:
            return
        self.cluster.temperature_degc = degc
        for dial in self.cluster.dials.values():
            dial.movement.running.warm_to(degc)
