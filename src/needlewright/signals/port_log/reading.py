"""A log of the diagnostic port, whatever wrote it."""

from pathlib import Path

from needlewright.errors import SignalError
from needlewright.signals.port_log.answers import PortLog
from needlewright.signals.port_log.bus_log import SUFFIXES, read_bus_log
from needlewright.signals.port_log.table import ANSWERS, VALUES, is_table, read_table


def read_port_log(path: Path) -> PortLog:
    """Read what the diagnostic port answered, and when.

    Parameters
    ----------
    path
        A log of a bus that python-can reads (`.asc`, `.blf`, `.csv`, `.db`, `.trc`, candump's
        `.log`, each also as `.gz`), or a table `time,pid,value,unit` or `time,answer`.

    Returns
    -------
    PortLog
        The answers to numbers that a dial may show.

    Raises
    ------
    SignalError
        If the file cannot be read, or holds no such answer.
    """
    if not path.is_file():
        raise SignalError(f"{path}: is no file; name a log of the diagnostic port")
    if is_table(path):
        return read_table(path)
    ending = path.with_suffix("").suffix if path.suffix.lower() == ".gz" else path.suffix
    if ending.lower() not in SUFFIXES:
        raise SignalError(
            f"{path}: expected a log that ends in {', '.join(SUFFIXES)}, or a table headed "
            f"{','.join(VALUES)} or {','.join(ANSWERS)}"
        )
    if path.stat().st_size == 0:
        raise SignalError(f"{path}: is empty; log the port while a tester asks it")
    return read_bus_log(path)
