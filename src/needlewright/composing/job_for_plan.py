"""What a job's records say to a plan: findings, what people decided over them, mileage, age."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from needlewright.composing.complaint_words import named_words
from needlewright.composing.finding_model import Card, JobFindings
from needlewright.composing.gauge_names import gauge_names
from needlewright.composing.job_findings import job_findings
from needlewright.errors import PlanError
from needlewright.families.model import Family
from needlewright.findings.troubleshooting.model import SOUND, Knowledge
from needlewright.papers.wording import day_words
from needlewright.plans.rebuild.cautions import Complaint
from needlewright.plans.rebuild.findings import WHOLE
from needlewright.plans.rebuild.findings_file import Shares, joined
from needlewright.plans.rebuild.looks import Unseen
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet
from needlewright.units import KM_OF

SPEAKS: Final = 0.5
"""Probability with which a cause of the whole shows a complaint, from which that speaks of it."""


@dataclass(frozen=True, slots=True)
class JobForPlan:
    """A job as a plan takes it.

    Parameters
    ----------
    tag
        Its tag.
    family
        In the version the job goes by.
    shares
        Probability by place and fault; what a person decided stands over what is believed.
    decided
        By place and code, of what a person decided: by whom and when, in words.
    variant
        Of the family; None: not known, or none the family has.
    mileage_km
        As received; None: not recorded.
    built
        When the cluster was; None: not recorded.
    day
        On which the job was opened: its age is that of this day, so that a plan made again
        tomorrow is the same plan.
    notes
        What was left out.
    complaint
        What the owner complained of, in answers.
    unseen
        What nobody looked at, and what can still be.
    """

    tag: str
    family: Family
    shares: Shares
    decided: Mapping[tuple[str, str], str]
    variant: str | None
    mileage_km: float | None
    built: str | None
    day: date
    notes: tuple[str, ...]
    complaint: Complaint
    unseen: Unseen


def job_for_plan(shop: Shop, tag: str, knowledge: Knowledge) -> JobForPlan:
    """Gather what a plan needs of a job.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    knowledge
        How often a cause lies in which part beforehand.

    Returns
    -------
    JobForPlan
        As things stand now.

    Raises
    ------
    PlanError
        If nothing is known to be wrong with its cluster.
    RecordError
        If there is no such job, or its family cannot be loaded.
    """
    job = job_sheet(shop, tag)
    family = load_version(shop, job.family_version_id)
    found = job_findings(shop, tag, family=family, looks_ahead=0)
    shares = shares_of(found, knowledge)
    if not found.complained and all(card.opinion is None for card in found.cards):
        raise PlanError(
            f"job {job.tag} has no findings: {_told(job, found, family)}; answer the questions "
            f"first ({_answered(job, found)}), take the run as found, or say what it has "
            "(needlewright jobs overrule)"
        )
    known = [one.id for one in family.variants]
    notes = list(found.not_used)
    if job.variant and job.variant not in known:
        notes.append(
            f"variant '{job.variant}' of the job is none the family knows "
            f"({', '.join(known) or 'it has none'}); weak points of single variants are left out"
        )
    return JobForPlan(
        tag=job.tag,
        family=family,
        shares=shares,
        decided=decided_in(found),
        variant=known_variant(job, family),
        mileage_km=None if job.odometer_in is None else job.odometer_in * KM_OF[job.odometer_unit],
        built=job.built,
        day=job.opened_at.astimezone().date(),
        notes=tuple(notes),
        complaint=complaint_of(job, found, knowledge),
        unseen=unseen_in(found, knowledge),
    )


def _told(job: JobSheet, found: JobFindings, family: Family) -> str:
    """What there is instead of findings."""
    if not job.complaint.strip():
        return "nobody complained of anything and nothing was found wrong"
    if not found.named:
        return "the complaint in words is not read by the program, and nothing was found wrong"
    return (
        f"the complaint in words names {named_words(found.named, gauge_names(family))}, but words "
        "are no answers, and nothing was found wrong"
    )


def _answered(job: JobSheet, found: JobFindings) -> str:
    """The command that answers, with the gauge that was named."""
    said = f" '{found.named[0]}: reads_wrong yes'" if found.named else ""
    return f"needlewright jobs answer {job.tag}{said}"


def complaint_of(job: JobSheet, found: JobFindings, knowledge: Knowledge) -> Complaint:
    """What the owner complained of in answers.

    Parameters
    ----------
    job
        With its runs.
    found
        Of the job.
    knowledge
        Of causes and what shows them.

    Returns
    -------
    Complaint
        Without dials of which a person decided.
    """
    decided = {card.dial for card in found.cards if card.opinion is not None}
    places: dict[str | None, tuple[str, ...]] = {}
    for one in found.questions:
        if one.place != "asked" or not one.answer or one.dial in decided - {None}:
            continue
        shown = knowledge.findings[one.finding].shown_by.items()
        codes = tuple(
            code
            for code, p in shown
            if p >= SPEAKS and code in knowledge.causes and knowledge.causes[code].inside
        )
        if one.dial is not None:
            places[one.dial] = ()
        elif codes:
            places[None] = (*places.get(None, ()), *codes)
    has_run = any(run.side == "found" and not run.set_aside_at for run in job.runs)
    return Complaint(places, has_run=has_run or not places)


def unseen_in(found: JobFindings, knowledge: Knowledge) -> Unseen:
    """What nobody looked at, said anything of or decided.

    Parameters
    ----------
    found
        Of the job.
    knowledge
        Of causes and what shows them.

    Returns
    -------
    Unseen
        Causes of dials and systems that no evidence speaks of, and the tests without an answer
        that can be made where the cluster is: a job at the bench is tried in no vehicle.
    """
    causes: set[tuple[str | None, str]] = set()
    for card in found.cards:
        if card.opinion is not None or (card.dial is not None and card.evidence):
            continue
        spoken = [knowledge.findings[one.finding] for one in card.evidence if one.finding]
        for share in card.shares:
            if not any(share.cause in one.shown_by for one in spoken):
                causes.add((card.dial, share.cause))
    tests = tuple(
        (one.finding, one.dial)
        for one in found.questions
        if one.answer is None and (one.place != "vehicle" or found.at != "bench")
    )
    return Unseen(frozenset(causes), tests)


def known_variant(job: JobSheet, family: Family) -> str | None:
    """A job's variant, where its family knows it."""
    return job.variant if job.variant in [one.id for one in family.variants] else None


def shares_of(found: JobFindings, knowledge: Knowledge) -> Shares:
    """The probability of every fault on a job's cards.

    Parameters
    ----------
    found
        Of the job.
    knowledge
        Of causes and their parts.

    Returns
    -------
    dict
        By place and fault. Where a person decided, what they decided is certain, and nothing else
        of that dial or system is there.
    """
    shares: Shares = {}
    for card in found.cards:
        place = card.dial or WHOLE
        for fault, p in (_believed if card.opinion is None else _decided)(card, knowledge).items():
            shares[place, fault] = p
    return shares


def decided_in(found: JobFindings) -> dict[tuple[str, str], str]:
    """By place and code, who decided that a fault is there, and on which day of the bench."""
    said = {}
    for card in found.cards:
        if card.opinion is not None:
            day = day_words(card.opinion.at.astimezone().date().isoformat())
            for code in card.opinion.decided:
                said[card.dial or WHOLE, code] = f"decided by {card.opinion.by} on {day}"
    return said


def _believed(card: Card, knowledge: Knowledge) -> dict[str, float]:
    causes = {one.cause: one.probability for one in card.shares if one.cause != SOUND}
    if card.dial is None:
        return causes
    return joined(causes, {one.part: one.probability for one in card.parts}, knowledge)


def _decided(card: Card, knowledge: Knowledge) -> dict[str, float]:
    opinion = card.opinion
    assert opinion is not None  # asked for where there is one
    certain: dict[str, float] = {}
    for code in opinion.decided:
        cause = knowledge.causes.get(code)
        if cause is not None:
            named = opinion.part is not None and opinion.part in cause.parts
            certain[f"{code}/{opinion.part}" if named else code] = 1.0
    return certain
