"""What all signals inside a repeated frame share: whole steps, and no uncertainty of their own."""

from abc import abstractmethod

from needlewright.signals.instruments import NO_INSTRUMENTS, Instruments
from needlewright.signals.model import Frame, Stated, Stimulus
from needlewright.signals.signal import Signal


class NumberSignal(Signal):
    """A signal that is a whole number, `raw`, in a frame: value = factor x raw + offset.

    A frame states its number exactly: what is commanded is that number, and its uncertainty is 0
    by definition.
    """

    __slots__ = ()

    @property
    @abstractmethod
    def factor(self) -> float:
        """Value of one bit in the dial's unit."""

    @abstractmethod
    def _raw_of(self, value: float) -> int: ...

    @abstractmethod
    def _value_of_raw(self, raw: int) -> float: ...

    @abstractmethod
    def _stimulus(self, raw: int) -> Stimulus: ...

    def step_at(self, value: float, bench: Instruments = NO_INSTRUMENTS) -> float:
        """See `Signal`: the value of one bit."""
        del value, bench
        return abs(self.factor)

    def _command(self, value: float, bench: Instruments) -> tuple[Stimulus, float, float | None]:
        del bench
        raw = self._raw_of(value)
        return self._stimulus(raw), self._value_of_raw(raw), 0.0

    def _not(self, what: str, stimulus: Frame) -> Stated:
        return Stated(None, "error", f"frame {stimulus.text}: {what}")
