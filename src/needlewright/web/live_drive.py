"""The bench drives a movement while its needle is pressed: begun, led on, and let go."""

from typing import Any

from fastapi import APIRouter
from starlette.responses import JSONResponse, Response

from needlewright.composing.bench_choice import BenchChoice
from needlewright.composing.job_press import job_press
from needlewright.errors import ConflictError, RecordError
from needlewright.records.families import load_version
from needlewright.records.runs import refuse_other_job, run_sheet
from needlewright.rehearsal.cluster.cluster import with_signals
from needlewright.web.bench_forms import choice_in
from needlewright.web.bench_order import Order
from needlewright.web.drive_session import DriveState, aim_of
from needlewright.web.pages import Asked, Tag
from needlewright.web.posted import Sent

router = APIRouter()


@router.post("/jobs/{tag}/run/{run_id}/live/drive")
def begin(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Take a bench, and switch the cluster on."""
    refuse_other_job(asked.shop, tag, run_id)
    run = run_sheet(asked.shop, run_id)
    choice: BenchChoice = choice_in(sent)
    if (run.rehearsed is not None) != choice.is_rehearsal:
        raise RecordError(
            f"job {run.tag}, run {run.name}: "
            + (
                "was rehearsed, so its needles are driven by the rehearsal only; choose it"
                if run.rehearsed is not None
                else "is of real movements, which the rehearsal cannot drive; choose a bench"
            )
        )
    family = load_version(asked.shop, run.family_version_id)
    family = with_signals(family) if choice.is_rehearsal else family
    session = asked.house.drives.begin(Order(asked.shop, family, choice, asked.by), run_id)
    return _said(session.state)


@router.post("/jobs/{tag}/run/{run_id}/live/drive/to")
def drive_to(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Drive a movement to where its needle is pressed, from the side its run came from."""
    refuse_other_job(asked.shop, tag, run_id)
    session = asked.house.drives.require(run_id)
    run = run_sheet(asked.shop, run_id)
    dial = sent.text("dial")
    found = job_press(asked.shop, run.tag, name=run.name)
    one = next((one for one in found.dials if one.dial.id == dial), None)
    press = None if one is None else one.planned.press
    if one is None or press is None or press.verdict != "press":
        raise RecordError(
            f"job {run.tag}, dial '{dial[:40]}': no value is planned to press its needle at; "
            "choose another needle"
        )
    session.to(aim_of(one.dial, press.reference.value, press.reference.approach))
    return _said(session.state)


@router.post("/jobs/{tag}/run/{run_id}/live/drive/done")
def done(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """What was asked of the person at the bench is done, or cannot be."""
    refuse_other_job(asked.shop, tag, run_id)
    session = asked.house.drives.require(run_id)
    session.here()
    number = sent.text("asked")
    if not (number.isdecimal() and len(number) < 10):
        raise ConflictError("bench: that instruction is over; look at what is to be done now")
    session.person.say(int(number), is_done=not sent.ticked("cannot"))
    return _said(session.state)


@router.post("/jobs/{tag}/run/{run_id}/live/drive/stop")
def stop(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Take everything off the wires and free the bench."""
    refuse_other_job(asked.shop, tag, run_id)
    session = asked.house.drives.at(run_id)
    if session is not None:
        session.close()
    return _said(DriveState(is_on=False) if session is None else session.state)


@router.get("/jobs/{tag}/run/{run_id}/live/drive/now")
def now(asked: Asked, tag: Tag, run_id: int) -> Response:
    """How it stands."""
    refuse_other_job(asked.shop, tag, run_id)
    session = asked.house.drives.at(run_id)
    return _said(DriveState(is_on=False) if session is None else session.state)


@router.post("/jobs/{tag}/run/{run_id}/live/drive/here")
def here(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """Somebody looks on, said again and again; and how it stands."""
    refuse_other_job(asked.shop, tag, run_id)
    session = asked.house.drives.at(run_id)
    if session is not None:
        session.here()
    return now(asked, tag, run_id)


@router.post("/jobs/{tag}/run/{run_id}/live/drive/leave")
def leave(asked: Asked, sent: Sent, tag: Tag, run_id: int) -> Response:
    """A page that looked on is closed."""
    refuse_other_job(asked.shop, tag, run_id)
    session = asked.house.drives.at(run_id)
    if session is not None:
        session.leave()
    return now(asked, tag, run_id)


def _said(state: DriveState) -> Response:
    document: dict[str, Any] = {
        "saved": True,
        "on": state.is_on,
        "dial": state.dial,
        "words": state.words,
        "lines": list(state.lines),
        "asked": state.asked,
    }
    return JSONResponse(document, headers={"Cache-Control": "no-store"})
