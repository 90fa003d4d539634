"""A number in a frame of SAE J1850, and the frame's own check byte."""

from dataclasses import dataclass
from typing import ClassVar, Final

from needlewright.errors import SignalError
from needlewright.signals.crc import crc8_j1850
from needlewright.signals.frame_signal import NumberSignal
from needlewright.signals.model import Frame, Reach, Stated, Stimulus, VpwStimulus
from needlewright.signals.signal import Wire

MOST_BYTES: Final = 12
"""In a frame, check byte included (SAE J1850, cross-read)."""


def with_check(data: bytes) -> bytes:
    """The frame with its check byte.

    Parameters
    ----------
    data
        1 to 11 bytes.

    Returns
    -------
    bytes
        One more.

    Raises
    ------
    SignalError
        If the frame would be empty or too long.
    """
    if not 1 <= len(data) < MOST_BYTES:
        raise SignalError(
            f"a J1850 frame has 1 to {MOST_BYTES - 1} bytes before its check byte, found "
            f"{len(data)}"
        )
    return data + bytes((crc8_j1850(data),))


@dataclass(frozen=True, slots=True)
class VpwSignal(NumberSignal):
    """A dial commanded by one number of one frame, most significant byte first."""

    kind: ClassVar[str] = "j1850_vpw"

    wire: Wire
    template: bytes
    """The frame before the check byte; the value's bytes are taken out of it."""
    first_byte: int
    """From 1."""
    length: int
    """Bytes of the value."""
    bit_value: float
    offset: float
    repeated_s: float

    @property
    def reach(self) -> Reach:
        """From raw 0 to all ones."""
        ends = (self.offset, self._value_of_raw((1 << 8 * self.length) - 1))
        return Reach(min(ends), max(ends))

    @property
    def period_s(self) -> float:
        """How often the frame is repeated."""
        return self.repeated_s

    @property
    def factor(self) -> float:
        """See `NumberSignal`."""
        return self.bit_value

    def stated_by(self, stimulus: Stimulus | Frame) -> Stated:
        """See `Signal`; the check byte is checked, and every byte that is not the value's."""
        if not isinstance(stimulus, VpwStimulus):
            raise self._foreign(stimulus)
        found, start = stimulus.data, self.first_byte - 1
        end = start + self.length
        body = found[:-1]
        if len(body) != len(self.template) or self._outside(body) != self._outside(self.template):
            raise SignalError(
                f"dial '{self.wire.dial}': frame {found.hex(' ').upper()} is not the dial's, "
                f"{self.template.hex(' ').upper()} with its value in byte {self.first_byte}"
            )
        check = crc8_j1850(body)
        if found[-1] != check:
            words = f"frame {found.hex(' ').upper()}: expected the check byte {check:02X}"
            return Stated(None, "error", words)
        return Stated(self._value_of_raw(int.from_bytes(body[start:end])), "valid")

    def _outside(self, body: bytes) -> bytes:
        start = self.first_byte - 1
        return body[:start] + body[start + self.length :]

    def _raw_of(self, value: float) -> int:
        return round((value - self.offset) / self.bit_value)

    def _value_of_raw(self, raw: int) -> float:
        return raw * self.bit_value + self.offset

    def _stimulus(self, raw: int) -> VpwStimulus:
        start = self.first_byte - 1
        number = raw.to_bytes(self.length)
        body = self.template[:start] + number + self.template[start + self.length :]
        return VpwStimulus(with_check(body), self.repeated_s)
