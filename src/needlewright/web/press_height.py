"""How far down a needle is pressed: the stack as typed, its height as two photos show it."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from fastapi import APIRouter
from markupsafe import Markup
from starlette.responses import HTMLResponse, Response

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
from needlewright.plans.height.height import NeedleHeight, needle_height, with_measured
from needlewright.records.jobs import add_note
from needlewright.records.sheet import job_sheet
from needlewright.records.views import JobSheet
from needlewright.rules.decision import COVERAGE_K
from needlewright.web.pages import Asked, Asking, Tag
from needlewright.web.posted import Sent, SentFile
from needlewright.web.refusals import Wrong, status_of, wrong_of
from needlewright.web.sheet_measured import family_version

WRONG: Final = 422
LIMITS: Final = ("contact", "halo", "clear", "grip")
FEWEST_PHOTOS: Final = 2
MOST_PHOTOS: Final = 8
MOST_MM: Final = 100.0
router = APIRouter()


@dataclass(frozen=True, slots=True)
class Seen:
    """The height of a needle as photos show it."""

    top_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True)
class HeightView:
    """What the page shows of one needle's height."""

    dial: Dial
    typed: Mapping[str, str]
    found: NeedleHeight | None = None
    seen: Seen | None = None
    wrong: Wrong | None = None
    notes: tuple[str, ...] = ()
    """Of the photos: which told nothing, and why."""

    @property
    def drawing(self) -> Markup:
        """The section; empty where nothing is worked out."""
        if self.found is None:
            return Markup("")
        return Markup(height_drawing(self.found, f"Needle height, {self.dial.id}"))

    @property
    def lines(self) -> tuple[str, ...]:
        """What is said, the order first."""
        return () if self.found is None else height_lines(self.found)

    @property
    def remarks(self) -> tuple[str, ...]:
        """What is said beside the order and the table of limits."""
        return tuple(
            line
            for line in self.lines[1:]
            if not any(line.startswith(f"{words}: ") for words in NAMES.values())
        )

    @property
    def seen_words(self) -> str:
        """The measured height with its expanded uncertainty."""
        if self.seen is None:
            return ""
        return f"{self.seen.top_mm:.2f} ± {COVERAGE_K * self.seen.u_mm:.2f} mm"


@router.get("/jobs/{tag}/needle-height", response_class=HTMLResponse)
def show(asked: Asked, tag: Tag) -> Response:
    """The form; worked out where the address says the lengths."""
    typed = dict(asked.request.query_params)
    job = job_sheet(asked.shop, tag)
    family = _family(asked, job)
    view = _worked(family, typed, None) if typed.get("shaft") else _empty(family, typed)
    return _page(asked, job, family, view)


@router.post("/jobs/{tag}/needle-height", response_class=HTMLResponse)
def work_out(asked: Asked, sent: Sent, tag: Tag) -> Response:
    """Work it out, and measure photos that came along; what was typed stays."""
    job = job_sheet(asked.shop, tag)
    family = _family(asked, job)
    typed = dict(sent.fields)
    if sent.ticked("keep"):
        return _kept(asked, job, family, typed)
    notes: tuple[str, ...] = ()
    try:
        seen = _seen_before(typed)
        photos = sent.files("photo")
        if photos:
            seen, notes = _measured(family, _dial(family, typed), photos)
    except NeedlewrightError as error:
        view = HeightView(_chosen(family, typed), typed, wrong=wrong_of(error))
        return _page(asked, job, family, view, status_of(error))
    return _page(asked, job, family, _worked(family, typed, seen, notes))


def _kept(asked: Asking, job: JobSheet, family: Family, typed: Mapping[str, str]) -> Response:
    """Written down as a note on the job."""
    try:
        view = _worked(family, typed, _seen_before(typed))
        if view.found is None and view.seen is None:
            raise PlanError("needle height: there is nothing to write down yet; work it out first")
        said = list(view.lines[:1])
        if view.seen is not None:
            said.append(f"measured from photos: needle's top {view.seen_words} above the face")
        add_note(asked.shop, job.tag, f"{view.dial.id}: {'; '.join(said)}", asked.by)
    except NeedlewrightError as error:
        view = HeightView(_chosen(family, typed), typed, wrong=wrong_of(error))
        return _page(asked, job, family, view, status_of(error))
    return asked.saved(f"{asked.at('/jobs', job.tag)}#notes")


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
        rows=() if view.found is None else sensitivity_rows(view.found),
        cautions=CAUTIONS,
    )


def _family(asked: Asking, job: JobSheet) -> Family:
    return family_version(asked.shop, job.family_version_id)


def _empty(family: Family, typed: Mapping[str, str]) -> HeightView:
    return HeightView(_chosen(family, typed), typed)


def _chosen(family: Family, typed: Mapping[str, str]) -> Dial:
    return family.dial(typed.get("dial", "")) or family.dials[0]


def _dial(family: Family, typed: Mapping[str, str]) -> Dial:
    name = typed.get("dial", "")
    dial = family.dial(name) if name else family.dials[0]
    if dial is None:
        known = ", ".join(one.id for one in family.dials)
        raise PlanError(f"dial '{name[:40]}': family '{family.name}' has {known}; choose one")
    return dial


def _worked(
    family: Family, typed: Mapping[str, str], seen: Seen | None, notes: tuple[str, ...] = ()
) -> HeightView:
    """The height worked out, or what is wrong with what was typed."""
    if not any(typed.get(name, "").strip() for name in STACK):
        return HeightView(_chosen(family, typed), typed, None, seen, None, notes)
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
        if seen is not None:
            found = with_measured(found, seen.top_mm, seen.u_mm)
    except NeedlewrightError as error:
        return HeightView(_chosen(family, typed), typed, None, seen, wrong_of(error), notes)
    return HeightView(dial, typed, found, seen, None, notes)


def _limit(name: str, typed: str) -> float | None:
    if not typed.strip():
        return None
    found = length_of(name, typed)
    if found.tolerance_mm:
        raise PlanError(f"{name}: given '{typed[:40]}'; a limit has no tolerance, type it as 0.3")
    return found.mm


def _seen_before(typed: Mapping[str, str]) -> Seen | None:
    """A height measured a moment ago, which the page carries along."""
    if not typed.get("top_mm"):
        return None
    try:
        top, u = float(typed["top_mm"]), float(typed.get("u_top_mm", ""))
    except ValueError:
        top = u = float("nan")
    if not (abs(top) <= MOST_MM and 0 <= u <= MOST_MM):
        raise PlanError("measured height: is no number any more; add the photos again")
    return Seen(top, u)


def _measured(
    family: Family, dial: Dial, photos: list[SentFile]
) -> tuple[Seen | None, tuple[str, ...]]:
    """What photos from different sides say of one needle."""
    # imported when a photo is really measured: its kernels take a second to load
    from needlewright.readings.standing.measure import measure_standing  # noqa: PLC0415

    if not FEWEST_PHOTOS <= len(photos) <= MOST_PHOTOS:
        raise PlanError(
            f"photos: {len(photos)} came; one tells no height, so give {FEWEST_PHOTOS} to "
            f"{MOST_PHOTOS} of the needle at rest, from different sides"
        )
    with TemporaryDirectory() as folder:
        paths = []
        for number, photo in enumerate(photos, start=1):
            path = Path(folder) / f"{number:02}{Path(photo.name).suffix.lower() or '.jpg'}"
            path.write_bytes(photo.content())
            paths.append(path)
        try:
            found = measure_standing(family, paths, [dial.id])
        except NeedlewrightError as error:
            raise PlanError(_named(str(error), paths, photos)) from error
    notes = [
        f"{photos[int(Path(name).stem) - 1].name}: {reason.replace('_', ' ')}"
        for name, reason in (
            *found.without_face, *(pair for one in found.needles for pair in one.left_out),
        )
    ]  # fmt: skip
    stands = next((one for one in found.needles if one.dial == dial.id), None)
    height = None if stands is None else stands.height_mm
    if height is None or height.value is None or height.u is None:
        why = (height.why_not if height is not None else "") or "its needle was not seen"
        raise PlanError(f"dial '{dial.id}', height from photos: {why}{_of(notes)}")
    return Seen(height.value, height.u), tuple(notes)


def _of(notes: list[str]) -> str:
    return f" ({'; '.join(notes)})" if notes else ""


def _named(said: str, paths: list[Path], photos: list[SentFile]) -> str:
    """A sentence that names photos as they were sent, not where they lay for a moment."""
    for path, photo in zip(paths, photos, strict=True):
        said = said.replace(str(path), photo.name).replace(path.name, photo.name)
    return said
