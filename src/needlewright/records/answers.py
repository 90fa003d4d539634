"""Answers to the questions and tests of a job.

Which questions there are, the knowledge file says; here their names are only kept.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from needlewright.errors import RecordError
from needlewright.records.changes import Change, change
from needlewright.records.opening import Shop
from needlewright.records.opinions import named_subject
from needlewright.records.sheet import answers_in, job_sheet
from needlewright.records.tables import FindingAnswer
from needlewright.records.views import JobSheet
from needlewright.records.words import AnswerSource


@dataclass(frozen=True, slots=True)
class Given:
    """An answer somebody gives.

    Parameters
    ----------
    finding
        Id of the question or test.
    yes
        The answer; None: it is not known, and need not be asked again.
    dial
        Of which dial; None: of the whole.
    """

    finding: str
    yes: bool | None
    dial: str | None = None


def answer(
    shop: Shop,
    tag: str,
    given: Sequence[Given],
    by: str | None = None,
    *,
    source: AnswerSource = "typed",
) -> JobSheet:
    """Keep answers, as one step.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    given
        Each takes the place of an earlier answer to the same question; one that says the same is
        kept as it is.
    by
        Who answers, or types what the owner answered.
    source
        Where they come from.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    RecordError
        If nothing is given, a question is answered twice, or there is no such job or person.
    """
    if not given:
        raise RecordError(f"job {tag}: no answer was given; write one such as 'DIAL: QUESTION yes'")
    asked = [(one.finding, one.dial) for one in given]
    for finding, dial in asked:
        if asked.count((finding, dial)) > 1:
            raise RecordError(
                f"job {tag}: '{finding}' of {named_subject(dial)} is answered twice; give one "
                "answer"
            )
    with change(shop, tag, _journal_words(given), by) as one:
        standing = {(row.finding, row.dial): row for row in answers_in(one.session, one.job.id)}
        for each in given:
            _put(one, standing.get((each.finding, each.dial)), each, source)
    return job_sheet(shop, tag)


def _put(one: Change, standing: FindingAnswer | None, given: Given, source: AnswerSource) -> None:
    if standing is not None:
        if standing.yes == given.yes:
            return
        standing.withdrawn_at = one.at
    one.add(
        FindingAnswer(
            job_id=one.job.id,
            finding=given.finding,
            dial=given.dial,
            yes=given.yes,
            source=source,
            at=one.at,
            person_id=one.person.id,
        )
    )


def _journal_words(given: Sequence[Given]) -> str:
    if len(given) > 1:
        return f"{len(given)} answers"
    (one,) = given
    said = "not known" if one.yes is None else "yes" if one.yes else "no"
    return f"answer: {one.finding} of {named_subject(one.dial)} {said}"
