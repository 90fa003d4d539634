"""Many photos on every core, in the order given; one that cannot be used stops no other.

The reader keeps what it has prepared of a family's face, so each worker process builds it once.
"""

import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from dataclasses import dataclass, replace
from multiprocessing import get_context
from multiprocessing.synchronize import Event
from pathlib import Path
from typing import Final, Protocol, TypeAlias

import cv2

from needlewright.errors import PictureError
from needlewright.families.model import Family
from needlewright.readings.model import PhotoReadings

POOL_FROM_PHOTOS: Final = 3
"""Fewer photos are read sooner in this process than new ones start."""
THREAD_COUNTS: Final = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "OMP_NUM_THREADS")
"""Environment variables by which NumPy's linear algebra learns how many threads to start."""
NAMES_OF_PROGRAM: Final = ("__spec__", "__file__")
"""By these a process that starts finds the program to import first."""


@dataclass(frozen=True, slots=True)
class PictureProblem:
    """A photo that could not be used."""

    photo: str
    """As given by the caller."""
    reason: str
    """One sentence for a person."""


class PhotoReader(Protocol):
    """What reads one photo: `readings.reader.FaceReader`."""

    def read_photo(self, path: Path, as_given: str | None = None) -> PhotoReadings:
        """Read every needle of a photo; raises PictureError when the file cannot be used."""


Outcome: TypeAlias = PhotoReadings | PictureProblem
MakeReader: TypeAlias = Callable[[Family], PhotoReader]


def face_reader(family: Family) -> PhotoReader:
    """The project's reader, imported only when a photo is really read."""
    from needlewright.readings.reader import FaceReader  # noqa: PLC0415

    return FaceReader(family)


def read_photos(
    family: Family,
    paths: Sequence[str | Path],
    on_progress: Callable[[int, int], None] | None = None,
    workers: int | None = None,
    make_reader: MakeReader = face_reader,
    *,
    on_outcome: Callable[[int, Outcome], None] | None = None,
) -> list[Outcome]:
    """Read photos of one family.

    Parameters
    ----------
    family
        The cluster design every photo is taken to show.
    paths
        The photos; what is given comes back as `photo`, letter for letter.
    on_progress
        Called with the number of photos finished and of all, first with 0.
    workers
        Processes; None: one for each core this process may use.
    make_reader
        Builds the reader, once in each process; must be importable by name.
    on_outcome
        Called with the place of a photo among `paths` and its outcome, as soon as there is one.

    Returns
    -------
    list
        One entry for each path, in the order given.
    """
    report = on_progress or (lambda done, of: None)
    hand_over = on_outcome or (lambda place, outcome: None)
    report(0, len(paths))
    processes = min(workers or _cores(), len(paths))
    if processes < 2 or (workers is None and len(paths) < POOL_FROM_PHOTOS):
        return _read_here(make_reader, family, paths, report, hand_over)
    return _read_in_pool(make_reader, family, paths, report, hand_over, processes=processes)


def _cores() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # systems that cannot bind a process to cores
        return os.cpu_count() or 1


def _read_here(
    make_reader: MakeReader,
    family: Family,
    paths: Sequence[str | Path],
    report: Callable[[int, int], None],
    hand_over: Callable[[int, Outcome], None],
) -> list[Outcome]:
    outcomes: list[Outcome] = []
    reader = make_reader(family)
    for path in paths:
        outcomes.append(_outcome(reader, str(path)))
        hand_over(len(outcomes) - 1, outcomes[-1])
        report(len(outcomes), len(paths))
    return outcomes


def _read_in_pool(
    make_reader: MakeReader,
    family: Family,
    paths: Sequence[str | Path],
    report: Callable[[int, int], None],
    hand_over: Callable[[int, Outcome], None],
    *,
    processes: int,
) -> list[Outcome]:
    outcomes: dict[int, Outcome] = {}
    context = get_context("spawn")  # a fork would copy OpenCV's threads in mid-air
    given_up = context.Event()
    pool = ProcessPoolExecutor(
        processes,
        mp_context=context,
        initializer=_Worker.start,
        initargs=(make_reader, replace(family, raw=None), given_up),
    )
    try:
        with _interrupts_held(), _one_thread_each(), _program_left_out(make_reader):
            places = {pool.submit(_Worker.read, str(path)): i for i, path in enumerate(paths)}
        for future in as_completed(places):
            place = places[future]
            try:
                outcomes[place] = future.result()
            except BrokenProcessPool:
                outcomes[place] = PictureProblem(str(paths[place]), _died(paths[place]))
            hand_over(place, outcomes[place])
            report(len(outcomes), len(paths))
    finally:
        given_up.set()  # photos already handed to a worker cannot be cancelled any more
        pool.shutdown(wait=True, cancel_futures=True)
    return [outcomes[i] for i in range(len(paths))]


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Hold Ctrl-C back while processes start.

    They inherit that, so that one still importing does not die of it with a traceback; here it
    comes through on leaving.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Let processes that start here do linear algebra on one thread: they already fill the cores.

    The libraries read these as they are loaded, before any code of this project runs.
    """
    before = {name: os.environ.get(name) for name in THREAD_COUNTS}
    os.environ.update(dict.fromkeys(THREAD_COUNTS, "1"))
    try:
        yield
    finally:
        for name, count in before.items():
            if count is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = count


@contextmanager
def _program_left_out(make_reader: MakeReader) -> Iterator[None]:
    """Let processes that start here not import the program that was started, only what they use.

    They would import every command of it, and run a script that does not guard against that anew.
    A reader that is defined in the program itself needs it.
    """
    program = sys.modules["__main__"]
    kept = {name: vars(program)[name] for name in NAMES_OF_PROGRAM if name in vars(program)}
    if getattr(make_reader, "__module__", None) == "__main__":
        kept = {}
    for name in kept:
        setattr(program, name, None)
    try:
        yield
    finally:
        for name, value in kept.items():
            setattr(program, name, value)


def _died(path: str | Path) -> str:
    return (
        f"{path}: was not read because a reading process was ended from outside "
        "(memory ran out?); give fewer or smaller photos at a time"
    )


def _outcome(reader: PhotoReader, path: str) -> Outcome:
    try:
        return reader.read_photo(Path(path), path)
    except PictureError as error:
        return PictureProblem(path, str(error))


class _Worker:
    """What one worker process holds.

    The first photo builds the reader, so that an error in the family reaches the caller as itself
    and not as a broken pool.
    """

    make_reader: MakeReader
    family: Family
    given_up: Event
    reader: PhotoReader | None = None

    @classmethod
    def start(cls, make_reader: MakeReader, family: Family, given_up: Event) -> None:
        signal.signal(
            signal.SIGINT, signal.SIG_IGN
        )  # Ctrl-C reaches the whole group; the parent ends the work
        cv2.setNumThreads(1)  # the processes already fill the cores
        cls.make_reader = staticmethod(make_reader)
        cls.family = family
        cls.given_up = given_up

    @classmethod
    def read(cls, path: str) -> Outcome:
        if cls.given_up.is_set():
            return PictureProblem(path, f"{path}: was not read, as the work was stopped")
        if cls.reader is None:
            cls.reader = cls.make_reader(cls.family)
        return _outcome(cls.reader, path)
