"""Every number can be asked "why"; the answer is a page, which a script shows beside the sheet."""

from fastapi import APIRouter, HTTPException
from starlette.responses import HTMLResponse, Response

from needlewright.composing.judged import Side
from needlewright.papers.wording import mileage, sentence_for_people
from needlewright.records.views import ReadingView, RunPhotoView
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.sheet_measured import family_version, whole_run
from needlewright.web.sheet_run_view import DialView, RowView, RunView
from needlewright.web.sheet_view import SheetView
from needlewright.web.sheet_why_model import Evidence, Section, Why
from needlewright.web.sheet_why_needle import needle_sections
from needlewright.web.sheet_why_row import About, row_sections

NOT_FOUND = 404
router = APIRouter()


@router.get("/jobs/{tag}/why/{side}/{dial}/{index}", response_class=HTMLResponse)
def row(asked: Asked, tag: Tag, side: str, dial: str, index: int) -> Response:
    """Why a row of a run says what it says."""
    view = SheetView(asked.shop, asked.texts, tag)
    run = view.run(side)
    which: Side = "left" if side == "left" else "found"
    of_dial = None if run is None else next((d for d in run.dials if d.dial == dial), None)
    if run is None or of_dial is None or not 0 <= index < len(of_dial.rows):
        raise HTTPException(NOT_FOUND)
    t, one = asked.texts, of_dial.rows[index]
    family = family_version(asked.shop, run.sheet.family_version_id)
    measured = whole_run(asked.shop, run.sheet).measured
    photo, reading = _seen(run, one, dial)
    about, rejected = About(t, family, measured, of_dial.judged.dial), ""
    if reading is not None and reading.rejected_at is not None:
        rejected = t("why.rejected", why=reading.rejected_why or "", by=reading.rejected_by or "")
    told = f"{one.told} {one.approach}" if one.told else t("runs.at_rest")
    why = Why(
        title=t("why.row.title", dial=dial, told=told, side=t(f"runs.side.{which}")),
        answer=one.words,
        back=f"{side}-dial-{dial}",
        sections=row_sections(about, of_dial, which, index),
        evidence=_evidence(asked, view.job.tag, run, photo, reading),
        reading_id=reading.id if reading is not None and reading.status == "read" else None,
        rejected=rejected,
    )
    return asked.page("sheet/why.html", why=why, job=view.job)


@router.get("/jobs/{tag}/why-dial/{side}/{dial}", response_class=HTMLResponse)
def whole_dial(asked: Asked, tag: Tag, side: str, dial: str) -> Response:
    """Why a dial as a whole gets its words."""
    view = SheetView(asked.shop, asked.texts, tag)
    run = view.run(side)
    of_dial = None if run is None else next((d for d in run.dials if d.dial == dial), None)
    if of_dial is None:
        raise HTTPException(NOT_FOUND)
    return asked.page("sheet/why.html", why=_dial_why(asked, side, of_dial), job=view.job)


def _dial_why(asked: Asking, side: str, dial: DialView) -> Why:
    t, rule = asked.texts, dial.judged.document["rule"]
    sections = [
        Section(
            "summary",
            t("why.dial.summary"),
            dial.summary,
            formula=t("why.result.rule"),
            source=t("why.dial.source"),
            notes=dial.notes,
        )
    ]
    if rule is not None:
        points = ", ".join(f"{point:.4g}" for point in rule["check_points"])
        sections.append(
            Section(
                "rule",
                t("why.dial.rule"),
                dial.rule,
                inputs=(
                    (t("why.allowed.applies"), sentence_for_people(rule["applies"])),
                    (t("why.dial.points"), points or t("why.dial.no_points")),
                ),
                source=rule["source"],
            )
        )
    title = t("why.dial.title", dial=dial.dial, side=t(f"runs.side.{side}"))
    return Why(title, dial.words, f"{side}-dial-{dial.dial}", tuple(sections))


@router.get("/jobs/{tag}/why-needle/{dial}", response_class=HTMLResponse)
def needle(asked: Asked, tag: Tag, dial: str) -> Response:
    """Why a needle is to be turned, or not."""
    view = SheetView(asked.shop, asked.texts, tag)
    run = view.run("found")
    of_dial = view.family.dial(dial)
    found = next((one for one in view.needles if one.dial == dial), None)
    if run is None or of_dial is None or found is None:
        raise HTTPException(NOT_FOUND)
    t = asked.texts
    measured = whole_run(asked.shop, run.sheet).measured
    key = found.verdict or "none"
    why = Why(
        title=t("why.needle.title", dial=dial),
        answer=t(f"needles.verdict.{key}"),
        back=f"needle-{dial}",
        sections=needle_sections(t, view.family, measured, of_dial, found.one),
    )
    return asked.page("sheet/why.html", why=why, job=view.job)


@router.get("/jobs/{tag}/why-odometer", response_class=HTMLResponse)
def odometer(asked: Asked, tag: Tag) -> Response:
    """Why the odometer's outcome is lawful, or not."""
    view = SheetView(asked.shop, asked.texts, tag)
    t, state = asked.texts, view.odometer
    answer = t("why.odometer.open") if state is None else state.sentence
    section = Section(
        "odometer",
        t("why.odometer.heading"),
        answer,
        inputs=(
            (t("sheet.odometer_in"), _mileage(view.job.odometer_in, view.job.odometer_unit)),
            (t("sheet.odometer_out"), _mileage(view.job.odometer_out, view.job.odometer_unit)),
        ),
        formula=t("why.odometer.rule"),
        source=t("why.odometer.source"),
    )
    why = Why(t("why.odometer.title"), answer, "part-returned", (section,))
    return asked.page("sheet/why.html", why=why, job=view.job)


def _mileage(value: float | None, unit: str) -> str:
    return "–" if value is None else mileage(value, unit)


def _seen(run: RunView, row: RowView, dial: str) -> tuple[RunPhotoView | None, ReadingView | None]:
    photo = next((p for p in run.sheet.photos if p.step == row.step), None)
    if photo is None:
        return None, None
    return photo, next((r for r in photo.readings if r.dial == dial), None)


def _evidence(
    asked: Asking,
    tag: str,
    run: RunView,
    photo: RunPhotoView | None,
    reading: ReadingView | None,
) -> Evidence | None:
    if photo is None or reading is None:
        return None
    crop = ""
    if photo.projection is not None:
        where = asked.at("/jobs", tag, "run", run.sheet.id, "photos", photo.id)
        crop = f"{where}/{reading.dial}.jpg"
    overlay = "" if photo.overlay_sha256 is None else asked.at("/originals", photo.overlay_sha256)
    return Evidence(
        crop=crop,
        photo=asked.at("/originals", photo.sha256),
        overlay=overlay,
        caption=asked.texts("why.evidence", photo=photo.name, by=photo.by, step=photo.step),
        sha256=photo.sha256,
    )
