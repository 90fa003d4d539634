"""One line of a logic capture: when it changed, and to which level."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from needlewright.errors import SignalError


@dataclass(frozen=True, slots=True)
class Change:
    """From this time on the line has this level."""

    time_s: float
    level: bool | None
    """None: unknown or floating."""


@dataclass(frozen=True, slots=True)
class Trace:
    """One line of a capture."""

    channel: str
    changes: tuple[Change, ...]
    """In time order, neighbours different."""
    end_s: float
    """Until when the line was watched."""


@dataclass(frozen=True, slots=True)
class Width:
    """A stretch of one level."""

    start_s: float
    level: bool | None
    us: float
    whole: bool
    """Whether its beginning and its end were seen."""


def trace_of(channel: str, changes: Sequence[Change], end_s: float, *, file: str = "") -> Trace:
    """A trace without repeated levels.

    Parameters
    ----------
    channel
        The line's name.
    changes
        In time order.
    end_s
        Last time in the capture.
    file
        For sentences.

    Returns
    -------
    Trace
        The line.

    Raises
    ------
    SignalError
        If nothing was captured.
    """
    kept: list[Change] = []
    for change in changes:
        if kept and kept[-1].time_s == change.time_s:
            kept.pop()  # the last of several at one time holds
        if not kept or kept[-1].level != change.level:
            kept.append(change)
    if not kept:
        raise SignalError(f"{file}: channel '{channel}' has no samples")
    return Trace(channel, tuple(kept), end_s)


def widths_of(trace: Trace) -> Iterator[Width]:
    """The stretches of a trace; the first and the last are not whole."""
    changes = trace.changes
    for i, change in enumerate(changes):
        last = i == len(changes) - 1
        end_s = trace.end_s if last else changes[i + 1].time_s
        us = (end_s - change.time_s) * 1e6
        yield Width(change.time_s, change.level, us, whole=not last and i > 0)


def pick_channel(file: str, names: Sequence[str], wanted: str | None) -> str:
    """The one channel meant.

    Parameters
    ----------
    file
        For sentences.
    names
        Of all one-bit channels.
    wanted
        None takes the only one there is.

    Returns
    -------
    str
        One of `names`.

    Raises
    ------
    SignalError
        If it is not there, or several are and none is named.
    """
    shown = ", ".join(names[:12]) + (f" and {len(names) - 12} more" if len(names) > 12 else "")
    if not names:
        raise SignalError(f"{file}: has no channel of one bit")
    if wanted is None:
        if len(names) > 1:
            raise SignalError(f"{file}: has several channels; name one of: {shown}")
        return names[0]
    if names.count(wanted) != 1:
        times = "twice" if wanted in names else "not"
        raise SignalError(f"{file}: channel '{wanted}' is {times} there; it has: {shown}")
    return wanted
