"""What a message database cannot express: rolling counters and checksums inside a frame."""

from abc import ABC, abstractmethod
from dataclasses import dataclass
from functools import reduce
from operator import xor
from typing import Literal

from needlewright.signals.crc import crc8_j1850

ChecksumKind = Literal["crc8_j1850", "xor", "sum"]


@dataclass(frozen=True, slots=True)
class Slot:
    """Where in a frame a rule writes: the bits, and the pattern of each value it may write."""

    name: str
    mask: int
    """Over the data as one number, first byte most significant."""
    patterns: tuple[int, ...]

    def filled(self, data: bytes, value: int) -> bytes:
        """The data with that value in the slot."""
        return ((int.from_bytes(data) & ~self.mask) | self.patterns[value]).to_bytes(len(data))

    def value_in(self, data: bytes) -> int | None:
        """The value the slot holds; None: none that the rule writes."""
        found = int.from_bytes(data) & self.mask
        return self.patterns.index(found) if found in self.patterns else None


class FrameRule(ABC):
    """Fills one slot of a frame before it is sent, and checks it in one that was received."""

    __slots__ = ()

    @abstractmethod
    def applied(self, data: bytes, count: int) -> bytes:
        """The data with the slot filled, for the frame sent the `count`-th time, from 0."""

    @abstractmethod
    def complaint(self, data: bytes) -> str | None:
        """What is wrong with the slot of a received frame; None: nothing."""


@dataclass(frozen=True, slots=True)
class Counter(FrameRule):
    """Counts the frames sent and begins again at zero after its last value."""

    slot: Slot

    def applied(self, data: bytes, count: int) -> bytes:
        """See `FrameRule`."""
        return self.slot.filled(data, count % len(self.slot.patterns))

    def complaint(self, data: bytes) -> str | None:
        """See `FrameRule`; one frame alone says only whether the count is one of its values."""
        if self.slot.value_in(data) is not None:
            return None
        return f"counter {self.slot.name}: expected 0 to {len(self.slot.patterns) - 1}"


@dataclass(frozen=True, slots=True)
class Checksum(FrameRule):
    """Eight bits over every byte of the frame that the slot does not touch, in their order.

    **Source**: CRC-8 of SAE J1850, see `crc`; exclusive or and sum: common practice, no source.
    """

    slot: Slot
    kind: ChecksumKind
    seed: int = 0
    inverted: bool = False

    def applied(self, data: bytes, count: int) -> bytes:
        """See `FrameRule`."""
        del count
        return self.slot.filled(data, self.over(data))

    def complaint(self, data: bytes) -> str | None:
        """See `FrameRule`."""
        found, expected = self.slot.value_in(data), self.over(data)
        if found == expected:
            return None
        shown = "no value of it" if found is None else f"{found:02X}"
        return f"checksum {self.slot.name}: expected {expected:02X}, found {shown}"

    def over(self, data: bytes) -> int:
        """The checksum that belongs into a frame with this data."""
        touched = self.slot.mask.to_bytes(len(data))
        covered = bytes(b for b, mask in zip(data, touched, strict=True) if not mask)
        match self.kind:
            case "crc8_j1850":
                return crc8_j1850(covered)
            case "xor":
                result = reduce(xor, covered, self.seed)
            case "sum":
                result = (self.seed + sum(covered)) & 0xFF
        return result ^ 0xFF if self.inverted else result
