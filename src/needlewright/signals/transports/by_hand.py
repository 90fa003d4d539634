"""A person as the transport: shows what to do, and waits until it is done."""

from collections.abc import Callable, Mapping
from typing import ClassVar

from needlewright.errors import TransportError
from needlewright.signals.model import Command, Stimulus
from needlewright.signals.transports.transport import Transport
from needlewright.signals.words import instruction, value_words


class HandTransport(Transport):
    """Carries every stimulus: a decade box, a generator, an adapter of another program.

    Parameters
    ----------
    show
        Puts lines before the person.
    wait
        Returns True when the person has done it, False when it is given up.
    """

    name: ClassVar[str] = "person at the bench"

    def __init__(self, show: Callable[[list[str]], None], wait: Callable[[], bool]) -> None:
        super().__init__()
        self._show = show
        self._wait = wait
        self._asked = False
        """Whether a person was asked to put something on that nobody has asked to take off."""

    def carries(self, stimulus: Stimulus) -> bool:
        """Whatever it is."""
        del stimulus
        return True

    def _open(self) -> None:
        return

    def _put(self, wanted: Mapping[str, Command], new: tuple[Command, ...]) -> None:
        del wanted
        for command in new:
            self._asked = True  # also of one that is given up: it may be half on
            lines = instruction(command)
            self._show([f"{command.dial}: {value_words(command)}", *lines])
            if not self._wait():
                raise TransportError(
                    f"dial '{command.dial}' was not set to {value_words(command)}: given up at "
                    "the bench"
                )

    def _check(self) -> None:
        return

    def _stop(self) -> None:
        if not self._asked:
            return
        self._asked = False
        self._show(["take everything off the wires: outputs off, sender's place open"])

    def _close(self) -> None:
        return
