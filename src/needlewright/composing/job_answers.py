"""Answers and decisions on a job's findings, checked before they stand."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from needlewright.composing.finding_model import SYSTEMS, JobFindings, Share
from needlewright.composing.job_findings import job_findings
from needlewright.errors import KnowledgeError
from needlewright.families.model import Family
from needlewright.findings.troubleshooting.answers import WHOLE, AnswersError, answers_in
from needlewright.findings.troubleshooting.knowledge_file import load_knowledge
from needlewright.findings.troubleshooting.model import SOUND
from needlewright.records.answers import Given, answer
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.opinions import Decided, give_opinion
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet
from needlewright.records.words import AnswerSource


def take_answers(
    shop: Shop, tag: str, text: str, by: str | None = None, *, source: AnswerSource = "typed"
) -> JobSheet:
    """Keep answers as they are written in a text.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    text
        Lines `DIAL: QUESTION yes, QUESTION no`, as they come back from the owner.
    by
        Who types or pastes them.
    source
        Where they come from.

    Returns
    -------
    JobSheet
        As it now is; they take the place of earlier answers to the same questions.

    Raises
    ------
    AnswersError
        If a line cannot be read, or names what there is not, or nothing is answered.
    RecordError
        If a question is answered twice.
    """
    knowledge, family = load_knowledge(None), _family_of(shop, tag)
    found = answers_in(text, knowledge, family.name, [dial.id for dial in family.dials])
    if not found:
        words = f"job {tag}: no answer was given; write one such as 'DIAL: QUESTION yes'"
        raise AnswersError(words, "nothing", 0, "")
    given = [Given(one.finding, one.yes, one.dial) for one in found]
    return answer(shop, tag, given, by, source=source)


def answer_question(
    shop: Shop,
    tag: str,
    given: Given,
    by: str | None = None,
    *,
    source: AnswerSource = "typed",
) -> JobSheet:
    """Keep one answer, or that it is not known.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    given
        The answer.
    by
        Who answers.
    source
        Where it comes from.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    KnowledgeError
        If there is no such question, or it is not asked of that dial.
    """
    dials = [dial.id for dial in _family_of(shop, tag).dials]
    finding = load_knowledge(None).findings.get(given.finding)
    if finding is None:
        known = ", ".join(load_knowledge(None).findings)
        raise KnowledgeError(f"there is no question or test '{given.finding}'; known: {known}")
    if finding.scope == "whole" and given.dial is not None:
        raise KnowledgeError(f"'{given.finding}' is of the whole cluster; leave the dial out")
    if finding.scope == "dial" and given.dial not in dials:
        raise KnowledgeError(
            f"'{given.finding}' is of one dial, and there is no dial '{given.dial}'; known: "
            f"{', '.join(dials)}"
        )
    return answer(shop, tag, [given], by, source=source)


def question_named(text: str) -> tuple[str, str | None]:
    """A question as typed, `DIAL: QUESTION` or `whole: QUESTION`.

    Raises KnowledgeError if it is not written so.
    """
    dial, colon, finding = (part.strip() for part in text.partition(":"))
    if not colon or not dial or not finding:
        raise KnowledgeError(
            f"'{text}' names no question; write it as 'DIAL: QUESTION', or 'whole: QUESTION'"
        )
    return finding, None if dial == WHOLE else dial


@dataclass(frozen=True, slots=True)
class Decision:
    """What a person decides.

    Parameters
    ----------
    subject
        A dial's id, a system, or `whole` where the causes say which system is meant.
    causes
        Codes, one of a dial; `sound` or none: nothing is wrong with it.
    why
        The reason.
    part
        The part inside the dial that it lies in; None: not said.
    """

    subject: str
    causes: tuple[str, ...]
    why: str
    part: str | None = None


def overrule(shop: Shop, tag: str, decision: Decision, by: str | None = None) -> JobSheet:
    """Decide what a dial or a system has, whatever is said of it; or agree with what is said.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    decision
        The dial or system, its causes and the reason.
    by
        Who decides.

    Returns
    -------
    JobSheet
        With the opinion, and what was said of the subject at this moment beside it.

    Raises
    ------
    KnowledgeError
        If there is no such dial, system or cause.
    RecordError
        If there is no reason.
    """
    findings, causes = job_findings(shop, tag, looks_ahead=0), decision.causes
    named = list(dict.fromkeys(one for one in causes if one != SOUND))
    if named and SOUND in causes:
        raise KnowledgeError(
            f"job {tag}: '{decision.subject}' cannot be sound and have {' and '.join(named)}; "
            "decide one"
        )
    name = _subject(findings, decision.subject, named)
    card = findings.card(name)
    known = [one.cause for one in card.shares if one.cause != SOUND]
    for cause in named:
        if cause not in known:
            raise KnowledgeError(
                f"job {tag}: '{cause}' is no cause of '{name}'; known: {', '.join(known)}, {SOUND}"
            )
    parts = [one.part for one in card.parts]
    if decision.part is not None and (not named or decision.part not in parts):
        where = f"known: {', '.join(parts)}" if parts and named else "none is told apart of that"
        raise KnowledgeError(f"job {tag}: '{decision.part}' is no part of '{name}'; {where}")
    said = {one.cause: round(one.probability, 6) for one in _ranked(card.shares)}
    decided = Decided(tuple(named), decision.why, said, card.dial, card.system, decision.part)
    return give_opinion(shop, tag, decided, by)


def _ranked(shares: Iterable[Share]) -> list[Share]:
    return sorted(shares, key=lambda one: -one.probability)


def _subject(findings: JobFindings, subject: str, named: Sequence[str]) -> str:
    """The card that is meant."""
    names = [card.id for card in findings.cards]
    if subject in names:
        return subject
    if subject == WHOLE:
        meant = {
            card.id
            for card in findings.cards
            if card.system is not None and {one.cause for one in card.shares} & set(named)
        }
        if len(meant) == 1:
            return meant.pop()
        raise KnowledgeError(
            f"job {findings.tag}: name the system that is meant: {', '.join(SYSTEMS)}"
        )
    raise KnowledgeError(
        f"job {findings.tag}: there is no dial or system '{subject}'; known: {', '.join(names)}"
    )


def _family_of(shop: Shop, tag: str) -> Family:
    return load_version(shop, job_sheet(shop, tag).family_version_id)
