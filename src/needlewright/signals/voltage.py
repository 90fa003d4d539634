"""A voltage that states the value."""

from dataclasses import dataclass
from typing import ClassVar, Final

from needlewright.signals.instruments import InstrumentKind
from needlewright.signals.line_table import LineTable
from needlewright.signals.model import Frame, Reach, Stimulus, VoltageStimulus
from needlewright.signals.signal import LevelSignal, Wire

HIGHEST_V: Final = 32.0
"""A cluster for 24 V sees no more in service (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class VoltageSignal(LevelSignal):
    """The dial shows the volts themselves, or what a table says of them."""

    kind: ClassVar[str] = "voltage"
    instrument: ClassVar[InstrumentKind] = "voltage_source"

    wire: Wire
    table: LineTable | None = None
    """Value to volts; None: the dial's own volts."""

    @property
    def reach(self) -> Reach:
        """The table's ends; without one 0 to `HIGHEST_V`."""
        if self.table is None:
            return Reach(0.0, HIGHEST_V)
        return Reach(self.table.values[0], self.table.values[-1])

    def _level_of(self, value: float) -> float:
        return value if self.table is None else self.table.level_of(value)

    def _value_at(self, level: float) -> float:
        return level if self.table is None else self.table.value_at(level)

    def _slope(self, level: float) -> float:
        return 1.0 if self.table is None else self.table.slope_at(level)

    def _stimulus(self, level: float) -> VoltageStimulus:
        return VoltageStimulus(level)

    def _level_in(self, stimulus: Stimulus | Frame) -> float:
        if not isinstance(stimulus, VoltageStimulus):
            raise self._foreign(stimulus)
        return stimulus.volts
