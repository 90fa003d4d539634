"""Which cluster a job is about."""

from collections.abc import Mapping
from datetime import date
from typing import Any, cast

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from needlewright.errors import RecordError
from needlewright.records.changes import Change, settle
from needlewright.records.families import newest_version
from needlewright.records.find import job_tagged
from needlewright.records.tables import BenchRun, Cluster, FamilyVersion, Job


def cluster_for(
    session: Session,
    family: str,
    serial: str | None,
    variant: str | None,
    built: str | None = None,
) -> Cluster:
    """Find the cluster of that serial, or make it.

    Parameters
    ----------
    session
        Of the change.
    family
        Its family's name.
    serial
        As on its back; None: it carries none, and every job is about one of its own.
    variant
        Kept where the cluster had none.
    built
        When it was; kept where that was not known.

    Returns
    -------
    Cluster
        With an id.
    """
    found = _of_serial(session, family, serial)
    if found is None:
        found = Cluster(family=family, serial=serial, variant=variant, built=built)
        session.add(found)
        session.flush()
        return found
    if found.variant is None:
        found.variant = variant
    if found.built is None:
        found.built = built
    return found


def set_cluster(
    session: Session, job: Job, family: str, serial: str | None, variant: str | None
) -> None:
    """Say that a job is about another cluster than was thought, or correct what is known of it.

    Where another cluster has that serial the job is about that one; where this cluster has other
    jobs they keep what they said.

    Parameters
    ----------
    session
        Of the change.
    job
        The job.
    family
        Its family as it is to be.
    serial
        Its serial number as it is to be.
    variant
        Its variant as it is to be.
    """
    cluster = job.cluster
    other = _of_serial(session, family, serial)
    if other is not None and other is not cluster:
        job.cluster = other
        job.cluster_id = other.id
        other.variant = variant
        other.built = other.built or cluster.built
        return
    identity_changes = (cluster.family, cluster.serial) != (family, serial)
    jobs = select(func.count()).select_from(Job).where(Job.cluster_id == cluster.id)
    if identity_changes and session.scalar(jobs) != 1:
        job.cluster = Cluster(family=family, serial=serial, variant=variant, built=cluster.built)
        session.add(job.cluster)
        session.flush()
        job.cluster_id = job.cluster.id
        return
    cluster.family, cluster.serial, cluster.variant = family, serial, variant


def _of_serial(session: Session, family: str, serial: str | None) -> Cluster | None:
    if serial is None:
        return None
    query = select(Cluster).where(Cluster.family == family, Cluster.serial == serial)
    return session.scalars(query).first()


def returned_job(session: Session, job: Job, cluster: Cluster, tag: str | None) -> int | None:
    """The id of the job another one is a return of.

    Parameters
    ----------
    session
        Of the change.
    job
        The later one; without an id where it is being opened.
    cluster
        Which it is about.
    tag
        Of the earlier one; None: it is no return.

    Returns
    -------
    int or None
        Of a job of the same cluster that was opened before.

    Raises
    ------
    RecordError
        If there is none of that tag, or it is another cluster's, later, or the same job.
    """
    if tag is None:
        return None
    earlier = job_tagged(session, tag)
    if earlier is job or earlier.id == job.id:
        raise RecordError(f"job {job.tag}: it cannot be a return of itself; name the earlier tag")
    if earlier.cluster_id != cluster.id:
        theirs = earlier.cluster
        raise RecordError(
            f"job {job.tag}: it cannot be a return of {earlier.tag}, which is of another cluster "
            f"(family '{theirs.family}', serial '{theirs.serial or 'none'}'); correct family and "
            "serial first"
        )
    if job.id is not None and earlier.id > job.id:
        raise RecordError(f"job {job.tag}: {earlier.tag} was opened after it; mark that one")
    return earlier.id


def move_to_cluster(
    one: Change, family: str | None, changes: Mapping[str, Any], seen: int | None
) -> None:
    """Say that a job is about another family, serial or variant than was thought.

    Parameters
    ----------
    one
        The change.
    family
        Name of a kept family, whose newest version the job goes on by; None: as it is.
    changes
        `serial`, `variant`, `built`; what is not named stays.
    seen
        As for `changes.settle`.

    Raises
    ------
    RecordError
        If runs were read by the family as it was, or it was built on a day to come.
    ConflictError
        If somebody else changed the family since.
    """
    job, session = one.job, one.session
    version = job.family_version if family is None else newest_version(session, family)
    if settle(session, job, job, {"family_version_id": version.id}, seen) and (
        version is not job.family_version
    ):
        _refuse_read_runs(session, job, version)
        job.family_version = version
        job.family_version_id = version.id
    set_cluster(
        session,
        job,
        version.name,
        cast("str | None", changes.get("serial", job.cluster.serial)),
        cast("str | None", changes.get("variant", job.cluster.variant)),
    )
    if "built" in changes:
        refuse_built_to_come(job.tag, changes["built"], one.at.astimezone().date())
        job.cluster.built = changes["built"]


def refuse_built_to_come(tag: str, built: str | None, today: date) -> None:
    """Raise RecordError where a cluster is said to have been built on a day yet to come."""
    if built is not None and built > today.isoformat()[: len(built)]:
        raise RecordError(
            f"job {tag}: built {built} is yet to come ({today} today); correct the year, month or "
            "day"
        )


def _refuse_read_runs(session: Session, job: Job, version: FamilyVersion) -> None:
    counting = select(func.count()).select_from(BenchRun)
    runs = session.scalar(
        counting.where(BenchRun.job_id == job.id, BenchRun.set_aside_at.is_(None))
    )
    if runs:
        raise RecordError(
            f"job {job.tag}: {runs} of its runs were read by the family "
            f"'{job.family_version.name}' as it was then; set them aside before the job goes on by "
            f"'{version.name}' as it is now"
        )
