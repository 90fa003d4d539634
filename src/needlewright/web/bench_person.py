"""The person at the bench, as a run meets them on the page: told what to do, waited for."""

from collections.abc import Callable
from threading import Condition
from typing import Final

from needlewright.bench.devices import CutShort, Wishes
from needlewright.errors import ConflictError

LOOK_S: Final = 0.25
"""How often the wishes are looked at while a person is waited for."""


class PersonAtPage:
    """Shows instructions on the page, and waits until somebody says that they are done.

    Parameters
    ----------
    wishes
        Of the run; whoever stops, skips or goes back does not have to finish the instruction.
    """

    def __init__(self, wishes: Wishes) -> None:
        self._wishes = wishes
        self.changed: Callable[[], None] = lambda: None
        """Called whenever there is something else to be shown."""
        self._condition = Condition()
        self._number = 0
        self._is_waited_for = self._is_cut_short = False
        self._answer: bool | None = None
        self.lines: tuple[str, ...] = ()
        """What is to be done, or was to be done when the run ended."""

    @property
    def asked(self) -> int | None:
        """Number of the instruction that is waited for; None: nobody is."""
        with self._condition:
            return self._number if self._is_waited_for else None

    def show(self, lines: list[str]) -> None:
        """Put lines before the person."""
        with self._condition:
            self._number += 1
            self.lines = tuple(lines)
        self.changed()

    def wait(self) -> bool:
        """Wait for the person.

        Returns
        -------
        bool
            True: it is done. False: it cannot be done.

        Raises
        ------
        CutShort
            If something else is wanted of the run; nobody knows whether it was done.
        """
        with self._condition:
            self._is_waited_for, self._answer = True, None
        self.changed()
        with self._condition:
            while self._answer is None and not (self._is_cut_short or self._wishes.stopping):
                self._condition.wait(LOOK_S)
            answer = self._answer
            self._is_waited_for = self._is_cut_short = False
            if answer is not None:
                self.lines = ()
        self.changed()
        if answer is None:
            raise CutShort
        return answer

    def say(self, number: int, *, is_done: bool) -> None:
        """Say that an instruction is carried out, or that it cannot be.

        Parameters
        ----------
        number
            Of the instruction, as shown.
        is_done
            Whether it is carried out.

        Raises
        ------
        ConflictError
            If another one is shown by now.
        """
        with self._condition:
            if not self._is_waited_for or number != self._number:
                raise ConflictError(
                    "bench: the run has gone on meanwhile, and waits for something else; look at "
                    "what is to be done now"
                )
            self._answer, self._is_waited_for = is_done, False
            self._condition.notify_all()

    def cut_short(self) -> None:
        """Wait no longer, because something else is wanted of the run."""
        with self._condition:
            self._is_cut_short = self._is_waited_for
            self._condition.notify_all()
