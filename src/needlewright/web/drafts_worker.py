"""What a process that drafts a family does, and how it says how far it is."""

import json
import logging
import signal
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np
from PIL import Image

from needlewright.errors import UnusableInput
from needlewright.readings.drafting.drafting import NamedPicture, draft_family
from needlewright.readings.drafting.inputs import DraftInputs
from needlewright.readings.picture import open_picture
from needlewright.web.drafts_progress import OPENING, WRITING, Teller
from needlewright.web.drafts_written import draft_document

OUTCOME: Final = "outcome.json"
log = logging.getLogger("needlewright.web")


@dataclass(frozen=True, slots=True)
class DraftJob:
    """What is to be drafted.

    Parameters
    ----------
    inputs
        What was typed.
    photos
        Path and name of each; the first is the one that was clicked in.
    bare
        Whether needles are pulled in the first.
    result, face
        Files that what is found is written into.
    """

    inputs: DraftInputs
    photos: Sequence[tuple[Path, str]]
    bare: bool
    result: Path
    face: Path


def draft_in_process(job: DraftJob, folder: Path) -> None:
    """`draft_into` in a process of its own: Ctrl-C is the parent's business, one core is enough."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    cv2.setNumThreads(1)
    draft_into(job, folder)


def draft_into(job: DraftJob, folder: Path) -> None:
    """Draft a family; what came of it, and how far it is, is written into a folder.

    Parameters
    ----------
    job
        What is to be drafted.
    folder
        Exists; gets `told` while it works and `outcome.json` at the end, in which `problem` is
        the sentence why there is no draft, or None.
    """
    problem = None
    try:
        _draft(job, folder)
    except UnusableInput as error:
        problem = str(error)
        for path, name in job.photos:
            problem = problem.replace(str(path), name)
    except Exception:
        log.exception("drafting a family")
        problem = "the draft ended unexpectedly; what was typed is kept: try another photo"
    _write(folder / OUTCOME, {"problem": problem})


def _draft(job: DraftJob, folder: Path) -> None:
    inputs, count = job.inputs, len(job.photos)
    scan = inputs.dpi is not None
    tell = Teller(folder, len(inputs.dials), count, bare=job.bare, scan=scan)
    pictures = []
    for number, (path, name) in enumerate(job.photos):
        tell(OPENING, number, count)
        pictures.append(NamedPicture(name, open_picture(path)))
    tell(OPENING, count, count)
    drafted = draft_family(inputs, pictures[0], pictures[1:], bare=job.bare, on_progress=tell)
    tell(WRITING, 0, 1)
    part = job.face.with_name(f".{job.face.name}.part")
    face = np.ascontiguousarray(drafted.face[:, :, ::-1])
    Image.fromarray(face).save(part, "PNG")
    part.replace(job.face)
    _write(job.result, draft_document(drafted.draft))


def _write(path: Path, document: dict[str, Any]) -> None:
    part = path.with_name(f".{path.name}.part")
    part.write_text(json.dumps(document, allow_nan=False), encoding="utf-8")
    part.replace(path)
