"""The JSON documents of the `signal` commands."""

from pathlib import Path
from typing import Any

from needlewright.families.model import Dial
from needlewright.signals.captures import Trace
from needlewright.signals.model import (
    Command,
    FrameStimulus,
    PulseStimulus,
    ResistanceStimulus,
    Stated,
    Stimulus,
    VoltageStimulus,
    VpwStimulus,
)
from needlewright.signals.vpw_received import ReceivedFrame
from needlewright.signals.vpw_symbols import symbols_of
from needlewright.signals.words import instruction, substitutes_for


def command_document(command: Command) -> dict[str, Any]:
    """A command for one dial: what it states, and its stimulus."""
    return {
        "dial": command.dial,
        "unit": command.unit,
        "asked": command.asked,
        "value": command.value,
        "u_value": command.u_value,
        "stimulus": _stimulus(command.stimulus),
        "words": instruction(command),
    }


def stated_document(dial: Dial, measured: str, stated: Stated) -> dict[str, Any]:
    """What was measured on a dial's wire, and what it states."""
    return {
        "dial": dial.id,
        "unit": dial.unit,
        "measured": measured,
        "value": stated.value,
        "validity": stated.validity,
        "words": stated.words,
    }


def lamp_document(lamps: dict[str, str], frame: FrameStimulus) -> dict[str, Any]:
    """The lamp command."""
    return {"states": lamps, "stimulus": _stimulus(frame)}


def capture_document(file: Path, trace: Trace, frames: list[ReceivedFrame]) -> dict[str, Any]:
    """The frames of a capture, with their violations."""
    return {
        "file": str(file),
        "channel": trace.channel,
        "end_s": trace.end_s,
        "frames": [
            {
                "start_s": frame.start_s,
                "data": frame.data.hex().upper(),
                "response": frame.response.hex().upper(),
                "sound": frame.sound,
                "violations": [
                    {"time_s": v.time_s, "code": v.code, "words": v.words} for v in frame.violations
                ],
            }
            for frame in frames
        ],
    }


def _stimulus(stimulus: Stimulus) -> dict[str, Any]:
    match stimulus:
        case FrameStimulus():
            return {
                "kind": "can_frame",
                "frame": stimulus.frame().text,
                "extended": stimulus.extended,
                "period_s": stimulus.period_s,
                "bitrate": stimulus.bitrate,
                "changes_each_time": bool(stimulus.rules),
            }
        case VpwStimulus():
            return {
                "kind": "j1850_frame",
                "data": stimulus.data.hex().upper(),
                "period_s": stimulus.period_s,
                "symbols": [
                    {"active": each.active, "us": each.us} for each in symbols_of(stimulus.data)
                ],
            }
        case PulseStimulus():
            return {
                "kind": "pulses",
                "frequency_hz": stimulus.frequency_hz,
                "period_s": stimulus.period_s,
                "duty": stimulus.duty,
                "high_v": stimulus.high_v,
                "low_v": stimulus.low_v,
            }
        case ResistanceStimulus():
            return {
                "kind": "resistance",
                "ohm": stimulus.ohm,
                "substitutes": [
                    {
                        "series": each.series,
                        "joined": each.joined,
                        "resistors_ohm": list(each.resistors),
                        "ohm": each.ohm,
                        "error_ohm": each.error_ohm,
                        "u_ohm": each.u_ohm,
                    }
                    for each in substitutes_for(stimulus)
                ],
            }
        case VoltageStimulus():
            return {"kind": "voltage", "volts": stimulus.volts}
