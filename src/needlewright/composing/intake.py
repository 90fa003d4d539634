"""The questions of intake for one cluster, and what is advised from the answers."""

from needlewright.families.model import Dial, Family
from needlewright.findings.troubleshooting.answers import HEAD, WHOLE, refuse_unanswerable
from needlewright.findings.troubleshooting.model import Finding, Knowledge
from needlewright.papers.intake_form import FormQuestion, FormSection, IntakeWords, intake_form

LEAD = (
    "Please answer what you know; leave the rest at “not known”. It takes about five minutes and "
    "often saves taking the cluster out for nothing. Do not open the cluster, and do not work near "
    "the steering column: it may hold an airbag."
)


def asked_of_owner(knowledge: Knowledge) -> tuple[Finding, ...]:
    """The questions an owner can answer, in the file's order."""
    return tuple(one for one in knowledge.findings.values() if one.place == "asked")


def intake_of(family: Family, knowledge: Knowledge, sent_by: str | None = None) -> str:
    """The questions for a cluster as one HTML file.

    Parameters
    ----------
    family
        The cluster design.
    knowledge
        With the questions.
    sent_by
        The shop's name and address.

    Returns
    -------
    str
        A whole document.

    Raises
    ------
    KnowledgeError
        If a dial is called as answers call the whole.
    """
    refuse_unanswerable(family.name, (dial.id for dial in family.dials))
    asked = asked_of_owner(knowledge)
    of_dial = [one for one in asked if one.scope == "dial"]
    opens = next((one.id for one in of_dial if one.opens), None)
    sections = [
        FormSection(
            dial.id,
            _gauge(dial).capitalize(),
            tuple(FormQuestion(one.id, _asked(one, f"the {_gauge(dial)}")) for one in of_dial),
            opens,
        )
        for dial in family.dials
    ]
    whole = tuple(FormQuestion(one.id, one.words) for one in asked if one.scope == "whole")
    if whole:
        sections.append(FormSection(WHOLE, "All of it", whole))
    words = IntakeWords(
        "What is wrong with your instrument cluster?", LEAD, f"{HEAD} {family.name}", sent_by
    )
    return intake_form(words, sections)


def _gauge(dial: Dial) -> str:
    """Like `coolant temperature gauge`."""
    return f"{dial.quantity.replace('_', ' ')} gauge"


def _asked(finding: Finding, gauge: str) -> str:
    return finding.words.replace("{dial}", gauge)
