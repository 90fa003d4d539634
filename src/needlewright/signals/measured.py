"""What was measured or heard on a wire, as typed: a number, or bytes in hexadecimal."""

from math import isfinite

from needlewright.errors import SignalError
from needlewright.signals.model import Frame, Stimulus, VpwStimulus
from needlewright.signals.signal import LevelSignal, Signal
from needlewright.signals.vpw import VpwSignal

MEASURED_IN = {
    "pulses": "Hz",
    "duty_cycle": "as a share of the period",
    "resistance": "ohm",
    "voltage": "V",
}
EITHER_WAY = ("voltage",)
"""What may be below zero: the drop at the shunt of an ammeter, whose current flows either way."""


def stimulus_from(signal: Signal, text: str) -> Stimulus | Frame:
    """Understand what was measured on a dial's wire.

    Parameters
    ----------
    signal
        The dial's.
    text
        `136.5` in Hz, ohm, V or as a share; `18FEF100#FF0050FFFFFFFFFF`; `48 29 10 02 28 00 79`
        with its check byte.

    Returns
    -------
    Stimulus or Frame
        For `Signal.stated_by`.

    Raises
    ------
    SignalError
        If it is not of the form the signal has.
    """
    where = f"dial '{signal.wire.dial}'"
    if isinstance(signal, LevelSignal):
        try:
            level = float(text)
        except ValueError:
            level = float("nan")
        either_way = signal.kind in EITHER_WAY
        if not isfinite(level) or (level < 0 and not either_way):
            unit = MEASURED_IN[signal.kind]
            least = "" if either_way else ", 0 or more"
            raise SignalError(f"{where}: expected a number {unit}{least}, found '{text}'")
        return signal.stimulus_of(level)
    if isinstance(signal, VpwSignal):
        try:
            return VpwStimulus(bytes.fromhex(text), signal.period_s)
        except ValueError as error:
            raise SignalError(f"{where}: expected bytes in hex, found '{text}'") from error
    try:
        return Frame.parse(text)
    except SignalError as error:
        raise SignalError(f"{where}: {error}") from error
