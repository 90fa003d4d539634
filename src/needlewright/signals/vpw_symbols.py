"""SAE J1850 at 10.4 kbit/s as it is on the wire: widths of alternating levels.

A bit is one width: logic 0 is passive for 64 us or active for 128 us, logic 1 passive for 128 us or
active for 64 us. **Source**: SAE J1850, as two microcontroller manuals have it.
"""

from dataclasses import dataclass
from typing import Final

SHORT_US: Final = 64.0
LONG_US: Final = 128.0
START_US: Final = 200.0
"""Start of frame, active."""
END_OF_DATA_US: Final = 200.0
"""Passive."""
END_OF_FRAME_US: Final = 280.0
"""Passive."""

RECEIVED_SHORT_US: Final = (34.0, 96.0)
RECEIVED_LONG_US: Final = (96.0, 163.0)
RECEIVED_START_US: Final = (163.0, 239.0)
"""Start of frame, and end of data; a receiver takes what is longer for the end of the frame."""


@dataclass(frozen=True, slots=True)
class Symbol:
    """One level for one width."""

    active: bool
    us: float


def width_us(bit: int, *, active: bool) -> float:
    """Width of a bit, microseconds."""
    return LONG_US if bool(bit) != active else SHORT_US


def byte_time_us(byte: int) -> float:
    """Time of a byte whose first bit is passive, microseconds."""
    return sum(symbol.us for symbol in _bits((byte,)))


def symbols_of(data: bytes) -> tuple[Symbol, ...]:
    """The widths of a frame, from its start to its end.

    Parameters
    ----------
    data
        Check byte included.

    Returns
    -------
    tuple of Symbol
        Start of frame, bits, end of frame; levels alternate, as a byte has an even number of bits.
    """
    start, end = Symbol(True, START_US), Symbol(False, END_OF_FRAME_US)
    return (start, *_bits(data), end)


def _bits(data: bytes | tuple[int, ...]) -> tuple[Symbol, ...]:
    bits = [byte >> place & 1 for byte in data for place in range(7, -1, -1)]
    return tuple(
        Symbol(number % 2 == 1, width_us(bit, active=number % 2 == 1))
        for number, bit in enumerate(bits)
    )
