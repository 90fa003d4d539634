"""Pulses whose frequency, or whose duty cycle, states the value."""

from dataclasses import dataclass
from typing import ClassVar, Final, Literal

from needlewright.signals.instruments import NO_INSTRUMENTS, InstrumentKind, Instruments
from needlewright.signals.line_table import LineTable
from needlewright.signals.model import Frame, PulseStimulus, Reach, Stimulus
from needlewright.signals.signal import LevelSignal, TableSignal, Wire
from needlewright.units import MILE_KM, convert

Per = Literal["km", "mile", "turn"]

HIGHEST_HZ: Final = 20_000.0
"""No speed or engine-speed input of a cluster is meant for more (common practice, no source)."""
SECONDS_AN_HOUR: Final = 3600.0
SECONDS_A_MINUTE: Final = 60.0


@dataclass(frozen=True, slots=True)
class PulseSignal(LevelSignal):
    """So many pulses a kilometre, a mile, or a turn of the engine."""

    kind: ClassVar[str] = "pulses"
    instrument: ClassVar[InstrumentKind] = "generator"

    wire: Wire
    per: Per
    pulses: float
    """For each of `per`."""
    duty: float = 0.5
    high_v: float | None = None
    low_v: float = 0.0

    @property
    def reach(self) -> Reach:
        """From standstill to `HIGHEST_HZ`."""
        return Reach(0.0, HIGHEST_HZ * self._unit_a_hz)

    @property
    def _unit_a_hz(self) -> float:
        """Dial's units for one hertz."""
        unit = self.wire.unit
        match self.per:
            case "km":
                return convert(SECONDS_AN_HOUR / self.pulses, "km/h", unit)
            case "mile":
                return convert(SECONDS_AN_HOUR * MILE_KM / self.pulses, "km/h", unit)
            case "turn":
                return convert(SECONDS_A_MINUTE / self.pulses, "rpm", unit)

    def _is_off(self, level: float) -> bool:
        return level == 0.0

    def _level_of(self, value: float) -> float:
        return value / self._unit_a_hz

    def _value_at(self, level: float) -> float:
        return level * self._unit_a_hz

    def _slope(self, level: float) -> float:
        del level
        return self._unit_a_hz

    def _stimulus(self, level: float) -> PulseStimulus:
        return PulseStimulus(level, self.duty, self.high_v, self.low_v)

    def _level_in(self, stimulus: Stimulus | Frame) -> float:
        if not isinstance(stimulus, PulseStimulus):
            raise self._foreign(stimulus)
        return stimulus.frequency_hz


@dataclass(frozen=True, slots=True)
class DutySignal(TableSignal):
    """Pulses of one frequency; the share of the period at the high level states the value."""

    kind: ClassVar[str] = "duty_cycle"
    instrument: ClassVar[InstrumentKind] = "generator"

    wire: Wire
    frequency_hz: float
    table: LineTable
    """Value to share, 0 to 1."""
    high_v: float | None = None
    low_v: float = 0.0

    def step_at(self, value: float, bench: Instruments = NO_INSTRUMENTS) -> float:
        """See `Signal`: a generator's stated steps are of frequency, so the share is continuous."""
        del value, bench
        return 0.0

    def _command(self, value: float, bench: Instruments) -> tuple[Stimulus, float, float | None]:
        """The generator's range is checked; its accuracy is one of frequency and says nothing."""
        bench.of_kind(self.instrument).set_to(self.frequency_hz, self.instrument)
        return self._stimulus(self._level_of(value)), value, None

    def _stimulus(self, level: float) -> PulseStimulus:
        return PulseStimulus(self.frequency_hz, level, self.high_v, self.low_v)

    def _level_in(self, stimulus: Stimulus | Frame) -> float:
        if not isinstance(stimulus, PulseStimulus):
            raise self._foreign(stimulus)
        return stimulus.duty
