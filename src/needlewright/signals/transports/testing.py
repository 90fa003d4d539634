"""Fakes for tests: a scripted dialogue with an instrument, a transport that expects commands.

Both fail when something else comes, and when something is left over.
"""

from collections.abc import Iterable, Mapping
from typing import ClassVar

from needlewright.errors import TransportError
from needlewright.signals.model import Command, Stimulus
from needlewright.signals.transports.transport import Transport


class ExpectedDialogue:
    """Stands in for an instrument: answers only what is expected, in its order.

    Parameters
    ----------
    lines
        Pairs of what must be sent and what is answered; None: nothing is.
    """

    def __init__(self, lines: Iterable[tuple[str, str | None]]) -> None:
        self._left = list(lines)
        self.closed = False

    def write(self, message: str) -> None:
        """Take a line that is not answered."""
        self._next(message, answered=False)

    def query(self, message: str) -> str:
        """Take a line and answer it."""
        answer = self._next(message, answered=True)
        assert answer is not None
        return answer

    def close(self) -> None:
        """Remember that it was let go."""
        self.closed = True

    def finish(self) -> None:
        """Fail if something was expected and did not come."""
        assert not self._left, f"was never sent: {self._left}"

    def _next(self, message: str, *, answered: bool) -> str | None:
        assert self._left, f"nothing more was expected, and '{message}' came"
        expected, answer = self._left.pop(0)
        assert message == expected, f"expected '{expected}', and '{message}' came"
        assert (answer is not None) == answered, f"'{message}': is it answered or not?"
        return answer


class ExpectedCommands(Transport):
    """Takes only the commands that are expected, in their order.

    Parameters
    ----------
    expected
        Dial and value of each.
    fails_at
        The number of the command, from 0, at which the device fails; None: never.
    """

    name: ClassVar[str] = "expected dialogue"

    def __init__(
        self, expected: Iterable[tuple[str, float]], *, fails_at: int | None = None
    ) -> None:
        super().__init__()
        self._left = list(expected)
        self._taken = 0
        self._fails_at = fails_at
        self.carried: tuple[type, ...] = ()
        """Kinds of stimulus it carries; empty: all."""
        self.stops = 0

    def carries(self, stimulus: Stimulus) -> bool:
        """What `carried` says."""
        return not self.carried or isinstance(stimulus, self.carried)

    def finish(self) -> None:
        """Fail if something was expected and did not come."""
        assert not self._left, f"was never commanded: {self._left}"

    def _open(self) -> None:
        return

    def _put(self, wanted: Mapping[str, Command], new: tuple[Command, ...]) -> None:
        del wanted
        for command in new:
            if self._taken == self._fails_at:
                raise TransportError("the expected dialogue fails here")
            assert self._left, f"nothing more was expected, and {command} came"
            expected = self._left.pop(0)
            assert (command.dial, command.value) == expected, f"{expected} expected, {command}"
            self._taken += 1

    def _check(self) -> None:
        if self._taken == self._fails_at:
            raise TransportError("the expected dialogue fails here")

    def _stop(self) -> None:
        self.stops += 1

    def _close(self) -> None:
        return
