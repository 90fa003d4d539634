"""The cyclic redundancy check of SAE J1850."""

from typing import Final

POLYNOMIAL: Final = 0x1D
RESIDUE: Final = 0xC4
"""What a frame leaves with its own check byte at the end, before the last inversion."""


def _row(value: int) -> int:
    for _ in range(8):
        value = ((value << 1) ^ POLYNOMIAL if value & 0x80 else value << 1) & 0xFF
    return value


_TABLE: Final = tuple(_row(value) for value in range(256))


def crc_register(data: bytes) -> int:
    """The register after the bytes, begun at FF and not yet inverted."""
    register = 0xFF
    for byte in data:
        register = _TABLE[register ^ byte]
    return register


def crc8_j1850(data: bytes) -> int:
    """Check byte of a frame: polynomial 1D, begun at FF, inverted at the end.

    Parameters
    ----------
    data
        Every byte before it.

    Returns
    -------
    int
        0 to 255.

    **Source**: SAE J1850 clause 5.4.1; table 1 there is checked in `tests/published`.
    """
    return crc_register(data) ^ 0xFF
