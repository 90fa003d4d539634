"""Files that are looked at for jobs' findings: one process at a time, stopped without loss."""

import json
import logging
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Event, RLock, Thread
from typing import Any, Final

from needlewright.composing.analysed_files import Analysing
from needlewright.errors import ConflictError, NeedlewrightError
from needlewright.findings.evidence_file import parse_evidence
from needlewright.web.findings_worker import (
    ENDED,
    OUTCOME,
    TOLD,
    AnalysisJob,
    analyse_in_process,
)

LOOK_S: Final = 0.1
log = logging.getLogger("needlewright.web")
Run = Callable[[AnalysisJob, Path, Event], None]
Keep = Callable[[list[dict[str, Any]]], None]


@dataclass(frozen=True, slots=True)
class AnalysisFar:
    """How far it is."""

    kind: str
    done: int
    of: int
    """0: it has only begun."""


@dataclass(slots=True, eq=False)
class _Hand:
    """One that is in hand."""

    folder: TemporaryDirectory[str]
    kind: str
    stopped: Event = field(default_factory=Event)
    thread: Thread | None = None


class AnalysisDesk:
    """Analyses in hand, one for each job.

    Parameters
    ----------
    run
        What looks at the files; by default a fresh process.
    """

    def __init__(self, run: Run | None = None) -> None:
        self.run = run or in_process
        self._lock = RLock()
        self._turn = RLock()
        self._hands: dict[int, _Hand] = {}
        self._problems: dict[int, tuple[str, str]] = {}

    def begin(self, job_id: int, job: AnalysisJob, files: dict[str, bytes], keep: Keep) -> None:
        """Have files looked at; `keep` is called from another thread with what was seen.

        Parameters
        ----------
        job_id
            Of the job.
        job
            What is to be looked at; paths are names of `files`.
        files
            Contents by name.
        keep
            Not called where it was stopped, or nothing was seen.

        Raises
        ------
        ConflictError
            If files of the job are being looked at already.
        """
        with self._lock:
            if job_id in self._hands:
                raise ConflictError("files are being looked at already; wait for them, or stop it")
            hand = _Hand(TemporaryDirectory(prefix="needlewright-findings-"), job.wanted.kind)
            folder = Path(hand.folder.name)
            for name, content in files.items():
                (folder / name).write_bytes(content)
            self._problems.pop(job_id, None)
            self._hands[job_id] = hand
            there = _in_folder(job, folder)
            hand.thread = Thread(
                target=self._work, args=(job_id, hand, there, keep), name="analysing", daemon=True
            )
            hand.thread.start()

    def far(self, job_id: int) -> AnalysisFar | None:
        """How far it is; None: nothing of the job is being looked at."""
        with self._lock:
            hand = self._hands.get(job_id)
        if hand is None:
            return None
        try:
            done, of = json.loads((Path(hand.folder.name) / TOLD).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            done, of = 0, 0
        return AnalysisFar(hand.kind, done, of)

    def problem(self, job_id: int, kind: str) -> str | None:
        """Why nothing came of the last one; None: something did, or there was none."""
        with self._lock:
            of, words = self._problems.get(job_id, ("", ""))
        return words if of == kind else None

    def stop(self, job_id: int) -> None:
        """Leave it off; without one nothing happens."""
        with self._lock:
            hand = self._hands.get(job_id)
        if hand is not None:
            hand.stopped.set()
            if hand.thread is not None:
                hand.thread.join()

    def close(self) -> None:
        """End with the page."""
        with self._lock:
            jobs = list(self._hands)
        for job_id in jobs:
            self.stop(job_id)

    def _work(self, job_id: int, hand: _Hand, job: AnalysisJob, keep: Keep) -> None:
        problem: str | None = ENDED
        try:
            folder = Path(hand.folder.name)
            with self._turn:
                if not hand.stopped.is_set():
                    self.run(job, folder, hand.stopped)
            if hand.stopped.is_set():
                problem = None
                return
            problem, pieces = _outcome(folder)
            if problem is None:
                keep(pieces)
        except NeedlewrightError as error:
            problem = str(error)
        except Exception:
            log.exception("looking at files for the findings of a job")
        finally:
            with self._lock:
                if problem is not None:
                    self._problems[job_id] = (hand.kind, problem)
                self._hands.pop(job_id, None)
            with suppress(OSError):
                hand.folder.cleanup()


def in_process(job: AnalysisJob, folder: Path, stopped: Event) -> None:
    """Look at files in a fresh process, which is ended when `stopped` is set.

    Parameters
    ----------
    job
        What is to be looked at.
    folder
        As of `findings_worker.analyse_into`.
    stopped
        Set to leave off.
    """
    target, args = analyse_in_process, (job, folder)
    process = get_context("spawn").Process(target=target, args=args, daemon=True)
    process.start()
    while process.is_alive():
        process.join(LOOK_S)
        if stopped.is_set():
            process.kill()
    process.join()
    process.close()


def _in_folder(job: AnalysisJob, folder: Path) -> AnalysisJob:
    def there(path: Path) -> Path:
        return folder / path

    wanted: Analysing = job.wanted
    wanted = replace(
        wanted,
        photos=tuple(there(one) for one in wanted.photos),
        log=None if wanted.log is None else there(wanted.log),
    )
    names = {there(path): name for path, name in job.names.items()}
    return AnalysisJob(replace(job.family, raw=None), wanted, names)


def _outcome(folder: Path) -> tuple[str | None, list[dict[str, Any]]]:
    """What came of it; without a word, the process died."""
    try:
        said = json.loads((folder / OUTCOME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return ENDED, []
    if said["problem"] is None:
        parse_evidence("what was seen", json.dumps(said["evidence"]).encode())
    return said["problem"], said["evidence"]
