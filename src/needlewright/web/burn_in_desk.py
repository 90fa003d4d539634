"""Burn-ins of this workbench: at the same benches as runs, one at a time at each."""

from collections.abc import Callable
from contextlib import AbstractContextManager, ExitStack, suppress
from dataclasses import dataclass
from functools import partial
from threading import Lock
from typing import Final

from pydantic import ValidationError

from needlewright.bench.burn_in.alone import alone
from needlewright.bench.burn_in.plan import BurnInPlan
from needlewright.bench.devices import Devices, Wishes
from needlewright.bench.keeping import write_whole
from needlewright.composing.bench_choice import BenchChoice, settings_of, unit_of
from needlewright.composing.burn_in_bench import limit_of, rehearsed_burn_in, rehearsed_limit
from needlewright.composing.burn_in_job import folder_of, take_up
from needlewright.composing.burn_in_keeper import Keeper
from needlewright.errors import ConflictError, NeedlewrightError, RunError
from needlewright.records.burn_ins import burn_in, set_aside_burn_in
from needlewright.records.opening import Shop
from needlewright.records.views.burn_ins import BurnInView
from needlewright.web.bench_desk import BenchDesk
from needlewright.web.bench_order import Order, open_devices
from needlewright.web.bench_person import PersonAtPage
from needlewright.web.bench_thread import BenchThread
from needlewright.web.burn_in_session import Bench, BurnInSession

CHOICE: Final = "choice.json"
MOST_ENDED: Final = 10
"""Burn-ins that are over and still shown with how they ended."""


@dataclass(slots=True)
class _Hours:
    """Hours of a burn-in until now, for a rehearsed chamber that follows them."""

    of: Callable[[], float] = lambda: 0.0

    def now(self) -> float:
        """So many; the journal that knows them is there only once the devices are."""
        return self.of()


class BurnInDesk:
    """Begins burn-ins, finds them again, and ends them.

    Parameters
    ----------
    bench
        Runs at the bench, with which devices are shared.
    """

    def __init__(self, bench: BenchDesk) -> None:
        self._bench = bench
        self._sessions: dict[int, BurnInSession] = {}
        self._lock = Lock()

    def begin(self, order: Order, plan: BurnInPlan, start: Callable[[], BurnInView]) -> BurnInView:
        """Begin a burn-in: first the devices, then the records, then the burn-in itself.

        Parameters
        ----------
        order
            At which bench, and of which family.
        plan
            What is to be done.
        start
            Makes it in the records, when the devices are ready.

        Returns
        -------
        BurnInView
            Just begun.

        Raises
        ------
        ConflictError
            If the bench is taken.
        NeedlewrightError
            If a device, the records or the disk refuse; nothing is begun then: what the records
            have of it already is set aside with the reason.
        """
        made: list[BurnInView] = []

        def kept() -> BurnInView:
            made.append(start())
            return made[-1]

        try:
            return self._open(order, plan, kept, set())
        except Exception as error:
            why = str(error) if isinstance(error, NeedlewrightError) else "the program failed"
            for view in made:
                with suppress(NeedlewrightError):  # the first reason is the one to be told
                    set_aside_burn_in(order.shop, view.id, f"not begun: {why}", order.by)
            raise

    def go_on(self, order: Order, view: BurnInView) -> BurnInView:
        """Go on with a burn-in where its journal stands.

        Parameters
        ----------
        order
            At which bench; another one than before may be named.
        view
            The burn-in.

        Returns
        -------
        BurnInView
            As it is gone on with.

        Raises
        ------
        ConflictError
            If the bench is taken, or it is on already.
        NeedlewrightError
            As `begin`, or if nothing is left to do.
        """
        plan = BurnInPlan.model_validate(view.plan)
        fresh = partial(burn_in, order.shop, view.id)
        return self._open(order, plan, fresh, {burn_in_place(view.id)})

    def at(self, burn_in_id: int) -> BurnInSession | None:
        """The burn-in as it is under way, or as it ended since the workbench runs."""
        with self._lock:
            return self._sessions.get(burn_in_id)

    def is_on(self, burn_in_id: int) -> bool:
        """Whether it is under way in this workbench."""
        session = self.at(burn_in_id)
        return session is not None and session.is_on

    def stop(self) -> None:
        """End all of them; each can be taken up again."""
        with self._lock:
            sessions = tuple(self._sessions.values())
        for session in sessions:
            session.stop()
        for session in sessions:
            session.close()

    def _open(
        self,
        order: Order,
        plan: BurnInPlan,
        start: Callable[[], BurnInView],
        places: set[str],
    ) -> BurnInView:
        self._bench.take(order, places)
        try:
            view, session = self._prepared(order, plan, start)
        except BaseException:
            self._bench.free(places)
            raise
        session.on_end = partial(self._bench.free, places)
        with self._lock:
            self._sessions.pop(view.id, None)
            self._sessions[view.id] = session
            over = [one for one, other in self._sessions.items() if not other.is_on]
            for old in over[:-MOST_ENDED]:
                del self._sessions[old]
        session.start()
        return view

    def _prepared(
        self, order: Order, plan: BurnInPlan, start: Callable[[], BurnInView]
    ) -> tuple[BurnInView, BurnInSession]:
        shop, choice = order.shop, order.choice
        wishes, hours = Wishes(), _Hours()
        person = PersonAtPage(wishes)
        settings = settings_of(shop, choice.settings)
        limit_a = rehearsed_limit(order.family) if choice.is_rehearsal else limit_of(order.family)
        thread = BenchThread(lambda: self._devices(order, plan, person, hours))
        devices = thread.open()
        held = ExitStack()
        try:
            view = start()
            folder = folder_of(shop, view.id)
            held.enter_context(alone(folder))
            write_whole(folder / CHOICE, choice.model_dump_json(indent=1).encode())
            journal = take_up(shop, view, order.by)
            hours.of = lambda: journal.counts.hours
            keeper = Keeper(shop, view, journal, order.family)
            bench = Bench(
                order.family,
                devices,
                thread,
                limit_a,
                settings.instruments(),
                wishes,
                person,
            )
            return view, BurnInSession(keeper, journal, bench, held)
        except BaseException:
            held.close()
            thread.give_up()
            raise

    def _devices(
        self, order: Order, plan: BurnInPlan, person: PersonAtPage, hours: _Hours
    ) -> AbstractContextManager[Devices]:
        choice, opener = order.choice, self._bench.opener
        if choice.is_rehearsal and opener is open_devices:  # one whose chamber can be set
            unit = unit_of(choice, order.family)
            return rehearsed_burn_in(order.family, unit, plan, hours.now)
        return opener(order.shop, order.family, choice, person)


def burn_in_place(burn_in_id: int) -> str:
    """What a burn-in itself is called among the places that are taken: it is on once."""
    return f"burn-in {burn_in_id}"


def choice_of(shop: Shop, view: BurnInView) -> BenchChoice:
    """The bench a burn-in was begun at, or gone on with last.

    Parameters
    ----------
    shop
        The shop.
    view
        The burn-in.

    Returns
    -------
    BenchChoice
        As chosen.

    Raises
    ------
    RunError
        If that is not known here, as after a restored backup or of one begun by the command line.
    """
    try:
        return BenchChoice.model_validate_json((folder_of(shop, view.id) / CHOICE).read_bytes())
    except (OSError, ValidationError) as error:
        how = (
            "choose the bench it is at now"
            if view.rehearsed is None
            else "go on with the command that began it, or set it aside and begin another one"
        )
        raise RunError(
            f"job {view.tag}: this page does not know at which bench the burn-in was begun; {how}"
        ) from error


def require_here(desk: BurnInDesk, view: BurnInView) -> BurnInSession:
    """The session of a burn-in that is on here; raises ConflictError if it is not."""
    session = desk.at(view.id)
    if session is None or not session.is_on:
        raise ConflictError(
            f"job {view.tag}: this burn-in is not on here; nothing was changed; look where it "
            "stands, and go on with it first"
        )
    return session
