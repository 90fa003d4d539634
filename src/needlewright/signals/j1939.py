"""Parameters of SAE J1939 by their numbers, in frames with 29-bit identifiers.

All ones in a parameter mean "not available", FE in its highest byte "error", FB to FD are kept for
other uses; the highest value is FA and then all ones. Least significant byte first.
"""

from dataclasses import dataclass
from typing import ClassVar, Final

from needlewright.errors import SignalError
from needlewright.signals.frame_signal import NumberSignal
from needlewright.signals.model import Frame, FrameStimulus, Reach, Stated, Stimulus, Validity
from needlewright.signals.signal import Wire
from needlewright.units import convert

FRAME_BYTES: Final = 8
NOT_AVAILABLE: Final = b"\xff" * FRAME_BYTES


@dataclass(frozen=True, slots=True)
class Parameter:
    """One suspect parameter number: where it stands, and what its bits are worth."""

    spn: int
    name: str
    pgn: int
    first_byte: int
    """Counted from 1, as the standard does."""
    length: int
    """Bytes."""
    factor: float
    offset: float
    unit: str
    period_s: float
    """How often it is sent; from memory."""
    priority: int = 6

    @property
    def highest_raw(self) -> int:
        """FA and then all ones."""
        return (0xFB << 8 * (self.length - 1)) - 1

    @property
    def highest(self) -> float:
        """Highest value that can be stated, in the parameter's unit."""
        return self.highest_raw * self.factor + self.offset

    @property
    def mask(self) -> int:
        """Its bits in the frame, the data as one number, first byte most significant."""
        return int.from_bytes(self.placed(b"\xff" * self.length, bytes(FRAME_BYTES)))

    def placed(self, field: bytes, data: bytes) -> bytes:
        """The data with the parameter's bytes put in."""
        start = self.first_byte - 1
        return data[:start] + field + data[start + self.length :]

    def raw_of(self, value: float) -> int:
        """The nearest whole number of bits for a value in the parameter's unit.

        Parameters
        ----------
        value
            In the parameter's unit.

        Returns
        -------
        int
            0 to `highest_raw`.

        Raises
        ------
        SignalError
            If the value cannot be stated.
        """
        raw = round((value - self.offset) / self.factor)
        if not 0 <= raw <= self.highest_raw:
            raise SignalError(
                f"SPN {self.spn}, {self.name}: {value:g} {self.unit} cannot be stated; it reaches "
                f"from {self.offset:g} to {self.highest:g} {self.unit}"
            )
        return raw

    def encoded(self, value: float, data: bytes = NOT_AVAILABLE) -> bytes:
        """A frame's data that states a value, the other bytes as given (else not available)."""
        return self.placed(self.raw_of(value).to_bytes(self.length, "little"), data)

    def stated(self, data: bytes) -> Stated:
        """What a frame's data states of this parameter, in the parameter's unit."""
        start = self.first_byte - 1
        field = data[start : start + self.length]
        where = f"SPN {self.spn}, {self.name}"
        if len(field) < self.length:
            return Stated(None, "error", f"{where}: the frame ends before byte {start + 1}")
        raw = int.from_bytes(field, "little")
        if raw <= self.highest_raw:
            return Stated(raw * self.factor + self.offset, "valid")
        validity, words = _special(field[-1])
        limit = self.highest_raw.to_bytes(self.length, "little").hex().upper()
        return Stated(
            None, validity, f"{where}: {words}; bytes {field.hex().upper()}, highest {limit}"
        )


def _special(top_byte: int) -> tuple[Validity, str]:
    match top_byte:
        case 0xFF:
            return "not_available", "not available"
        case 0xFE:
            return "error", "the sender states an error"
        case _:
            return "out_of_range", "no value, but a number kept for other uses"


PARAMETERS: Final[dict[int, Parameter]] = {
    p.spn: p
    for p in (
        Parameter(190, "engine speed", 61444, 4, 2, 0.125, 0.0, "rpm", 0.020, priority=3),
        Parameter(84, "wheel-based vehicle speed", 65265, 2, 2, 1 / 256, 0.0, "km/h", 0.100),
        Parameter(110, "engine coolant temperature", 65262, 1, 1, 1.0, -40.0, "degC", 1.0),
        Parameter(100, "engine oil pressure", 65263, 4, 1, 4.0, 0.0, "kPa", 0.5),
        Parameter(96, "fuel level", 65276, 2, 1, 0.4, 0.0, "%", 1.0),
        Parameter(168, "battery potential", 65271, 5, 2, 0.05, 0.0, "V", 1.0),
        Parameter(245, "total vehicle distance", 65248, 5, 4, 0.125, 0.0, "km", 0.100),
    )
}
"""The seven, by number. **Source**: SAE J1939-71, cross-read; the rates from memory."""


def identifier(priority: int, pgn: int, source: int) -> int:
    """The 29-bit identifier of a broadcast: priority, parameter group, source address."""
    return priority << 26 | pgn << 8 | source


def group_of(arbitration_id: int) -> int:
    """Parameter group number of a 29-bit identifier; a destination address is no part of it."""
    group = arbitration_id >> 8 & 0x3FFFF
    return group & 0x3FF00 if group >> 8 & 0xFF < 240 else group


def distance_km(frame: Frame) -> float:
    """Total distance that a frame on the bus states, for the record; it is never commanded.

    Parameters
    ----------
    frame
        Of parameter group 65248.

    Returns
    -------
    float
        Kilometres.

    Raises
    ------
    SignalError
        If it states none.
    """
    distance = PARAMETERS[245]
    if not frame.extended or group_of(frame.arbitration_id) != distance.pgn:
        raise SignalError(f"frame {frame.text} is not of parameter group {distance.pgn}")
    stated = distance.stated(frame.data)
    if stated.value is None:
        raise SignalError(stated.words)
    return stated.value


@dataclass(frozen=True, slots=True)
class J1939Signal(NumberSignal):
    """A dial commanded by one parameter."""

    kind: ClassVar[str] = "j1939"

    wire: Wire
    parameter: Parameter
    arbitration_id: int
    repeated_s: float
    bitrate: float
    mask: int

    @property
    def reach(self) -> Reach:
        """From raw 0 to the highest raw value."""
        unit, p = self.wire.unit, self.parameter
        return Reach(convert(p.offset, p.unit, unit), convert(p.highest, p.unit, unit))

    @property
    def period_s(self) -> float:
        """How often the frame is sent."""
        return self.repeated_s

    @property
    def factor(self) -> float:
        """See `NumberSignal`."""
        unit, p = self.wire.unit, self.parameter
        return convert(p.factor, p.unit, unit) - convert(0.0, p.unit, unit)

    def stated_by(self, stimulus: Stimulus | Frame) -> Stated:
        """See `Signal`."""
        frame = stimulus.frame() if isinstance(stimulus, FrameStimulus) else stimulus
        if not isinstance(frame, Frame):
            raise self._foreign(frame)
        p = self.parameter
        if not frame.extended or group_of(frame.arbitration_id) != p.pgn:
            raise SignalError(
                f"dial '{self.wire.dial}': frame {frame.text} is not of parameter group {p.pgn}, "
                f"which carries SPN {p.spn}"
            )
        stated = p.stated(frame.data)
        if stated.value is None:
            return stated
        return Stated(convert(stated.value, p.unit, self.wire.unit), "valid")

    def _raw_of(self, value: float) -> int:
        return self.parameter.raw_of(convert(value, self.wire.unit, self.parameter.unit))

    def _value_of_raw(self, raw: int) -> float:
        p = self.parameter
        return convert(raw * p.factor + p.offset, p.unit, self.wire.unit)

    def _stimulus(self, raw: int) -> FrameStimulus:
        p = self.parameter
        data = p.placed(raw.to_bytes(p.length, "little"), NOT_AVAILABLE)
        return FrameStimulus(
            self.arbitration_id, True, data, self.mask, self.repeated_s, self.bitrate
        )
