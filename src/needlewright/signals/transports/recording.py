"""Recordings of a bus in the forms python-can writes, and playing them again."""

import struct
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import can
import can.io.blf

from needlewright.errors import TransportError
from needlewright.signals.model import Frame
from needlewright.signals.transports.adapter import frame_of

DAMAGE: Final = (
    ValueError,
    LookupError,
    EOFError,
    AssertionError,
    struct.error,
    zlib.error,
    can.CanError,
    can.io.blf.BLFParseError,
)
"""What the readers of python-can raise on a file that is cut short or something else."""
SUFFIXES: Final = (".asc", ".blf", ".csv")


class Recorder:
    """Writes received messages to a new file.

    Parameters
    ----------
    path
        Ends in `.asc`, `.blf` or `.csv`; must not be there yet.

    Raises
    ------
    TransportError
        If the file is there, cannot be written, or its ending is another.
    """

    def __init__(self, path: Path) -> None:
        _refuse_other(path)
        if path.exists():
            raise TransportError(f"{path}: is there already; give the recording another name")
        self.path = path
        try:
            self._writer = can.Logger(path)
        except (OSError, ValueError) as error:
            raise TransportError(f"{path}: cannot be written: {_why(error)}") from error

    def write(self, message: can.Message) -> None:
        """Add one message.

        Parameters
        ----------
        message
            As received, with its time.

        Raises
        ------
        TransportError
            If the file cannot be written any more.
        """
        try:
            self._writer.on_message_received(message)
        except (OSError, ValueError) as error:
            raise TransportError(f"{self.path}: cannot be written: {_why(error)}") from error

    def close(self) -> None:
        """Finish the file."""
        self._writer.stop()


def recorded_frames(path: Path) -> Iterator[tuple[float, Frame]]:
    """The frames of a recording.

    Parameters
    ----------
    path
        Ends in `.asc`, `.blf` or `.csv`.

    Yields
    ------
    tuple
        Time in seconds as recorded, and the frame; error frames and remote requests are left out.

    Raises
    ------
    TransportError
        If the file cannot be read or is damaged.
    """
    _refuse_other(path)
    try:
        with can.LogReader(path) as reader:
            for message in reader:
                frame = frame_of(message)
                if frame is not None:
                    yield message.timestamp, frame
    except OSError as error:
        raise TransportError(f"{path}: cannot be read: {error.strerror or error}") from error
    except DAMAGE as error:
        raise TransportError(f"{path}: is damaged or no recording: {error}") from error


def replay(
    path: Path, send: Callable[[Frame], None], wait: Callable[[float], object] | None = None
) -> int:
    """Send the frames of a recording again, in their order.

    Parameters
    ----------
    path
        Of the recording.
    send
        Takes each frame, such as `BusTransport.send_once`.
    wait
        Takes the seconds from the frame before; None: as fast as can be.

    Returns
    -------
    int
        Frames sent.

    Raises
    ------
    TransportError
        If the file is damaged or holds no frame, or a frame cannot be sent.
    """
    before_s: float | None = None
    count = 0
    for time_s, frame in recorded_frames(path):
        if wait is not None and before_s is not None and time_s > before_s:
            wait(time_s - before_s)
        before_s = time_s
        send(frame)
        count += 1
    if count == 0:  # a text of something else passes for a recording in which nothing was said
        raise TransportError(f"{path}: holds no frame; name a recording in which something is sent")
    return count


def _why(error: OSError | ValueError) -> str:
    return error.strerror or str(error) if isinstance(error, OSError) else str(error)


def _refuse_other(path: Path) -> None:
    if path.suffix.lower() not in SUFFIXES:
        raise TransportError(f"{path}: expected a recording that ends in {', '.join(SUFFIXES)}")
