"""A log of the diagnostic port: answers of OBD-II mode 01, each with its time.

**Source**: SAE J1979 for what an answer holds (several numbers may stand in one), ISO 15765-2 for
single frames; both cross-read.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, Literal

from needlewright.errors import SignalError
from needlewright.signals.obd import ANSWER, PIDS, Pid, value_in

Clock = Literal["utc", "wall", "relative"]
"""What a log's times count: seconds since 1970 in UTC; the same of a clock on a wall whose zone
nobody states; or seconds from a beginning that is not known."""

EPOCH_FROM_S: Final = 1e8
"""Times above it are seconds since 1970 (this one is in 1973); below it, since a log began."""


@dataclass(frozen=True, slots=True)
class PortAnswer:
    """One quantity answered once."""

    time_s: float
    """As the log's clock counts."""
    pid: int
    value: float
    """In the unit `PIDS` names for the number."""
    source: str
    """Who answered: `7E8`, `18DAF110`, or `port` where a table does not say."""


@dataclass(frozen=True, slots=True)
class PortLog:
    """What a log of the port holds; times rise."""

    path: Path
    clock: Clock
    begin_s: float
    """First time in the log, of any line."""
    end_s: float
    answers: tuple[PortAnswer, ...]
    remarks: tuple[str, ...] = ()
    """What a person should know of the log."""
    steps: Mapping[int, float] = field(default_factory=dict)
    """By number, to what its values are written where that is coarser than what is sent."""
    rehearsed: bool = False
    """Whether the file says that no vehicle was asked."""

    def of_pid(self, pid: int) -> tuple[PortAnswer, ...]:
        """The answers to one number by the control unit that gave most of them."""
        all_of_it = [one for one in self.answers if one.pid == pid]
        sources = sorted({one.source for one in all_of_it})
        if not sources:
            return ()
        chosen = max(sources, key=lambda s: sum(one.source == s for one in all_of_it))
        return tuple(one for one in all_of_it if one.source == chosen)

    def step_of(self, pid: Pid) -> float:
        """Smallest difference between two values of a number in this log, in its own unit."""
        return max(pid.factor, self.steps.get(pid.number, 0.0))

    def moment_words(self, time_s: float) -> str:
        """A time of this log for people."""
        if self.clock == "relative":
            return f"{time_s:.1f} s"
        at = datetime.fromtimestamp(time_s, UTC)
        return f"{at:%Y-%m-%d %H:%M:%S}" + (" UTC" if self.clock == "utc" else "")

    @property
    def range_words(self) -> str:
        """From when to when it runs, for people."""
        return f"{self.moment_words(self.begin_s)} to {self.moment_words(self.end_s)}"


def values_in(payload: bytes) -> Iterator[tuple[int, float]]:
    """The numbers and values of one answer, one after the other.

    Parameters
    ----------
    payload
        Beginning with the mode answered: `41 0C 0B 30`, or `41 0C 0B 30 0D 50`.

    Yields
    ------
    tuple
        Number and value in the unit `PIDS` names; what follows a number that is not known cannot
        be taken apart and is left.

    Raises
    ------
    SignalError
        If the answer is of another mode, or ends within a value.
    """
    value_in(payload)  # says what is wrong with the first of them
    rest = payload[1:]
    while rest and rest[0] in PIDS:
        pid = PIDS[rest[0]]
        yield pid.number, value_in(bytes((ANSWER,)) + rest[: 1 + pid.length])
        rest = rest[1 + pid.length :]


def log_of(
    path: Path,
    clock: Clock,
    span_s: tuple[float, float],
    answers: Sequence[PortAnswer],
    others: set[int],
) -> PortLog:
    """A log that holds something to compare with.

    Parameters
    ----------
    path
        For sentences.
    clock
        What its times count.
    span_s
        First and last time of any line.
    answers
        In any order.
    others
        Numbers that were answered and are not among `PIDS`.

    Returns
    -------
    PortLog
        In the order of time, with a remark on control units that contradict each other.

    Raises
    ------
    SignalError
        If no answer has a number that is known.
    """
    known = ", ".join(f"{number:02X}" for number in PIDS)
    unknown = ", ".join(f"{number:02X}" for number in sorted(others))
    if not answers:
        what = f"only answers of numbers {unknown}" if others else "no answer to OBD-II mode 01"
        raise SignalError(
            f"{path}: holds {what}; log the diagnostic port while a tester asks for one of {known}"
        )
    remarks = [f"answers of numbers that no dial shows were passed over: {unknown}"]
    log = PortLog(path, clock, *span_s, tuple(sorted(answers, key=lambda one: one.time_s)))
    several = _contradicting(log)
    remarks = (remarks if others else []) + several
    return PortLog(path, clock, *span_s, log.answers, tuple(remarks))


def _contradicting(log: PortLog) -> list[str]:
    """Where two control units answer one number and their ranges have nothing in common."""
    found = []
    for pid in sorted({one.pid for one in log.answers}):
        by_source: dict[str, list[float]] = {}
        for one in log.answers:
            if one.pid == pid:
                by_source.setdefault(one.source, []).append(one.value)
        step = PIDS[pid].factor
        lows = max(min(values) for values in by_source.values())
        highs = min(max(values) for values in by_source.values())
        if lows > highs + 2 * step:
            taken = log.of_pid(pid)[0].source
            found.append(
                f"{PIDS[pid].name}: control units {', '.join(sorted(by_source))} answer "
                f"differently; {taken}, which answered most, is taken"
            )
    return found
