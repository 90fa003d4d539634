"""Papers: what they say out of the records, and keeping them for good."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, Literal

from sqlalchemy import select

from needlewright.errors import ConflictError, NotThereError, RecordError
from needlewright.families.model import Family
from needlewright.proofs.certificate import MeasuredRun, certify, report_as_found
from needlewright.proofs.job_facts import JobFacts
from needlewright.proofs.proof_json import proof_document
from needlewright.records.changes import change
from needlewright.records.facts import AS_FOUND, facts_of, latest_paper, local_day
from needlewright.records.families import load_version
from needlewright.records.find import job_tagged
from needlewright.records.keeping import keep
from needlewright.records.measured import measured_run
from needlewright.records.opening import Shop
from needlewright.records.paper_views import papers_of
from needlewright.records.run_views import sheet_of_run
from needlewright.records.runs import run_that_counts
from needlewright.records.stages import missing_run
from needlewright.records.tables import BenchRun, Paper
from needlewright.records.views import PaperView
from needlewright.records.words import RunSide

Asked = Literal["certificate", "report"]
Part = Literal["pdf", "json", "label"]
PDF: Final = ".pdf"
LABEL: Final = "-label.pdf"


@dataclass(frozen=True, slots=True)
class Proven:
    """What a paper will say, and what its pictures are drawn from."""

    document: Mapping[str, Any]
    family: Family
    runs: Mapping[str, MeasuredRun]
    """By side: `found`, `left`."""
    job_version: int
    """The records it was made of; filing it refuses if they have changed since."""


def facts(
    shop: Shop,
    tag: str,
    asked: Asked = "certificate",
    *,
    day: date | None = None,
    authorised_by: str | None = None,
    because: str | None = None,
) -> JobFacts:
    """The facts of a job for its next paper.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    asked
        Which paper.
    day
        When it is issued; None: today.
    authorised_by
        Who authorises it; None: as the shop's settings say.
    because
        Why it replaces the one before it, where there is one.

    Returns
    -------
    JobFacts
        Checked.

    Raises
    ------
    RecordError, JobError
        If something a paper needs is not recorded, or facts disagree.
    """
    with shop.reading() as session:
        return facts_of(
            session,
            job_tagged(session, tag),
            ending=AS_FOUND if asked == "report" else "",
            day=day or local_day(shop.now()),
            authorised_by=authorised_by,
            because=because,
        )


def prove(
    shop: Shop,
    tag: str,
    asked: Asked,
    *,
    day: date | None = None,
    authorised_by: str | None = None,
    because: str | None = None,
) -> Proven:
    """Say what is proved of a cluster out of its stored runs.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    asked
        `certificate`: of the runs as found and as left; it may turn out to be a report of what
        does not conform. `report`: of the run as found.
    day
        As for `facts`.
    authorised_by
        As for `facts`.
    because
        As for `facts`.

    Returns
    -------
    Proven
        To be drawn, and then kept with `file_paper`.

    Raises
    ------
    RecordError
        If a run is missing or incomplete, or the records lack what a paper needs.
    JobError, PaperError, RunError, RuleError
        As `proofs.certificate`.
    """
    sides: tuple[RunSide, ...] = ("found",) if asked == "report" else ("found", "left")
    with shop.reading() as session:
        job = job_tagged(session, tag)
        version, version_id = job.version, job.family_version_id
        lacking = [one for side in sides for one in missing_run(session, job, side)]
    if lacking:
        raise RecordError(f"job {tag}: no paper can be issued: {'; '.join(lacking)}")
    said = facts(shop, tag, asked, day=day, authorised_by=authorised_by, because=because)
    family = load_version(shop, version_id)
    runs: dict[str, MeasuredRun] = {
        side: _run(shop, tag, side, family, version_id) for side in sides
    }
    if asked == "report":
        proof = report_as_found(family, said, runs["found"])
    else:
        proof = certify(family, said, runs["found"], runs["left"])
    return Proven(proof_document(proof), family, runs, version)


def file_paper(
    shop: Shop,
    tag: str,
    document: Mapping[str, Any],
    files: Mapping[str, bytes],
    by: str | None = None,
    *,
    job_version: int | None = None,
) -> PaperView:
    """Keep a paper for good: PDF, JSON and label, all or none.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    document
        As `prove` gave it; it names kind, number, version and what it replaces.
    files
        Contents by what follows the number in a file's name: `.pdf`, `-label.pdf`.
    by
        Who issues it.
    job_version
        Of the records the document was made of; None: not compared.

    Returns
    -------
    PaperView
        As kept; it is never changed again.

    Raises
    ------
    ConflictError
        If the job was changed, or another paper of the number issued, while this was drawn.
    RecordError
        If it cannot be stored.
    """
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
    stored = {
        "pdf": shop.originals.put(files[PDF], "pdf"),
        "json": shop.originals.put(text.encode(), "json"),
    }
    if LABEL in files:
        stored["label"] = shop.originals.put(files[LABEL], "pdf")
    number, version = document["number"], document["version"]
    with change(shop, tag, f"{document['name']} issued", by) as one:
        job, session = one.job, one.session
        if job_version is not None and job.version != job_version:
            raise ConflictError(
                f"job {job.tag}: it was changed while {document['name']} was drawn, so that was "
                "not issued; look at the job and issue it again"
            )
        older = latest_paper(session, number)
        if version != (1 if older is None else older.version + 1):
            raise ConflictError(
                f"job {job.tag}: {older.name if older else number} was issued while "
                f"{document['name']} was drawn, so that was not issued; look at it first"
            )
        one.undoable = False
        sha = {part: keep(shop, session, file) for part, file in stored.items()}
        paper_row = Paper(
            job_id=job.id,
            kind=document["kind"],
            number=number,
            version=version,
            name=document["name"],
            replaces_id=None if older is None else older.id,
            replaces_because=document["replaces_because"],
            pdf_sha256=sha["pdf"],
            json_sha256=sha["json"],
            label_sha256=sha.get("label"),
            issued=date.fromisoformat(document["issued"]),
            issued_at=one.at,
            person_id=one.person.id,
        )
        one.add(paper_row)
    return paper(shop, document["name"])


def paper(shop: Shop, name: str) -> PaperView:
    """A paper by its full name, as `LH-0412 version 2`.

    Raises RecordError if there is none.
    """
    with shop.reading() as session:
        row = session.scalars(select(Paper).where(Paper.name == name)).first()
        if row is None:
            raise NotThereError(f"there is no paper '{name}'; look at the job's papers")
        of_job = papers_of(session, [row.job_id])[row.job_id]
        return next(view for view in of_job if view.id == row.id)


def paper_bytes(shop: Shop, name: str, part: Part = "pdf") -> bytes:
    """A part of a paper, verified.

    Parameters
    ----------
    shop
        The shop.
    name
        The paper's full name.
    part
        `pdf`, `json` or `label`.

    Returns
    -------
    bytes
        Exactly what was issued.

    Raises
    ------
    RecordError
        If there is no such paper or part, or the file is damaged.
    """
    view = paper(shop, name)
    sha256 = {"pdf": view.pdf_sha256, "json": view.json_sha256, "label": view.label_sha256}[part]
    if sha256 is None:
        raise RecordError(f"{name} has no {part}; a label goes with a certificate only")
    return shop.originals.read(sha256)


def _run(shop: Shop, tag: str, side: RunSide, family: Family, version_id: int) -> MeasuredRun:
    run_id = run_that_counts(shop, tag, side)
    with shop.reading() as session:
        run = sheet_of_run(session, session.get_one(BenchRun, run_id))
    if run.family_version_id != version_id:
        raise RecordError(
            f"job {tag}: run {run.name} was read by an earlier version of the family; set it "
            "aside and read its photos again in a new run"
        )
    return measured_run(shop, run_id, family)
