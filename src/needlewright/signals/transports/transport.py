"""The policy every transport keeps; back-ends fill the hooks with a leading underscore."""

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from types import MappingProxyType, TracebackType
from typing import ClassVar, Final, Literal, Self

from needlewright.errors import TransportError
from needlewright.signals.model import (
    Command,
    FrameStimulus,
    PulseStimulus,
    ResistanceStimulus,
    Stimulus,
    VoltageStimulus,
    VpwStimulus,
)

State = Literal["closed", "open", "failed"]

STIMULUS_NAMES: Final[dict[type, str]] = {
    FrameStimulus: "a CAN frame",
    VpwStimulus: "a J1850 frame",
    PulseStimulus: "pulses",
    ResistanceStimulus: "a resistance",
    VoltageStimulus: "a voltage",
}


class Transport(ABC):
    """Puts commands on the wires and keeps them there until they are replaced or stopped.

    `with transport:` opens it, and stops and closes it however the block is left.
    """

    name: ClassVar[str]

    def __init__(self) -> None:
        self._state: State = "closed"
        self._on_wires: dict[str, Command] = {}

    @property
    def state(self) -> State:
        """Whether it can be used; after a failure only once it has been closed and opened again."""
        return self._state

    @property
    def on_wires(self) -> Mapping[str, Command]:
        """What each dial is told now."""
        return MappingProxyType(self._on_wires)

    @abstractmethod
    def carries(self, stimulus: Stimulus) -> bool:
        """Whether a stimulus can be put on this transport's wires."""

    def open(self) -> Self:
        """Make it ready; nothing is on the wires yet.

        Returns
        -------
        Self
            The transport itself.

        Raises
        ------
        TransportError
            If the device is absent or refuses, or the transport is open already.
        """
        if self._state != "closed":
            raise TransportError(f"the {self.name} is {self._state} already; close it first")
        self._open()
        self._state = "open"
        return self

    def apply(self, *commands: Command) -> None:
        """Put commands on the wires; what other dials are told stays.

        Parameters
        ----------
        commands
            One for each dial to be told something new.

        Raises
        ------
        TransportError
            If one of them cannot be carried (nothing is put on then), or the device fails
            (everything is stopped then).
        """
        if self._state != "open":
            raise TransportError(
                f"the {self.name} is {self._state}, so nothing can be put on its wires; "
                "open it first"
            )
        for command in commands:
            if not self.carries(command.stimulus):
                kind = STIMULUS_NAMES[type(command.stimulus)]
                raise TransportError(
                    f"dial '{command.dial}' needs {kind}, which the {self.name} cannot carry; "
                    "put it on by hand or by another transport"
                )
        wanted = {**self._on_wires, **{command.dial: command for command in commands}}
        self._guarded(lambda: self._put(wanted, commands))
        self._on_wires = wanted

    def check(self) -> None:
        """Ask the device whether all is well; call it often while a run lasts.

        Raises
        ------
        TransportError
            If it is not; everything is stopped then.
        """
        if self._state != "open":
            raise TransportError(f"the {self.name} is {self._state}")
        self._guarded(self._check)

    def stop(self) -> None:
        """Take everything off the wires; nothing is sent once this has returned."""
        if self._state == "closed":
            return
        self._on_wires = {}
        self._stop()

    def close(self) -> None:
        """Stop, and let go of the device."""
        if self._state == "closed":
            return
        try:
            self.stop()
        finally:
            self._state = "closed"
            self._close()

    def __enter__(self) -> Self:
        """Open it."""
        return self.open()

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Stop and close it, whatever happened."""
        self.close()

    def _guarded(self, action: Callable[[], None]) -> None:
        """Do something with the device; a failure stops everything that is on the wires."""
        try:
            action()
        except TransportError as error:
            self._state = "failed"
            self._on_wires = {}
            try:
                self._stop()
            except TransportError as also:
                raise TransportError(f"{error}; and stopping failed: {also}") from error
            raise

    @abstractmethod
    def _open(self) -> None: ...

    @abstractmethod
    def _put(self, wanted: Mapping[str, Command], new: tuple[Command, ...]) -> None:
        """Put the new commands on; `wanted` is everything that is to be on the wires then."""

    @abstractmethod
    def _check(self) -> None: ...

    @abstractmethod
    def _stop(self) -> None: ...

    @abstractmethod
    def _close(self) -> None: ...
