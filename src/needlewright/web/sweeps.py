"""Sweep videos: added on the job sheet, each with a place of its own beside its charts."""

import json
import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Final

from fastapi import APIRouter
from markupsafe import Markup
from starlette.responses import HTMLResponse, JSONResponse, Response

from needlewright.composing.sweeps import (
    charts_of_document,
    event_doubt,
    event_words,
    events_of_document,
)
from needlewright.errors import UnusableInput
from needlewright.papers import ink
from needlewright.papers.sweep_chart_data import SweepChart
from needlewright.records.sheet import job_sheet
from needlewright.records.sweeps import add_sweep, followed_sweep, sweeps_of
from needlewright.records.views import JobSheet
from needlewright.records.views.sweeps import SweepView
from needlewright.web.pages import Asked, Tag
from needlewright.web.posted import Sent
from needlewright.web.security_headers import CONTENT_POLICY
from needlewright.web.sheet_saving import saving
from needlewright.web.sweeps_far import shares

FORM: Final = "bench_check-sweep"
WIDE_PX: Final = 640
NARROW_PX: Final = 270
"""Of the plots; the lettering keeps its size on a phone."""
DRAWN_KEPT: Final = 16
"""Sweeps whose charts are kept drawn; a drawing takes a second or two."""
WITH_VIDEO: Final = f"{CONTENT_POLICY}; media-src 'self'"
router = APIRouter()


@router.post("/jobs/{tag}/sweeps")
def add(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Keep a sweep video and go to its place."""
    added: list[SweepView] = []

    def keep() -> JobSheet:
        videos = sent.files("video")
        if not videos:
            raise UnusableInput(asked.texts("sweeps.none_chosen"))
        video = videos[0]
        added.append(add_sweep(asked.shop, tag, video.content(), video.name, asked.by))
        return job_sheet(asked.shop, tag)

    answer = saving(asked, sent, tag, FORM, keep, anchor="sweeps")
    asked.house.sweeps.wake()
    if not added:
        return answer
    return asked.saved(asked.at("/jobs", added[0].tag, "sweeps", added[0].id))


@router.get("/jobs/{tag}/sweeps/progress")
def progress_of_all(asked: Asked, tag: Tag) -> Response:
    """How far the sweep videos of a job are, for the sheet to ask again and again."""
    job = job_sheet(asked.shop, tag)
    read, of, trouble = shares(asked, sweeps_of(asked.shop, tag))
    facts = {"read": read, "of": of, "left_s": None, "ahead": 0, "trouble": trouble}
    return _fresh(facts | {"version": job.version})


@router.get("/jobs/{tag}/sweeps/{sweep_id}/progress")
def progress(asked: Asked, tag: Tag, sweep_id: int) -> Response:
    """How far one sweep video is."""
    view = followed_sweep(asked.shop, tag, sweep_id).view
    far = asked.house.sweeps.following(view.id)
    facts = {"done": view.followed_at is not None, "read": far.read, "of": far.of}
    return _fresh(facts | {"trouble": far.trouble})


@router.get("/jobs/{tag}/sweeps/{sweep_id}", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag, sweep_id: int) -> Response:
    """A sweep video beside the charts of its needles."""
    found = followed_sweep(asked.shop, tag, sweep_id)
    document = found.document
    page = asked.page(
        "sweeps.html",
        job=job_sheet(asked.shop, tag),
        sweep=found.view,
        far=asked.house.sweeps.following(sweep_id),
        span_s=0.0 if document is None else document["frames"][-1]["t_s"],
        charts=() if document is None else _drawn(json.dumps(document)),
        events=() if document is None else _events(document),
    )
    page.headers["Content-Security-Policy"] = WITH_VIDEO
    return page


@lru_cache(DRAWN_KEPT)
def _drawn(written: str) -> tuple[dict[str, Any], ...]:
    """A chart per needle, in the widths of a desk and of a phone, with the times of its events."""
    return tuple(
        {
            "dial": chart.dial,
            "marks": [mark.t_s for mark in chart.marks],
            "wide": _svg(chart, WIDE_PX, f"{number}w"),
            "narrow": _svg(chart, NARROW_PX, f"{number}n"),
        }
        for number, chart in enumerate(charts_of_document(json.loads(written)))
    )


def _svg(chart: SweepChart, width_px: int, mark: str) -> Markup:
    """A drawing to stand in the page: what it names inside itself gets names of its own."""
    from needlewright.papers.sweep_chart import sweep_charts_svg  # noqa: PLC0415 - slow to import

    svg = sweep_charts_svg([chart], width_px=width_px, type_stack=ink.SANS_STACK)
    svg = re.sub(r'\bid="([^"]+)"', rf'id="\1-{mark}"', svg)
    svg = re.sub(r"url\(#([^)]+)\)", rf"url(#\1-{mark})", svg)
    return Markup(svg)


def _events(document: Mapping[str, Any]) -> tuple[dict[str, Any], ...]:
    return tuple(
        {
            "t_s": event.t_s,
            "dial": event.dial,
            "words": event_words(event),
            "doubt": event_doubt(event),
        }
        for event in events_of_document(document)
    )


def _fresh(facts: dict[str, Any]) -> JSONResponse:
    return JSONResponse(facts, headers={"Cache-Control": "no-store"})
