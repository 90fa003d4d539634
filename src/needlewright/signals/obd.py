"""OBD-II mode 01: asking the vehicle what it measures, and what its answers state.

**Source**: SAE J1979 for the numbers, ISO 15765-4 for the identifiers; both cross-read.
"""

from dataclasses import dataclass
from typing import ClassVar, Final, Literal

from needlewright.errors import SignalError
from needlewright.signals.frame_signal import NumberSignal
from needlewright.signals.model import Frame, FrameStimulus, Reach, Stated, Stimulus
from needlewright.signals.signal import Wire
from needlewright.units import convert

MODE: Final = 0x01
ANSWER: Final = 0x41
REFUSED: Final = 0x7F
FILLING: Final = 0x55
"""Unused bytes of a frame."""
ASK_ALL_11: Final = 0x7DF
ASK_ALL_29: Final = 0x18DB33F1
FIRST_ANSWER_11: Final = 0x7E8
TESTER: Final = 0xF1
ANSWER_29: Final = 0x18DA0000 | TESTER << 8


@dataclass(frozen=True, slots=True)
class Pid:
    """One measured quantity: value = factor x raw + offset, raw of one or two bytes."""

    number: int
    name: str
    length: int
    factor: float
    offset: float
    unit: str

    @property
    def highest_raw(self) -> int:
        """All ones are a value here, not "not available"."""
        return (1 << 8 * self.length) - 1


PIDS: Final[dict[int, Pid]] = {
    pid.number: pid
    for pid in (
        Pid(0x05, "engine coolant temperature", 1, 1.0, -40.0, "degC"),
        Pid(0x0C, "engine speed", 2, 0.25, 0.0, "rpm"),
        Pid(0x0D, "vehicle speed", 1, 1.0, 0.0, "km/h"),
        Pid(0x2F, "fuel level", 1, 100 / 255, 0.0, "%"),
        Pid(0x42, "control module voltage", 2, 0.001, 0.0, "V"),
    )
}


def request(pid: int, bits: Literal[11, 29] = 11) -> Frame:
    """The frame that asks every control unit for a quantity.

    Parameters
    ----------
    pid
        Its number.
    bits
        Of the identifier.

    Returns
    -------
    Frame
        Eight bytes.
    """
    data = bytes((2, MODE, pid)) + bytes((FILLING,)) * 5
    return Frame(ASK_ALL_11 if bits == 11 else ASK_ALL_29, bits == 29, data)


def value_in(answer: bytes) -> float:
    """What the bytes of an answer state, without length and identifier: `41 0C 0B 30`.

    Parameters
    ----------
    answer
        Mode answered, number, and the data bytes; bytes that follow are filling.

    Returns
    -------
    float
        In the quantity's own unit, see `PIDS`.

    Raises
    ------
    SignalError
        If it is a refusal, of another mode or number, or too short.
    """
    shown = answer.hex(" ").upper()
    if answer[:2] == bytes((REFUSED, MODE)):
        code = f", reason {answer[2]:02X}" if len(answer) > 2 else ""
        raise SignalError(f"answer {shown}: the control unit refuses the request{code}")
    if len(answer) < 2 or answer[0] != ANSWER:
        raise SignalError(f"answer {shown}: expected 41, the answer to mode 01, first")
    pid = PIDS.get(answer[1])
    if pid is None:
        known = ", ".join(f"{number:02X}" for number in PIDS)
        raise SignalError(f"answer {shown}: number {answer[1]:02X} is not one of {known}")
    if len(answer) < 2 + pid.length:
        raise SignalError(f"answer {shown}: expected {pid.length} data byte(s) of {pid.name}")
    return int.from_bytes(answer[2 : 2 + pid.length]) * pid.factor + pid.offset


def payload_of(frame: Frame) -> bytes:
    """The answer inside a single frame: what its first byte counts.

    Parameters
    ----------
    frame
        As received.

    Returns
    -------
    bytes
        Beginning with the mode answered.

    Raises
    ------
    SignalError
        If it is not an answer's single frame.
    """
    low = frame.arbitration_id
    ours = (
        low & ~0xFF == ANSWER_29 if frame.extended else FIRST_ANSWER_11 <= low < FIRST_ANSWER_11 + 8
    )
    count = frame.data[0] if frame.data else 0
    if not ours or not 1 <= count <= 7 or len(frame.data) < 1 + count:
        raise SignalError(
            f"frame {frame.text} is no single answer of a control unit; expected 7E8 to 7EF or "
            "18DAF1xx, and a first byte of 1 to 7"
        )
    return frame.data[1 : 1 + count]


@dataclass(frozen=True, slots=True)
class ObdSignal(NumberSignal):
    """What the vehicle answers of a dial's quantity."""

    kind: ClassVar[str] = "obd"

    wire: Wire
    pid: Pid
    bits: Literal[11, 29]
    ecu: int
    bitrate: float

    @property
    def reach(self) -> Reach:
        """From raw 0 to all ones."""
        return Reach(self._value_of_raw(0), self._value_of_raw(self.pid.highest_raw))

    @property
    def period_s(self) -> None:
        """None: it is sent when asked for."""
        return None

    @property
    def factor(self) -> float:
        """See `NumberSignal`."""
        return self._value_of_raw(1) - self._value_of_raw(0)

    @property
    def request(self) -> Frame:
        """The frame that asks for it."""
        return request(self.pid.number, self.bits)

    def stated_by(self, stimulus: Stimulus | Frame) -> Stated:
        """See `Signal`."""
        frame = stimulus.frame() if isinstance(stimulus, FrameStimulus) else stimulus
        if not isinstance(frame, Frame):
            raise self._foreign(frame)
        try:
            payload = payload_of(frame)
        except SignalError as error:
            raise SignalError(f"dial '{self.wire.dial}': {error}") from error
        if len(payload) > 1 and payload[0] == ANSWER and payload[1] != self.pid.number:
            raise SignalError(
                f"dial '{self.wire.dial}': frame {frame.text} answers number {payload[1]:02X}, "
                f"not {self.pid.number:02X}"
            )
        try:
            value = value_in(payload)
        except SignalError as error:
            return Stated(None, "error", str(error))
        return Stated(convert(value, self.pid.unit, self.wire.unit), "valid")

    def _raw_of(self, value: float) -> int:
        there = convert(value, self.wire.unit, self.pid.unit)
        return round((there - self.pid.offset) / self.pid.factor)

    def _value_of_raw(self, raw: int) -> float:
        return convert(raw * self.pid.factor + self.pid.offset, self.pid.unit, self.wire.unit)

    def _stimulus(self, raw: int) -> FrameStimulus:
        number = raw.to_bytes(self.pid.length)
        payload = bytes((ANSWER, self.pid.number)) + number
        data = bytes((len(payload),)) + payload
        data += bytes((FILLING,)) * (8 - len(data))
        low = FIRST_ANSWER_11 + self.ecu if self.bits == 11 else ANSWER_29 | self.ecu
        mask = int.from_bytes(b"\x00\x00\x00" + b"\xff" * len(number) + bytes(5 - len(number)))
        page = f"PID {self.pid.number:02X}"  # answers share an identifier, and are never joined
        return FrameStimulus(low, self.bits == 29, data, mask, None, self.bitrate, page=page)
