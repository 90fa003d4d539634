"""What a shop's own finished jobs say of how often each cause is met.

A job counts once it was returned and a person said what at least one dial or system of it had; the
others of it were not complained of, and count as sound. Opinions count as the person gave them,
whatever was said beside them.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from needlewright.findings.troubleshooting.learning import Case, learned
from needlewright.findings.troubleshooting.model import Knowledge
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
        """The knowledge with the priors these cases leave."""
        return learned(knowledge, self.cases)


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
        cases.append(_case(job, _dials_of(_Version(shop.folder, job.family_version_id, shop))))
    return Experience(tuple(cases), tuple(left_out))


def _case(job: FinishedJob, dials: int) -> Case:
    of_dials = [code for one in job.opinions if one.dial is not None for code in one.decided]
    of_whole = [code for one in job.opinions if one.dial is None for code in one.decided]
    return Case(dials, tuple(of_dials), tuple(of_whole))


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
