"""Answers as a short text that can be sent, pasted and read: a line for each dial."""

import re
from collections.abc import Iterable, Sequence
from typing import Final

from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.model import Answer, Knowledge

HEAD: Final = "answers about"
WHOLE: Final = "whole"
MOST_SHOWN: Final = 60
"""Characters of a line that are shown back."""
_ONE: Final = re.compile(r"(?P<finding>\w+)\s+(?P<answer>yes|no)")
_QUOTED: Final = "> \t"
"""What mail programs put before a line."""


def refuse_unanswerable(family: str, dials: Iterable[str]) -> None:
    """Refuse a family whose dials no answer could be told of.

    Parameters
    ----------
    family
        Name of the cluster design.
    dials
        Ids of its dials.

    Raises
    ------
    KnowledgeError
        If one is called as answers call the whole.
    """
    if WHOLE in dials:
        raise KnowledgeError(
            f"family '{family}': a dial has the id '{WHOLE}', which in answers means all of the "
            "cluster; give that dial another id"
        )


def answers_in(
    text: str, knowledge: Knowledge, family: str, dials: Sequence[str]
) -> tuple[Answer, ...]:
    """Read answers, as written or as they come back by mail.

    Parameters
    ----------
    text
        Lines `DIAL: QUESTION yes, QUESTION no`, `whole:` for the whole; empty lines, marks of
        quotation and lines that begin with `#` are passed over.
    knowledge
        The questions there are.
    family
        The design the answers must be about, if the text names one.
    dials
        Ids of its dials.

    Returns
    -------
    tuple of Answer
        In the order of the text.

    Raises
    ------
    KnowledgeError
        If a line cannot be read, names another family, or a dial or question that is not there;
        or a dial is called as the whole.
    """
    refuse_unanswerable(family, dials)
    found, headed = list[Answer](), False
    for number, raw in enumerate(text.splitlines(), start=1):
        line = raw.strip(_QUOTED).strip()
        if not line or line.startswith("#"):
            continue
        if line.startswith(HEAD):
            _require_family(line.removeprefix(HEAD).strip(), family)
            headed = True
            continue
        if ":" not in line:
            raise KnowledgeError(_no_answer(line, number, headed=headed))
        found += _answers_of(line, number, knowledge, dials)
    return tuple(found)


def _answers_of(line: str, number: int, knowledge: Knowledge, dials: Sequence[str]) -> list[Answer]:
    name, _, said = line.partition(":")
    name = name.strip()
    if name != WHOLE and name not in dials:
        raise KnowledgeError(
            f"answers, line {number}: there is no dial '{name}'; known: {', '.join(dials)}, {WHOLE}"
        )
    scope = "whole" if name == WHOLE else "dial"
    answers = []
    for part in said.split(","):
        match = _ONE.fullmatch(part.strip())
        if match is None:
            raise KnowledgeError(
                f"answers, line {number}: expected 'QUESTION yes' or 'QUESTION no', found "
                f"'{part.strip()}'"
            )
        finding = knowledge.findings.get(match["finding"])
        if finding is None or finding.scope != scope:
            known = ", ".join(f.id for f in knowledge.findings.values() if f.scope == scope)
            raise KnowledgeError(
                f"answers, line {number}: '{match['finding']}' is not asked of "
                f"{'the whole' if scope == 'whole' else 'a dial'}; known: {known}"
            )
        dial = None if name == WHOLE else name
        answers.append(Answer(finding.id, match["answer"] == "yes", dial))
    return answers


def _no_answer(line: str, number: int, *, headed: bool) -> str:
    """Of a line typed by hand, or of a text that is not the owner's sheet's at all."""
    shown = line if len(line) <= MOST_SHOWN else f"{line[:MOST_SHOWN]}..."
    said = f"answers, line {number}: expected 'DIAL: QUESTION yes, QUESTION no', found '{shown}'"
    if headed:
        return said
    return (
        f"{said}; this is not the text that the owner's sheet makes, which begins with "
        f"'{HEAD} ...': paste all of it"
    )


def _require_family(named: str, family: str) -> None:
    if named and named != family:
        raise KnowledgeError(
            f"answers: they are about '{named}', and this is '{family}'; take the answers of this "
            "cluster"
        )
