"""Opening an adapter by python-can, with its errors as sentences."""

import can

from needlewright.errors import TransportError
from needlewright.signals.model import Frame
from needlewright.signals.settings import BusSettings

BUS_ERRORS = (can.CanError, OSError)
"""What an adapter raises when the bus or the adapter is gone."""


def open_adapter(settings: BusSettings) -> can.BusABC:
    """Open an adapter.

    Parameters
    ----------
    settings
        The bench's.

    Returns
    -------
    can.BusABC
        Of python-can.

    Raises
    ------
    TransportError
        If the interface is not known, not installed, or the adapter is absent.
    """
    if settings.interface not in can.VALID_INTERFACES:
        known = ", ".join(sorted(can.VALID_INTERFACES))
        raise TransportError(f"bus interface '{settings.interface}' is not known; use {known}")
    options = dict(settings.options)
    if settings.bitrate is not None:
        options["bitrate"] = settings.bitrate
    try:
        return can.Bus(channel=settings.channel, interface=settings.interface, **options)
    except (*BUS_ERRORS, ImportError, ValueError, TypeError, NotImplementedError) as error:
        words = " ".join(str(error).split()) or type(error).__name__
        raise TransportError(
            f"adapter {settings.interface}, channel {settings.channel}: cannot be opened: {words}; "
            "check that it is plugged in and its driver installed"
        ) from error


def message_of(frame: Frame) -> can.Message:
    """A frame as python-can has it; more than eight bytes need the flexible data rate."""
    return can.Message(
        arbitration_id=frame.arbitration_id,
        is_extended_id=frame.extended,
        data=frame.data,
        is_fd=len(frame.data) > 8,
    )


def frame_of(message: can.Message) -> Frame | None:
    """A message of python-can as a frame; None: a remote request or an error frame."""
    if message.is_error_frame or message.is_remote_frame:
        return None
    return Frame(message.arbitration_id, message.is_extended_id, bytes(message.data))
