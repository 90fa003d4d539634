"""Several transports as one: each command goes to the first that carries it."""

from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from typing import ClassVar

from needlewright.errors import TransportError
from needlewright.signals.model import Command, Stimulus
from needlewright.signals.transports.transport import Transport


class TransportsTogether(Transport):
    """A bus adapter, a supply and a person at one bench; where one fails, all are stopped.

    Parameters
    ----------
    parts
        In the order they are asked; they are opened in it, and closed the other way round.
    """

    name: ClassVar[str] = "bench"

    def __init__(self, parts: Sequence[Transport]) -> None:
        super().__init__()
        self._parts = tuple(parts)

    def carries(self, stimulus: Stimulus) -> bool:
        """What any of its parts does."""
        return any(part.carries(stimulus) for part in self._parts)

    def part_for(self, command: Command) -> Transport:
        """The part that carries a command.

        Parameters
        ----------
        command
            For one dial.

        Returns
        -------
        Transport
            The first that does.

        Raises
        ------
        TransportError
            If none does.
        """
        for part in self._parts:
            if part.carries(command.stimulus):
                return part
        raise TransportError(f"nothing at this bench carries what dial '{command.dial}' needs")

    def _open(self) -> None:
        with ExitStack() as opened:
            for part in self._parts:
                opened.enter_context(part)
            opened.pop_all()

    def _put(self, wanted: Mapping[str, Command], new: tuple[Command, ...]) -> None:
        del wanted
        for part in self._parts:
            if mine := [command for command in new if self.part_for(command) is part]:
                part.apply(*mine)

    def _check(self) -> None:
        for part in self._parts:
            part.check()

    def _stop(self) -> None:
        with ExitStack() as stopping:  # every part is stopped, whatever another says
            for part in self._parts:
                stopping.callback(part.stop)

    def _close(self) -> None:
        with ExitStack() as closing:
            for part in self._parts:
                closing.callback(part.close)
