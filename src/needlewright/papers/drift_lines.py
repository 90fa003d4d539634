"""What a drift chart draws: dial by dial, a line for each check point."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DriftLine:
    """One check point."""

    label: str
    looks: tuple[tuple[float, float], ...]
    """`(hours, degrees from the first look)`."""


@dataclass(frozen=True, slots=True)
class DriftChart:
    """One dial."""

    title: str
    words: str
    lines: tuple[DriftLine, ...]
    marks: tuple[tuple[float, str], ...] = ()
    """`(hours, number)` of its events."""
