"""Which number of the diagnostic port states a dial's quantity."""

from typing import Final, Literal

from needlewright.families.model import Dial
from needlewright.families.signal_file import (
    DutyFile,
    J1939File,
    ObdFile,
    PulsesFile,
    ResistanceFile,
    VoltageFile,
)
from needlewright.signals.obd import PIDS, Pid
from needlewright.units import UNITS

FedBy = Literal["bus", "own_wire", "not_stated"]
"""How a dial's quantity reaches the cluster: by a bus, by a wire of its own, or nobody says."""

OF_SPN: Final = {84: 0x0D, 96: 0x2F, 110: 0x05, 168: 0x42, 190: 0x0C}
"""The same quantities by their numbers of SAE J1939."""


def pid_of(dial: Dial) -> Pid | None:
    """The number that states a dial's quantity.

    Parameters
    ----------
    dial
        By its signal where that names the quantity, else by its unit and what it is of.

    Returns
    -------
    Pid or None
        None: mode 01 of the port has no such number, or it is not known here.
    """
    number: int | None
    match dial.signal:
        case ObdFile(pid=pid):
            number = int(pid, 16)
        case J1939File(spn=spn):
            number = OF_SPN.get(spn)
        case _:
            number = _by_words(dial)
    return None if number is None else PIDS[number]


def _by_words(dial: Dial) -> int | None:
    words = dial.quantity.lower()
    match UNITS[dial.unit].quantity:
        case "speed":
            return 0x0D
        case "turning speed":
            return 0x0C
        case "voltage":
            return 0x42
        case "temperature":
            return 0x05 if any(word in words for word in ("coolant", "water")) else None
        case "fraction":
            return 0x2F if "fuel" in words else None
    return None


def fed_by(dial: Dial) -> FedBy:
    """How a dial's quantity reaches the cluster.

    Parameters
    ----------
    dial
        With its signal as the family states it.

    Returns
    -------
    FedBy
        A dial with a wire of its own does not show what the port's control unit says.
    """
    if dial.signal is None:
        return "not_stated"
    own = (PulsesFile, DutyFile, ResistanceFile, VoltageFile)
    return "own_wire" if isinstance(dial.signal, own) else "bus"
