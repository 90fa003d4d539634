"""Priors from what a shop has found: plain counts against the file's priors and their weight."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.model import Knowledge


@dataclass(frozen=True, slots=True)
class Case:
    """One finished job.

    Parameters
    ----------
    dials
        How many the cluster has.
    of_dials
        What was wrong with them in the end, one code for each dial that had something.
    of_whole
        What was wrong with the whole. An opinion that was overruled stands here as the person
        said it.
    """

    dials: int
    of_dials: tuple[str, ...] = ()
    of_whole: tuple[str, ...] = ()


def learned(knowledge: Knowledge, cases: Sequence[Case]) -> Knowledge:
    """Knowledge with the priors a shop's own cases leave.

    Parameters
    ----------
    knowledge
        With the file's priors, worth `prior_weight` cases.
    cases
        Finished jobs.

    Returns
    -------
    Knowledge
        A prior is the mean of a beta distribution (of a Dirichlet one for the causes of a dial,
        which exclude one another): (prior x weight + found) / (weight + looked at).

    Raises
    ------
    KnowledgeError
        If a case names a cause that is not there, or more dials than it has.

    Notes
    -----
    **Source** conjugate priors, any textbook of Bayesian statistics.
    """
    for case in cases:
        _check(knowledge, case)
    found_dial = Counter(code for case in cases for code in _own(knowledge, case, case.of_dials))
    found_whole = Counter(
        code for case in cases for code in _own(knowledge, case, sorted(set(case.of_whole)))
    )
    weight, seen_dials = knowledge.prior_weight, sum(case.dials for case in cases)
    causes = {}
    for code, cause in knowledge.causes.items():
        is_dial = cause.scope == "dial"
        found = found_dial[code] if is_dial else found_whole[code]
        seen = seen_dials if is_dial else len(cases)
        causes[code] = replace(cause, prior=(cause.prior * weight + found) / (weight + seen))
    return replace(knowledge, causes=causes)


def _own(knowledge: Knowledge, case: Case, codes: Sequence[str]) -> list[str]:
    """Those that nothing else in the case may have brought: priors are of coming by themselves."""
    return [
        code
        for code in codes
        if not any(code in knowledge.causes[other].brings for other in case.of_whole)
    ]


def _check(knowledge: Knowledge, case: Case) -> None:
    for scope, codes in (("dial", case.of_dials), ("whole", case.of_whole)):
        for code in codes:
            cause = knowledge.causes.get(code)
            if cause is None or cause.scope != scope:
                known = ", ".join(sorted(c.code for c in knowledge.causes.values()))
                raise KnowledgeError(
                    f"a finished job names '{code}' as a cause of "
                    f"{'one dial' if scope == 'dial' else 'the whole'}; there is none: {known}"
                )
    if len(case.of_dials) > case.dials:
        raise KnowledgeError(
            f"a finished job names {len(case.of_dials)} faulty dials of {case.dials}; a dial has "
            "one main cause"
        )
