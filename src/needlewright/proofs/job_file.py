"""Reading `job.toml`: one sentence for what is wrong in it, naming field, value and expectation."""

import difflib
import re
import tomllib
from datetime import date
from pathlib import Path
from typing import Any, Final

from pydantic import BaseModel, ValidationError

from needlewright.errors import JobError
from needlewright.proofs.job_facts import (
    LONGEST_TEXT,
    Instrument,
    JobFacts,
    NoticeFacts,
    OdometerEntry,
    paper_name,
)

MAX_BYTES: Final = 200_000
MILEAGES: Final = ("as_received", "as_returned")
_NUMBER: Final = re.compile(r"[A-Za-z0-9]([A-Za-z0-9._-]{0,38}[A-Za-z0-9])?")
"""A paper's number is also a file's name and must survive being one anywhere."""
_KEPT_ENDING: Final = re.compile(r"-(v[0-9]+|label|as-found)$", re.IGNORECASE)
"""Endings that file names use for other papers of a number."""

EXPECTED: Final = {
    "shop": "the shop's name",
    "place": "where the work was done",
    "customer": "the customer's name",
    "vehicle": "the vehicle in words",
    "max_speed": "the vehicle's maximum design speed, a number above 0",
    "tag": "the shop's tag on the cluster, 1 to 40 characters",
    "serial": "the cluster's serial number, or 'none' where it carries none",
    "condition": "the condition it came in, in words",
    "authorised_by": "who authorises the paper",
    "odometer": "a table [odometer] with as_received and as_returned, or none_fitted",
    "as_received": "the mileage it came in with, a number of 0 or more",
    "as_returned": "the mileage it goes out with, a number of 0 or more",
    "unit": "'km' or 'mi'",
    "law": "the local law's name, left out where 49 USC 32704(a) holds",
    "procedure": "what was done under the local law, in words",
    "mileage_before": "the mileage before it was set to zero, a number of 0 or more",
    "notice": "a table [odometer.notice] with mileage_before and date",
    "number": "a number of its own, a text of at most 40 characters",
    "name": "a name",
    "instruments": "tables [[instruments]] with name, number and due",
    "version": "a whole number from 1 to 99",
    "invented": "true or false",
    "work_done": "a list of texts",
    "remarks": "a list of texts",
    **dict.fromkeys(
        ("received", "found_on", "work", "issued", "date", "due"), "a day such as 2026-03-02"
    ),
}


def load_job(path: Path, *, goes_out: bool = False) -> JobFacts:
    """Read the facts of a job.

    Parameters
    ----------
    path
        A `job.toml`.
    goes_out
        Whether the mileage as returned must be stated, as for a certificate.

    Returns
    -------
    JobFacts
        Checked, one field against the other where that can be.

    Raises
    ------
    JobError
        One sentence naming file, field, value and expectation.
    """
    job = job_from(_parsed(path), str(path))
    if goes_out and job.odometer.none_fitted is None and job.odometer.as_returned is None:
        raise JobError(f"{path}: {missing_mileage('as_returned')}")
    return job


def job_from(raw: dict[str, Any], where: str) -> JobFacts:
    """Check the facts of a job, wherever they come from.

    Parameters
    ----------
    raw
        Field by field, as a job file states them.
    where
        Named first in the sentence.

    Returns
    -------
    JobFacts
        Checked, one field against the other where that can be.

    Raises
    ------
    JobError
        One sentence naming field, value and expectation.
    """
    try:
        job = JobFacts.model_validate(raw)
    except ValidationError as error:
        raise JobError(f"{where}: {_first_complaint(raw, error)}") from error
    for complaint in _disagreements(job):
        raise JobError(f"{where}: {complaint}")
    return job


def _parsed(path: Path) -> dict[str, Any]:
    try:
        if path.is_dir():
            raise JobError(f"{path}: expected a job file, found a folder")
        if path.stat().st_size > MAX_BYTES:
            raise JobError(f"{path}: larger than {MAX_BYTES / 1e3:g} kB, the limit for a job file")
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError as error:
        raise JobError(
            f"{path}: there is no such file; expected the facts of the job as docs/papers.md says"
        ) from error
    except tomllib.TOMLDecodeError as error:
        raise JobError(
            f"{path}: not valid TOML: {str(error)[:1].lower()}{str(error)[1:]}; texts stand in "
            "double quotes, days are written 2026-03-02"
        ) from error
    except UnicodeDecodeError as error:
        raise JobError(
            f"{path}: not UTF-8 text (byte {error.start + 1}); save it as UTF-8"
        ) from error
    except OSError as error:
        raise JobError(f"{path}: cannot be read: {error.strerror or error}") from error


def _first_complaint(raw: dict[str, Any], error: ValidationError) -> str:
    """One sentence; fields that are missing beside each other are named together."""
    complaints = error.errors(include_url=False)
    unknown = [c for c in complaints if c["type"] == "extra_forbidden"]
    missing = [c for c in complaints if c["type"] == "missing"]
    first = (unknown or missing or complaints)[0]
    place = first["loc"]
    inside, field = place[:-1], str(place[-1])
    if unknown:
        known = _known_fields(inside)
        near = difflib.get_close_matches(field, known, n=1)
        meant = f"is '{near[0]}' meant?" if near else f"known are {', '.join(known)}"
        return f"{_where(inside)}the field '{field}' is not known; {meant}"
    if missing:
        names = [str(c["loc"][-1]) for c in missing if c["loc"][:-1] == inside]
        wanted = "; ".join(f"'{n}' is {EXPECTED.get(n, 'a text')}" for n in names)
        lead = "the field is" if len(names) == 1 else "fields are"
        return f"{_where(inside)}{lead} missing: {wanted}"
    named = next(str(step) for step in reversed(place) if isinstance(step, str))
    expected = EXPECTED.get(named, f"a text of 1 to {LONGEST_TEXT} characters")
    quotes = "; write it in double quotes" if first["type"] == "string_type" else ""
    return f"{_where(inside)}{field}: expected {expected}, found {_found(raw, place)}{quotes}"


def _known_fields(inside: tuple[int | str, ...]) -> list[str]:
    tables: dict[str, type[BaseModel]] = {
        "odometer": OdometerEntry,
        "notice": NoticeFacts,
        "instruments": Instrument,
    }
    names = [step for step in inside if isinstance(step, str)]
    return list((tables[names[-1]] if names else JobFacts).model_fields)


def _where(inside: tuple[int | str, ...]) -> str:
    text = ""
    for step in inside:
        text += f" {step + 1}" if isinstance(step, int) else f".{step}" if text else step
    return f"[{text}]: " if text else ""


def _found(raw: Any, place: tuple[int | str, ...]) -> str:
    for step in place:
        try:
            raw = raw[step]
        except (KeyError, IndexError, TypeError):
            break
    text = repr(str(raw)) if isinstance(raw, date) else repr(raw)
    return text if len(text) <= 60 else text[:57] + "..."


def _disagreements(job: JobFacts) -> list[str]:
    """What is wrong between fields that are each well formed."""
    said = []
    days = [job.received, job.found_on or job.received, job.work, job.issued]
    if days != sorted(days):
        found_on = f"found_on {job.found_on}, " if job.found_on else ""
        said.append(
            f"the days must follow each other: received {job.received}, {found_on}work {job.work}, "
            f"issued {job.issued}"
        )
    if not _NUMBER.fullmatch(job.paper_number):
        said.append(
            f"number: expected letters, digits and . _ - only, at most 40, found "
            f"'{job.paper_number}'"
            + ("" if job.number else "; it is made of tag and day of issue, so state 'number'")
        )
    if kept := _KEPT_ENDING.search(job.paper_number):
        said.append(f"number: '{kept[0]}' is kept for file names, found '{job.paper_number}'")
    if job.version > 1 and (job.replaces is None or job.replaces_because is None):
        said.append(
            f"version {job.version} must name the paper it replaces ('replaces') and say why "
            "('replaces_because')"
        )
    if job.version > 1 and job.replaces not in _older(job):
        said.append(
            f"replaces: expected the full name of an older version of {job.paper_number}, such as "
            f"'{_older(job)[-1]}', found '{job.replaces}'"
        )
    if job.version == 1 and job.replaces is not None:
        said.append(
            "'replaces' is stated and 'version' is 1; a paper that replaces one is version 2"
        )
    return said + _odometer_disagreements(job.odometer)


def _older(job: JobFacts) -> list[str]:
    return [paper_name(job.paper_number, version) for version in range(1, job.version)]


def _odometer_disagreements(odometer: OdometerEntry) -> list[str]:
    stated = [name for name in MILEAGES if getattr(odometer, name) is not None]
    if odometer.none_fitted is not None:
        others = [*stated, *(["notice"] if odometer.notice else [])]
        says = "[odometer]: 'none_fitted' says there is no odometer"
        return [f"{says}, and '{others[0]}' is stated"] if others else []
    if "as_received" not in stated:
        return [missing_mileage("as_received")]
    return []


def missing_mileage(name: str) -> str:
    """The sentence about a mileage that is not stated."""
    return (
        f"[odometer]: '{name}' is missing: expected {EXPECTED[name]}, or 'none_fitted' with the "
        "reason where the cluster has no odometer"
    )
