"""One burn-in at the bench: carried out in a thread of its own, watched from any window.

Nothing of it depends on a window, nor on this workbench: its journal is on the disk before it goes
on, and whoever is asked to goes on where it stands.
"""

import logging
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from threading import Event, Lock
from typing import Final, Literal

import cv2

from needlewright.bench.burn_in.attended import Listeners, Progress
from needlewright.bench.burn_in.journal import Counts, Ended, Journal
from needlewright.bench.burn_in.run import BurnInRun
from needlewright.bench.devices import Devices, Wishes
from needlewright.composing.bench_sweep import looked_through
from needlewright.composing.burn_in_keeper import Keeper
from needlewright.errors import NeedlewrightError
from needlewright.families.model import Family
from needlewright.signals.instruments import Instruments
from needlewright.web.bench_person import PersonAtPage
from needlewright.web.bench_thread import BenchThread

END_WITHIN_S: Final = 30.0
FAILED: Final = "the burn-in failed; the terminal of the workbench says why; go on from there"
log = logging.getLogger("needlewright.web")
Phase = Literal["preparing", "running", "stopping", "finished", "stopped", "failed", "elsewhere"]


@dataclass(frozen=True, slots=True)
class Bench:
    """What a burn-in is carried out with."""

    family: Family
    """As it is told at this bench."""
    devices: Devices
    """Open."""
    thread: BenchThread
    """The burn-in's own, which has opened the devices."""
    limit_a: float
    instruments: Instruments
    wishes: Wishes
    person: PersonAtPage


@dataclass(frozen=True, slots=True)
class Stands:
    """Where it stands."""

    phase: Phase
    counts: Counts
    words: str = ""
    """What is being done, or how it ended."""
    amperes: float | None = None


class BurnInSession:
    """Carries a burn-in out from where its journal stands.

    Parameters
    ----------
    keeper
        Takes the journal over into the records.
    journal
        To be carried out.
    bench
        With what.
    held
        What is let go of in the end.
    """

    def __init__(self, keeper: Keeper, journal: Journal, bench: Bench, held: ExitStack) -> None:
        self.keeper, self.journal, self.bench = keeper, journal, bench
        self._held = held
        self._lock = Lock()
        self._stands = Stands("preparing", journal.counts)
        self._picture: bytes | None = None
        self._number = 0
        self.ended = Event()
        self.moved = Event()
        """Set whenever something has changed; whoever waits for it clears it first."""
        self.on_end: Callable[[], None] = lambda: None

    @property
    def stands(self) -> Stands:
        """Where it stands now."""
        with self._lock:
            return self._stands

    @property
    def picture(self) -> tuple[int, bytes | None]:
        """The newest picture as JPEG, with its number; None: none has come yet."""
        with self._lock:
            return self._number, self._picture

    @property
    def is_on(self) -> bool:
        """Whether it is under way."""
        return not self.ended.is_set()

    def start(self) -> None:
        """Begin."""
        self.bench.thread.carry_out(self._work)

    def stop(self) -> None:
        """End it; the power goes off first, and it can be gone on with."""
        with self._lock:
            if self._stands.phase in ("preparing", "running"):
                self._stands = Stands("stopping", self._stands.counts, self._stands.words)
        self.bench.wishes.want("stop")
        self.bench.person.cut_short()
        self.moved.set()

    def close(self) -> None:
        """Stop, and wait until the bench is free."""
        self.stop()
        self.bench.thread.join(END_WITHIN_S)

    def _work(self) -> None:
        cv2.setNumThreads(1)  # the page is answered by the other cores
        phase: Phase = "failed"
        words = FAILED
        try:
            ended = self._carry_out()
            phase, words = ended.state, ended.words
        except NeedlewrightError as error:
            words = str(error)
        except Exception:
            log.exception("a burn-in at the bench")
        finally:
            wrong = self._let_go()
            if wrong:
                phase, words = "failed", f"{words}; and then: {wrong}"
            self.keeper.finish()
            with self._lock:
                self._stands = Stands(phase, self.journal.counts, words)
            self._held.close()
            self.on_end()
            self.ended.set()
            self.moved.set()

    def _carry_out(self) -> Ended:
        bench = self.bench
        self.keeper.follow()
        return BurnInRun(
            self.journal,
            bench.family,
            bench.devices,
            bench.limit_a,
            instruments=bench.instruments,
            wishes=bench.wishes,
            listeners=Listeners(progress=self._progress, picture=self._seen),
            look_through=looked_through(bench.family),
        ).go()

    def _let_go(self) -> str:
        """Let go of the devices; what that says."""
        try:
            self.bench.thread.let_go()
        except NeedlewrightError as error:
            return str(error)
        except Exception:
            log.exception("letting go of the bench's devices")
        return ""

    def _progress(self, now: Progress) -> None:
        if not self.keeper.view.counts:  # it was set aside meanwhile, or its beginning undone
            self.bench.wishes.want("stop")
        with self._lock:
            phase: Phase = "stopping" if self._stands.phase == "stopping" else "running"
            self._stands = Stands(phase, now.counts, now.words, now.amperes)
        self.moved.set()

    def _seen(self, picture: bytes) -> None:
        with self._lock:
            self._number, self._picture = self._number + 1, picture
