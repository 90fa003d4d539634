"""Needles on the sheet: what each one needs, in the measures a hand understands."""

from collections.abc import Collection
from dataclasses import dataclass

from fastapi import APIRouter
from starlette.responses import Response

from needlewright.composing.needle_turn import TurnWords, turn_words
from needlewright.errors import RecordError
from needlewright.families.model import Family
from needlewright.papers.wording import sentence_for_people, unit_words, with_degree_signs
from needlewright.plans.needle_set import NeedleSet, Verdict
from needlewright.records.jobs import decide, edit_job
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent
from needlewright.web.sheet_measured import needle_sets
from needlewright.web.sheet_run_view import RunView

router = APIRouter()


@dataclass(frozen=True, slots=True)
class NeedleView:
    """What one needle needs."""

    dial: str
    verdict: Verdict | None
    turn: TurnWords | None
    reason: str
    margins: tuple[str, str, str] | None
    """Smallest margin now, after the turn, and where it is."""
    said: str | None
    """What was written down as done; None: nothing yet."""
    one: NeedleSet
    is_replaced: bool = False
    """Whether its movement is replaced by the plan that was accepted."""

    @property
    def turn_line(self) -> str:
        """`3.46 ± 0.18° anticlockwise`; empty where there is no turn."""
        return "" if self.turn is None else f"{self.turn.degrees}° {self.turn.side}"

    @property
    def graduation(self) -> str:
        """One graduation of the dial with its unit, as a dial prints it."""
        return "" if self.turn is None else sentence_for_people(self.turn.graduation)


def needle_views(
    shop: Shop, family: Family, run: RunView, job: JobSheet, replaced: Collection[str] = ()
) -> tuple[NeedleView, ...]:
    """What every needle of a run needs.

    Parameters
    ----------
    shop
        The shop.
    family
        The cluster design.
    run
        As found.
    job
        Whose work done is looked through.
    replaced
        Dials that get a new movement by the plan.

    Returns
    -------
    tuple of NeedleView
        In the family's order; dials that cannot be told anything about are left out.
    """
    views = []
    for dial_id, one in needle_sets(shop, run.sheet, job.max_speed).items():
        dial = family.dial(dial_id)
        if dial is None:
            continue
        margins = None
        if one.margin_before is not None and one.worst_point is not None:
            unit = unit_words(one.margin_unit)
            turned = one.margin_after if one.verdict == "turn" else None
            after = "" if turned is None else sentence_for_people(f"{turned:+.2g} {unit}")
            at = f"{one.worst_point.commanded:g} {unit} {one.worst_point.approach}"
            margins = (sentence_for_people(f"{one.margin_before:+.2g} {unit}"), after, at)
        views.append(
            NeedleView(
                dial=dial.id,
                verdict=one.verdict,
                turn=turn_words(dial, one),
                reason=with_degree_signs(sentence_for_people(one.reason)),
                margins=margins,
                said=said_of(job, dial.id),
                one=one,
                is_replaced=dial.id in replaced,
            )
        )
    return tuple(views)


def said_of(job: JobSheet, dial: str) -> str | None:
    """What was written down as done to a dial, or None."""
    start = f"{dial}: "
    lines = [*job.work_done, *(decision.text for decision in job.decisions)]
    said = [line.removeprefix(start) for line in lines if line.startswith(start)]
    return "; ".join(said) or None


@router.post("/jobs/{tag}/needles/{dial}/done")
def done(asked: Asked, sent: Sent, tag: Tag, dial: Tag) -> Response:
    """Write down what was done to a dial; it stands on the certificate as work done."""
    job = job_sheet(asked.shop, tag)
    what = " ".join(sent.text("what").split())
    if not what:
        raise RecordError(f"job {job.tag}, {dial}: say what was done to it")
    lines = [*job.work_done, f"{dial}: {what}"]
    edit_job(asked.shop, tag, {"work_done": lines}, asked.by, seen=job.version)
    return _back(asked, tag, dial)


@router.post("/jobs/{tag}/needles/{dial}/left")
def left(asked: Asked, sent: Sent, tag: Tag, dial: Tag) -> Response:
    """Write down that a needle stays as it sits, and why."""
    words = asked.texts("needles.left_as_it_sits")
    decide(asked.shop, tag, f"{dial}: {words}", sent.text("why"), asked.by)
    return _back(asked, tag, dial)


def _back(asked: Asking, tag: str, dial: str) -> Response:
    job = job_sheet(asked.shop, tag)
    return asked.saved(f"{asked.at('/jobs', job.tag)}#needle-{dial}", version=job.version)
