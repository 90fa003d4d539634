"""What was saved of a job's findings, said in the words of the knowledge file."""

import re
from typing import Final

from needlewright.composing.gauge_names import GaugeNames, with_gauge
from needlewright.findings.troubleshooting.model import SOUND, Knowledge
from needlewright.plans.rebuild.options import TITLES

_UNDONE: Final = "undo: "
_ANSWER: Final = re.compile(r"answer: (\S+) of (?:dial '(.+)'|the whole) (yes|no|not known)")
_OPINION: Final = re.compile(r"opinion on (?:dial '(.+)'|the (\S+)): (.+)")
_ACCEPTED: Final = re.compile(r"(plan [0-9A-F]+ accepted: )(\w+)")
_OF_FINDINGS: Final = re.compile(r"answer: |\d+ answers$|opinion on |analysis ")
NOTHING_WRONG: Final = "nothing wrong"


def is_of_findings(what: str) -> bool:
    """Whether a line of a job's journal is an answer, a decision or an analysis.

    Parameters
    ----------
    what
        As the journal keeps it, with names for programs.

    Returns
    -------
    bool
        False also of what was taken back.
    """
    return _OF_FINDINGS.match(what) is not None


def saved_words(what: str, knowledge: Knowledge, names: GaugeNames) -> str:
    """Say a line of a job's journal to people.

    Parameters
    ----------
    what
        As the journal keeps it, with names for programs.
    knowledge
        With the words of questions and causes.
    names
        Of the dials.

    Returns
    -------
    str
        As it is where it names no question and no cause, or one that the file has no more.
    """
    undone = _UNDONE if what.startswith(_UNDONE) else ""
    plain = what.removeprefix(_UNDONE)
    if answered := _ANSWER.fullmatch(plain):
        finding, dial, said = answered.groups()
        if finding in knowledge.findings and (dial is None or dial in names):
            asked = with_gauge(knowledge.findings[finding].words, dial, names)
            return f"{undone}answered {said}: {asked}"
    if decided := _OPINION.fullmatch(plain):
        dial, system, codes = decided.groups()
        causes = [_cause(code, knowledge) for code in codes.split(", ")]
        return f"{undone}{names.get(dial, dial) or system}: decided {', '.join(causes)}"
    if accepted := _ACCEPTED.fullmatch(plain):
        said, option = accepted.groups()
        title = next((words for known, words in TITLES.items() if known == option), option)
        return f"{undone}{said}{title}"
    return what


def _cause(code: str, knowledge: Knowledge) -> str:
    if code == SOUND:
        return NOTHING_WRONG
    return knowledge.causes[code].words if code in knowledge.causes else code
