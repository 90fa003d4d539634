"""Sweep videos are followed while people go on, one after the other, in a process of their own.

What is to be followed stands in the records, so nothing is lost with this process. Photos have
their own processes (`background`): a video of minutes holds none of them up.
"""

import logging
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Event, Lock, Thread
from time import monotonic
from typing import Final

from needlewright.errors import ConflictError, NeedlewrightError, NotThereError
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.sweeps import store_sweep, sweeps_to_follow
from needlewright.records.views.sweeps import SweepToFollow
from needlewright.web.background import AFTER_TROUBLE_S, IDLE_S, LOOK_AGAIN_S
from needlewright.web.background_worker import start_worker
from needlewright.web.sweeps_worker import LeftOff, SweepRead, follow_one, how_far

ASK_S: Final = 0.3
"""How far a process is, is looked at after so long."""
log = logging.getLogger("needlewright.web")


@dataclass(frozen=True, slots=True)
class Following:
    """How far a sweep video is."""

    read: int
    """Frames."""
    of: int
    """Of so many, about; 0: not known yet."""
    trouble: str | None
    """Why nothing is followed at the moment."""


def spawned_one() -> Executor:
    """One fresh process, prepared as those that read photos."""
    return ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=start_worker)


class SweepQueue:
    """Follows whatever sweep videos the records say nobody has followed.

    Parameters
    ----------
    shop
        The shop.
    make_pool
        Makes what videos are followed in.
    """

    def __init__(self, shop: Shop, make_pool: Callable[[], Executor] = spawned_one) -> None:
        self._shop = shop
        self._make_pool = make_pool
        self._pool: Executor | None = None
        self._woken, self._stopping = Event(), Event()
        self._thread: Thread | None = None
        self._lock = Lock()
        self._in_hand: tuple[int, int, int] | None = None
        self._trouble: str | None = None
        self._suspects: set[int] = set()

    def start(self) -> None:
        """Begin; videos left over from before are followed first."""
        self._thread = Thread(target=self._work, name="following", daemon=True)
        self._thread.start()

    def wake(self) -> None:
        """Say that a video was added."""
        self._woken.set()

    def stop(self) -> None:
        """End; a video in hand is followed again another time."""
        self._stopping.set()
        self._woken.set()
        if self._thread is not None:
            self._thread.join()

    def following(self, sweep_id: int) -> Following:
        """How far a video is; of one that is not in hand, nothing."""
        with self._lock:
            hand, trouble = self._in_hand, self._trouble
        if hand is None or hand[0] != sweep_id:
            return Following(0, 0, trouble)
        return Following(hand[1], hand[2], trouble)

    def _work(self) -> None:
        idle_since_s = monotonic()
        while not self._stopping.is_set():
            self._woken.clear()
            is_busy, pause_s = False, LOOK_AGAIN_S
            try:
                is_busy = self._round()
            except NeedlewrightError as error:
                self._say(str(error))
                pause_s = AFTER_TROUBLE_S
            except Exception:
                log.exception("following sweep videos in the background")
                self._end_pool()
                pause_s = AFTER_TROUBLE_S
            if is_busy:
                idle_since_s = monotonic()
                continue
            if self._pool is not None and monotonic() - idle_since_s > IDLE_S:
                self._end_pool()
            self._woken.wait(pause_s)
        self._end_pool()

    def _round(self) -> bool:
        """Follow the oldest video that can be; False: there was none."""
        trouble = None
        for sweep in sweeps_to_follow(self._shop):
            try:
                read = self._followed(sweep)
            except NeedlewrightError as error:  # others may have a family that can be used
                trouble = str(error)
                continue
            self._say(None)
            if read is not None:
                self._store(sweep, read)
            return True
        self._say(trouble)
        return False

    def _followed(self, sweep: SweepToFollow) -> SweepRead | None:
        """What came of a video; None: it is followed another time."""
        if sweep.path is None:
            return SweepRead(None, _lost(sweep.name))
        family = replace(load_version(self._shop, sweep.family_version_id), raw=None)
        if self._pool is None:
            self._pool = self._make_pool()
        with TemporaryDirectory(prefix="needlewright-") as folder:
            told = Path(folder) / "told"
            told.touch()
            future = self._pool.submit(follow_one, family, sweep.path, sweep.name, told)
            try:
                self._watch(sweep, future, told)
                return future.result()
            except LeftOff:
                return None
            except BrokenProcessPool:
                return self._after_a_death(sweep)
            except Exception:
                log.exception("following %s", sweep.name)
                return SweepRead(None, _ended(sweep.name))
            finally:
                with self._lock:
                    self._in_hand = None

    def _watch(self, sweep: SweepToFollow, future: "Future[SweepRead]", told: Path) -> None:
        """Look how far it is until it is done; when the page ends, have it left off."""
        while not wait([future], ASK_S).done:
            far = how_far(told)
            if far is not None:
                with self._lock:
                    self._in_hand = (sweep.sweep_id, *far)
            if self._stopping.is_set():
                told.unlink(missing_ok=True)

    def _store(self, sweep: SweepToFollow, read: SweepRead) -> None:
        self._suspects.discard(sweep.sweep_id)
        try:
            store_sweep(
                self._shop,
                sweep.sweep_id,
                read.document,
                problem=read.problem,
                damaged=read.damaged,
            )
        except (NotThereError, ConflictError):
            return  # taken back meanwhile, or stored by whoever knew more of it

    def _after_a_death(self, sweep: SweepToFollow) -> SweepRead | None:
        """The process died: once more, and then say so."""
        self._end_pool()
        if sweep.sweep_id in self._suspects:
            return SweepRead(None, _ended(sweep.name))
        self._suspects.add(sweep.sweep_id)
        return None

    def _end_pool(self) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
        self._pool = None

    def _say(self, trouble: str | None) -> None:
        with self._lock:
            self._trouble = trouble


def _ended(name: str) -> str:
    return (
        f"{name}: was not followed because the process that followed it ended (memory ran out?); "
        "film the sweep again in a smaller size"
    )


def _lost(name: str) -> str:
    return (
        f"{name}: was not followed because its file is missing from the shop's store; put it back "
        "from a backup, or film the sweep again"
    )
