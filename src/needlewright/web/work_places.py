"""Where on the page a check of a guide or a step of a plan is done.

Guides and catalogues are texts, a shop's own among them; what they name in other words has no link.
"""

import re
from dataclasses import dataclass
from typing import Final

from needlewright.web.pages import address

_SUMS: Final = re.compile(r"needlewright sums ([a-z0-9-]+)")
_OF_COMMANDS: Final = (
    ("needlewright bench as-left", "run", "#final"),
    ("needlewright look", "run", "#final"),
    ("needlewright sweep", "sweep", "#sweeps"),
    ("needlewright light", "light", "#findings"),
    ("needlewright in-vehicle", "light", "#findings"),
    ("needlewright board", "board", "board"),
    ("needlewright jobs return", "return", "#returned"),
)
_OF_WORDS: Final = (
    (
        re.compile(r"\bneedle\b.*\bpress|\bpress.*\bneedle\b|'s needle anew\b"),
        "press",
        "needle-set",
    ),
    (re.compile(r"^burn-in\b"), "burn_in", "burn-in"),
    (re.compile(r"\bswept\b"), "sweep", "#sweeps"),
    (re.compile(r"\bread at every check point\b|\brests where it belongs\b"), "run", "#final"),
    (re.compile(r"\bboth sides photographed\b"), "board", "board"),
    (re.compile(r"\blit evenly\b|\blamp check lights\b|\bsegment lights\b"), "light", "#findings"),
    (re.compile(r"\bmileage shown\b"), "return", "#returned"),
)


@dataclass(frozen=True, slots=True)
class WorkPlace:
    """A place of the page.

    Parameters
    ----------
    words
        Name of its words, `guides.place.<name>`.
    url
        Its address; empty: it is on the sheet of whichever job.
    """

    words: str
    url: str


def place_of_check(command: str | None, tag: str | None) -> WorkPlace | None:
    """Where a check of a guide is done: what a command does, the page does at some place.

    Parameters
    ----------
    command
        Of this program, as the guide names it.
    tag
        Of the job; None: the guide is looked at by itself.

    Returns
    -------
    WorkPlace or None
        None: the page has no place for it.
    """
    if not command:
        return None
    found = _SUMS.match(command)
    if found is not None:
        return WorkPlace("sums", address("/sums", found[1]))
    for start, words, where in _OF_COMMANDS:
        if command.startswith(start):
            return WorkPlace(words, _of_job(tag, where))
    return None


def place_of_step(kind: str, words: str, tag: str) -> WorkPlace | None:
    """Where a step of a plan is done or written down.

    Parameters
    ----------
    kind
        Of the step; opening has no place.
    words
        As the plan says them.
    tag
        Of the job.

    Returns
    -------
    WorkPlace or None
        None: at the bench alone.
    """
    if kind == "open":
        return None
    for pattern, name, where in _OF_WORDS:
        if pattern.search(words.lower()) and (kind == "check" or name == "press"):
            return WorkPlace(name, _of_job(tag, where))
    return None


def _of_job(tag: str | None, where: str) -> str:
    if tag is None:
        return ""
    if where.startswith("#"):
        return address("/jobs", tag) + where
    return address("/jobs", tag, where)
