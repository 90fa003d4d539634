"""How far down a needle is pressed: the stack as typed, its height as two photos show it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlencode

from fastapi import APIRouter
from markupsafe import Markup
from starlette.responses import HTMLResponse, Response

from needlewright.composing.kept_heights import (
    KeptHeight,
    SeenHeight,
    SentPhoto,
    dials_with_height,
    keep_height,
    kept_height,
    measure_height,
)
from needlewright.composing.needle_height import (
    CAUTIONS,
    GAUGE_TOLERANCE_MM,
    NAMES,
    height_drawing,
    height_lines,
    limits_of,
    sensitivity_rows,
)
from needlewright.composing.needle_lengths import STACK, length_of, stack_of
from needlewright.errors import NeedlewrightError, PlanError
from needlewright.families.model import Dial, Family
from needlewright.plans.height.height import NeedleHeight, needle_height, none_fits, with_measured
from needlewright.records.needle_heights import take_off_needle_height
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent
from needlewright.web.refusals import Wrong, status_of, wrong_of
from needlewright.web.sheet_measured import family_version

WRONG: Final = 422
SHOWN: Final = 200
"""Also where lengths that are kept do not fit the family any more: nobody has just typed them."""
LIMITS: Final = ("contact", "halo", "clear", "grip")
router = APIRouter()


@dataclass(frozen=True, slots=True)
class HeightView:
    """What the page shows of one needle's height."""

    dial: Dial
    typed: Mapping[str, str]
    found: NeedleHeight | None = None
    kept: KeptHeight | None = None
    """With its photos; None: nothing is kept of this needle."""
    wrong: Wrong | None = None

    @property
    def seen(self) -> SeenHeight | None:
        """As photos show it."""
        return None if self.kept is None else self.kept.seen

    @property
    def drawing(self) -> Markup:
        """The section; empty where nothing is worked out."""
        if self.found is None or none_fits(self.found):
            return Markup("")
        return Markup(height_drawing(self.found, f"Needle height, {self.dial.id}"))

    @property
    def lines(self) -> tuple[str, ...]:
        """What is said, the order first."""
        return () if self.found is None else height_lines(self.found)

    @property
    def remarks(self) -> tuple[str, ...]:
        """What is said beside the order and the table of limits."""
        if self.found is not None and none_fits(self.found):
            return self.lines[1:]
        return tuple(
            line
            for line in self.lines[1:]
            if not any(line.startswith(f"{words}: ") for words in NAMES.values())
        )


@router.get("/jobs/{tag}/needle-height", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag) -> Response:
    """What is kept of a needle's height; worked out anew where the address says the lengths."""
    job = job_sheet(asked.shop, tag)
    family = _family(asked, job)
    return _shown(asked, job, family, dict(asked.request.query_params))


@router.post("/jobs/{tag}/needle-height", response_class=HTMLResponse)
def work_out(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Work it out; photos that came along are measured and kept, what was typed stays."""
    job = job_sheet(asked.shop, tag)
    family = _family(asked, job)
    typed = dict(sent.fields)
    try:
        dial = _dial(family, typed)
        photos = [SentPhoto(one.name, one.content()) for one in sent.files("photo")]
        if photos:
            return _measured(asked, job, dial, typed, photos)
        view = _worked(family, typed, kept_height(job, dial.id))
        if sent.ticked("keep") and view.wrong is None:
            return _kept(asked, job, view)
    except NeedlewrightError as error:
        return _refused(asked, job, family, typed, error)
    return _page(asked, job, family, view)


@router.post("/jobs/{tag}/needle-height/off")
def take_off(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Take a height and its photos off; undo on the sheet brings them back."""
    job = job_sheet(asked.shop, tag)
    family = _family(asked, job)
    typed = dict(sent.fields)
    try:
        dial = _dial(family, typed)
        take_off_needle_height(asked.shop, job.tag, dial.id, asked.by)
    except NeedlewrightError as error:
        return _refused(asked, job, family, typed, error)
    return asked.saved(_place(asked, job, dial))


def _shown(asked: Asking, job: JobSheet, family: Family, typed: Mapping[str, str]) -> Response:
    try:
        kept = kept_height(job, _chosen(family, typed).id)
    except NeedlewrightError as error:
        return _refused(asked, job, family, typed, error)
    if not typed.get("shaft") and kept is not None:
        typed = {**kept.typed, "dial": kept.dial}
        return _page(asked, job, family, _worked(family, typed, kept), SHOWN)
    return _page(asked, job, family, _worked(family, typed, kept))


def _measured(
    asked: Asking,
    job: JobSheet,
    dial: Dial,
    typed: Mapping[str, str],
    photos: Sequence[SentPhoto],
) -> Response:
    """Measured and kept at once; lengths that cannot be used do not hold the photos up."""
    family = _family(asked, job)
    seen = measure_height(family, dial, photos)
    before = kept_height(job, dial.id)
    is_usable = _worked(family, typed, None).wrong is None
    lengths = _lengths(typed) if is_usable else {} if before is None else before.typed
    job = keep_height(asked.shop, job.tag, dial.id, lengths, seen, photos=photos, by=asked.by)
    if is_usable:
        return asked.saved(_place(asked, job, dial))
    return _page(asked, job, family, _worked(family, typed, kept_height(job, dial.id)))


def _kept(asked: Asking, job: JobSheet, view: HeightView) -> Response:
    """The lengths kept, and what came of them written down as a note on the job."""
    if view.found is None and view.seen is None:
        raise PlanError("needle height: there is nothing to write down yet; work it out first")
    said = list(view.lines[:1])
    if view.seen is not None:
        said.append(f"measured from photos: needle's top {view.seen.words} above the face")
    note = f"{view.dial.id}: {'; '.join(said)}"
    typed = _lengths(view.typed)
    keep_height(asked.shop, job.tag, view.dial.id, typed, view.seen, by=asked.by, note=note)
    return asked.saved(f"{asked.at('/jobs', job.tag)}#notes")


def _lengths(typed: Mapping[str, str]) -> dict[str, str]:
    return {name: typed.get(name, "") for name in (*STACK, "gauge", *LIMITS)}


def _place(asked: Asking, job: JobSheet, dial: Dial) -> str:
    where = asked.at("/jobs", job.tag, "needle-height")
    return f"{where}?{urlencode({'dial': dial.id})}#height-answer"


def _refused(
    asked: Asking,
    job: JobSheet,
    family: Family,
    typed: Mapping[str, str],
    error: NeedlewrightError,
) -> Response:
    view = HeightView(_chosen(family, typed), typed, wrong=wrong_of(error))
    return _page(asked, job, family, view, status_of(error))


def _page(
    asked: Asking, job: JobSheet, family: Family, view: HeightView, status: int = 0
) -> HTMLResponse:
    return asked.page(
        "press_height.html",
        status or (WRONG if view.wrong else 200),
        job=job,
        family=family,
        view=view,
        stack=STACK,
        limits=LIMITS,
        stated={
            "contact": view.dial.needle.contact_mm,
            "halo": view.dial.needle.halo_mm,
        },
        names=NAMES,
        others=[one for one in dials_with_height(job) if one != view.dial.id],
        rows=() if view.found is None else sensitivity_rows(view.found),
        cautions=CAUTIONS,
    )


def _family(asked: Asking, job: JobSheet) -> Family:
    return family_version(asked.shop, job.family_version_id)


def _chosen(family: Family, typed: Mapping[str, str]) -> Dial:
    return family.dial(typed.get("dial", "")) or family.dials[0]


def _dial(family: Family, typed: Mapping[str, str]) -> Dial:
    name = typed.get("dial", "")
    dial = family.dial(name) if name else family.dials[0]
    if dial is None:
        known = ", ".join(one.id for one in family.dials)
        raise PlanError(f"dial '{name[:40]}': family '{family.name}' has {known}; choose one")
    return dial


def _worked(family: Family, typed: Mapping[str, str], kept: KeptHeight | None) -> HeightView:
    """The height worked out, or what is wrong with what was typed."""
    if not any(typed.get(name, "").strip() for name in STACK):
        return HeightView(_chosen(family, typed), typed, None, kept)
    try:
        dial = _dial(family, typed)
        limits = {name: _limit(name, typed.get(name, "")) for name in LIMITS}
        gauge = typed.get("gauge", "").strip()
        found = needle_height(
            stack_of({name: typed.get(name, "") for name in STACK}, dial),
            limits_of(dial, contact_mm=limits["contact"], halo_mm=limits["halo"],
                      lens_mm=limits["clear"], grip_mm=limits["grip"]),
            set_to=length_of("gauge", gauge) if gauge else None,
            gauge_tolerance_mm=GAUGE_TOLERANCE_MM,
        )  # fmt: skip
        if kept is not None and kept.seen is not None:
            found = with_measured(found, kept.seen.top_mm, kept.seen.u_mm)
    except NeedlewrightError as error:
        return HeightView(_chosen(family, typed), typed, None, kept, wrong_of(error))
    return HeightView(dial, typed, found, kept)


def _limit(name: str, typed: str) -> float | None:
    if not typed.strip():
        return None
    found = length_of(name, typed)
    if found.tolerance_mm:
        raise PlanError(f"{name}: given '{typed[:40]}'; a limit has no tolerance, type it as 0.3")
    return found.mm
