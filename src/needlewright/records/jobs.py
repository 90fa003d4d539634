"""Jobs: opening one, and everything that is said about it at any time."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

from sqlalchemy import select
from sqlalchemy.orm import Session

from needlewright.errors import RecordError
from needlewright.records.changes import change, named, put_settled, refresh_search, settle
from needlewright.records.clusters import (
    cluster_for,
    move_to_cluster,
    refuse_built_to_come,
    returned_job,
)
from needlewright.records.entries import Entry as _Entry
from needlewright.records.entries import JobEntry, NewJob, Text, checked
from needlewright.records.families import newest_version
from needlewright.records.opening import Shop
from needlewright.records.people import person_named, tag_key
from needlewright.records.sheet import job_sheet
from needlewright.records.shop import instrument_numbered, settings_row
from needlewright.records.tables import (
    Decision,
    Edit,
    Job,
    Note,
    Received,
    Returned,
)
from needlewright.records.views import JobSheet
from needlewright.records.words import DecisionKind, WaitsFor

EDITABLE: Final = tuple(JobEntry.model_fields)
"""Fields `edit_job` takes."""
_OF_CLUSTER: Final[tuple[str, ...]] = ("serial", "variant", "built")
WAITS_FOR_WORDS: Final[dict[WaitsFor, str]] = {
    "cluster": "the box to arrive",
    "bench": "a hand at the bench",
    "owner": "the owner's word",
    "parts": "parts",
    "carrier": "the carrier",
    "nothing": "nothing",
}


class _Said(_Entry):
    """A note or a decision."""

    text: Text
    why: Text = ""
    kind: DecisionKind = "other"


def new_job(shop: Shop, job: NewJob | Mapping[str, Any], by: str | None = None) -> JobSheet:
    """Open a job.

    Parameters
    ----------
    shop
        The shop.
    job
        The new tag; its cluster is found by family and serial, or made.
    by
        Who does it.

    Returns
    -------
    JobSheet
        Of the new job, with earlier visits of the same cluster.

    Raises
    ------
    JobError
        If a field cannot be used.
    RecordError
        If the tag is taken, the family is not kept, or the job it returns is not there or is of
        another cluster.
    """
    entry = job if isinstance(job, NewJob) else checked(NewJob, job, "new job")
    with shop.writing(f"opening job {entry.tag}") as session:
        _refuse_taken_tag(session, entry.tag)
        person = person_named(session, by)
        version = newest_version(session, entry.family)
        refuse_built_to_come(entry.tag, entry.built, shop.now().astimezone().date())
        cluster = cluster_for(session, version.name, entry.serial, entry.variant, entry.built)
        row = Job(
            tag=entry.tag,
            tag_key=tag_key(entry.tag),
            cluster=cluster,
            family_version=version,
            opened_at=shop.now(),
            odometer_unit=entry.odometer_unit or settings_row(session).odometer_unit,
            version=1,
            **{
                name: getattr(entry, name)
                for name in (
                    "owner",
                    "owner_contact",
                    "vehicle",
                    "max_speed",
                    "complaint",
                    "promised",
                )
            },
        )
        row.return_of_id = returned_job(session, row, cluster, entry.return_of)
        refresh_search(row)
        session.add(row)
        session.flush()
        session.add_all([Received(job_id=row.id), Returned(job_id=row.id)])
        session.add(
            Edit(
                job_id=row.id,
                job_version=1,
                what="job opened",
                at=shop.now(),
                person_id=person.id,
                undoable=False,
            )
        )
    return job_sheet(shop, entry.tag)


def edit_job(
    shop: Shop,
    tag: str,
    changes: Mapping[str, Any],
    by: str | None = None,
    *,
    seen: int | None = None,
) -> JobSheet:
    """Change what is said about a job.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    changes
        Fields of `entries.JobEntry`; what is not named stays.
    by
        Who does it.
    seen
        The sheet's version the person was looking at; None: not compared.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    JobError
        If a field cannot be used.
    ConflictError
        If somebody else changed the same field since.
    RecordError
        If the tag is taken, the family is not kept or runs were read by it.
    """
    stated = checked(JobEntry, changes, f"job {tag}").stated
    with change(shop, tag, named(stated) or "nothing", by) as one:
        job, session = one.job, one.session
        of_cluster = {name: stated.pop(name) for name in _OF_CLUSTER if name in stated}
        of_cluster = settle(session, job, job.cluster, of_cluster, seen)
        family, return_of = stated.pop("family", None), stated.pop("return_of", ...)
        kept = settle(session, job, job, stated, seen)
        if "tag" in kept and tag_key(kept["tag"]) != job.tag_key:
            _refuse_taken_tag(session, kept["tag"])
        if "tag" in kept:
            job.tag_key = tag_key(kept["tag"])
        for name, value in kept.items():
            setattr(job, name, value)
        if family is not None or of_cluster:
            move_to_cluster(one, family, of_cluster, seen)
        if return_of is not ...:
            earlier = {"return_of_id": returned_job(session, job, job.cluster, return_of)}
            put_settled(one, job, earlier, seen)
        refuse_two_odometers(job)
        tag = job.tag
    return job_sheet(shop, tag)


def wait_for(shop: Shop, tag: str, what: WaitsFor, by: str | None = None) -> JobSheet:
    """Say what a job waits for.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    what
        A word of `words.WaitsFor`.
    by
        Who does it.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    RecordError
        If the word is not one of them.
    """
    if what not in WAITS_FOR_WORDS:
        known = ", ".join(WAITS_FOR_WORDS)
        raise RecordError(f"job {tag}: it cannot wait for '{what}'; expected one of {known}")
    with change(shop, tag, f"waits for {WAITS_FOR_WORDS[what]}", by) as one:
        one.job.waits_for = what
    return job_sheet(shop, tag)


def add_note(shop: Shop, tag: str, text: str, by: str | None = None) -> JobSheet:
    """Write a note on a job.

    Raises JobError if it is empty or too long, RecordError as `changes.change`.
    """
    entry = checked(_Said, {"text": text}, f"job {tag}, note")
    if not entry.text:
        raise RecordError(f"job {tag}: the note is empty; write what is worth knowing")
    with change(shop, tag, "note", by) as one:
        one.add(Note(job_id=one.job.id, text=entry.text, at=one.at, person_id=one.person.id))
    return job_sheet(shop, tag)


def decide(
    shop: Shop,
    tag: str,
    text: str,
    why: str,
    by: str | None = None,
    *,
    kind: DecisionKind = "other",
) -> JobSheet:
    """Write a decision and its reason.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    text
        What was decided.
    why
        The reason.
    by
        Who decided.
    kind
        `wrong_unit`: work goes on although the wrong-unit check was not ok.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    JobError
        If a text cannot be used.
    RecordError
        If one is empty.
    """
    entry = checked(_Said, {"text": text, "why": why, "kind": kind}, f"job {tag}, decision")
    if not entry.text or not entry.why:
        raise RecordError(f"job {tag}: a decision needs what was decided and why; write both")
    with change(shop, tag, "decision", by) as one:
        one.add(
            Decision(
                job_id=one.job.id,
                kind=entry.kind,
                text=entry.text,
                why=entry.why,
                at=one.at,
                person_id=one.person.id,
            )
        )
    return job_sheet(shop, tag)


def use_instruments(
    shop: Shop, tag: str, numbers: Sequence[str], by: str | None = None
) -> JobSheet:
    """Say which instruments a job is done with; those said before are replaced.

    Raises RecordError if there is no instrument of a number.
    """
    with change(shop, tag, "instruments", by) as one:
        rows = [instrument_numbered(one.session, number) for number in numbers]
        one.job.instruments = list(dict.fromkeys(row.id for row in rows))
    return job_sheet(shop, tag)


def refuse_two_odometers(job: Job) -> None:
    """Refuse a mileage on a cluster that has no odometer."""
    if job.odometer_none is not None and (
        job.odometer_in is not None or job.odometer_out is not None
    ):
        raise RecordError(
            f"job {job.tag}: a mileage is recorded and also that no odometer is fitted; leave one "
            "of them empty"
        )


def _refuse_taken_tag(session: Session, tag: str) -> None:
    taken = session.scalars(select(Job.tag).where(Job.tag_key == tag_key(tag))).first()
    if taken is not None:
        raise RecordError(f"the tag '{taken}' is taken; give this job another one")
