"""Five lines on a finished job: how it came in, what the needles need, what turned, what passes."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from statistics import median
from typing import Any

from needlewright.papers.dial_pages import by_weight

Document = Mapping[str, Any]


def summary_lines(report: Document, certificate: Document, made: Mapping[str, Path]) -> list[str]:
    """Say in five lines what the papers of a job say.

    Parameters
    ----------
    report, certificate
        Documents of the proofs as found and as left.
    made
        Files by what they are.

    Returns
    -------
    list of str
        Five lines.
    """
    after = by_weight(certificate["dials"])
    return [
        f"came in     {_results(by_weight(report['dials']), 'found')}",
        f"needles     {_needles(report['needle_set'])}",
        f"turned      {_turned(after)}",
        f"goes out    {certificate['title']}: {_results(after, 'left')}",
        f"papers      {_papers(made)}",
    ]


def _results(dials: Sequence[Document], side: str) -> str:
    """Dials with one result are named together, the worst result as the dials have it."""
    by_words: dict[str, list[str]] = {}
    for dial in dials:
        if dial[side] is not None:
            by_words.setdefault(dial[side]["words"], []).append(dial["dial"])
    return "; ".join(f"{' and '.join(names)}: {words}" for words, names in by_words.items())


def _needles(sentences: Sequence[str]) -> str:
    """Each sentence up to its reason."""
    return "; ".join(sentence.split(";")[0] for sentence in sentences)


def _turned(dials: Sequence[Document]) -> str:
    """How far each needle stands from where it stood at the same command, in the middle."""
    said = []
    for dial in dials:
        turns = [
            left["angle_deg"] - found["angle_deg"]
            for found, left in _told_pairs(dial)
            if found["angle_deg"] is not None and left["angle_deg"] is not None
        ]
        if turns:
            said.append(
                f"{dial['dial']} {median(turns):+.1f}° ({min(turns):+.1f} to {max(turns):+.1f})"
            )
    return "; ".join(said).replace("-", "−")


def _told_pairs(dial: Document) -> list[tuple[Document, Document]]:
    """Rows of both runs at one command, those on a stop left out."""
    pairs = [
        (dial["found"]["rows"][found], dial["left"]["rows"][left])
        for found, left in dial["pairs"]
        if found is not None and left is not None
    ]
    return [
        (found, left)
        for found, left in pairs
        if left["commanded"] is not None and "on_stop" not in (*found["flags"], *left["flags"])
    ]


def _papers(made: Mapping[str, Path]) -> str:
    wanted = ("report paper", "paper", "label")
    return ", ".join(str(made[name]) for name in wanted if name in made)
