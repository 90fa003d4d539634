"""A sender's resistance: a pair, a table, or a thermistor."""

from dataclasses import dataclass
from typing import ClassVar, Final

from needlewright.errors import SignalError
from needlewright.signals.instruments import InstrumentKind
from needlewright.signals.line_table import LineTable
from needlewright.signals.model import Frame, Reach, ResistanceStimulus, Stimulus
from needlewright.signals.signal import LevelSignal, TableSignal, Wire
from needlewright.signals.thermistor import SteinhartHart
from needlewright.units import convert

COLDEST_DEGC: Final = -55.0
HOTTEST_DEGC: Final = 200.0
"""Where a thermistor's equation is taken to hold (common practice, no source)."""

SENDER_PAIRS: Final = (
    (240.0, 33.0),
    (73.0, 10.0),
    (75.0, 10.0),
    (0.0, 90.0),
    (0.0, 30.0),
    (10.0, 180.0),
    (16.0, 158.0),
    (40.0, 250.0),
)
"""Fuel senders, ohms empty and full (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class SenderSignal(TableSignal):
    """Straight lines between the points of a table; a pair is a table of two."""

    kind: ClassVar[str] = "resistance"
    instrument: ClassVar[InstrumentKind] = "decade_box"

    wire: Wire
    table: LineTable
    """Value to ohm."""

    def _level_of(self, value: float) -> float:
        return max(self.table.level_of(value), 0.0)  # rounding may leave it a hair below none

    def _stimulus(self, level: float) -> ResistanceStimulus:
        return ResistanceStimulus(level)

    def _level_in(self, stimulus: Stimulus | Frame) -> float:
        if not isinstance(stimulus, ResistanceStimulus):
            raise self._foreign(stimulus)
        return stimulus.ohm


@dataclass(frozen=True, slots=True)
class ThermistorSignal(LevelSignal):
    """A thermistor in the place of a temperature sender."""

    kind: ClassVar[str] = "resistance"
    instrument: ClassVar[InstrumentKind] = "decade_box"

    wire: Wire
    equation: SteinhartHart

    @property
    def reach(self) -> Reach:
        """From `COLDEST_DEGC` to `HOTTEST_DEGC`, in the dial's unit."""
        unit = self.wire.unit
        return Reach(convert(COLDEST_DEGC, "degC", unit), convert(HOTTEST_DEGC, "degC", unit))

    def _level_of(self, value: float) -> float:
        return self.equation.ohm_at(convert(value, self.wire.unit, "degC"))

    def _value_at(self, level: float) -> float:
        return convert(self.equation.celsius_at(level), "degC", self.wire.unit)

    def _slope(self, level: float) -> float:
        unit = self.wire.unit
        unit_a_kelvin = convert(1.0, "degC", unit) - convert(0.0, "degC", unit)
        return self.equation.kelvin_an_ohm(level) * unit_a_kelvin

    def _stimulus(self, level: float) -> ResistanceStimulus:
        return ResistanceStimulus(level)

    def _level_in(self, stimulus: Stimulus | Frame) -> float:
        if not isinstance(stimulus, ResistanceStimulus):
            raise self._foreign(stimulus)
        if stimulus.ohm <= 0:
            raise SignalError(
                f"dial '{self.wire.dial}': a thermistor is never {stimulus.ohm:g} ohm"
            )
        return stimulus.ohm
