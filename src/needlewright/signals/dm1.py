"""The lamp command of the diagnostic message DM1 of SAE J1939-73: warning lamps of the cluster.

Two bits a lamp in byte 1 (on or off) and in byte 2 (how it flashes), then one trouble code; with
no code, four bytes of zero.

**Source**: SAE J1939-73 clause 5.7.1, from memory.
"""

from collections.abc import Mapping
from typing import Final, Literal

from needlewright.errors import SignalError
from needlewright.signals.j1939 import group_of, identifier
from needlewright.signals.model import Frame, FrameStimulus

LampState = Literal["off", "on", "slow_flash", "fast_flash", "not_available"]

PGN: Final = 65226
PERIOD_S: Final = 1.0
BITRATE: Final = 250_000.0
LAMPS: Final = {"malfunction": 6, "red_stop": 4, "amber_warning": 2, "protect": 0}
"""Lowest of the lamp's two bits in bytes 1 and 2."""
STATES: Final[dict[str, tuple[int, int]]] = {
    "off": (0b00, 0b11),
    "on": (0b01, 0b11),
    "slow_flash": (0b01, 0b00),
    "fast_flash": (0b01, 0b01),
    "not_available": (0b11, 0b11),
}
"""Of each state, the bits of byte 1 and of byte 2; 11 in byte 2 is "does not flash"."""
NO_TROUBLE: Final = bytes(4)


def lamp_command(lamps: Mapping[str, str], source: int = 0) -> FrameStimulus:
    """The frame that commands warning lamps.

    Parameters
    ----------
    lamps
        Lamp to state; a lamp that is not named is commanded off.
    source
        Address of the sender.

    Returns
    -------
    FrameStimulus
        Repeated once a second.

    Raises
    ------
    SignalError
        If a lamp or a state is not known.
    """
    steady, flashing = 0, 0
    for name, state in lamps.items():
        if name not in LAMPS:
            raise SignalError(f"lamp '{name}' is not known; expected {', '.join(LAMPS)}")
        if state not in STATES:
            raise SignalError(f"lamp '{name}': expected {', '.join(STATES)}, found '{state}'")
    for name, shift in LAMPS.items():
        on, flash = STATES[lamps.get(name, "off")]
        steady |= on << shift
        flashing |= flash << shift
    data = bytes((steady, flashing)) + NO_TROUBLE + b"\xff\xff"
    mask = 0xFFFF << 48
    return FrameStimulus(identifier(6, PGN, source), True, data, mask, PERIOD_S, BITRATE)


def lamps_in(frame: Frame) -> dict[str, LampState]:
    """The state of each lamp that a frame commands.

    Parameters
    ----------
    frame
        Of parameter group 65226.

    Returns
    -------
    dict
        Lamp to state; a reserved combination is `not_available`.

    Raises
    ------
    SignalError
        If the frame is of another group or too short.
    """
    if not frame.extended or group_of(frame.arbitration_id) != PGN or len(frame.data) < 2:
        raise SignalError(f"frame {frame.text} is no lamp command of parameter group {PGN}")
    return {name: _state(frame.data, shift) for name, shift in LAMPS.items()}


def _state(data: bytes, shift: int) -> LampState:
    on, flash = data[0] >> shift & 0b11, data[1] >> shift & 0b11
    if on == 0b00:
        return "off"
    if on != 0b01:
        return "not_available"
    return {0b00: "slow_flash", 0b01: "fast_flash"}.get(flash, "on")  # type: ignore[return-value]
