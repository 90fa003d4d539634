"""The thread of one run at the bench: it opens the devices, uses them and lets go of them.

What a bus adapter sends ends with the thread that opened it, so that nothing goes on being told
which nobody would stop. A request is answered by a thread that may be gone long before the run is.
"""

import logging
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import AbstractContextManager, ExitStack
from threading import Thread

from needlewright.bench.devices import Devices

log = logging.getLogger("needlewright.web")


class BenchThread:
    """Opens devices, waits for what is to be done with them, and does it.

    Parameters
    ----------
    make
        Gives the devices, to be entered; called in the thread.
    """

    def __init__(self, make: Callable[[], AbstractContextManager[Devices]]) -> None:
        self._make = make
        self._opened: Future[Devices] = Future()
        self._work: Future[Callable[[], None]] = Future()
        self._stack = ExitStack()
        self._thread = Thread(target=self._go, name="bench", daemon=True)

    def open(self) -> Devices:
        """Begin, and wait until the devices are open.

        Returns
        -------
        Devices
            Open until `let_go`, or until the work is done.

        Raises
        ------
        NeedlewrightError
            What kept them from being opened; the thread has ended then.
        """
        self._thread.start()
        return self._opened.result()

    def carry_out(self, work: Callable[[], None]) -> None:
        """Have something done with the devices; nobody waits for it."""
        self._work.set_result(work)

    def give_up(self) -> None:
        """Let go of the devices because nothing comes of the run, and wait until that is done."""
        self._work.set_result(lambda: None)
        self._thread.join()

    def let_go(self) -> None:
        """Close the devices; called by the work itself.

        Raises
        ------
        NeedlewrightError
            If one of them could not be switched off.
        """
        self._stack.close()

    def join(self, within_s: float) -> None:
        """Wait until the thread has ended, seconds at most."""
        self._thread.join(within_s)

    def _go(self) -> None:
        try:
            devices = self._stack.enter_context(self._make())
        except BaseException as error:  # whatever it is, somebody waits for it
            self._opened.set_exception(error)
            return
        self._opened.set_result(devices)
        try:
            self._work.result()()
        finally:
            try:
                self._stack.close()  # the work has done so, unless it was given up
            except Exception:
                log.exception("letting go of the bench's devices")
