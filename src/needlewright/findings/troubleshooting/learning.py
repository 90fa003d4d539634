"""Priors from what a shop has found: plain counts against the file's priors and their weight."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from needlewright.errors import KnowledgeError
from needlewright.findings.troubleshooting.model import Answer, Cause, Knowledge, code_of, part_of
from needlewright.findings.troubleshooting.past_opinions import Opinion


@dataclass(frozen=True, slots=True)
class Case:
    """One finished job.

    Parameters
    ----------
    dials
        How many the cluster has.
    of_dials
        What was wrong with them in the end, one code for each dial that had something; `code/part`
        where the part is known.
    of_whole
        What was wrong with the whole.
    opinions
        What persons decided beside what was said, one for a dial or a system. What they decided
        counts as found, beside `of_dials` and `of_whole`; what was said never does.
    answers
        Questions and tests of the job, as a person answered them.
    """

    dials: int
    of_dials: tuple[str, ...] = ()
    of_whole: tuple[str, ...] = ()
    opinions: tuple[Opinion, ...] = ()
    answers: tuple[Answer, ...] = ()

    @property
    def found_in_dials(self) -> tuple[str, ...]:
        """All that was wrong with dials."""
        decided = (code for one in self.opinions if one.dial is not None for code in one.decided)
        return (*self.of_dials, *decided)

    @property
    def found_in_whole(self) -> tuple[str, ...]:
        """All that was wrong with the whole, each once."""
        decided = (code for one in self.opinions if one.dial is None for code in one.decided)
        return tuple(dict.fromkeys((*self.of_whole, *decided)))


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
        which exclude one another): (prior x weight + found) / (weight + looked at). The shares of
        a cause's parts are learned in the same way, from the cases that name a part.

    Raises
    ------
    KnowledgeError
        If a case names a cause or part that is not there, or more dials than it has.

    Notes
    -----
    **Source** conjugate priors, any textbook of Bayesian statistics.
    """
    for case in cases:
        check_case(knowledge, case)
    found_dial = Counter(
        code_of(name) for case in cases for name in _own(knowledge, case, case.found_in_dials)
    )
    found_whole = Counter(
        code for case in cases for code in _own(knowledge, case, case.found_in_whole)
    )
    parted = Counter(name for case in cases for name in case.found_in_dials)
    weight, seen_dials = knowledge.prior_weight, sum(case.dials for case in cases)
    causes = {}
    for code, cause in knowledge.causes.items():
        is_dial = cause.scope == "dial"
        found = found_dial[code] if is_dial else found_whole[code]
        seen = seen_dials if is_dial else len(cases)
        causes[code] = replace(
            cause,
            prior=(cause.prior * weight + found) / (weight + seen),
            parts=_shares(cause, parted, weight),
        )
    return replace(knowledge, causes=causes)


def _shares(cause: Cause, parted: Mapping[str, int], weight: float) -> Mapping[str, float]:
    """Of a cause's parts; what brought the cause does not matter for where it lies."""
    found = {part: parted.get(f"{cause.code}/{part}", 0) for part in cause.parts}
    total = sum(found.values())
    if not total:
        return cause.parts
    return {
        part: (share * weight + found[part]) / (weight + total)
        for part, share in cause.parts.items()
    }


def _own(knowledge: Knowledge, case: Case, names: Sequence[str]) -> list[str]:
    """Those that nothing else in the case may have brought: priors are of coming by themselves."""
    brought = {code for other in case.found_in_whole for code in knowledge.causes[other].brings}
    return [name for name in names if code_of(name) not in brought]


def check_case(knowledge: Knowledge, case: Case) -> None:
    """Refuse a case that cannot be.

    Parameters
    ----------
    knowledge
        With the causes there are.
    case
        A finished job.

    Raises
    ------
    KnowledgeError
        If it names a cause or part that is not there, or more dials than it has.
    """
    for scope, names in (("dial", case.found_in_dials), ("whole", case.found_in_whole)):
        for name in names:
            cause = knowledge.causes.get(code_of(name))
            if cause is None or cause.scope != scope:
                known = ", ".join(sorted(c.code for c in knowledge.causes.values()))
                raise KnowledgeError(
                    f"a finished job names '{code_of(name)}' as a cause of "
                    f"{'one dial' if scope == 'dial' else 'the whole'}; there is none: {known}"
                )
            part = part_of(name)
            if part is not None and part not in cause.parts:
                raise KnowledgeError(
                    f"a finished job names a part '{part}' of '{cause.code}'; its parts: "
                    f"{', '.join(cause.parts) or 'none'}"
                )
    if len(case.found_in_dials) > case.dials:
        raise KnowledgeError(
            f"a finished job names {len(case.found_in_dials)} faulty dials of {case.dials}; a dial "
            "has one main cause"
        )
    dials = [one.dial for one in case.opinions if one.dial is not None]
    twice = [dial for dial, count in Counter(dials).items() if count > 1]
    if twice:
        raise KnowledgeError(
            f"a finished job has {dials.count(twice[0])} opinions on dial '{twice[0]}'; give the "
            "one that counts"
        )
