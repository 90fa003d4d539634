"""Of every field of a signal and of the supply, what belongs into it."""

from collections.abc import Mapping
from typing import Final, get_args

from needlewright.families.signal_file import J1939_SPNS, AnySignalFile

SIGNAL_KINDS: Final[tuple[str, ...]] = tuple(
    get_args(model.model_fields["kind"].annotation)[0] for model in get_args(AnySignalFile)
)

SIGNAL_EXPECTED: Final[Mapping[str, str]] = {
    "kind": "a kind that is known there",
    "spn": f"one of the numbers {', '.join(map(str, J1939_SPNS))}",
    "source": "a source address, a whole number from 0 to 255",
    "priority": "a whole number from 0 to 7",
    "period_ms": "a time in milliseconds above 0",
    "bitrate": "bits a second, a number above 0",
    "signal": "the name of a signal of the message",
    "modulus": "a whole number from 2 to 256",
    "seed": "a whole number from 0 to 255",
    "inverted": "true or false",
    "database": "the name of a file beside family.json",
    "message": "the name of a message of the database",
    "unit": "a unit of the closed set",
    "fixed": "an object of signal names with numbers or the names of their values",
    "rules": "a list of rules, each an object whose kind is counter, crc8_j1850, xor or sum",
    "frame": "bytes in hexadecimal, such as 48 29 10 02 00 00",
    "first_byte": "a whole number from 1 to 11",
    "bytes": "a whole number from 1 to 4",
    "factor": "a number",
    "offset": "a number",
    "pid": "one of 05, 0C, 0D, 2F, 42 as a text",
    "bits": "11 or 29",
    "ecu": "a whole number from 0 to 255",
    "per": "'km', 'mile' or 'turn'",
    "pulses": "a number of pulses above 0",
    "duty": "a share of the period above 0 and below 1",
    "high_v": "a voltage",
    "low_v": "a voltage",
    "frequency_hz": "a frequency in Hz above 0",
    "table": "at least two pairs [value, stimulus], all numbers",
    "a": "a number",
    "b": "a number",
    "c": "a number",
    "pair": "[ohm at the first mark, ohm at the last mark], two numbers of 0 or more",
    "steinhart_hart": "an object with a, b and c",
    "nominal_v": "a voltage above 0",
    "lowest_v": "a voltage of 0 or more",
    "highest_v": "a voltage above 0",
    "limit_a": "a current in amperes above 0",
    "rest_a": "[least, most] in amperes, 0 or more and above 0",
    "sweep_a": "[least, most] in amperes, 0 or more and above 0",
}

LAMP_SIGNAL_EXPECTED: Final[Mapping[str, str]] = {
    "signal": "an object whose kind is dm1 or can_frame",
    "kind": "'dm1' or 'can_frame'",
    "lamp": "malfunction, red_stop, amber_warning or protect",
    "source": SIGNAL_EXPECTED["source"],
    "frame": "an identifier, # and bytes in hexadecimal, such as 18D0FF00#C8FFFFFFFFFFFFFF",
    "period_ms": SIGNAL_EXPECTED["period_ms"],
    "bitrate": SIGNAL_EXPECTED["bitrate"],
}
"""The same of what switches a lamp on."""

SIGNAL_INSIDE: Final[Mapping[str, str]] = {
    "rules": "a rule, an object whose kind is counter, crc8_j1850, xor or sum",
    "table": "a pair [value, stimulus], two numbers, the stimulus within its range",
    "pair": "a resistance in ohm of 0 or more",
    "rest_a": "a current in amperes",
    "sweep_a": "a current in amperes",
}
"""Of every field that is a list, what belongs into one of its places."""
