"""Families are drafted while people go on, one after the other, each in a process of its own.

A drafting that is stopped, or ends with the page, leaves the draft as it was typed.
"""

import json
import logging
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Event, Lock, RLock, Thread
from time import monotonic
from typing import Final

from needlewright.errors import ConflictError, NeedlewrightError
from needlewright.records.opening import Shop
from needlewright.web.drafts_progress import OPENING, told_in
from needlewright.web.drafts_store import DraftStore
from needlewright.web.drafts_worker import OUTCOME, DraftJob, draft_in_process

LOOK_S: Final = 0.2
"""Whether a process is done, is looked at after so long."""
ENDED: Final = (
    "the draft was not made because the process that made it ended (memory ran out?); what was "
    "typed is kept: try smaller or fewer photos"
)
log = logging.getLogger("needlewright.web")

Run = Callable[[DraftJob, Path, Event], None]
"""Drafts into a folder, and leaves off when the event is set."""
Done = Callable[[str | None], None]
"""Told what kept a draft from being made, or None."""


@dataclass(frozen=True, slots=True)
class DraftFar:
    """How far a drafting is."""

    doing: str
    """`waiting`, or as `drafts_progress.Told` has it."""
    done: int
    of: int
    """Steps of what is done now; 0: it is not counted."""
    share: float
    """Of the whole, from 0 to 1."""
    left_s: float | None
    """Roughly; None: it cannot be told yet."""
    since_s: float


@dataclass(slots=True)
class _InHand:
    folder: TemporaryDirectory[str]
    begun_s: float
    stopped: Event = field(default_factory=Event)
    thread: Thread | None = None
    is_on: bool = False
    """Whether those before it are done."""


class DraftDesk:
    """Drafts in hand.

    Parameters
    ----------
    shop
        The shop.
    run
        What drafts; by default a fresh process.
    """

    def __init__(self, shop: Shop, run: Run | None = None) -> None:
        self.store = DraftStore(shop)
        self.lock = RLock()
        """Held while a draft is read and written again."""
        self.run = run or in_process
        self._turn = Lock()
        self._in_hand: dict[str, _InHand] = {}

    def begin(self, draft_id: str, job: DraftJob, done: Done) -> None:
        """Have a family drafted; `done` is called from another thread at the end.

        Parameters
        ----------
        draft_id
            The draft.
        job
            What is to be drafted.
        done
            Not called where it is stopped.

        Raises
        ------
        ConflictError
            If it is being drafted already.
        """
        with self.lock:
            if draft_id in self._in_hand:
                raise ConflictError("it is being drafted already; wait for it, or stop it")
            hand = _InHand(TemporaryDirectory(prefix="needlewright-draft-"), monotonic())
            self._in_hand[draft_id] = hand
            hand.thread = Thread(
                target=self._work, args=(draft_id, hand, job, done), name="drafting", daemon=True
            )
            hand.thread.start()

    def stop(self, draft_id: str) -> None:
        """Leave a drafting off; without one nothing happens."""
        with self.lock:
            hand = self._in_hand.get(draft_id)
        if hand is not None:
            hand.stopped.set()
            if hand.thread is not None:
                hand.thread.join()

    def close(self) -> None:
        """End with the page."""
        with self.lock:
            hands = list(self._in_hand)
        for draft_id in hands:
            self.stop(draft_id)

    def far(self, draft_id: str) -> DraftFar | None:
        """How far a drafting is; None: it is not being drafted."""
        with self.lock:
            hand = self._in_hand.get(draft_id)
        if hand is None:
            return None
        since_s = monotonic() - hand.begun_s
        told = told_in(Path(hand.folder.name))
        if told is None:
            doing = OPENING if hand.is_on else "waiting"  # a process takes seconds to begin
            return DraftFar(doing, 0, 0, 0.0, None, since_s)
        return DraftFar(told.doing, told.done, told.of, told.share, told.left_s, since_s)

    def _work(self, draft_id: str, hand: _InHand, job: DraftJob, done: Done) -> None:
        folder = Path(hand.folder.name)
        try:
            if not self._is_turn(hand):
                return
            hand.is_on = True
            try:
                self.run(job, folder, hand.stopped)
            finally:
                self._turn.release()
            with self.lock:
                if not hand.stopped.is_set():
                    done(_problem(folder))
        except NeedlewrightError as error:  # the draft was discarded, or cannot be written
            log.warning("a draft: %s", error)
        except Exception:
            log.exception("drafting a family")
            with self.lock, suppress(NeedlewrightError):
                done(ENDED)
        finally:
            with self.lock:
                self._in_hand.pop(draft_id, None)
            hand.folder.cleanup()

    def _is_turn(self, hand: _InHand) -> bool:
        """Wait for those before; False: it was stopped meanwhile."""
        while not self._turn.acquire(timeout=LOOK_S):
            if hand.stopped.is_set():
                return False
        return True


def in_process(job: DraftJob, folder: Path, stopped: Event) -> None:
    """Draft in a fresh process, which is ended when `stopped` is set.

    Parameters
    ----------
    job
        What is to be drafted.
    folder
        As of `drafts_worker.draft_into`.
    stopped
        Set to leave off.
    """
    process = get_context("spawn").Process(target=draft_in_process, args=(job, folder), daemon=True)
    process.start()
    while process.is_alive():
        process.join(LOOK_S)
        if stopped.is_set():
            process.kill()
    process.join()
    process.close()


def _problem(folder: Path) -> str | None:
    """What came of it; without a word, the process died."""
    try:
        said = json.loads((folder / OUTCOME).read_text(encoding="utf-8"))["problem"]
    except (OSError, ValueError, KeyError):
        return ENDED
    return None if said is None else str(said)
