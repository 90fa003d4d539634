"""The benches that drive movements while their needles are pressed: begun, found again, ended."""

from functools import partial
from threading import Lock
from typing import Final

from needlewright.bench.devices import Wishes
from needlewright.composing.bench_choice import settings_of
from needlewright.web.bench_desk import BenchDesk
from needlewright.web.bench_order import Order
from needlewright.web.bench_person import PersonAtPage
from needlewright.web.bench_thread import BenchThread
from needlewright.web.drive_session import DriveSession, ended
from needlewright.web.live_session import LiveSession

MOST_ENDED: Final = 20
"""Those that are over and still say how they ended."""


class DriveDesk:
    """Begins driving, finds it again, and ends it.

    Parameters
    ----------
    bench
        Whose devices are taken while somebody drives.
    """

    def __init__(self, bench: BenchDesk) -> None:
        self._bench = bench
        self._sessions: dict[int, DriveSession] = {}
        self._lock = Lock()

    def begin(self, order: Order, run_id: int) -> DriveSession:
        """Take a bench for a run's needles.

        Parameters
        ----------
        order
            At which bench, and of which family.
        run_id
            The run of the new movements.

        Returns
        -------
        DriveSession
            Its key on; nothing is told yet.

        Raises
        ------
        ConflictError
            If the bench is taken.
        NeedlewrightError
            If a device refuses.
        """
        places = {f"needles of run {run_id}"}
        self._bench.take(order, places)
        try:
            session = self._opened(order)
        except BaseException:
            self._bench.free(places)
            raise
        session.on_end = partial(self._bench.free, places)
        with self._lock:
            self._sessions[run_id] = session
            over = [one for one, was in self._sessions.items() if was.ended.is_set()]
            for old in over[:-MOST_ENDED]:
                del self._sessions[old]
        session.start()
        return session

    def at(self, run_id: int) -> DriveSession | None:
        """The one of a run, on or ended since the workbench runs; None: neither."""
        with self._lock:
            return self._sessions.get(run_id)

    def require(self, run_id: int) -> DriveSession:
        """The one that is on; ConflictError if none is."""
        session = self.at(run_id)
        if session is None or session.ended.is_set():
            raise ended()
        return session

    def detach(self, picture: LiveSession) -> None:
        """No more frames for a live picture, wherever they came from."""
        with self._lock:
            sessions = tuple(self._sessions.values())
        for session in sessions:
            session.detach(picture)

    def stop(self) -> None:
        """End all of them."""
        with self._lock:
            sessions = tuple(self._sessions.values())
        for session in sessions:
            session.stop()
        for session in sessions:
            session.close()

    def _opened(self, order: Order) -> DriveSession:
        wishes = Wishes()
        person = PersonAtPage(wishes)
        instruments = settings_of(order.shop, order.choice.settings).instruments()
        make = partial(self._bench.opener, order.shop, order.family, order.choice, person)
        thread = BenchThread(make)
        devices = thread.open()
        return DriveSession(
            order, thread, devices, person=person, wishes=wishes, instruments=instruments
        )
