"""The benches of this workbench: one run at a time at each, whichever window began it."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from threading import Lock
from typing import Final

from needlewright.bench.devices import Wishes
from needlewright.bench.keeping import KeptRun
from needlewright.bench.steps import RunPlan
from needlewright.composing.bench_choice import camera_place, settings_of
from needlewright.composing.bench_folder import (
    begin_stored,
    choose_again,
    is_unfinished,
    take_up,
    unfinished,
)
from needlewright.composing.bench_kept import StoredRun
from needlewright.errors import CameraError, ConflictError, RunError
from needlewright.records.opening import Shop
from needlewright.web.bench_order import (
    OpenDevices,
    Order,
    open_devices,
    places_of,
    run_place,
    temperature_of,
)
from needlewright.web.bench_person import PersonAtPage
from needlewright.web.bench_session import BenchSession
from needlewright.web.bench_thread import BenchThread
from needlewright.web.live_desk import LiveDesk

MOST_ENDED: Final = 20
"""Runs that are over and still shown with how they ended."""
Lay = Callable[[], tuple[int, KeptRun]]


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a run stands that is not finished at the bench."""

    run_id: int
    is_on: bool
    done: int
    of: int
    words: str = ""
    """The step in hand."""
    left_s: float | None = None


class BenchDesk:
    """Begins runs, finds them again, and ends them.

    Parameters
    ----------
    live
        Live pictures, which may hold a camera.
    opener
        Opens devices; another in tests.
    """

    def __init__(self, live: LiveDesk, opener: OpenDevices = open_devices) -> None:
        self._live, self._opener = live, opener
        self._sessions: dict[int, BenchSession] = {}
        self._taken: set[str] = set()
        self._lock = Lock()
        live.is_at_bench = self._has_camera

    def begin(self, order: Order, plan: RunPlan, start: Callable[[], int]) -> int:
        """Begin a run: first the devices, then the records, then the run itself.

        Parameters
        ----------
        order
            What is wanted.
        plan
            The steps.
        start
            Makes the run in the records, when the devices are ready; gives its number.

        Returns
        -------
        int
            The run's number.

        Raises
        ------
        ConflictError
            If the bench is taken.
        NeedlewrightError
            If a device or the records refuse; nothing is begun then.
        """
        places = set[str]()

        def lay() -> tuple[int, KeptRun]:
            run_id = start()
            with self._lock:  # before there is anything another window could go on with
                places.add(run_place(run_id))
                self._taken |= places
            return run_id, begin_stored(order.shop, run_id, order.family, plan, order.choice)

        return self._open(order, lay, places)

    def go_on(self, order: Order, run_id: int) -> int:
        """Go on with a run where it stands.

        Parameters
        ----------
        order
            What is wanted; the choice may name another bench than before.
        run_id
            The run.

        Returns
        -------
        int
            The run's number.

        Raises
        ------
        ConflictError
            If the bench is taken, or the run is on already.
        NeedlewrightError
            As `begin`, or if nothing is left to do.
        """

        def lay() -> tuple[int, KeptRun]:
            choose_again(order.shop, run_id, order.choice)
            return run_id, take_up(order.shop, run_id, order.family)

        return self._open(order, lay, {run_place(run_id)})

    def at(self, run_id: int) -> BenchSession | None:
        """The run as it is under way, or as it ended since the workbench runs; None: neither."""
        with self._lock:
            return self._sessions.get(run_id)

    def is_on(self, run_id: int) -> bool:
        """Whether it is under way."""
        session = self.at(run_id)
        return session is not None and not session.ended.is_set()

    def stand(self, shop: Shop, run_id: int) -> Stand | None:
        """Where a run stands at the bench.

        Parameters
        ----------
        shop
            The shop.
        run_id
            The run.

        Returns
        -------
        Stand or None
            None: nothing of it is left to do there.
        """
        session = self.at(run_id)
        if session is not None and not session.ended.is_set():
            where = session.where
            return Stand(run_id, True, where.done, where.of, where.words, where.left_s)
        if not is_unfinished(shop, run_id):
            return None
        try:
            state = unfinished(shop, run_id).state
        except RunError:  # damaged; photos on the sheet are the way on then
            return None
        return Stand(run_id, False, state.done, len(state.steps))

    def stop(self) -> None:
        """End all of them; each can be taken up again."""
        with self._lock:
            sessions = tuple(self._sessions.values())
        for session in sessions:
            session.stop()
        for session in sessions:
            session.close()

    def _open(self, order: Order, lay: Lay, places: set[str]) -> int:
        """Begin or go on; `places` is what the run takes, and grows while it is laid."""
        self.take(order, places)
        try:
            run_id, session = self._prepared(order, lay)
        except BaseException:
            self.free(places)
            raise
        session.on_end = partial(self.free, places)
        with self._lock:
            self._sessions.pop(run_id, None)
            self._sessions[run_id] = session
            over = [one for one, other in self._sessions.items() if other.ended.is_set()]
            for old in over[:-MOST_ENDED]:
                del self._sessions[old]
        session.start()
        return run_id

    def _prepared(self, order: Order, lay: Lay) -> tuple[int, BenchSession]:
        wishes = Wishes()
        person, choice = PersonAtPage(wishes), order.choice
        settings = settings_of(order.shop, choice.settings)
        thread = BenchThread(
            partial(self._opener, order.shop, order.family, choice, person),
        )
        devices = thread.open()
        try:
            run_id, kept = lay()
            session = BenchSession(
                StoredRun(order.shop, run_id, order.by, kept),
                devices,
                thread,
                wishes=wishes,
                person=person,
                instruments=settings.instruments(),
                temperature_c=temperature_of(choice),
                is_rehearsed=choice.is_rehearsal,
            )
        except BaseException:
            thread.give_up()
            raise
        return run_id, session

    @property
    def opener(self) -> OpenDevices:
        """Opens the devices of a choice."""
        return self._opener

    def take(self, order: Order, places: set[str]) -> None:
        """Take a run's places all at once, or none.

        Parameters
        ----------
        order
            At which bench.
        places
            What the run itself is called; its devices are added.

        Raises
        ------
        ConflictError
            If one of them is taken.
        NeedlewrightError
            If the camera is in use, or the bench's settings cannot be used.
        """
        choice, runs = order.choice, frozenset(places)
        if not choice.is_rehearsal and self._live.is_in_use(choice.camera):
            raise CameraError(
                f"camera {choice.camera} of the bench computer: is in use in a live picture; stop "
                "the picture there, then start the run here"
            )
        devices = places_of(order.shop, choice)
        with self._lock:
            if runs & self._taken:
                raise ConflictError("bench: this run is on already; look where it stands")
            for place in devices:
                if place in self._taken:
                    raise ConflictError(
                        f"{place}: a run is on there already, and a bench takes one at a time; "
                        "stop that one, or wait until it is finished"
                    )
            places.update(devices)
            self._taken |= places

    def _has_camera(self, camera: int) -> bool:
        with self._lock:
            return camera_place(camera) in self._taken

    def free(self, places: set[str]) -> None:
        """Let go of places that were taken."""
        with self._lock:
            self._taken -= places
