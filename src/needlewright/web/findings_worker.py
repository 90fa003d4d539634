"""What a process that looks at files for a job's findings does, and how it says how far it is."""

import json
import logging
import signal
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import cv2

from needlewright.composing.analysed_files import Analysing, analyse, problem_words
from needlewright.errors import NeedlewrightError
from needlewright.families.model import Family
from needlewright.findings.evidence_file import evidence_documents

OUTCOME: Final = "outcome.json"
TOLD: Final = "told.json"
ENDED: Final = "it ended unexpectedly (memory ran out?); try again with smaller photos"
log = logging.getLogger("needlewright.web")


@dataclass(frozen=True, slots=True)
class AnalysisJob:
    """What is to be looked at, by which family, and what people call the files."""

    family: Family
    wanted: Analysing
    names: dict[Path, str]


def analyse_in_process(job: AnalysisJob, folder: Path) -> None:
    """`analyse_into` in a process of its own; Ctrl-C is the parent's business."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    cv2.setNumThreads(1)
    analyse_into(job, folder)


def analyse_into(job: AnalysisJob, folder: Path) -> None:
    """Look at files; what came of it is written into a folder.

    Parameters
    ----------
    job
        What is to be looked at.
    folder
        Exists; gets `told.json` while it works and `outcome.json` at the end, in which `problem` is
        the sentence why there is no evidence, or None.
    """

    def told(done: int, of: int) -> None:
        write_whole(folder / TOLD, [done, of])

    try:
        pieces = analyse(job.family, job.wanted, told)
        said: dict[str, Any] = {"problem": None, "evidence": evidence_documents(pieces)}
    except NeedlewrightError as error:
        said = {"problem": problem_words(error, job.names), "evidence": []}
    except Exception:
        log.exception("looking at files for the findings of a job")
        said = {"problem": ENDED, "evidence": []}
    for piece in said["evidence"]:
        for path, name in job.names.items():
            for key in ("words", "seen_in"):
                piece[key] = piece[key].replace(str(path), name).replace(path.name, name)
    write_whole(folder / OUTCOME, said)


def write_whole(path: Path, document: object) -> None:
    """Write JSON so that nobody reads half of it."""
    part = path.with_name(f".{path.name}.part")
    part.write_text(json.dumps(document, allow_nan=False), encoding="utf-8")
    part.replace(path)
