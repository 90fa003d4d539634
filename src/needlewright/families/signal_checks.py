"""Checks of a dial's signal against the dial: unit, marks, and the fields between themselves."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from needlewright.families.model import Dial
from needlewright.families.notes import Kind
from needlewright.families.signal_file import (
    J1939_SPNS,
    AnySignalFile,
    DatabaseFile,
    DutyFile,
    J1939File,
    ObdFile,
    PulsesFile,
    ResistanceFile,
    SupplyFile,
    VoltageFile,
    VpwFile,
)
from needlewright.units import UNITS

Complaint = tuple[Kind, str, str]

SPN_QUANTITY: Final = {
    84: "speed",
    96: "fraction",
    100: "pressure",
    110: "temperature",
    168: "voltage",
    190: "turning speed",
}
PID_QUANTITY: Final = {
    "05": "temperature",
    "0C": "turning speed",
    "0D": "speed",
    "2F": "fraction",
    "42": "voltage",
}
MOST_VPW_BYTES: Final = 11
"""Before the CRC: a frame has at most 12 bytes (SAE J1850, cross-read)."""


def signal_complaints(dial: Dial) -> Iterator[Complaint]:
    """What bars a dial's signal from use.

    Parameters
    ----------
    dial
        Well formed.

    Yields
    ------
    Complaint
        Errors only.
    """
    if dial.signal is not None:
        for field, words in _wrong(dial.signal, dial):
            yield "error", f"signal.{field}", words


def supply_complaints(supply: SupplyFile) -> Iterator[tuple[str, str]]:
    """What is wrong between the fields of the supply: field and words."""
    if not supply.lowest_v < supply.nominal_v < supply.highest_v:
        yield (
            "nominal_v",
            f"expected a voltage between lowest_v of {supply.lowest_v:g} and highest_v of "
            f"{supply.highest_v:g}, found {supply.nominal_v:g}",
        )
    for field, range_a in (("rest_a", supply.rest_a), ("sweep_a", supply.sweep_a)):
        if range_a is not None and not range_a[0] < range_a[1] <= supply.limit_a:
            yield (
                field,
                f"expected [least, most] rising, up to limit_a of {supply.limit_a:g}, found "
                f"[{range_a[0]:g}, {range_a[1]:g}]",
            )


def _wrong(signal: AnySignalFile, dial: Dial) -> Iterator[tuple[str, str]]:
    match signal:
        case J1939File():
            yield from _parameter(signal, dial)
        case ObdFile():
            yield from _quantity(dial, "pid", PID_QUANTITY[signal.pid], f"PID {signal.pid}")
            if signal.bits == 11 and signal.ecu > 7:
                yield "ecu", f"expected 0 to 7 with 11-bit identifiers, found {signal.ecu}"
        case PulsesFile():
            wanted = "turning speed" if signal.per == "turn" else "speed"
            yield from _quantity(dial, "per", wanted, f"pulses per {signal.per}")
        case VpwFile():
            yield from _vpw(signal)
        case DatabaseFile():
            if signal.unit is not None:
                wanted = UNITS[signal.unit].quantity
                yield from _quantity(dial, "unit", wanted, f"a signal in {signal.unit}")
        case DutyFile():
            yield from _table("table", signal.table)
        case ResistanceFile():
            yield from _resistance(signal, dial)
        case VoltageFile():
            if signal.table is None:
                yield from _quantity(dial, "table", "voltage", "a voltage without a table")
            else:
                yield from _table("table", signal.table)


def _parameter(signal: J1939File, dial: Dial) -> Iterator[tuple[str, str]]:
    if signal.spn == 245:
        yield "spn", "SPN 245 is total distance, which is recorded and never commanded"
    elif signal.spn not in J1939_SPNS:
        known = ", ".join(map(str, J1939_SPNS))
        yield "spn", f"expected one of the numbers {known}, found {signal.spn}"
    else:
        yield from _quantity(dial, "spn", SPN_QUANTITY[signal.spn], f"SPN {signal.spn}")


def _quantity(dial: Dial, field: str, wanted: str, what: str) -> Iterator[tuple[str, str]]:
    found = UNITS[dial.unit].quantity
    if found != wanted:
        yield (
            field,
            f"expected a signal of {found}, as the dial's unit is {dial.unit}, found {what}, "
            f"which is one of {wanted}",
        )


def _vpw(signal: VpwFile) -> Iterator[tuple[str, str]]:
    size = len(bytes.fromhex(signal.frame))
    if not 3 <= size <= MOST_VPW_BYTES:
        yield (
            "frame",
            f"expected 3 to {MOST_VPW_BYTES} bytes before the CRC, found {size}",
        )
    elif signal.first_byte + signal.bytes - 1 > size:
        yield (
            "first_byte",
            f"expected the value's {signal.bytes} byte(s) inside the frame of {size}, found "
            f"the first at byte {signal.first_byte}",
        )
    if signal.factor == 0:
        yield "factor", "expected the value of one bit, not 0, found 0"


def _resistance(signal: ResistanceFile, dial: Dial) -> Iterator[tuple[str, str]]:
    stated = [
        name for name in ("pair", "table", "steinhart_hart") if getattr(signal, name) is not None
    ]
    if len(stated) != 1:
        found = " and ".join(stated) or "none"
        yield "pair", f"expected exactly one of pair, table and steinhart_hart, found {found}"
        return
    if signal.pair is not None and signal.pair[0] == signal.pair[1]:
        yield "pair", f"expected two different resistances, found {signal.pair[0]:g} twice"
    if signal.table is not None:
        yield from _table("table", signal.table)
    if signal.steinhart_hart is not None:
        yield from _quantity(dial, "steinhart_hart", "temperature", "a thermistor")
        if signal.steinhart_hart.b <= 0 or signal.steinhart_hart.c < 0:
            yield "steinhart_hart", "expected b above 0 and c of 0 or more, of a thermistor"


def _table(field: str, table: Sequence[tuple[float, float]]) -> Iterator[tuple[str, str]]:
    """Values rise; the stimulus rises all the way or falls all the way, so that it can be read."""
    for i, ((v0, _), (v1, _)) in enumerate(pairwise(table)):
        if v1 <= v0:
            yield f"{field}[{i + 1}][0]", f"expected the values to rise, found {v1:g} after {v0:g}"
    sense = 1 if table[-1][1] > table[0][1] else -1
    for i, ((_, s0), (_, s1)) in enumerate(pairwise(table)):
        if sense * (s1 - s0) <= 0:
            way = "rise" if sense > 0 else "fall"
            yield (
                f"{field}[{i + 1}][1]",
                f"expected the stimulus to {way} all the way, found {s1:g} after {s0:g}",
            )
