"""From what a family says of a dial to the signal that commands it."""

from needlewright.errors import SignalError
from needlewright.families.model import Dial, Family
from needlewright.families.signal_file import (
    DatabaseFile,
    DutyFile,
    J1939File,
    ObdFile,
    PulsesFile,
    ResistanceFile,
    VoltageFile,
    VpwFile,
)
from needlewright.signals.database_binding import database_signal
from needlewright.signals.j1939 import PARAMETERS, J1939Signal, identifier
from needlewright.signals.line_table import LineTable
from needlewright.signals.obd import PIDS, ObdSignal
from needlewright.signals.pulses import DutySignal, PulseSignal
from needlewright.signals.resistance import SenderSignal, ThermistorSignal
from needlewright.signals.signal import Signal, Wire
from needlewright.signals.thermistor import SteinhartHart
from needlewright.signals.voltage import VoltageSignal
from needlewright.signals.vpw import VpwSignal


def signal_of(family: Family, dial_id: str) -> Signal:
    """The signal that commands a dial.

    Parameters
    ----------
    family
        The cluster design.
    dial_id
        Of one of its dials.

    Returns
    -------
    Signal
        Bound to the dial's unit and marks.

    Raises
    ------
    SignalError
        If there is no such dial, it states no signal, or the signal cannot be used.
    """
    dial = family.dial(dial_id)
    if dial is None:
        known = ", ".join(d.id for d in family.dials)
        raise SignalError(f"there is no dial '{dial_id}' in family '{family.name}': {known}")
    if dial.signal is None:
        raise SignalError(
            f"dial '{dial_id}' of family '{family.name}' states no signal; describe it under "
            "`signal` in family.json"
        )
    return _bound(_wire(dial), dial, family)


def signals_of(family: Family) -> dict[str, Signal]:
    """The signals of all dials that state one, by dial, in the family's order."""
    return {d.id: signal_of(family, d.id) for d in family.dials if d.signal is not None}


def _wire(dial: Dial) -> Wire:
    return Wire(dial.id, dial.quantity, dial.unit, dial.scale.values[0], dial.scale.values[-1])


def _bound(wire: Wire, dial: Dial, family: Family) -> Signal:
    file = dial.signal
    match file:
        case DatabaseFile():
            return database_signal(wire, file, family.folder)
        case ResistanceFile():
            return _resistance(wire, file)
        case VoltageFile():
            return VoltageSignal(wire, None if file.table is None else _table(file.table))
        case PulsesFile() | DutyFile():
            return _pulses(wire, file)
        case J1939File() | VpwFile() | ObdFile():
            return _frame(wire, file)
    raise SignalError(f"dial '{wire.dial}' states a signal of no known kind")


def _pulses(wire: Wire, file: PulsesFile | DutyFile) -> Signal:
    if isinstance(file, PulsesFile):
        return PulseSignal(wire, file.per, file.pulses, file.duty, file.high_v, file.low_v)
    return DutySignal(wire, file.frequency_hz, _table(file.table), file.high_v, file.low_v)


def _frame(wire: Wire, file: J1939File | VpwFile | ObdFile) -> Signal:
    if isinstance(file, J1939File):
        return _j1939(wire, file)
    if isinstance(file, ObdFile):
        return ObdSignal(wire, PIDS[int(file.pid, 16)], file.bits, file.ecu, file.bitrate)
    return VpwSignal(
        wire,
        template=bytes.fromhex(file.frame),
        first_byte=file.first_byte,
        length=file.bytes,
        bit_value=file.factor,
        offset=file.offset,
        repeated_s=file.period_ms / 1000,
    )


def _j1939(wire: Wire, file: J1939File) -> J1939Signal:
    parameter = PARAMETERS[file.spn]
    priority = parameter.priority if file.priority is None else file.priority
    period_s = parameter.period_s if file.period_ms is None else file.period_ms / 1000
    frame_id = identifier(priority, parameter.pgn, file.source)
    return J1939Signal(wire, parameter, frame_id, period_s, file.bitrate, parameter.mask)


def _resistance(wire: Wire, file: ResistanceFile) -> Signal:
    if file.steinhart_hart is not None:
        each = file.steinhart_hart
        return ThermistorSignal(wire, SteinhartHart(each.a, each.b, each.c))
    if file.pair is not None:
        return SenderSignal(wire, LineTable((wire.first_mark, wire.last_mark), file.pair))
    return SenderSignal(wire, _table(file.table or []))


def _table(points: list[tuple[float, float]]) -> LineTable:
    return LineTable(tuple(value for value, _ in points), tuple(level for _, level in points))
