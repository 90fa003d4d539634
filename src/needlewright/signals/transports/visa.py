"""Opening an instrument by PyVISA, and its troubles in words for the bench."""

from typing import Final, Protocol

import pyvisa
from pyvisa.constants import StatusCode
from pyvisa.rname import InvalidResourceName, ResourceName

from needlewright.errors import TransportError
from needlewright.signals.settings import SupplySettings

TIMEOUT_MS: Final = 2000
LAST_PORT: Final = 65535
"""Of TCP: a port is a number of 16 bits (RFC 9293, section 3.1)."""
EXAMPLES: Final = (
    "TCPIP::192.0.2.7::5025::SOCKET, ASRL/dev/ttyUSB0::INSTR or USB::0x1234::0x5678::SERIAL::INSTR"
)
DRIVERS: Final = {
    "ASRL": "pyserial",
    "USB": "pyusb",
    "GPIB": "gpib-ctypes",
    "PRLGX-ASRL": "pyserial",
}
"""Python package that carries each kind of resource for pyvisa-py."""
TROUBLES: Final = {
    StatusCode.error_resource_not_found: "there is no such device",
    StatusCode.error_resource_busy: "another program uses it",
    StatusCode.error_resource_locked: "another program has locked it",
    StatusCode.error_timeout: "it does not answer in time",
    StatusCode.error_connection_lost: "the connection to it is lost",
    StatusCode.error_no_listeners: "nothing listens at its address",
    StatusCode.error_io: "the line to it fails",
}
"""What the commonest status codes of VISA mean at a bench."""


class Session(Protocol):
    """A line of text to the instrument and back, as PyVISA has it."""

    def write(self, message: str) -> object:
        """Send a line."""

    def query(self, message: str) -> str:
        """Send a line and return the answer."""

    def close(self) -> object:
        """Let go of the instrument."""


def open_visa(settings: SupplySettings) -> Session:
    """Open an instrument by its VISA resource name.

    Parameters
    ----------
    settings
        The bench's.

    Returns
    -------
    Session
        A message-based resource of PyVISA.

    Raises
    ------
    TransportError
        If it cannot be opened.
    """
    where = f"supply {settings.resource}"
    kind = _kind(settings.resource, where)
    try:
        manager = pyvisa.ResourceManager(settings.library)
    except (pyvisa.Error, OSError, ValueError, ImportError) as error:
        raise TransportError(
            f"{where}: cannot be opened: the VISA library '{settings.library}' cannot be used; "
            "leave `library` out for pyvisa-py, or name one that is installed"
        ) from error
    try:
        resource = manager.open_resource(
            settings.resource, read_termination="\n", write_termination="\n", timeout=TIMEOUT_MS
        )
    # a library raises what it likes here: a refused connection is a bare Exception of pyvisa-py
    except Exception as error:
        raise TransportError(
            f"{where}: cannot be opened: {_why(error, kind)}; check its cable, its power and its "
            "resource name"
        ) from error
    if not isinstance(resource, pyvisa.resources.MessageBasedResource):
        resource.close()
        raise TransportError(f"{where}: takes no text commands")
    return resource


def trouble_words(error: Exception) -> str:
    """What went wrong with an instrument, in words for the bench.

    Parameters
    ----------
    error
        Of PyVISA or of the system.

    Returns
    -------
    str
        Without an end.
    """
    if isinstance(error, pyvisa.VisaIOError):
        code = StatusCode(error.error_code)
        return TROUBLES.get(code, f"VISA status {error.abbreviation}")
    if isinstance(error, OSError) and error.strerror:
        return error.strerror[0].lower() + error.strerror[1:]
    return "it cannot be reached"


def _kind(resource: str, where: str) -> str:
    """Which kind of line a resource name speaks of: `TCPIP`, `ASRL`, ..."""
    try:
        name = ResourceName.from_string(resource)
    except InvalidResourceName as error:
        raise TransportError(
            f"{where}: cannot be opened: this is no VISA resource name; write one like {EXAMPLES} "
            "under `resource` of [supply]"
        ) from error
    port = getattr(name, "port", None)
    if port is not None and not (port.isdecimal() and 0 < int(port) <= LAST_PORT):
        raise TransportError(
            f"{where}: cannot be opened: '{port}' is no port, a number from 1 to {LAST_PORT}; "
            f"write a resource like {EXAMPLES}"
        )
    return name.interface_type


def _why(error: Exception, kind: str) -> str:
    # pyvisa-py says that it lacks a driver by a ValueError of many words
    if kind in DRIVERS and isinstance(error, ValueError | ImportError):
        return (
            f"a resource {kind} needs the Python package {DRIVERS[kind]}, which is not installed; "
            "install it"
        )
    return trouble_words(error)
