"""Everything a job holds that speaks of its causes: answers, runs, and what other analyses saw.

Each kind of record has a collector. To let one more analysis speak, write a collector and put it
into `COLLECTORS`.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from needlewright.composing.explained_runs import explained_run
from needlewright.composing.run_evidence import run_evidence
from needlewright.errors import NeedlewrightError
from needlewright.families.model import Family
from needlewright.findings.evidence import Evidence
from needlewright.findings.signatures.words import reason_of
from needlewright.findings.troubleshooting.model import Answer, Knowledge, Weighed
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.runs import run_sheet
from needlewright.records.views import AnswerView, JobSheet

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
    """

    says: Evidence | Weighed
    words: str
    seen_in: str
    at: Place | None = None


@dataclass(frozen=True, slots=True)
class Material:
    """What collectors work on."""

    shop: Shop
    job: JobSheet
    family: Family
    knowledge: Knowledge


Collector: TypeAlias = Callable[[Material], Iterable[Piece]]


@dataclass(frozen=True, slots=True)
class JobEvidence:
    """What there is, and what could not be used.

    Parameters
    ----------
    answers
        Those that count, with their records.
    not_known
        Questions that were asked and are not known: finding and dial.
    pieces
        What analyses say.
    not_used
        Sentences: what was left out and why.
    """

    answers: tuple[tuple[Answer, AnswerView], ...]
    not_known: frozenset[tuple[str, str | None]]
    pieces: tuple[Piece, ...]
    not_used: tuple[str, ...]


def collect(material: Material) -> JobEvidence:
    """Collect everything a job holds that speaks of its causes.

    Parameters
    ----------
    material
        The job.

    Returns
    -------
    JobEvidence
        An analysis that cannot be made is a sentence, and stops none of the others.
    """
    pieces, not_used = list[Piece](), list[str]()
    for name, collector in COLLECTORS:
        try:
            pieces += collector(material)
        except NeedlewrightError as error:
            not_used.append(f"{name} could not be taken in: {error}")
    kept = []
    for piece in pieces:
        trouble = _does_not_fit(material, piece)
        if trouble is None:
            kept.append(piece)
        else:
            not_used.append(trouble)
    answers = []
    for view in material.job.answers:
        if view.yes is None:
            continue
        trouble = _cannot_count(material, view, kept)
        if trouble is None:
            answers.append((Answer(view.finding, view.yes, view.dial), view))
        else:
            not_used.append(trouble)
    not_known = frozenset((a.finding, a.dial) for a in material.job.answers if a.yes is None)
    return JobEvidence(tuple(answers), not_known, tuple(kept), tuple(not_used))


def _does_not_fit(material: Material, piece: Piece) -> str | None:
    """Why a piece cannot be taken in; None: it can."""
    says = piece.says
    dials = {dial.id for dial in material.family.dials}
    if says.dial is not None and says.dial not in dials:
        return f"{piece.seen_in}: the family the job goes by has no dial '{says.dial}'"
    if isinstance(says, Weighed):
        return None
    finding = material.knowledge.findings.get(says.finding)
    if finding is None or (finding.scope == "dial") != (says.dial is not None):
        return f"{piece.seen_in}: the knowledge file does not know '{says.finding}' of it"
    return None


def _cannot_count(material: Material, view: AnswerView, pieces: list[Piece]) -> str | None:
    """Why an answer cannot be taken in; None: it can."""
    finding = material.knowledge.findings.get(view.finding)
    dials = {dial.id for dial in material.family.dials}
    of = "the whole" if view.dial is None else f"dial '{view.dial}'"
    if finding is None or (finding.scope == "dial") != (view.dial is not None):
        return f"the answer '{view.finding}' of {of} is kept, but the knowledge file has none such"
    if view.dial is not None and view.dial not in dials:
        return f"the answer '{view.finding}' of {of} is kept, but the family has no such dial"
    for piece in pieces:
        says = piece.says
        if isinstance(says, Weighed) and (says.instead_of, says.dial) == (view.finding, view.dial):
            return (
                f"the answer '{view.finding}' of {of} is kept and not counted: "
                f"{piece.seen_in} says more than yes and no; set it aside to let the answer count"
            )
    return None


def _runs(material: Material) -> Iterator[Piece]:
    """The newest run as found, every dial weighed by what its rows show."""
    lines = [one for one in material.job.runs if one.side == "found" and not one.set_aside_at]
    if not lines:
        return
    run = run_sheet(material.shop, lines[-1].id)
    if not run.told and not run.photos:
        return
    family = material.family
    if run.family_version_id != material.job.family_version_id:
        family = load_version(material.shop, run.family_version_id)
    explained = explained_run(material.shop, run, family)
    seen_in = f"run {run.name}"
    aside = "" if run.rehearsed is None else f" ({run.rehearsed}: no real cluster was seen.)"
    for one in run_evidence(material.knowledge, explained, seen_in):
        words = reason_of(explained[one.dial]) + aside
        yield Piece(one, words, seen_in, Place("run", run.id, "found"))


COLLECTORS: Final[tuple[tuple[str, Collector], ...]] = (("the run as found", _runs),)
"""Every kind of record that speaks, by its name in sentences."""
