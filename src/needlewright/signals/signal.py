"""The policy every kind of signal keeps: what is refused, and what a command says of itself."""

from abc import ABC, abstractmethod
from dataclasses import dataclass
from math import isfinite
from typing import ClassVar

from needlewright.errors import BeyondDialError, SignalError
from needlewright.signals.instruments import NO_INSTRUMENTS, InstrumentKind, Instruments
from needlewright.signals.line_table import LineTable
from needlewright.signals.model import Command, Frame, Reach, Stated, Stimulus


@dataclass(frozen=True, slots=True)
class Wire:
    """The dial at the end of the wire."""

    dial: str
    quantity: str
    unit: str
    first_mark: float
    last_mark: float


class Signal(ABC):
    """From a value on a dial to what goes on the wires, and back.

    A kind of signal says what it can state (`reach`), in which steps, how often, and fills the
    hooks with a leading underscore; the refusals are made here, the same for every kind.
    """

    __slots__ = ()
    kind: ClassVar[str]
    wire: Wire

    @property
    @abstractmethod
    def reach(self) -> Reach:
        """Lowest and highest value the wire can state, in the dial's unit."""

    @property
    @abstractmethod
    def period_s(self) -> float | None:
        """How often the stimulus must be repeated; None: it is steady, or sent when asked for."""

    @abstractmethod
    def step_at(self, value: float, bench: Instruments = NO_INSTRUMENTS) -> float:
        """Smallest change of the value the stimulus can state there, dial's unit; 0: continuous."""

    def command(
        self, value: float, *, bench: Instruments = NO_INSTRUMENTS, beyond_dial: bool = False
    ) -> Command:
        """What to put on the wire so that the dial is told a value.

        Parameters
        ----------
        value
            In the dial's unit.
        bench
            The instruments that make the stimulus.
        beyond_dial
            Whether a value past the dial's end marks is meant.

        Returns
        -------
        Command
            With the value that the stimulus really states and its standard uncertainty.

        Raises
        ------
        BeyondDialError
            If the value is beyond the dial and not meant to be.
        SignalError
            If it is not a number, or cannot be stated on this wire or set on the instrument.
        """
        self._refuse(value, beyond_dial)
        stimulus, stated, u_value = self._command(value, bench)
        wire = self.wire
        return Command(wire.dial, wire.unit, value, stated, u_value, stimulus)

    @abstractmethod
    def stated_by(self, stimulus: Stimulus | Frame) -> Stated:
        """What a stimulus states, with its validity.

        Parameters
        ----------
        stimulus
            Of this kind, as sent or as received.

        Returns
        -------
        Stated
            The value, or none and why.

        Raises
        ------
        SignalError
            If it is not a stimulus of this signal at all.
        """

    def value_of(self, stimulus: Stimulus | Frame) -> float:
        """The value a stimulus states.

        Parameters
        ----------
        stimulus
            Of this kind, as sent or as received.

        Returns
        -------
        float
            In the dial's unit.

        Raises
        ------
        SignalError
            If it states none: not available, an error, out of range, or not this signal.
        """
        stated = self.stated_by(stimulus)
        if stated.value is None or stated.validity != "valid":
            raise SignalError(f"dial '{self.wire.dial}': {stated.words}")
        return stated.value

    @abstractmethod
    def _command(self, value: float, bench: Instruments) -> tuple[Stimulus, float, float | None]:
        """Stimulus, the value it states, its standard uncertainty; the value is within `reach`."""

    def _refuse(self, value: float, beyond_dial: bool) -> None:
        wire = self.wire
        if not isfinite(value):
            raise SignalError(f"dial '{wire.dial}': {value} is no value; give a number")
        on_dial = wire.first_mark <= value <= wire.last_mark
        if not on_dial and not beyond_dial:
            raise BeyondDialError(
                f"dial '{wire.dial}': {value:g} {wire.unit} is beyond the dial, whose marks run "
                f"from {wire.first_mark:g} to {wire.last_mark:g}; check the number and its unit"
            )
        reach = self.reach
        slack = 1e-9 * max(abs(reach.low), abs(reach.high))
        if not reach.low - slack <= value <= reach.high + slack:
            raise SignalError(
                f"dial '{wire.dial}': {value:g} {wire.unit} cannot be stated by its signal, which "
                f"reaches from {reach.low:g} to {reach.high:g} {wire.unit}"
            )

    def _foreign(self, stimulus: Stimulus | Frame) -> SignalError:
        return SignalError(
            f"dial '{self.wire.dial}' is commanded by {self.kind}; a "
            f"{type(stimulus).__name__} states nothing to it"
        )


class LevelSignal(Signal):
    """A signal that is one number on the wire: a frequency, a share, a resistance, a voltage."""

    __slots__ = ()
    instrument: ClassVar[InstrumentKind]

    @property
    def period_s(self) -> float | None:
        """None: the stimulus is steady."""
        return None

    def step_at(self, value: float, bench: Instruments = NO_INSTRUMENTS) -> float:
        """See `Signal`: the instrument's step, in the dial's unit."""
        return bench.of_kind(self.instrument).step * self._slope(self._level_of(value))

    def stimulus_of(self, level: float) -> Stimulus:
        """The stimulus of a level that was measured: hertz, share, ohm or volts."""
        return self._stimulus(level)

    def stated_by(self, stimulus: Stimulus | Frame) -> Stated:
        """See `Signal`."""
        value = self._value_at(self._level_in(stimulus))
        wire, reach = self.wire, self.reach
        slack = 1e-9 * max(abs(reach.low), abs(reach.high))
        if reach.low - slack <= value <= reach.high + slack:
            return Stated(value, "valid")
        words = (
            f"the stimulus would state {value:g} {wire.unit}, outside the signal's "
            f"{reach.low:g} to {reach.high:g} {wire.unit}"
        )
        return Stated(None, "out_of_range", words)

    def _command(self, value: float, bench: Instruments) -> tuple[Stimulus, float, float | None]:
        instrument = bench.of_kind(self.instrument)
        wanted = self._level_of(value)
        if self._is_off(wanted):
            return self._stimulus(wanted), value, 0.0
        level = instrument.set_to(wanted, self.instrument)
        stated = self._value_at(level) if instrument.step else value
        accuracy = instrument.accuracy
        u_value = None if accuracy is None else accuracy.u_at(level) * self._slope(level)
        return self._stimulus(level), stated, u_value

    def _is_off(self, level: float) -> bool:
        """Whether nothing is put on the wire, so that the instrument's error does not matter."""
        del level
        return False

    @abstractmethod
    def _level_of(self, value: float) -> float: ...

    @abstractmethod
    def _value_at(self, level: float) -> float:
        """Continued past the signal's ends, so that a rounded setting still has a value."""

    @abstractmethod
    def _slope(self, level: float) -> float:
        """Dial's units for one unit of the level, without sign."""

    @abstractmethod
    def _stimulus(self, level: float) -> Stimulus: ...

    @abstractmethod
    def _level_in(self, stimulus: Stimulus | Frame) -> float:
        """The level of a stimulus of this kind; `_foreign` is raised for any other."""


class TableSignal(LevelSignal):
    """A signal whose level is read off straight lines between the points of a table."""

    __slots__ = ()
    table: LineTable

    @property
    def reach(self) -> Reach:
        """The table's ends."""
        return Reach(self.table.values[0], self.table.values[-1])

    def _level_of(self, value: float) -> float:
        return self.table.level_of(value)

    def _value_at(self, level: float) -> float:
        return self.table.value_at(level)

    def _slope(self, level: float) -> float:
        return self.table.slope_at(level)
