"""One thing that a record of a job says of its causes, and where it can be looked at."""

from dataclasses import dataclass
from typing import Literal

from needlewright.families.model import Family
from needlewright.findings.evidence import Evidence
from needlewright.findings.troubleshooting.model import Knowledge, Weighed
from needlewright.papers.wording import rehearsal_words
from needlewright.records.opening import Shop
from needlewright.records.views import JobSheet

PlaceKind = Literal["run", "sweep", "photo", "series", "board", "vehicle"]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a piece of evidence can be looked at.

    Parameters
    ----------
    kind
        What it is.
    id
        Of the run, the sweep, the photo.
    side
        Of a run: `found` or `left`; else empty.
    """

    kind: PlaceKind
    id: int
    side: str = ""


@dataclass(frozen=True, slots=True)
class Piece:
    """One thing that an analysis of the job's records says.

    Parameters
    ----------
    says
        Evidence on one finding, or a whole dial weighed.
    words
        Sentences for people.
    seen_in
        Where, in words.
    at
        Where, to be looked at; None: nothing can be shown.
    rehearsed
        What was rehearsed, as the records keep it; None: a real cluster was seen.
    """

    says: Evidence | Weighed
    words: str
    seen_in: str
    at: Place | None = None
    rehearsed: str | None = None


@dataclass(frozen=True, slots=True)
class Material:
    """What collectors work on."""

    shop: Shop
    job: JobSheet
    family: Family
    knowledge: Knowledge


def said_of_rehearsal(rehearsed: str | None) -> str:
    """What is added where no real cluster was seen; empty where one was.

    Parameters
    ----------
    rehearsed
        What was rehearsed, as the records keep it.

    Returns
    -------
    str
        In people's words, without the number that chance was begun with.
    """
    if rehearsed is None:
        return ""
    return f" (Rehearsed, {rehearsal_words(rehearsed)}: no real cluster was seen.)"
