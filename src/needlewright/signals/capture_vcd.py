"""Logic captures as value change dumps.

**Source**: IEEE 1364-2005 clause 18 (the four-state form).
"""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final, TextIO

from needlewright.errors import SignalError
from needlewright.signals.captures import Change, Trace, pick_channel, trace_of

SECONDS: Final = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "ps": 1e-12, "fs": 1e-15}
LEVELS: Final[dict[str, bool | None]] = {"0": False, "1": True, "x": None, "z": None}
SIMULATION: Final = ("$dumpvars", "$dumpall", "$dumpon", "$dumpoff", "$end")
VALUE_PREFIXES: Final = ("b", "r", "s")


def read_vcd(path: Path, channel: str | None = None) -> Trace:
    """Read one line of a value change dump.

    Parameters
    ----------
    path
        The file.
    channel
        Name of the line, with its scopes where two share a name: `top.bus`; None: the only one.

    Returns
    -------
    Trace
        Times in seconds; x and z are unknown levels.

    Raises
    ------
    SignalError
        If the file is no dump, is damaged, or has no such channel.
    """
    try:
        with path.open(encoding="utf-8", errors="strict") as file:
            return _read(str(path), _tokens(file), channel)
    except UnicodeDecodeError as error:
        raise SignalError(f"{path}: is no text, and so no value change dump") from error
    except OSError as error:
        raise SignalError(f"{path}: cannot be opened: {error.strerror or error}") from error


Tokens = Iterator[tuple[int, str]]
"""Line number and word."""


def _tokens(file: TextIO) -> Tokens:
    for number, line in enumerate(file, 1):
        for word in line.split():
            yield number, word


def _read(file: str, tokens: Tokens, channel: str | None) -> Trace:
    tick_s, variables = _header(file, tokens)
    short = {name: name.rpartition(".")[2] for name, _ in variables}
    unique = [s if list(short.values()).count(s) == 1 else full for full, s in short.items()]
    by_name = dict(zip(unique, (code for _, code in variables), strict=True))
    full_names = dict(variables)
    if channel in full_names:
        return _changes(file, tokens, channel, full_names[channel], tick_s)
    picked = pick_channel(file, list(by_name), channel)
    return _changes(file, tokens, picked, by_name[picked], tick_s)


def _header(file: str, tokens: Tokens) -> tuple[float, list[tuple[str, str]]]:
    tick_s: float | None = None
    scopes: list[str] = []
    variables: list[tuple[str, str]] = []
    for number, word in tokens:
        if not word.startswith("$"):
            raise SignalError(
                f"{file}, line {number}: expected a keyword such as $var, found '{word}'"
            )
        if word == "$end":
            continue
        words = _section(file, number, word, tokens)
        match word:
            case "$timescale":
                tick_s = _timescale(file, number, words)
            case "$scope":
                scopes.append(words[-1] if words else "")
            case "$upscope":
                scopes = scopes[:-1]
            case "$var" if len(words) >= 4 and words[1] == "1":
                variables.append((".".join((*scopes, words[3])), words[2]))
            case "$enddefinitions":
                if tick_s is None:
                    raise SignalError(f"{file}: has no $timescale, so its times mean nothing")
                return tick_s, variables
    raise SignalError(
        f"{file}: ends before $enddefinitions; it is cut short or no value change dump"
    )


def _section(file: str, number: int, keyword: str, tokens: Tokens) -> list[str]:
    words: list[str] = []
    for _, word in tokens:
        if word == "$end":
            return words
        words.append(word)
    raise SignalError(f"{file}, line {number}: {keyword} has no $end; the file is cut short")


def _timescale(file: str, number: int, words: list[str]) -> float:
    found = re.fullmatch(r"(1|10|100)(s|ms|us|ns|ps|fs)", "".join(words))
    if found is None:
        raise SignalError(
            f"{file}, line {number}: expected a $timescale such as 10 ns, found '{' '.join(words)}'"
        )
    return int(found[1]) * SECONDS[found[2]]


def _changes(file: str, tokens: Tokens, name: str, code: str, tick_s: float) -> Trace:
    changes: list[Change] = []
    ticks = 0
    for number, word in tokens:
        if word in SIMULATION:
            continue
        if word == "$comment":
            _section(file, number, word, tokens)
        elif word.startswith("#"):
            ticks = _later(file, number, word, ticks)
        elif word[0].lower() in VALUE_PREFIXES:
            _, target = next(tokens, (number, ""))
            if target == code:
                changes.append(Change(ticks * tick_s, _level(file, number, word[1:])))
        else:
            level = _level(file, number, word[0])
            if word[1:] == code:
                changes.append(Change(ticks * tick_s, level))
    return trace_of(name, changes, ticks * tick_s, file=file)


def _later(file: str, number: int, word: str, before: int) -> int:
    try:
        ticks = int(word[1:])
    except ValueError as error:
        raise SignalError(f"{file}, line {number}: expected a time, found '{word}'") from error
    if ticks < before:
        raise SignalError(
            f"{file}, line {number}: time runs back from #{before} to {word}; the file is damaged"
        )
    return ticks


def _level(file: str, number: int, word: str) -> bool | None:
    if word.lower() not in LEVELS:
        raise SignalError(f"{file}, line {number}: expected a level 0, 1, x or z, found '{word}'")
    return LEVELS[word.lower()]
