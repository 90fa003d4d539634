"""The cards of a job's findings: one for each dial, one for each system."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from math import log10
from typing import TypeAlias

from needlewright.composing.evidence_piece import Piece
from needlewright.composing.finding_model import (
    SYSTEMS,
    Card,
    PartShare,
    Seen,
    Share,
    Speaks,
    System,
    sureness_of,
)
from needlewright.composing.gauge_names import GaugeNames, with_gauge
from needlewright.composing.job_evidence import JobEvidence
from needlewright.findings.evidence import Evidence
from needlewright.findings.troubleshooting.belief import Belief
from needlewright.findings.troubleshooting.model import SOUND, Answer, Finding, Weighed
from needlewright.records.views import AnswerView, OpinionView

Belongs: TypeAlias = Callable[[Finding, str | None], bool]
"""Whether what speaks of a finding, of that dial or the whole, belongs on a card."""
RUNS_AT, ANSWERS_AT = 4.0, 2.0
"""Where runs and answers stand among evidence that is ranked by the logarithm of its ratio."""
STRONG, CLEAR, LEAST = 30.0, 5.0, 1.5
"""Ratios of likelihoods from which evidence speaks strongly, clearly, and at all."""
UNSEEN = "Nothing was seen of it yet."


def cards_of(
    names: GaugeNames, belief: Belief, evidence: JobEvidence, opinions: Sequence[OpinionView]
) -> tuple[Card, ...]:
    """The cards of a job.

    Parameters
    ----------
    names
        Of the dials, in the family's order.
    belief
        Of what was seen and answered, without what people decided.
    evidence
        Of the job.
    opinions
        Of the job, oldest first.

    Returns
    -------
    tuple of Card
        Dials in the family's order, then systems.
    """
    cards = _Cards(names, belief, evidence, opinions)
    systems = systems_of(belief).items()
    return (
        *(cards.of_dial(dial) for dial in names),
        *(cards.of_system(system, codes) for system, codes in systems if codes),
    )


def systems_of(belief: Belief) -> dict[System, tuple[str, ...]]:
    """Causes of the whole by system, in the knowledge file's order."""
    placed = {code: system for system, codes in SYSTEMS.items() for code in codes}
    found: dict[System, list[str]] = {system: [] for system in SYSTEMS}
    for cause in belief.knowledge.causes.values():
        if cause.scope == "whole":
            found[placed.get(cause.code, "board" if cause.inside else "vehicle")].append(cause.code)
    return {system: tuple(codes) for system, codes in found.items()}


@dataclass(frozen=True, slots=True)
class _Cards:
    """What cards are made of."""

    names: GaugeNames
    belief: Belief
    evidence: JobEvidence
    opinions: Sequence[OpinionView]

    def of_dial(self, dial: str) -> Card:
        """The card of one dial."""
        shares = _ranked(_share(self.belief, *one) for one in self.belief.dial(dial).items())
        own, older = _opinions([one for one in self.opinions if one.dial == dial])
        card = Card(
            id=dial,
            dial=dial,
            system=None,
            title=self.names[dial].capitalize(),
            shares=shares,
            faulty=1.0 - next(one.probability for one in shares if one.cause == SOUND),
            verdict=_verdict(shares[0]),
            sureness=sureness_of(shares[0].probability),
            parts=_parts(self.belief, dial),
            evidence=self._seen(dial, lambda _finding, of: of == dial),
            opinion=own,
            older_opinions=older,
        )
        return _unseen(card)

    def of_system(self, system: System, codes: tuple[str, ...]) -> Card:
        """The card of one system."""
        belief = self.belief
        of_whole, joint = belief.of_whole(), belief.combinations()
        places = [belief.whole.index(code) for code in codes]
        none = float(joint[~belief.there[:, places].any(axis=1)].sum() / joint.sum())
        shares = _ranked(
            [*(_share(belief, code, of_whole[code]) for code in codes), _share(belief, SOUND, none)]
        )
        own, older = _opinions([one for one in self.opinions if one.system == system])

        def belongs(finding: Finding, of: str | None) -> bool:
            return of is None and any(code in finding.shown_by for code in codes)

        card = Card(
            id=system,
            dial=None,
            system=system,
            title=system.capitalize(),
            shares=shares,
            faulty=1.0 - none,
            verdict=_verdict(shares[0]),
            sureness=sureness_of(shares[0].probability),
            parts=(),
            evidence=self._seen(None, belongs),
            opinion=own,
            older_opinions=older,
        )
        return _unseen(card)

    def _seen(self, dial: str | None, belongs: Belongs) -> tuple[Seen, ...]:
        """What belongs on a card; what counts and speaks strongest first."""
        findings = self.belief.knowledge.findings
        found = list[tuple[float, Seen]]()
        for answer, view in self.evidence.answers:
            finding = findings[answer.finding]
            if belongs(finding, answer.dial):
                words = with_gauge(finding.words, answer.dial, self.names)
                found.append((ANSWERS_AT, _answered(words, answer, view)))
        for kept in self.evidence.pieces:
            piece = replace(kept, words=_to_people(kept.words, self.names))
            says = piece.says
            if isinstance(says, Weighed):
                if says.dial == dial:
                    found.append((RUNS_AT, _weighed(piece, says)))
            elif belongs(findings[says.finding], says.dial):
                counts = says not in self.belief.stood_in_for()
                weight = abs(log10(says.ratio)) if counts else 0.0
                found.append((weight, _analysed(piece, says, counts)))
        return tuple(seen for _, seen in sorted(found, key=lambda one: -one[0]))


def _unseen(card: Card) -> Card:
    """What nothing was seen of is not called sound, however seldom it fails."""
    if not card.is_unseen:
        return card
    return replace(card, verdict=UNSEEN, sureness="not certain")


def _ranked(shares: Iterable[Share]) -> tuple[Share, ...]:
    return tuple(sorted(shares, key=lambda one: -one.probability))


def _share(belief: Belief, code: str, probability: float) -> Share:
    if code == SOUND:
        return Share(code, "nothing wrong", probability, inside=True)
    cause = belief.knowledge.causes[code]
    return Share(code, cause.words, probability, cause.inside)


def _parts(belief: Belief, dial: str) -> tuple[PartShare, ...]:
    words = belief.knowledge.parts
    found = [PartShare(part, words[part], p) for part, p in belief.parts(dial).items() if p > 0]
    return tuple(sorted(found, key=lambda one: -one.probability))


def _verdict(top: Share) -> str:
    sureness = sureness_of(top.probability)
    where = "" if top.inside else ", outside the cluster"
    if sureness == "not certain":
        return f"Not certain, but first to think of: {top.words}{where}."
    return f"{sureness.capitalize()}: {top.words}{where}."


def _opinions(
    own: Sequence[OpinionView],
) -> tuple[OpinionView | None, tuple[OpinionView, ...]]:
    counting = next((one for one in own if one.counts), None)
    return counting, tuple(one for one in reversed(own) if not one.counts)


def _to_people(words: str, names: GaugeNames) -> str:
    """Words of an analysis with gauges by their names."""
    for dial, name in names.items():
        words = words.replace(f"dial '{dial}'", f"the {name}")
    return f"{words[:1].upper()}{words[1:]}"


def _answered(words: str, answer: Answer, view: AnswerView) -> Seen:
    said = "yes" if answer.yes else "no"
    source = {"typed": "typed", "pasted": "the owner's text", "bench": "found at the bench"}
    return Seen(
        kind="answer",
        words=f"{words} {said.capitalize()}.",
        seen_in=f"{source[view.source]}, {view.by}",
        speaks="for" if answer.yes else "against",
        strength="",
        finding=answer.finding,
        dial=answer.dial,
        yes=answer.yes,
        at=None,
    )


def _weighed(piece: Piece, says: Weighed) -> Seen:
    sound = says.likelihood.get(SOUND, 0.0)
    most = max(says.likelihood.values())
    speaks: Speaks = "for" if most > LEAST * sound else "against"
    return Seen(
        kind="run",
        words=piece.words,
        seen_in=piece.seen_in,
        speaks=speaks,
        strength="",
        finding=says.instead_of,
        dial=says.dial,
        yes=None,
        at=piece.at,
        rehearsed=piece.rehearsed,
    )


def _analysed(piece: Piece, says: Evidence, counts: bool) -> Seen:
    speaks: Speaks = (
        "for" if says.ratio >= LEAST else "against" if says.ratio <= 1 / LEAST else "neither"
    )
    return Seen(
        "seen",
        piece.words,
        piece.seen_in,
        speaks,
        strength_words(says.ratio),
        says.finding,
        says.dial,
        None,
        piece.at,
        counts,
        piece.rehearsed,
    )


def strength_words(ratio: float) -> str:
    """How strongly evidence speaks, either way."""
    most = max(ratio, 1 / ratio)
    if most >= STRONG:
        return "strongly"
    return "clearly" if most >= CLEAR else "weakly" if most >= LEAST else "not at all"
