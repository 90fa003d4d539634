"""What goes on the wires, and what it states: plain values handed from stage to stage.

Values are in the dial's own unit; stimuli in hertz, ohm, volts or bytes.
"""

from dataclasses import dataclass, replace
from typing import Literal

from needlewright.errors import SignalError
from needlewright.signals.frame_rules import FrameRule

Validity = Literal["valid", "not_available", "error", "out_of_range"]


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame of a controller area network."""

    arbitration_id: int
    extended: bool
    """29-bit identifier; else 11-bit."""
    data: bytes

    @property
    def text(self) -> str:
        """Identifier and data in hexadecimal, `0CF00400#FFFF...`."""
        digits = 8 if self.extended else 3
        return f"{self.arbitration_id:0{digits}X}#{self.data.hex().upper()}"

    @staticmethod
    def parse(text: str) -> "Frame":
        """Understand what `text` prints; an identifier of more than three digits is 29-bit.

        Parameters
        ----------
        text
            Like `0CF00400#FFFF7D...`, or `7E8#03410D50`.

        Returns
        -------
        Frame
            The frame.

        Raises
        ------
        SignalError
            If it is not of that form.
        """
        head, mark, tail = text.strip().partition("#")
        try:
            identifier, data = int(head, 16), bytes.fromhex(tail)
        except ValueError as error:
            raise SignalError(f"'{text}' is no frame; expected hex like 7E8#03410D50") from error
        extended = len(head) > 3
        if not mark or len(data) > 64 or identifier >= 1 << (29 if extended else 11):
            raise SignalError(
                f"'{text}' is no frame; expected an identifier of 11 or 29 bits, # and up to 64 "
                "bytes in hex"
            )
        return Frame(identifier, extended, data)


@dataclass(frozen=True, slots=True)
class FrameStimulus:
    """A frame that is repeated; `mask` says which of its bits state the dial's value."""

    arbitration_id: int
    extended: bool
    data: bytes
    mask: int
    """Over the data as one number, first byte most significant."""
    period_s: float | None
    """None: sent when asked for."""
    bitrate: float | None = None
    """Bits a second; None: not stated."""
    rules: tuple[FrameRule, ...] = ()
    """Counters and checksums, in the order they are filled in."""
    page: str = ""
    """Of a multiplexed message, which of its meanings this is; pages are sent one by one."""

    @property
    def slot(self) -> tuple[int, bool, str]:
        """What must be the same for two dials to share a frame."""
        return self.arbitration_id, self.extended, self.page

    def frame(self, count: int = 0) -> Frame:
        """The frame as sent the `count`-th time, from 0: counters and checksums filled in."""
        data = self.data
        for rule in self.rules:
            data = rule.applied(data, count)
        return Frame(self.arbitration_id, self.extended, data)

    def joined(self, other: "FrameStimulus") -> "FrameStimulus":
        """Put another dial's bits into this frame.

        Parameters
        ----------
        other
            With the same identifier.

        Returns
        -------
        FrameStimulus
            This frame with the other's bits, at the shorter of the two periods.

        Raises
        ------
        SignalError
            If the two are not one frame, or state different values by the same bits.
        """
        mine, theirs = int.from_bytes(self.data), int.from_bytes(other.data)
        same = (self.slot, len(self.data), self.rules) == (other.slot, len(other.data), other.rules)
        if not same or (mine ^ theirs) & ~(self.mask | other.mask):
            raise SignalError(
                f"{self.frame().text} and {other.frame().text} differ in more than their values; "
                "check that both dials name the same message, fixed values and rules"
            )
        if (mine ^ theirs) & self.mask & other.mask:
            raise SignalError(
                f"two dials state different values by the same bits of frame "
                f"{self.frame().text.partition('#')[0]}; command them the same"
            )
        joined = (mine & ~other.mask) | (theirs & other.mask)
        periods = [p for p in (self.period_s, other.period_s) if p is not None]
        return replace(
            self,
            data=joined.to_bytes(len(self.data)),
            mask=self.mask | other.mask,
            period_s=min(periods, default=None),
        )


@dataclass(frozen=True, slots=True)
class VpwStimulus:
    """A frame of SAE J1850 at 10.4 kbit/s, its CRC included."""

    data: bytes
    period_s: float


@dataclass(frozen=True, slots=True)
class PulseStimulus:
    """A square wave; at 0 Hz a steady low level."""

    frequency_hz: float
    duty: float
    """Share of the period at the high level."""
    high_v: float | None = None
    """None: not stated."""
    low_v: float = 0.0

    @property
    def period_s(self) -> float | None:
        """Time from one rising edge to the next; None at 0 Hz."""
        return 1.0 / self.frequency_hz if self.frequency_hz > 0 else None


@dataclass(frozen=True, slots=True)
class ResistanceStimulus:
    """A resistance in the place of the sender."""

    ohm: float


@dataclass(frozen=True, slots=True)
class VoltageStimulus:
    """A voltage at the input."""

    volts: float


Stimulus = FrameStimulus | VpwStimulus | PulseStimulus | ResistanceStimulus | VoltageStimulus


@dataclass(frozen=True, slots=True)
class Stated:
    """What a stimulus states: a value, or none and why."""

    value: float | None
    """In the dial's unit."""
    validity: Validity
    words: str = ""
    """Of an invalid one: the limit, and what was found."""


@dataclass(frozen=True, slots=True)
class Reach:
    """The values that a signal can state, in the dial's unit."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Command:
    """What a dial is told, and by which stimulus."""

    dial: str
    unit: str
    asked: float
    value: float
    """What the stimulus states: `asked`, rounded to what the wire or the instrument can set."""
    u_value: float | None
    """Standard uncertainty of `value`, k = 1; 0 for numbers in a frame; None: not known."""
    stimulus: Stimulus
