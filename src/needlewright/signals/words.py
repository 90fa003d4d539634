"""A command as a person carries it out: with a decade box, a signal generator, an adapter."""

from needlewright.errors import SignalError
from needlewright.signals.decade_box import FINEST_OHM, switches_for
from needlewright.signals.model import (
    Command,
    FrameStimulus,
    PulseStimulus,
    ResistanceStimulus,
    Stimulus,
    VoltageStimulus,
    VpwStimulus,
)
from needlewright.signals.preferred import TOLERANCE, Series, Substitute, best_substitute
from needlewright.units import unit_for_people

BENCH_CAUTION = (
    "Bench supply: set the current limit and fit a fuse, check polarity before power. Disconnect "
    "the sender's own wire before anything is put in its place."
)
SERIES: tuple[Series, ...] = ("E24", "E96")


def substitutes_for(stimulus: Stimulus) -> tuple[Substitute, ...]:
    """Resistors to use where there is no decade box: the best of each series.

    Parameters
    ----------
    stimulus
        Any; only a resistance has substitutes.

    Returns
    -------
    tuple of Substitute
        Empty where none can be made: 0 ohm is a wire.
    """
    if not isinstance(stimulus, ResistanceStimulus):
        return ()
    try:
        return tuple(best_substitute(stimulus.ohm, series) for series in SERIES)
    except SignalError:
        return ()


def value_words(command: Command) -> str:
    """What the dial is told, `80 km/h`, with its uncertainty (k = 2) where it is known."""
    unit = unit_for_people(command.unit)
    text = f"{command.value:.6g} {unit}"
    if command.u_value is None:
        return f"{text}, uncertainty of the stimulus not known"
    if command.u_value == 0:
        return f"{text}, exactly"
    return f"{text} ± {2 * command.u_value:.2g} {unit} (k = 2)"


def instruction(command: Command) -> list[str]:
    """What to do by hand, or what an adapter sends; one sentence or clause a line.

    Parameters
    ----------
    command
        For one dial.

    Returns
    -------
    list of str
        The first line is the stimulus itself.
    """
    match command.stimulus:
        case FrameStimulus() as frame:
            return _frame(frame)
        case VpwStimulus() as frame:
            return [
                f"J1850 frame {frame.data.hex(' ').upper()}, every {frame.period_s * 1e3:g} ms, "
                "10.4 kbit/s, variable pulse width"
            ]
        case PulseStimulus() as pulses:
            return _pulses(pulses)
        case ResistanceStimulus() as sender:
            return _resistance(sender)
        case VoltageStimulus() as source:
            return [f"voltage source to {source.volts:.4g} V at the dial's input"]


def _frame(frame: FrameStimulus) -> list[str]:
    often = "when asked for" if frame.period_s is None else f"every {frame.period_s * 1e3:g} ms"
    width = "29-bit" if frame.extended else "11-bit"
    rate = "" if frame.bitrate is None else f", {frame.bitrate / 1e3:g} kbit/s"
    lines = [f"CAN frame {frame.frame().text}, {often}, {width} identifier{rate}"]
    if frame.rules:
        following = frame.frame(1).text.partition("#")[2]
        lines.append(f"counter and checksum change with each frame; the next is {following}")
    return lines


def _pulses(pulses: PulseStimulus) -> list[str]:
    levels = "levels as the input needs them"
    if pulses.high_v is not None:
        levels = f"{pulses.low_v:g} V and {pulses.high_v:g} V"
    if pulses.period_s is None:
        return ["signal generator's output off: a steady low level"]
    return [
        f"signal generator, square wave: {pulses.frequency_hz:.6g} Hz "
        f"(period {pulses.period_s * 1e3:.5g} ms), duty cycle {pulses.duty * 100:.4g} %, {levels}"
    ]


def _resistance(sender: ResistanceStimulus) -> list[str]:
    switches = switches_for(sender.ohm)
    if not switches:
        return ["decade box to 0 ohm, all switches at zero, or a wire in the sender's place"]
    set_to = ", ".join(f"{each.position} × {each.of_ohm:g}" for each in switches)
    shown = round(sender.ohm / FINEST_OHM) * FINEST_OHM
    lines = [f"decade box to {shown:.6g} ohm in the sender's place: {set_to}"]
    for each in substitutes_for(sender):
        lines.append(f"or {_substitute_words(each)}")
    return lines


def _substitute_words(each: Substitute) -> str:
    parts = " and ".join(f"{ohm:g}" for ohm in each.resistors)
    joined = "" if each.joined == "single" else f" in {each.joined}"
    makes = "" if each.joined == "single" else f" make {each.ohm:.6g} ohm"
    off = each.error_ohm / (each.ohm - each.error_ohm) * 100
    error = "exact" if abs(off) < 0.0005 else f"{off:+.2g} %"
    drawer = f"measure it, parts may be {TOLERANCE[each.series] * 100:g} % off"
    return f"{each.series}: {parts} ohm{joined}{makes}, {error} ({drawer})"
