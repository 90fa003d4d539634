"""From the widths of a captured line back to J1850 frames, with every violation named."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final, Literal

from needlewright.signals.captures import Trace, Width, widths_of
from needlewright.signals.crc import crc8_j1850
from needlewright.signals.vpw import MOST_BYTES
from needlewright.signals.vpw_symbols import (
    RECEIVED_LONG_US,
    RECEIVED_SHORT_US,
    RECEIVED_START_US,
)

Code = Literal[
    "no_start",
    "too_short",
    "too_long",
    "unknown_level",
    "start_inside",
    "break",
    "left_over_bits",
    "no_data",
    "too_many_bytes",
    "wrong_check",
    "cut_off",
]
LEVEL_NAMES: Final = {True: "active", False: "passive"}


@dataclass(frozen=True, slots=True)
class Violation:
    """What a receiver would not take, and when."""

    time_s: float
    code: Code
    words: str


@dataclass(frozen=True, slots=True)
class ReceivedFrame:
    """One frame, or what came in its place."""

    start_s: float
    data: bytes
    """Whole bytes, check byte included."""
    response: bytes
    """What another unit put behind the data, in the same frame."""
    violations: tuple[Violation, ...]

    @property
    def sound(self) -> bool:
        """Whether a receiver would take it."""
        return not self.violations


def frames_in(trace: Trace, *, inverted: bool = False) -> list[ReceivedFrame]:
    """Find the frames of a captured line.

    Parameters
    ----------
    trace
        Of one line.
    inverted
        Whether the bus is active where the capture is low.

    Returns
    -------
    list of ReceivedFrame
        In time order; widths that belong to no frame are gathered in one without data.
    """
    frames: list[ReceivedFrame] = []
    open_frame: _Frame | None = None
    widths = list(widths_of(trace))
    for width in widths:
        active = None if width.level is None else width.level != inverted
        if open_frame is None:
            if active is False:
                continue
            open_frame = _Frame(width.start_s)
            open_frame.begin(width, active)
        elif width is widths[-1] and width.us < RECEIVED_START_US[1]:
            break  # how long it would have lasted was not seen
        elif open_frame.take(width, active):
            frames.append(open_frame.closed())
            open_frame = None
    if open_frame is not None:
        open_frame.say(trace.end_s, "cut_off", "the capture ends before the end of the frame")
        frames.append(open_frame.closed())
    return frames


@dataclass(slots=True)
class _Frame:
    """A frame being received."""

    start_s: float
    bits: list[int] = field(default_factory=list)
    response: list[int] = field(default_factory=list)
    violations: list[Violation] = field(default_factory=list)
    part: Literal["data", "gap", "response", "lost"] = "data"

    def say(self, time_s: float, code: Code, words: str) -> None:
        self.violations.append(Violation(time_s, code, words))

    def begin(self, width: Width, active: bool | None) -> None:
        """The first width that is not passive must be a start of frame."""
        low, high = RECEIVED_START_US
        if active and low <= width.us < high:
            return
        self.part = "lost"
        if active is None:
            self._unknown(width)
        elif width.us >= high:
            self.say(width.start_s, "break", f"break: active for {width.us:.0f} us")
        else:
            wanted = f"active for {low:g} to {high:g} us"
            words = f"expected a start of frame, {wanted}, found {width.us:.0f} us"
            self.say(width.start_s, "no_start", words)

    def take(self, width: Width, active: bool | None) -> bool:
        """Take the next width; whether the frame ends with it."""
        if active is None:
            self._unknown(width)
        elif not active and width.us >= RECEIVED_START_US[1]:
            return True
        elif self.part == "gap":
            self._after_data(width)
        elif self.part != "lost":
            self._bit(width, active)
        return False

    def _bit(self, width: Width, active: bool) -> None:
        name = LEVEL_NAMES[active]
        if width.us < RECEIVED_SHORT_US[0]:
            words = (
                f"{name} for {width.us:.0f} us, shorter than any bit ({RECEIVED_SHORT_US[0]:g} us)"
            )
            self._lose(width, "too_short", words)
        elif width.us < RECEIVED_SHORT_US[1]:
            self._add(1 if active else 0)
        elif width.us < RECEIVED_LONG_US[1]:
            self._add(0 if active else 1)
        elif not active:
            if self.part == "response":
                words = f"passive for {width.us:.0f} us inside a response"
                self._lose(width, "too_long", words)
            self.part = "gap" if self.part == "data" else "lost"
        elif width.us < RECEIVED_START_US[1]:
            words = f"a start of frame, active for {width.us:.0f} us, inside a frame"
            self._lose(width, "start_inside", words)
        else:
            self._lose(width, "break", f"break: active for {width.us:.0f} us inside a frame")

    def _after_data(self, width: Width) -> None:
        """An active width after the end of data opens a response, as its normalisation bit."""
        low, high = RECEIVED_SHORT_US[0], RECEIVED_LONG_US[1]
        if low <= width.us < high:
            self.part = "response"
            return
        code: Code = "too_short" if width.us < low else "too_long"
        words = f"expected a normalisation bit of {low:g} to {high:g} us, found {width.us:.0f} us"
        self._lose(width, code, words)

    def _add(self, bit: int) -> None:
        (self.response if self.part == "response" else self.bits).append(bit)

    def _lose(self, width: Width, code: Code, words: str) -> None:
        """After a wrong width no later bit can be trusted."""
        self.part = "lost"
        self.say(width.start_s, code, words)

    def _unknown(self, width: Width) -> None:
        self._lose(width, "unknown_level", f"the level is unknown for {width.us:.0f} us")

    def closed(self) -> ReceivedFrame:
        data, response = _bytes(self.bits), _bytes(self.response)
        if self.part != "lost":
            self._judge(data)
        return ReceivedFrame(self.start_s, data, response, tuple(self.violations))

    def _judge(self, data: bytes) -> None:
        for bits, what in ((self.bits, "byte(s)"), (self.response, "byte(s) of the response")):
            if left := len(bits) % 8:
                words = f"{left} bit(s) are left over after {len(bits) // 8} {what}"
                self.say(self.start_s, "left_over_bits", words)
        if not data:
            self.say(self.start_s, "no_data", "the frame has no byte")
            return
        total = len(data) + len(self.response) // 8
        if total > MOST_BYTES:
            words = f"the frame has {total} bytes, at most {MOST_BYTES} are allowed"
            self.say(self.start_s, "too_many_bytes", words)
        check = crc8_j1850(data[:-1])
        if len(data) < 2 or data[-1] != check:
            words = f"the check byte is {data[-1]:02X}, expected {check:02X}"
            self.say(self.start_s, "wrong_check", words)


def _bytes(bits: Iterable[int]) -> bytes:
    """Whole bytes, most significant bit first; what is left over is dropped."""
    each = list(bits)
    numbers = (each[i : i + 8] for i in range(0, len(each) - 7, 8))
    return bytes(int("".join(map(str, number)), 2) for number in numbers)
