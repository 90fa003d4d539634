"""Finding a dial's message, signal, unit, fixed values and rules in the shop's database."""

from pathlib import Path
from typing import Final

from cantools.database.can import Message
from cantools.database.can.signal import Signal as DatabaseField

from needlewright.errors import SignalError
from needlewright.families.signal_file import ChecksumFile, CounterFile, DatabaseFile
from needlewright.signals.database import DatabaseSignal, encoded, raw_limits
from needlewright.signals.database_file import open_database
from needlewright.signals.frame_rules import Checksum, Counter, FrameRule, Slot
from needlewright.signals.signal import Wire
from needlewright.units import SPELLED, UNITS

LONGEST_BYTES: Final = 64


def database_signal(wire: Wire, file: DatabaseFile, folder: Path) -> DatabaseSignal:
    """Bind a dial to its signal in the shop's database.

    Parameters
    ----------
    wire
        The dial.
    file
        As the family states it.
    folder
        The family's.

    Returns
    -------
    DatabaseSignal
        Ready to encode.

    Raises
    ------
    SignalError
        If the database, the message, a signal or a rule in it cannot be used.
    """
    database = open_database(folder, file.database)
    where = f"dial '{wire.dial}', {file.database}"
    names = [message.name for message in database.messages]
    if file.message not in names:
        raise SignalError(f"{where}: there is no message '{file.message}'; it has {_some(names)}")
    message = database.get_message_by_name(file.message)
    where = f"{where}, message '{message.name}'"
    if message.is_container or not 0 < message.length <= LONGEST_BYTES:
        raise SignalError(f"{where}: expected a plain message of 1 to {LONGEST_BYTES} bytes")
    field = _field(where, message, file.signal)
    if field.is_multiplexer:
        raise SignalError(
            f"{where}: signal '{field.name}' says which of its pages the message is, and no value"
        )
    if field.is_float or field.length > 32:
        raise SignalError(f"{where}: signal '{field.name}' is no whole number of up to 32 bits")
    others = _others(where, message, file)
    rules = tuple(_rule(where, message, others, rule) for rule in file.rules)
    period_s = file.period_ms / 1000 if file.period_ms else None
    if period_s is None and message.cycle_time:
        period_s = message.cycle_time / 1000
    return DatabaseSignal(
        wire,
        message,
        field,
        _unit(where, field, file.unit, wire),
        others,
        _mask(message, others, field),
        rules,
        period_s,
        file.bitrate,
        _page(message, others),
    )


def _page(message: Message, others: dict[str, float]) -> str:
    selectors = [each.name for each in message.signals if each.is_multiplexer]
    return ", ".join(f"{name} = {others[name]}" for name in selectors)


def _field(where: str, message: Message, name: str) -> DatabaseField:
    names = [each.name for each in message.signals]
    if name not in names:
        raise SignalError(f"{where}: there is no signal '{name}'; it has {_some(names)}")
    return message.get_signal_by_name(name)


def _some(names: list[str]) -> str:
    return ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")


def _unit(where: str, field: DatabaseField, stated: str | None, wire: Wire) -> str:
    """The field's unit in our own symbols; what cannot be told is asked for, never guessed."""
    said = (field.unit or "").strip()
    unit = stated or (SPELLED.get(said, said) if said else wire.unit)
    if unit not in UNITS:
        raise SignalError(
            f"{where}: the unit '{said}' of signal '{field.name}' is not known; state it as `unit`"
        )
    if UNITS[unit].quantity != UNITS[wire.unit].quantity:
        raise SignalError(
            f"{where}: signal '{field.name}' is in {unit}, and the dial in {wire.unit}, of another "
            "quantity; name the dial's signal"
        )
    return unit


def _others(where: str, message: Message, file: DatabaseFile) -> dict[str, float]:
    """Raw values of every signal that is sent along, the dial's own at raw 0."""
    for name in file.fixed:
        _field(where, message, name)
    raws: dict[str, float] = {}
    for each in message.signals:
        fixed = file.fixed.get(each.name)
        raws[each.name] = _start(each) if fixed is None else _fixed(where, each, fixed)
    field = message.get_signal_by_name(file.signal)
    for selector, ids in _pages(message, field).items():
        if raws[selector] in ids:
            continue
        if selector in file.fixed:
            raise SignalError(
                f"{where}: '{selector}' fixed at {file.fixed[selector]} leaves signal "
                f"'{field.name}' out; expected one of {ids}"
            )
        raws[selector] = ids[0]
    low, high = raw_limits(field)
    raws[field.name] = min(max(0, low), high)
    try:
        encoded(message, raws)
    except SignalError as error:
        raise SignalError(f"{where}: {error}; state what is missing under `fixed`") from error
    return raws


def _pages(message: Message, field: DatabaseField) -> dict[str, list[int]]:
    """Of each multiplexer, the values it may have so that the dial's signal is sent."""
    pages: dict[str, list[int]] = {}
    for each in message.signals:
        if each.multiplexer_signal and each.multiplexer_ids:
            pages.setdefault(each.multiplexer_signal, []).extend(each.multiplexer_ids)
    needed = field
    while needed.multiplexer_signal and needed.multiplexer_ids:  # a multiplexer may be in one too
        pages[needed.multiplexer_signal] = list(needed.multiplexer_ids)
        needed = message.get_signal_by_name(needed.multiplexer_signal)
    return pages


def _start(field: DatabaseField) -> float:
    """The raw value the database begins with, where it fits the field; else 0."""
    raw = field.raw_initial
    if raw is None:
        return 0
    if field.is_float:
        return raw
    low, high = raw_limits(field)
    return int(raw) if low <= raw <= high else 0


def _fixed(where: str, field: DatabaseField, value: float | str) -> float:
    """The raw value of what the family states."""
    if isinstance(value, str):
        names = {str(named): raw for raw, named in (field.choices or {}).items()}
        if value not in names:
            raise SignalError(
                f"{where}: signal '{field.name}' has no value named '{value}'; it has "
                f"{_some(list(names)) or 'none'}"
            )
        return int(names[value])
    scale, offset = float(field.scale), float(field.offset)
    if field.is_float:
        return (value - offset) / scale
    raw = round((value - offset) / scale)
    low, high = raw_limits(field)
    if not low <= raw <= high:
        raise SignalError(
            f"{where}: signal '{field.name}' cannot be fixed at {value:g}; its bits reach from "
            f"{low * scale + offset:g} to {high * scale + offset:g}"
        )
    return raw


def _mask(message: Message, others: dict[str, float], field: DatabaseField) -> int:
    """The field's bits: those that differ between all zeros and all ones in it."""
    ones = -1 if field.is_signed else (1 << field.length) - 1
    zero = int.from_bytes(encoded(message, {**others, field.name: 0}))
    return zero ^ int.from_bytes(encoded(message, {**others, field.name: ones}))


def _rule(
    where: str, message: Message, others: dict[str, float], file: CounterFile | ChecksumFile
) -> FrameRule:
    field = _field(where, message, file.signal)
    if field.is_signed or field.length > 8 or (file.kind != "counter" and field.length != 8):
        wanted = "up to 8 bits" if file.kind == "counter" else "8 bits"
        raise SignalError(
            f"{where}: the {file.kind} needs an unsigned signal of {wanted}; '{field.name}' has "
            f"{field.length}"
        )
    count = 1 << field.length
    if isinstance(file, CounterFile) and file.modulus is not None:
        if file.modulus > count:
            raise SignalError(
                f"{where}: '{field.name}' of {field.length} bits cannot count to {file.modulus}"
            )
        count = file.modulus
    mask = _mask(message, others, field)
    patterns = tuple(
        int.from_bytes(encoded(message, {**others, field.name: raw})) & mask for raw in range(count)
    )
    slot = Slot(field.name, mask, patterns)
    if isinstance(file, CounterFile):
        return Counter(slot)
    return Checksum(slot, file.kind, file.seed, file.inverted)
