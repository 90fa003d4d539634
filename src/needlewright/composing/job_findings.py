"""What is wrong with the cluster of a job, how sure that is, and what to do next."""

from collections.abc import Iterable
from typing import Final, get_args

from needlewright.composing.after_work import after_work_or_trouble
from needlewright.composing.complaint_words import gauges_named
from needlewright.composing.contradictions import contradictions_of
from needlewright.composing.customer_texts import outcome_of, texts_of
from needlewright.composing.evidence_piece import Material
from needlewright.composing.finding_cards import cards_of, systems_of
from needlewright.composing.finding_model import JobFindings
from needlewright.composing.gauge_names import gauge_names
from needlewright.composing.job_evidence import JobEvidence, collect
from needlewright.composing.next_steps import questions_of, steps_of
from needlewright.composing.shop_priors import experience_of
from needlewright.composing.steps_after_work import steps_after_work
from needlewright.errors import UsageError
from needlewright.families.model import Family
from needlewright.findings.troubleshooting.belief import Belief, belief_of
from needlewright.findings.troubleshooting.decided import causes_decided, dial_decided
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import SOUND, Knowledge, Weighed
from needlewright.findings.troubleshooting.next_test import Stage
from needlewright.findings.troubleshooting.responsible import responsible
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet, OpinionView

STAGES: Final[tuple[Stage, ...]] = get_args(Stage)
LEAST: Final = 0.005
"""Probability of anything being responsible for a complaint, from which there is one."""


def job_findings(
    shop: Shop,
    tag: str,
    *,
    family: Family | None = None,
    at: Stage | None = None,
    looks_ahead: int = 2,
) -> JobFindings:
    """What is believed of a job.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    family
        In the version the job goes by, where it is loaded already.
    at
        Where the cluster is; None: at the bench once the job was received, else being asked for.
    looks_ahead
        How many tests the steps look ahead: 1 is quick, 2 thorough.

    Returns
    -------
    JobFindings
        Priors are moved by the shop's other finished jobs.

    Raises
    ------
    RecordError
        If there is no such job, or its family cannot be loaded.
    KnowledgeError
        If the knowledge file, or what the job holds, cannot be used.
    """
    job = job_sheet(shop, tag)
    cluster = family or load_version(shop, job.family_version_id)
    experience = experience_of(shop, load_knowledge(None), but=job.tag)
    knowledge = experience.teach(load_knowledge(None))
    evidence = collect(Material(shop, job, cluster, knowledge))
    seen = believed(knowledge, cluster, evidence)
    decided = with_opinions(seen, job.opinions)
    where: Stage = at or _where(job)
    names = gauge_names(cluster)
    after, trouble = after_work_or_trouble(job, names)
    cards = cards_of(names, seen, evidence, job.opinions)
    complained = any(p >= LEAST for _, _, p in responsible(decided).causes(decided.states))
    steps = steps_after_work(shop, job, cluster, after) if where == "bench" else ()
    if complained and not steps:
        steps = steps_of(decided, evidence, where, names, looks_ahead=looks_ahead)
    looked_at = where == "bench" and _is_looked_at(job, knowledge, evidence)
    outcome = outcome_of(cards, looked_at=looked_at)
    return JobFindings(
        tag=job.tag,
        family=cluster.name,
        at=where,
        complaint=job.complaint,
        named=gauges_named(job.complaint, cluster),
        complained=complained,
        cards=cards,
        steps=steps,
        questions=questions_of(seen, evidence, names),
        contradictions=contradictions_of(seen, evidence, names),
        not_used=(*evidence.not_used, *experience.left_out, *([trouble] if trouble else ())),
        outcome=outcome,
        texts=texts_of(job.tag, cards, steps, knowledge, outcome),
        after_work=after,
        learned_from=len(experience.cases),
        version=job.version,
    )


def believed(knowledge: Knowledge, family: Family, evidence: JobEvidence) -> Belief:
    """What is believed after all evidence of a job, without what people decided.

    Raises KnowledgeError if something does not fit.
    """
    pieces = [piece.says for piece in evidence.pieces]
    weighed = [one for one in pieces if isinstance(one, Weighed)]
    return belief_of(
        knowledge,
        [dial.id for dial in family.dials],
        [answer for answer, _ in evidence.answers],
        [one for one in pieces if not isinstance(one, Weighed)],
        weighed,
    )


def with_opinions(belief: Belief, opinions: Iterable[OpinionView]) -> Belief:
    """What is believed once people's decisions stand over it.

    Parameters
    ----------
    belief
        Without them.
    opinions
        Those that count are taken in; what the file and the family no longer have is passed over.

    Returns
    -------
    Belief
        For what to do next.
    """
    systems = systems_of(belief)
    for one in opinions:
        if not one.counts:
            continue
        if one.dial is not None:
            code = one.decided[0] if one.decided else SOUND
            if one.dial in belief.of_dial and (code == SOUND or _is_of_dial(belief, code)):
                belief = dial_decided(belief, one.dial, code)
            continue
        codes = next((own for name, own in systems.items() if name == one.system), ())
        there = [code for code in codes if code in one.decided]
        belief = causes_decided(belief, there, [code for code in codes if code not in there])
    return belief


def _is_of_dial(belief: Belief, code: str) -> bool:
    cause = belief.knowledge.causes.get(code)
    return cause is not None and cause.scope == "dial"


def place_named(text: str) -> Stage:
    """Where the cluster is, as typed; raises UsageError if it is none of them."""
    for stage in STAGES:
        if text == stage:
            return stage
    raise UsageError(f"'{text}' is no place of a cluster; expected one of {', '.join(STAGES)}")


def _is_looked_at(job: JobSheet, knowledge: Knowledge, evidence: JobEvidence) -> bool:
    """Whether anybody saw something of the cluster itself; an owner's answers are none of that."""
    at_bench = any(
        view.source == "bench" or knowledge.findings[answer.finding].place == "bench"
        for answer, view in evidence.answers
    )
    return bool(evidence.pieces) or at_bench or any(one.counts for one in job.opinions)


def _where(job: JobSheet) -> Stage:
    return "bench" if job.stage_of("received").state == "finished" else "asking"
