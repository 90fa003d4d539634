"""Files that the findings' page takes in to be looked at: photos of lamps, a log of the vehicle."""

import json
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final, Literal

from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from needlewright.composing.analysed_files import LAMPS, VEHICLE, Analysing, seconds_typed
from needlewright.composing.kept_pieces import take_analysis
from needlewright.errors import UnusableInput
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet
from needlewright.web.findings_worker import AnalysisJob
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import SentFile, SentForm
from needlewright.web.sheet_measured import family_version

KINDS: Final[tuple[Literal["lamps", "vehicle"], ...]] = ("lamps", "vehicle")
NAMES: Final = {"lamps": LAMPS, "vehicle": VEHICLE}
MOST_NAME: Final = 80
router = APIRouter(include_in_schema=False)


@router.get("/jobs/{tag}/findings/files/progress")
def progress(asked: Asked, tag: Tag) -> Response:
    """How far it is, for the page to ask again and again."""
    job = job_sheet(asked.shop, tag)
    far = asked.house.analyses.far(job.id)
    facts = {"left_s": None, "ahead": 0, "trouble": None, "version": job.version}
    if far is None:
        return _fresh({**facts, "read": 0, "of": 0, "ended": True})
    return _fresh({**facts, "read": far.done, "of": far.of, "ended": False})


def begin_looking(asked: Asking, sent: SentForm, tag: str) -> JobSheet:
    """Have the files of a form looked at in a process of its own.

    Parameters
    ----------
    asked
        Who asks.
    sent
        With `kind`, `photos` and what belongs to the kind.
    tag
        Of the job.

    Returns
    -------
    JobSheet
        As it is; what is seen comes later.

    Raises
    ------
    UnusableInput
        If a file is missing, or a field cannot be used.
    ConflictError
        If files of the job are being looked at already.
    """
    job, t = job_sheet(asked.shop, tag), asked.texts
    kind = next((one for one in KINDS if one == sent.text("kind")), None)
    photos, logs = sent.files("photos"), sent.files("log")
    if kind is None or not photos:
        raise UnusableInput(t("findings.files.no_photo"))
    if kind == "vehicle" and not logs:
        raise UnusableInput(t("findings.files.no_log"))
    files = _named([*photos, *(logs[:1] if kind == "vehicle" else ())])
    paths = [Path(name) for name in files]
    wanted = Analysing(
        kind,
        tuple(paths[: len(photos)]),
        log=paths[len(photos)] if kind == "vehicle" else None,
        at=sent.text("taken_at").strip() or None,
        steady_s=seconds_typed(sent.text("steady")),
    )
    if wanted.at is not None and wanted.steady_s is not None:
        raise UnusableInput(t("findings.files.both"))
    names = {path: one.name for path, one in zip(paths, files.values(), strict=True)}
    work = AnalysisJob(family_version(asked.shop, job.family_version_id), wanted, names)

    def keep(pieces: list[dict[str, Any]]) -> None:
        take_analysis(asked.shop, job.tag, wanted.name, json.dumps(pieces).encode(), asked.by)

    contents = {name: one.content() for name, one in files.items()}
    asked.house.analyses.begin(job.id, work, contents, keep)
    return job


def _named(files: Sequence[SentFile]) -> dict[str, SentFile]:
    """Files by names of our own that keep what their names say: their kind, and what is lit."""
    named = {}
    for number, one in enumerate(files, start=1):
        plain = re.sub(r"[^A-Za-z0-9._-]+", "_", one.name)[-MOST_NAME:]
        named[f"{number}-{plain.lstrip('.') or 'file'}"] = one
    return named


def _fresh(facts: dict[str, Any]) -> Response:
    return JSONResponse(facts, headers={"Cache-Control": "no-store"})
