"""The findings of a job for programs: read, answered, decided."""

from typing import Annotated, Final, Literal

from fastapi import APIRouter
from pydantic import Field

from needlewright.composing.finding_model import JobFindings
from needlewright.composing.job_answers import Decision, answer_question, overrule
from needlewright.composing.job_findings import job_findings
from needlewright.findings.troubleshooting.next_test import Stage as PlaceOfCluster
from needlewright.records.answers import Given
from needlewright.web.api.bodies import Body, By, Plain
from needlewright.web.pages import Asked, Tag

LOOKS_AHEAD: Final = 1
MOST_CAUSES: Final = 50
router = APIRouter(tags=["findings"])


class AnswerBody(Body):
    """An answer to a question or a test."""

    finding: Plain
    dial: Plain | None = None
    """Null: of the whole cluster."""
    yes: bool | None
    """Null: it is not known, and need not be asked again."""
    source: Literal["typed", "bench"] = "typed"


class OpinionBody(Body):
    """What a person decides that a dial or a system has."""

    subject: Plain
    """A dial, or a system such as `lamps`."""
    causes: Annotated[list[Plain], Field(max_length=MOST_CAUSES)]
    """Empty, or `sound` alone: nothing is wrong with it."""
    why: Plain
    part: Plain | None = None


@router.get("/jobs/{tag}/findings")
def read_findings(asked: Asked, tag: Tag, *, at: PlaceOfCluster | None = None) -> JobFindings:
    """What a job's cluster probably has, what shows it, and what to do next."""
    return job_findings(asked.shop, tag, at=at, looks_ahead=LOOKS_AHEAD)


@router.post("/jobs/{tag}/findings/answers")
def answer(asked: Asked, tag: Tag, body: AnswerBody, by: By = None) -> JobFindings:
    """Keep an answer, in place of an earlier one to the same question."""
    given = Given(body.finding, body.yes, body.dial)
    answer_question(asked.shop, tag, given, by or asked.by, source=body.source)
    return read_findings(asked, tag)


@router.post("/jobs/{tag}/findings/opinions")
def decide(asked: Asked, tag: Tag, body: OpinionBody, by: By = None) -> JobFindings:
    """Keep what a person decided of a dial or a system, whatever is said of it."""
    decision = Decision(body.subject, tuple(body.causes), body.why, body.part)
    overrule(asked.shop, tag, decision, by or asked.by)
    return read_findings(asked, tag)
