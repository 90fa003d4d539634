"""Logs of a bus in the forms python-can reads, and the port's answers in them.

**Source**: ISO 15765-4 for the identifiers of answers, cross-read.
"""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import can

from needlewright.errors import SignalError
from needlewright.signals.model import Frame
from needlewright.signals.obd import ANSWER, ANSWER_29, PIDS, payload_of
from needlewright.signals.port_log.answers import (
    EPOCH_FROM_S,
    Clock,
    PortAnswer,
    PortLog,
    log_of,
    values_in,
)
from needlewright.signals.transports.adapter import frame_of
from needlewright.signals.transports.recording import DAMAGE

SUFFIXES: Final = (".asc", ".blf", ".csv", ".db", ".log", ".trc", ".mf4")
"""Endings of the logs python-can reads; a `.log` is what candump writes."""


def read_bus_log(path: Path) -> PortLog:
    """Read the port's answers from a log of a bus.

    Parameters
    ----------
    path
        Ends in one of `SUFFIXES`.

    Returns
    -------
    PortLog
        An `.asc` file states the logger's clock without its zone (`wall`); others state seconds
        since 1970, or seconds from a beginning that is not known.

    Raises
    ------
    SignalError
        If the file cannot be read, is empty or damaged, or nothing in it is an answer.
    """
    begin_s = end_s = None
    answers: list[PortAnswer] = []
    others: set[int] = set()
    heard: set[tuple[int, bool]] = set()
    for time_s, frame in _frames(path):
        begin_s = time_s if begin_s is None else min(begin_s, time_s)
        end_s = time_s if end_s is None else max(end_s, time_s)
        heard.add((frame.arbitration_id, frame.extended))
        payload = _answer_in(frame)
        if payload is None:
            continue
        if payload[1] not in PIDS:
            others.add(payload[1])
            continue
        source = frame.text.partition("#")[0]
        try:
            found = [PortAnswer(time_s, pid, v, source) for pid, v in values_in(payload)]
        except SignalError as error:
            raise SignalError(f"{path}: frame {frame.text}: {error}") from error
        answers.extend(found)
    if begin_s is None or end_s is None:
        raise SignalError(f"{path}: holds no frame; log the port while a tester asks it")
    if not answers and not others:
        raise SignalError(
            f"{path}: holds frames of {len(heard)} identifiers and none is an answer of the "
            "diagnostic port (7E8 to 7EF or 18DAF1xx, mode 41); it may be the log of another bus: "
            "log at the port, while a tester asks"
        )
    clock: Clock = "utc" if begin_s >= EPOCH_FROM_S else "relative"
    if clock == "utc" and _suffix(path) == ".asc":
        clock = "wall"
        begin_s, end_s = _on_wall(begin_s), _on_wall(end_s)
        answers = [
            PortAnswer(_on_wall(one.time_s), one.pid, one.value, one.source) for one in answers
        ]
    return log_of(path, clock, (begin_s, end_s), answers, others)


def _suffix(path: Path) -> str:
    """The ending that says the form, a compressed file's own being the one before."""
    names = [suffix.lower() for suffix in path.suffixes]
    return names[-2] if names[-1:] == [".gz"] and len(names) > 1 else path.suffix.lower()


def _frames(path: Path) -> Iterator[tuple[float, Frame]]:
    options = {"relative_timestamp": False} if path.suffix.lower() == ".asc" else {}
    try:
        if path.stat().st_size == 0:
            raise SignalError(f"{path}: is empty; log the port while a tester asks it")
        with can.LogReader(path, **options) as reader:
            for message in reader:
                stated = getattr(reader, "timestamps_format", None)
                if stated == "relative":  # each line would count from the one before
                    raise SignalError(
                        f"{path}: its times count from line to line; save it with absolute times"
                    )
                frame = frame_of(message)
                if frame is not None:
                    yield message.timestamp, frame
    except OSError as error:
        raise SignalError(f"{path}: cannot be read: {error.strerror or error}") from error
    except NotImplementedError as error:
        raise SignalError(
            f"{path}: this form needs a library that is not installed; save the log as .asc, "
            ".blf, .csv or .log"
        ) from error
    except DAMAGE as error:
        raise SignalError(
            f"{path}: is damaged or no log of a bus, of the form that its ending says; name a log "
            "of the diagnostic port, or a table headed time,pid,value,unit or time,answer"
        ) from error


def _answer_in(frame: Frame) -> bytes | None:
    """What a frame answers of mode 01; None: it is no such single frame."""
    low = frame.arbitration_id
    ours = low & ~0xFF == ANSWER_29 if frame.extended else 0x7E8 <= low <= 0x7EF
    if not ours:
        return None
    try:
        payload = payload_of(frame)
    except SignalError:  # a longer answer in several frames, which holds no dial's number
        return None
    return payload if len(payload) > 1 and payload[0] == ANSWER else None


def _on_wall(time_s: float) -> float:
    """Take out the zone of this computer, which python-can puts in: the file does not state it."""
    return datetime.fromtimestamp(time_s).replace(tzinfo=UTC).timestamp()
