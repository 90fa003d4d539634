"""How often a cause shows a finding, from a shop's own jobs: counts of yes and no."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from needlewright.findings.troubleshooting.learning import Case, check_case
from needlewright.findings.troubleshooting.model import (
    SOUND,
    Answer,
    Finding,
    Knowledge,
    code_of,
    of_state,
)

LEAST: Final = 1e-3
"""A link that jobs speak against stays this likely: it is in the file for a reason."""
Key = tuple[str, str | None]
"""A finding, and the entry of its `shown_by`; None: nothing that could show it was there."""


@dataclass(frozen=True, slots=True)
class Counts:
    """Answers that were given where one cause alone could have made them a yes."""

    yes: int = 0
    no: int = 0

    def mean(self, before: float, weight: float) -> float:
        """Mean of the beta distribution, `before` counting as `weight` answers."""
        return (before * weight + self.yes) / (weight + self.yes + self.no)


def counts_of(knowledge: Knowledge, cases: Sequence[Case]) -> Mapping[Key, Counts]:
    """Count answers by what alone could have made them.

    Parameters
    ----------
    knowledge
        With the findings there are.
    cases
        Finished jobs with their answers. Of a dial, only opinions say which one had what, so an
        answer of a dial counts where an opinion is on that dial.

    Returns
    -------
    Mapping
        Finding and entry to its counts. Answers that several causes could have made, or whose
        finding the file does not have, are left out: nobody knows which of them it was.

    Raises
    ------
    KnowledgeError
        If a case names a cause or part that is not there, or more dials than it has.
    """
    found = defaultdict[Key, Counts](Counts)
    for case in cases:
        check_case(knowledge, case)
        for answer in case.answers:
            finding = knowledge.findings.get(answer.finding)
            if finding is None:
                continue
            there = _there(case, answer, finding)
            if there is None:
                continue
            could = [name for name in there if of_state(finding.shown_by, name) > 0]
            if len(could) > 1:
                continue
            key = finding.id, _entry(finding, could[0]) if could else None
            before = found[key]
            found[key] = Counts(before.yes + answer.yes, before.no + (not answer.yes))
    return dict(found)


def _there(case: Case, answer: Answer, finding: Finding) -> tuple[str, ...] | None:
    """What was there that could bear on an answer; None: it is not known."""
    if finding.scope == "whole":
        return case.found_in_whole
    for one in case.opinions:
        if one.dial is not None and one.dial == answer.dial:
            return (*case.found_in_whole, *(one.decided or (SOUND,)))
    return None


def _entry(finding: Finding, name: str) -> str:
    return name if name in finding.shown_by else code_of(name)


def learned_findings(knowledge: Knowledge, cases: Sequence[Case]) -> Knowledge:
    """Knowledge with the likelihoods a shop's own cases leave.

    Parameters
    ----------
    knowledge
        With the file's figures, worth `prior_weight` answers each.
    cases
        Finished jobs with their answers.

    Returns
    -------
    Knowledge
        `otherwise` is the mean of a beta distribution. So is the probability P of a yes with one
        cause there, from which its link l follows: P = 1 - (1 - otherwise)(1 - l).

    Raises
    ------
    KnowledgeError
        As `counts_of`.

    Notes
    -----
    **Source** conjugate priors, any textbook of Bayesian statistics; causes act each for itself
    (noisy or).
    """
    counts = counts_of(knowledge, cases)
    findings = {
        name: _learned(one, counts, knowledge.prior_weight)
        for name, one in knowledge.findings.items()
    }
    return replace(knowledge, findings=findings)


def _learned(finding: Finding, counts: Mapping[Key, Counts], weight: float) -> Finding:
    alone = counts.get((finding.id, None))
    otherwise = finding.otherwise if alone is None else alone.mean(finding.otherwise, weight)
    links = dict(finding.shown_by)
    for name, link in finding.shown_by.items():
        seen = counts.get((finding.id, name))
        if seen is not None:
            yes = seen.mean(1.0 - (1.0 - finding.otherwise) * (1.0 - link), weight)
            links[name] = max(1.0 - (1.0 - yes) / (1.0 - otherwise), LEAST)
    return replace(finding, otherwise=otherwise, shown_by=links)
