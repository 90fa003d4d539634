"""One run at the bench: carried out in a thread of its own, looked at from any window."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from threading import Event, Lock
from typing import Final, Literal

import cv2

from needlewright.bench.devices import Devices, Wishes
from needlewright.bench.run import BenchRun, Ended, Listeners, Progress
from needlewright.bench.run_state import RunState
from needlewright.bench.steps import RunStep
from needlewright.composing.bench_kept import StoredRun
from needlewright.composing.bench_sweep import looked_through
from needlewright.errors import ConflictError, NeedlewrightError
from needlewright.readings.frame import Pixels
from needlewright.readings.live import LiveLook
from needlewright.readings.runs import Run, RunRow
from needlewright.signals.instruments import Instruments
from needlewright.web.bench_person import PersonAtPage
from needlewright.web.bench_thread import BenchThread
from needlewright.web.bench_watched import Watchers, watched
from needlewright.web.live_frames import to_show

END_WITHIN_S: Final = 30.0
HELD_FRAME_S: Final = 0.25
"""From frame to frame of a rehearsal that is held."""
FAILED: Final = (
    "the run at the bench failed; the terminal of the workbench says why; go on from the same "
    "check point"
)
log = logging.getLogger("needlewright.web")
Phase = Literal["preparing", "running", "paused", "stopping", "finished", "stopped", "failed"]
Act = Literal["pause", "go_on", "skip", "redo"]


@dataclass(frozen=True, slots=True)
class Where:
    """Where a run stands."""

    phase: Phase
    done: int
    of: int
    words: str = ""
    """The step in hand, or how the run ended."""
    left_s: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """The newest picture of the camera."""

    number: int
    pixels: Pixels
    look: LiveLook | None
    """None: nobody reads it; needles are on their way."""


class BenchSession:
    """Carries a run out from where it stands; nothing of it depends on a window.

    Parameters
    ----------
    kept
        The run; what it stores goes on being stored.
    devices
        Open.
    thread
        The run's own, which has opened the devices.
    wishes
        Of the people.
    person
        Does by hand what no device carries.
    instruments
        Of the bench.
    temperature_c
        Of the cluster.
    is_rehearsed
        Whether no real cluster is there.
    """

    def __init__(
        self,
        kept: StoredRun,
        devices: Devices,
        thread: BenchThread,
        *,
        wishes: Wishes,
        person: PersonAtPage,
        instruments: Instruments,
        temperature_c: float | None,
        is_rehearsed: bool,
    ) -> None:
        self.kept, self.devices, self.person = kept, devices, person
        self.is_rehearsed, self.key_is_on = is_rehearsed, False
        self._thread, self._wishes, self._instruments = thread, wishes, instruments
        self._temperature_c = temperature_c
        self._lock, self._tellers = Lock(), list[Callable[[], None]]()
        self._where = Where("preparing", kept.state.done, len(kept.plan.steps))
        self._seen: Seen | None = None
        self.on_end: Callable[[], None] = lambda: None
        """Called when the bench is free again."""
        self._newest: Pixels | None = None
        self._rows: tuple[RunState, Run] | None = None
        self._coded: tuple[Seen, bytes] | None = None
        self._coding = Lock()
        self._is_held = self._is_asked = False
        self._moved = Event()
        self.ended = Event()
        person.changed = self._tell

    def start(self) -> None:
        """Begin."""
        self._thread.carry_out(self._work)

    @property
    def where(self) -> Where:
        """Where it stands now."""
        with self._lock:
            return self._where

    @property
    def seen(self) -> Seen | None:
        """The newest picture; None: none has come."""
        with self._lock:
            return self._seen

    @property
    def steps(self) -> Sequence[RunStep]:
        """All of them."""
        return self.kept.plan.steps

    @property
    def rows(self) -> Run:
        """What is in the table, completed with the family."""
        state = self.kept.state
        if self._rows is None or self._rows[0] is not state:
            self._rows = (state, self.kept.run)
        return self._rows[1]

    def picture(self, seen: Seen) -> bytes:
        """A JPEG of a picture; made once, however many windows look on."""
        with self._coding:
            if self._coded is None or self._coded[0] is not seen:
                self._coded = (seen, to_show(seen.pixels))
            return self._coded[1]

    def listen(self, changed: Callable[[], None]) -> Callable[[], None]:
        """Be told whenever something has changed.

        Parameters
        ----------
        changed
            Called from the run's thread; it must not wait.

        Returns
        -------
        Callable
            Ends it.
        """
        with self._lock:
            self._tellers.append(changed)

        def end() -> None:
            with self._lock:
                self._tellers.remove(changed)

        return end

    def act(self, act: Act, at: int) -> None:
        """Want something of the run.

        Parameters
        ----------
        act
            `pause` holds it where it is until `go_on`; `skip` leaves this point out; `redo` goes
            back to the one before. While it is held, it is held after those, too.
        at
            How many steps were done on the screen that asks.

        Raises
        ------
        ConflictError
            If the run has gone on meanwhile, or is over.
        """
        with self._lock:
            where = self._where
            if where.phase not in ("running", "paused"):
                raise ConflictError(_NOT_ON[where.phase])
            if act in ("skip", "redo"):
                self._refuse_step(act, at, where)
                self._is_asked = True
            else:
                self._is_held = act == "pause"
                self._where = replace(where, phase="paused" if self._is_held else "running")
            self._wishes.want(act)
            self._moved.set()
        if act in ("skip", "redo"):
            self.person.cut_short()
        self._tell()

    def stop(self) -> None:
        """End the run; it can be taken up again."""
        with self._lock:
            if self._where.phase in ("preparing", "running", "paused"):
                self._where = replace(self._where, phase="stopping")
            self._wishes.want("stop")
            self._moved.set()
        self.person.cut_short()
        self._tell()

    def close(self) -> None:
        """Stop, and wait until the bench is free."""
        self.stop()
        self._thread.join(END_WITHIN_S)

    @staticmethod
    def _refuse_step(act: Act, at: int, where: Where) -> None:
        if at != where.done:
            raise ConflictError(
                "bench: the run had gone on to the next step meanwhile; nothing was changed; look "
                "where it stands and choose again"
            )
        if act == "redo" and where.done == 0:
            raise ConflictError(
                "bench: no point is done yet that could be taken again; nothing was changed; go on"
            )

    def _work(self) -> None:
        cv2.setNumThreads(1)  # the page is answered by the other cores
        where = Where("failed", self.kept.state.done, len(self.steps), FAILED)
        try:
            where = self._ended(self._carry_out())
        except NeedlewrightError as error:
            where = replace(where, words=str(error))
        except Exception:
            log.exception("a run at the bench")
        finally:
            done = self.kept.state.done
            where = replace(self._closed(where), done=done)
            with self._lock:
                self._where, self._newest = where, None
            self.on_end()
            self.ended.set()
            self._tell()

    def _carry_out(self) -> Ended:
        watchers = Watchers(self._frame, self._passing, self._key, self._idle)
        run = BenchRun(
            self.kept,
            watched(self.devices, watchers, is_rehearsed=self.is_rehearsed),
            temperature_c=self._temperature_c,
            instruments=self._instruments,
            wishes=self._wishes,
            listeners=Listeners(self._progress, self._look, self._row),
            look_through=looked_through(self.kept.family),
        )
        return run.go()

    def _closed(self, where: Where) -> Where:
        """Let go of the devices; what that says is added."""
        try:
            self._thread.let_go()
        except NeedlewrightError as error:
            return replace(where, phase="failed", words=f"{where.words}; and then: {error}")
        except Exception:
            log.exception("letting go of the bench's devices")
        return where

    def _ended(self, ended: Ended) -> Where:
        return Where(ended.state, ended.done, ended.of, ended.words)

    def _progress(self, now: Progress) -> None:
        with self._lock:
            if self._is_asked and not self._wishes.stopping:
                # what was asked of the step before, and came too late for it, is not for this one
                self._wishes.want("pause" if self._is_held else "go_on")
            self._is_asked = False
            phase = self._where.phase
            phase = "running" if phase == "preparing" else phase
            self._where = Where(phase, now.done, now.of, now.words, now.left_s)
        self._tell()

    def _frame(self, pixels: Pixels, t_s: float) -> None:
        del t_s
        self._newest = pixels

    def _look(self, look: LiveLook) -> None:
        if self._newest is not None:
            self._show(self._newest, look)

    def _passing(self, pixels: Pixels) -> None:
        self._show(pixels, None)

    def _show(self, pixels: Pixels, look: LiveLook | None) -> None:
        with self._lock:
            number = 1 if self._seen is None else self._seen.number + 1
            self._seen = Seen(number, pixels, look)
        self._tell()

    def _key(self, on: bool) -> None:
        self.key_is_on = on
        self._tell()

    def _idle(self) -> None:
        self._moved.clear()
        if self.where.phase == "paused":
            self._moved.wait(HELD_FRAME_S)

    def _row(self, rows: tuple[RunRow, ...]) -> None:
        del rows
        self._tell()

    def _tell(self) -> None:
        with self._lock:
            tellers = tuple(self._tellers)
        for tell in tellers:
            tell()


_NOT_ON: Final[dict[Phase, str]] = {
    "preparing": "bench: the run is being prepared; wait a moment, then choose again",
    "stopping": "bench: the run is being stopped; wait until it has, then go on with it",
    "finished": "bench: the run is finished; nothing was changed; look at it on the job sheet",
    "stopped": "bench: the run is stopped; nothing was changed; go on with it first",
    "failed": "bench: the run has ended; nothing was changed; go on with it first",
}
