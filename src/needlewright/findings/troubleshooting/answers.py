"""Answers as a short text that can be sent, pasted and read: a line for each dial."""

import re
from collections.abc import Iterable, Sequence
from typing import Final, Literal

from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.model import Answer, Knowledge

HEAD: Final = "answers about"
WHOLE: Final = "whole"
MOST_SHOWN: Final = 60
"""Characters of a line that are shown back."""
_ONE: Final = re.compile(r"(?P<finding>\w+)\s+(?P<answer>yes|no)")
_QUOTED: Final = "> \t"
"""What mail programs put before a line."""

Unread = Literal["no_answer", "no_dial", "not_asked", "other_family", "nothing"]


class AnswersError(KnowledgeError):
    """A text of answers that cannot be taken in; its words are those of the command line.

    Parameters
    ----------
    message
        As the command line says it.
    kind
        What is wrong: a line is no answer, names a dial that is not there, answers what is not
        asked; the text is about another family, or nothing is answered in it.
    line
        Its number, from 1; 0: of the text as a whole.
    shown
        What stands there, cut to what can be read.
    """

    def __init__(self, message: str, kind: Unread, line: int, shown: str) -> None:
        super().__init__(message)
        self.kind: Unread = kind
        self.line = line
        self.shown = shown if len(shown) <= MOST_SHOWN else f"{shown[:MOST_SHOWN]}..."


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
    AnswersError
        If a line cannot be read, names another family, or a dial or question that is not there.
    KnowledgeError
        If a dial is called as the whole.
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
            raise _no_answer(line, number, headed=headed)
        found += _answers_of(line, number, knowledge, dials)
    return tuple(found)


def _answers_of(line: str, number: int, knowledge: Knowledge, dials: Sequence[str]) -> list[Answer]:
    name, _, said = line.partition(":")
    name = name.strip()
    if name != WHOLE and name not in dials:
        known = ", ".join((*dials, WHOLE))
        words = f"answers, line {number}: there is no dial '{name}'; known: {known}"
        raise AnswersError(words, "no_dial", number, name)
    scope = "whole" if name == WHOLE else "dial"
    answers = []
    for part in said.split(","):
        match = _ONE.fullmatch(part.strip())
        if match is None:
            raise AnswersError(
                f"answers, line {number}: expected 'QUESTION yes' or 'QUESTION no', found "
                f"'{part.strip()}'",
                "no_answer",
                number,
                part.strip(),
            )
        finding = knowledge.findings.get(match["finding"])
        if finding is None or finding.scope != scope:
            known = ", ".join(f.id for f in knowledge.findings.values() if f.scope == scope)
            raise AnswersError(
                f"answers, line {number}: '{match['finding']}' is not asked of "
                f"{'the whole' if scope == 'whole' else 'a dial'}; known: {known}",
                "not_asked",
                number,
                match["finding"],
            )
        dial = None if name == WHOLE else name
        answers.append(Answer(finding.id, match["answer"] == "yes", dial))
    return answers


def _no_answer(line: str, number: int, *, headed: bool) -> AnswersError:
    """Of a line typed by hand, or of a text that is not the owner's sheet's at all."""
    shown = line if len(line) <= MOST_SHOWN else f"{line[:MOST_SHOWN]}..."
    said = f"answers, line {number}: expected 'DIAL: QUESTION yes, QUESTION no', found '{shown}'"
    if not headed:
        said += (
            "; this is not the text that the owner's sheet makes, which begins with "
            f"'{HEAD} ...': paste all of it"
        )
    return AnswersError(said, "no_answer", number, line)


def _require_family(named: str, family: str) -> None:
    if named and named != family:
        raise AnswersError(
            f"answers: they are about '{named}', and this is '{family}'; take the answers of this "
            "cluster",
            "other_family",
            0,
            named,
        )
