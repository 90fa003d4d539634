"""Everything a job holds that speaks of its causes: answers, runs, and what other analyses saw.

Each kind of record has a collector. To let one more analysis speak, write a collector and put it
into `COLLECTORS`.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

from needlewright.composing.bench_seen import seen_at_bench
from needlewright.composing.board_pieces import board
from needlewright.composing.evidence_piece import Material, Piece, said_of_rehearsal
from needlewright.composing.gauge_names import gauge_names, with_gauge
from needlewright.composing.kept_pieces import kept
from needlewright.composing.run_pieces import cold, key_ons, runs_as_found
from needlewright.composing.sweep_pieces import sweeps
from needlewright.errors import NeedlewrightError
from needlewright.findings.troubleshooting.model import Answer, Weighed
from needlewright.papers.wording import sentence_for_people, with_degree_signs
from needlewright.records.views import AnswerView

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
            # units as people read them; what the piece says keeps them as documents do
            words = with_degree_signs(sentence_for_people(piece.words))
            kept.append(replace(piece, words=words + said_of_rehearsal(piece.rehearsed)))
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
            asked = with_gauge(finding.words, view.dial, gauge_names(material.family))
            return (
                f"the answer to “{asked}” is kept and not counted: {piece.seen_in} says more than "
                "yes and no; set that run aside to let the answer count"
            )
    return None


COLLECTORS: Final[tuple[tuple[str, Collector], ...]] = (
    ("the run as found", runs_as_found),
    ("the rests over key-ons", key_ons),
    ("the lamps and currents of its run at the bench", seen_at_bench),
    ("the temperatures of its runs", cold),
    ("its sweep videos", sweeps),
    ("its board", board),
    ("what analyses of other files saw", kept),
)
"""Every kind of record that speaks, by its name in sentences."""
