"""What a shop's own finished jobs say: how often each cause is met, and how often it shows.

A job counts once it was returned and a person said what at least one dial or system of it had; the
others of it were not complained of, and count as sound. Opinions count as the person gave them,
whatever was said beside them.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from needlewright.findings.troubleshooting.learned_findings import learned_findings
from needlewright.findings.troubleshooting.learning import Case, learned
from needlewright.findings.troubleshooting.model import SOUND, Answer, Knowledge
from needlewright.findings.troubleshooting.past_opinions import Opinion
from needlewright.records.families import load_version
from needlewright.records.opening import Shop
from needlewright.records.opinions import finished_jobs
from needlewright.records.views import FinishedJob, OpinionView


@dataclass(frozen=True, slots=True)
class Experience:
    """What a shop has found.

    Parameters
    ----------
    cases
        Finished jobs that count.
    left_out
        Sentences on those that cannot: they name what the knowledge file does not have.
    """

    cases: tuple[Case, ...]
    left_out: tuple[str, ...]

    def teach(self, knowledge: Knowledge) -> Knowledge:
        """The knowledge with the priors and the likelihoods these cases leave."""
        return learned_findings(learned(knowledge, self.cases), self.cases)


@dataclass(frozen=True, slots=True)
class _Version:
    """A stored version of a family; what is stored never changes."""

    folder: Path
    version_id: int
    shop: Shop = field(compare=False, hash=False)


def experience_of(shop: Shop, knowledge: Knowledge, but: str | None = None) -> Experience:
    """Gather a shop's finished jobs as cases.

    Parameters
    ----------
    shop
        The shop.
    knowledge
        Whose causes count.
    but
        Tag of a job that is left out, so that it does not judge itself.

    Returns
    -------
    Experience
        In the order the jobs were opened.

    Raises
    ------
    RecordError
        If a family cannot be loaded.
    """
    cases, left_out = [], []
    for job in finished_jobs(shop, but):
        unknown = sorted(_unknown(knowledge, job.opinions))
        if unknown:
            left_out.append(
                f"job {job.tag} is not counted: the knowledge file has no cause "
                f"'{', '.join(unknown)}' of that kind"
            )
            continue
        dials = _dials_of(_Version(shop.folder, job.family_version_id, shop))
        cases.append(_case(knowledge, job, dials))
    return Experience(tuple(cases), tuple(left_out))


def _case(knowledge: Knowledge, job: FinishedJob, dials: int) -> Case:
    opinions = tuple(_opinion(knowledge, one) for one in job.opinions)
    answers = tuple(
        Answer(one.finding, one.yes, one.dial) for one in job.answers if one.yes is not None
    )
    return Case(dials, opinions=opinions, answers=answers)


def _opinion(knowledge: Knowledge, view: OpinionView) -> Opinion:
    said = view.said
    if view.dial is None:  # that nothing of a system is there is no cause of its own
        said = {code: p for code, p in said.items() if code != SOUND}
    return Opinion(
        tuple(_with_part(knowledge, code, view.part) for code in view.decided),
        said,
        view.why,
        view.dial,
    )


def _with_part(knowledge: Knowledge, code: str, part: str | None) -> str:
    return f"{code}/{part}" if part in knowledge.causes[code].parts else code


def _unknown(knowledge: Knowledge, opinions: Iterable[OpinionView]) -> set[str]:
    known = {(cause.scope, code) for code, cause in knowledge.causes.items()}
    return {
        code
        for one in opinions
        for code in one.decided
        if ("whole" if one.dial is None else "dial", code) not in known
    }


@lru_cache(maxsize=64)
def _dials_of(version: _Version) -> int:
    return len(load_version(version.shop, version.version_id).dials)
