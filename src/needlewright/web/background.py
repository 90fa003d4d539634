"""Photos are read while people go on: one queue for the whole shop.

What is to be read stands in the records, so nothing is lost with this process: the next one picks
up what was left. Photos are read in processes of their own, which end when there has been nothing
to do for a while.
"""

import logging
import os
from collections import deque
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from multiprocessing import get_context
from threading import Event, Lock, Thread
from time import monotonic
from typing import Final, Protocol

from needlewright.errors import NeedlewrightError, NotThereError
from needlewright.families.model import Family
from needlewright.readings.batch import PictureProblem
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.run_readings import store_outcome
from needlewright.records.views import PhotoToRead
from needlewright.records.waiting_photos import lost, photos_to_read
from needlewright.web.background_worker import PhotoRead, is_large, read_one, start_worker

IDLE_S: Final = 120.0
"""Reading processes end after so long without a photo."""
LOOK_AGAIN_S: Final = 5.0
"""The records are looked at again after so long: the command line may have added photos."""
AFTER_TROUBLE_S: Final = 15.0
"""What could not be stored is tried again after so long."""
TIMES_KEPT: Final = 12
log = logging.getLogger("needlewright.web")


class Pool(Protocol):
    """What photos are handed to; `ProcessPoolExecutor`, or one that fails on purpose in a test."""

    def submit(self, work: Callable[..., PhotoRead], /, *arguments: object) -> "Future[PhotoRead]":
        """Hand a piece of work over."""

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """End it."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """How far the reading of some photos is."""

    waiting: int
    """Photos asked about that are not read yet."""
    ahead: int
    """Photos of other jobs that are read before the last of them."""
    left_s: float | None
    """How long it will take; None: not known yet."""
    trouble: str | None
    """Why nothing is read at the moment."""


def processes() -> int:
    """One for each core but one, which answers the page; each takes a third of a gigabyte."""
    try:
        cores = len(os.sched_getaffinity(0))
    except AttributeError:  # systems that cannot bind a process to cores
        cores = os.cpu_count() or 1
    return max(1, min(cores - 1, 8))


def spawned(workers: int) -> Pool:
    """A pool of fresh processes: a fork would copy OpenCV's threads in mid-air."""
    return ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=start_worker)


class ReadingQueue:
    """Reads whatever photos the records say nobody has read.

    Parameters
    ----------
    shop
        The shop.
    make_pool
        Makes what photos are read in, for a number of processes.
    workers
        How many.
    clock
        Seconds, never set back.
    """

    def __init__(
        self,
        shop: Shop,
        make_pool: Callable[[int], Pool] = spawned,
        workers: int | None = None,
        clock: Callable[[], float] = monotonic,
    ) -> None:
        self._shop = shop
        self._make_pool = make_pool
        self._workers = workers or processes()
        self._clock = clock
        self._woken, self._stopping = Event(), Event()
        self._thread: Thread | None = None
        self._pool: Pool | None = None
        self._flying: dict[Future[PhotoRead], PhotoToRead] = {}
        self._suspects: set[int] = set()
        self._large: set[int] = set()
        self._families: dict[int, Family] = {}
        self._lock = Lock()
        self._waiting: tuple[PhotoToRead, ...] = ()
        self._trouble: str | None = None
        self._times_s: deque[float] = deque(maxlen=TIMES_KEPT)
        self._last_done_s: float | None = None
        self._wait_until_s = 0.0

    def start(self) -> None:
        """Begin; photos left over from before are read first."""
        self._thread = Thread(target=self._work, name="reading", daemon=True)
        self._thread.start()

    def wake(self) -> None:
        """Say that photos were added."""
        self._woken.set()

    def stop(self) -> None:
        """End; a photo in hand is read again another time."""
        self._stopping.set()
        self._woken.set()
        if self._thread is not None:
            self._thread.join()

    def outlook(self, tag: str) -> Outlook:
        """How far the photos of a job are.

        Parameters
        ----------
        tag
            Of the job, as the records write it.

        Returns
        -------
        Outlook
            From what is waiting in this moment.
        """
        with self._lock:
            places = [i for i, photo in enumerate(self._waiting) if photo.tag == tag]
            trouble, times_s = self._trouble, list(self._times_s)
        if not places:
            return Outlook(0, 0, None, trouble)
        until_last = places[-1] + 1
        left_s = until_last * sum(times_s) / len(times_s) if times_s else None
        return Outlook(len(places), until_last - len(places), left_s, trouble)

    def _work(self) -> None:
        idle_since_s = self._clock()
        while not self._stopping.is_set():
            self._woken.clear()
            is_busy = False
            try:
                is_busy = self._round()
            except NeedlewrightError as error:
                self._say(str(error))
            except Exception:
                log.exception("reading photos in the background")
                self._end_pool()
                self._wait_until_s = self._clock() + AFTER_TROUBLE_S
            if is_busy:
                idle_since_s = self._clock()
                continue
            self._last_done_s = None
            if self._pool is not None and self._clock() - idle_since_s > IDLE_S:
                self._end_pool()
            self._woken.wait(LOOK_AGAIN_S)
        self._end_pool()

    def _round(self) -> bool:
        """Look what there is, hand it over, take in what is done; False: there was nothing."""
        waiting = photos_to_read(self._shop)
        self._let_go(waiting)
        with self._lock:
            self._waiting = waiting
        if self._clock() >= self._wait_until_s:
            self._say(None)
            self._hand_over(waiting)
        if not self._flying:
            return False
        self._gather()
        return True

    def _hand_over(self, waiting: tuple[PhotoToRead, ...]) -> None:
        """Keep every process busy, one photo ready for each; suspects and large ones go alone."""
        flying = {photo.photo_id for photo in self._flying.values()}
        alone = self._suspects | self._large
        for photo in waiting:
            if photo.photo_id in flying:
                continue
            if photo.path is None:
                self._store(photo, PhotoRead(lost(photo), None))
                continue
            if photo.photo_id not in alone and is_large(photo.path):
                self._large.add(photo.photo_id)
                alone.add(photo.photo_id)
            is_alone = photo.photo_id in alone or bool(alone & flying)
            if len(flying) >= (1 if is_alone else 2 * self._workers):
                break
            try:
                family = self._family(photo.family_version_id)
            except NeedlewrightError as error:  # others may have a family that can be used
                self._say(str(error))
                continue
            if self._pool is None:
                self._pool = self._make_pool(self._workers)
            future = self._pool.submit(read_one, photo.family_version_id, family, photo.path)
            self._flying[future] = photo
            flying.add(photo.photo_id)

    def _let_go(self, waiting: tuple[PhotoToRead, ...]) -> None:
        """Take back what nobody wants read any more, where no process has begun with it."""
        wanted = {photo.photo_id for photo in waiting}
        for future, photo in list(self._flying.items()):
            if photo.photo_id not in wanted and future.cancel():
                del self._flying[future]

    def _family(self, version_id: int) -> Family:
        if version_id not in self._families:
            family = load_version(self._shop, version_id)
            self._families[version_id] = replace(family, raw=None)  # sent along with each photo
        return self._families[version_id]

    def _gather(self) -> None:
        done, _ = wait(self._flying, timeout=LOOK_AGAIN_S, return_when=FIRST_COMPLETED)
        for future in done:
            photo = self._flying.pop(future)
            try:
                read = future.result()
            except BrokenProcessPool:
                self._after_a_death([photo, *self._flying.values()])
                return
            except Exception:
                log.exception("reading photo %s", photo.name)
                read = PhotoRead(_unread(photo), None)
            self._store(photo, read)

    def _store(self, photo: PhotoToRead, read: PhotoRead) -> None:
        try:
            store_outcome(self._shop, photo.photo_id, read.outcome, read.overlay)
        except NotThereError:  # taken back while it was being read
            return
        except NeedlewrightError as error:
            self._say(str(error))
            self._wait_until_s = self._clock() + AFTER_TROUBLE_S
            return
        self._suspects.discard(photo.photo_id)
        self._large.discard(photo.photo_id)
        now = self._clock()
        if self._last_done_s is not None:
            self._times_s.append(now - self._last_done_s)
        self._last_done_s = now
        with self._lock:
            self._waiting = tuple(p for p in self._waiting if p.photo_id != photo.photo_id)

    def _after_a_death(self, photos: list[PhotoToRead]) -> None:
        """A process died: read what it may have been by itself, to find out which it was."""
        self._end_pool()
        if len(photos) == 1 and photos[0].photo_id in self._suspects:
            self._store(photos[0], PhotoRead(_unread(photos[0]), None))
            return
        self._suspects |= {photo.photo_id for photo in photos}

    def _end_pool(self) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
        self._pool = None
        self._flying.clear()

    def _say(self, trouble: str | None) -> None:
        with self._lock:
            self._trouble = trouble


def _unread(photo: PhotoToRead) -> PictureProblem:
    return PictureProblem(
        photo.name,
        f"{photo.name}: was not read because the process that read it ended (memory ran out?); "
        "take it again in a smaller size",
    )
