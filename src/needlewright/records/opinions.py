"""What a person decided a job's dials and systems have, beside what the program said of them.

What causes and systems there are is not known here; their names are only kept.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, TypeVar

from sqlalchemy import Select, select
from sqlalchemy.orm import Session, joinedload

from needlewright.errors import RecordError
from needlewright.records.changes import change
from needlewright.records.entries import Entry, MaybeText, Text, checked
from needlewright.records.opening import Shop
from needlewright.records.sheet import answer_view, job_sheet, opinion_views
from needlewright.records.tables import FindingAnswer, Job, Opinion
from needlewright.records.views import FinishedJob, JobSheet

RowT = TypeVar("RowT", FindingAnswer, Opinion)
WHOLE: Final = "whole"
"""What sentences call the whole cluster."""


@dataclass(frozen=True, slots=True)
class Decided:
    """What a person decided.

    Parameters
    ----------
    causes
        Codes of the causes there are, at most one of a dial; none: it is sound.
    why
        The reason.
    said
        Cause to probability, as the program has it now.
    dial
        Of which dial; None: of a system.
    system
        Of which system of the whole, such as `lamps`; None: of a dial.
    part
        The part inside, where one is named.
    """

    causes: tuple[str, ...]
    why: str
    said: Mapping[str, float]
    dial: str | None = None
    system: str | None = None
    part: str | None = None


class _Typed(Entry):
    """What is typed of it."""

    why: Text
    part: MaybeText = None


def give_opinion(shop: Shop, tag: str, decided: Decided, by: str | None = None) -> JobSheet:
    """Keep what a person decided.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    decided
        The opinion; one given before on the same dial or system stays and counts no more.
    by
        Who decides.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    JobError
        If a text cannot be used.
    RecordError
        If there is no reason, not one dial or one system is named, a dial is given several causes,
        or there is no such job or person.
    """
    if (decided.dial is None) == (decided.system is None):
        raise RecordError(f"job {tag}: an opinion is of one dial, or of one system; name it")
    of = named_subject(decided.dial, decided.system)
    causes = list(dict.fromkeys(decided.causes))
    typed = checked(
        _Typed, {"why": decided.why, "part": decided.part}, f"job {tag}, opinion on {of}"
    )
    if not typed.why:
        raise RecordError(f"job {tag}: an opinion on {of} needs its reason; write why")
    if decided.dial is not None and len(causes) > 1:
        raise RecordError(
            f"job {tag}: {of} is said to have {' and '.join(causes)}; a dial has one main cause, "
            "name it"
        )
    with change(shop, tag, f"opinion on {of}: {', '.join(causes) or 'sound'}", by) as one:
        one.add(
            Opinion(
                job_id=one.job.id,
                dial=decided.dial,
                system=decided.system,
                said=dict(decided.said),
                decided=causes,
                part=typed.part,
                why=typed.why,
                at=one.at,
                person_id=one.person.id,
            )
        )
    return job_sheet(shop, tag)


def finished_jobs(shop: Shop, but: str | None = None) -> tuple[FinishedJob, ...]:
    """Jobs that were returned and on which somebody gave an opinion.

    Parameters
    ----------
    shop
        The shop.
    but
        Tag of a job that is left out.

    Returns
    -------
    tuple of FinishedJob
        In the order they were opened.
    """
    opined = select(Opinion.job_id).where(Opinion.withdrawn_at.is_(None))
    finished = select(Job.id).where(Job.closed_at.is_not(None), Job.id.in_(opined))
    with shop.reading() as session:  # three questions, however many jobs there are
        jobs = session.scalars(
            select(Job)
            .where(Job.id.in_(finished))
            .order_by(Job.id)
            .options(joinedload(Job.family_version))
        ).all()
        opinions = _by_job(session, Opinion, finished)
        answers = _by_job(session, FindingAnswer, finished)
        return tuple(
            FinishedJob(
                job.tag,
                job.family_version.name,
                job.family_version_id,
                tuple(one for one in opinion_views(opinions[job.id]) if one.counts),
                tuple(answer_view(row) for row in answers[job.id]),
            )
            for job in jobs
            if job.tag != but
        )


def named_subject(dial: str | None, system: str | None = None) -> str:
    """A dial, a system, or the whole, as sentences and the journal name it."""
    if dial is not None:
        return f"dial '{dial}'"
    return f"the {WHOLE if system is None else system}"


def _by_job(session: Session, table: type[RowT], jobs: Select[int]) -> defaultdict[int, list[RowT]]:
    """What stands of some jobs, in the order it came in."""
    query = select(table).where(table.job_id.in_(jobs), table.withdrawn_at.is_(None))
    found = defaultdict[int, list[RowT]](list)
    for row in session.scalars(query.order_by(table.id).options(joinedload(table.person))):
        found[row.job_id].append(row)
    return found
