"""Which cluster a job is about."""

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from needlewright.records.tables import Cluster, Job


def cluster_for(session: Session, family: str, serial: str | None, variant: str | None) -> Cluster:
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

    Returns
    -------
    Cluster
        With an id.
    """
    found = _of_serial(session, family, serial)
    if found is None:
        found = Cluster(family=family, serial=serial, variant=variant)
        session.add(found)
        session.flush()
    elif found.variant is None:
        found.variant = variant
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
        return
    identity_changes = (cluster.family, cluster.serial) != (family, serial)
    jobs = select(func.count()).select_from(Job).where(Job.cluster_id == cluster.id)
    if identity_changes and session.scalar(jobs) != 1:
        job.cluster = Cluster(family=family, serial=serial, variant=variant)
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
