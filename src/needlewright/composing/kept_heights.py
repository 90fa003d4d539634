"""Needle heights measured from photos of a job, kept with their photos and reasons."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

from needlewright.errors import NeedlewrightError, PlanError, RecordError
from needlewright.families.model import Dial, Family
from needlewright.records.needle_heights import (
    HeightPhoto,
    height_name,
    is_height,
    keep_needle_height,
)
from needlewright.records.opening import Shop
from needlewright.records.sheet import job_sheet
from needlewright.records.views import AnalysisView, JobPhotoView, JobSheet
from needlewright.rules.decision import COVERAGE_K

FEWEST_PHOTOS: Final = 2
MOST_PHOTOS: Final = 8
USED: Final = "measured in it"


@dataclass(frozen=True, slots=True)
class SentPhoto:
    """A photo of a resting needle, as somebody sent it."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class SeenIn:
    """What one photo did to a height."""

    name: str
    lever_mm: float | None
    """How far a millimetre of height moves the needle sideways in it, mm; None: left out."""
    why_not: str = ""
    """Why it was left out."""


@dataclass(frozen=True, slots=True)
class SeenHeight:
    """The height of a needle as photos show it, and what it rests on."""

    top_mm: float
    """Face to the needle's top surface."""
    u_mm: float
    """Standard uncertainty (k = 1)."""
    photos: tuple[SeenIn, ...]
    """In the order they were sent."""
    chi2: float | None = None
    """Of the needle's place in the photos about one resting needle."""
    degrees_of_freedom: int | None = None

    @property
    def words(self) -> str:
        """With its expanded uncertainty (k = 2)."""
        return f"{self.top_mm:.2f} ± {COVERAGE_K * self.u_mm:.2f} mm"

    @property
    def left_out(self) -> tuple[SeenIn, ...]:
        """Photos that told nothing."""
        return tuple(one for one in self.photos if one.lever_mm is None)


@dataclass(frozen=True, slots=True)
class KeptHeight:
    """A needle's height as the job keeps it."""

    dial: str
    typed: Mapping[str, str]
    """Lengths and limits, as they were typed."""
    seen: SeenHeight | None
    shots: tuple[tuple[SeenIn, JobPhotoView], ...]
    """Photos that are still on the job, with what each did."""
    by: str
    at: datetime


def measure_height(family: Family, dial: Dial, photos: Sequence[SentPhoto]) -> SeenHeight:
    """Measure the height of one needle from photos from different sides.

    Parameters
    ----------
    family
        The cluster design.
    dial
        Whose needle.
    photos
        Two to eight of the needle at rest.

    Returns
    -------
    SeenHeight
        With what each photo did.

    Raises
    ------
    PlanError
        If the photos are too few or too many, one cannot be used, or they tell no height.
    """
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
            path.write_bytes(photo.content)
            paths.append(path)
        try:
            found = measure_standing(family, paths, [dial.id])
        except NeedlewrightError as error:
            raise PlanError(_named(str(error), paths, photos)) from error
    [stands] = found.needles
    levers = {
        Path(name).name: lever for name, lever in zip(stands.photos, stands.levers, strict=False)
    }
    reasons = {Path(name).name: why for name, why in (*found.without_face, *stands.left_out)}
    each = tuple(
        SeenIn(
            photo.name,
            levers.get(path.name),
            reasons.get(path.name, "").replace("_", " "),
        )
        for path, photo in zip(paths, photos, strict=True)
    )
    height = stands.height_mm
    if height.value is None or height.u is None:
        said = "; ".join(f"{one.name}: {one.why_not}" for one in each if one.why_not)
        raise PlanError(
            f"dial '{dial.id}', height from photos: {height.why_not}{f' ({said})' * bool(said)}"
        )
    return SeenHeight(height.value, height.u, each, stands.chi2, stands.degrees_of_freedom)


def _named(said: str, paths: Sequence[Path], photos: Sequence[SentPhoto]) -> str:
    """A sentence that names photos as they were sent, not where they lay for a moment."""
    for path, photo in zip(paths, photos, strict=True):
        said = said.replace(str(path), photo.name).replace(path.name, photo.name)
    return said


def keep_height(
    shop: Shop,
    tag: str,
    dial: str,
    typed: Mapping[str, str],
    seen: SeenHeight | None,
    *,
    photos: Sequence[SentPhoto] = (),
    by: str | None = None,
    note: str = "",
) -> JobSheet:
    """Keep what was typed and measured of a needle's height, in place of the one before.

    Parameters
    ----------
    shop
        The shop.
    tag
        Of the job.
    dial
        Id of its dial.
    typed
        Lengths and limits; what is empty is not kept.
    seen
        As measured; None: no photos were.
    photos
        Those it was measured in; none: those kept before stay.
    by
        Who keeps it.
    note
        Written on the job in the same step; empty: none.

    Returns
    -------
    JobSheet
        As it now is.

    Raises
    ------
    PictureError, JobError, RecordError
        As `records.needle_heights.keep_needle_height`.
    """
    before = _view(job_sheet(shop, tag), dial)
    ids = () if before is None else tuple(_document(before).get("photo_ids", ()))
    document = {
        "typed": {name: words for name, words in typed.items() if words.strip()},
        "seen": None if seen is None else _seen_document(seen),
        "photo_ids": list(ids) if seen is not None else [],
    }
    sent: tuple[HeightPhoto, ...] = ()
    if seen is not None and photos:
        sent = tuple(
            HeightPhoto(photo.content, photo.name, _note_of(dial, one))
            for photo, one in zip(photos, seen.photos, strict=True)
        )
    return keep_needle_height(shop, tag, dial, document, photos=sent, by=by, note=note)


def _note_of(dial: str, one: SeenIn) -> str:
    return f"{height_name(dial)}: {USED if one.lever_mm is not None else one.why_not}"


def kept_height(job: JobSheet, dial: str) -> KeptHeight | None:
    """The height of a dial's needle as the job keeps it.

    Parameters
    ----------
    job
        Its sheet.
    dial
        Id of the dial.

    Returns
    -------
    KeptHeight or None
        None where none is kept.

    Raises
    ------
    RecordError
        If what is kept cannot be understood by this version of the program.
    """
    view = _view(job, dial)
    if view is None:
        return None
    document = _document(view)
    try:
        seen = None if document["seen"] is None else _seen_from(document["seen"])
        typed = {str(name): str(words) for name, words in document["typed"].items()}
        there = {photo.id: photo for photo in job.photos}
        each = () if seen is None else seen.photos
        shots = tuple(
            (one, there[number])
            for one, number in zip(each, document["photo_ids"], strict=True)
            if number in there
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise RecordError(
            f"job {job.tag}, {view.name}: what is kept cannot be understood by this version of the "
            "program; take it off and measure anew"
        ) from error
    return KeptHeight(dial, typed, seen, shots, view.by, view.at)


def dials_with_height(job: JobSheet) -> tuple[str, ...]:
    """Ids of the dials whose needle's height the job keeps, in the order it was kept."""
    return tuple(
        view.name.removeprefix(height_name("")) for view in job.analyses if is_height(view.name)
    )


def _view(job: JobSheet, dial: str) -> AnalysisView | None:
    return next((one for one in job.analyses if one.name == height_name(dial)), None)


def _document(view: AnalysisView) -> Mapping[str, Any]:
    return view.pieces[0] if view.pieces else {}


def _seen_document(seen: SeenHeight) -> dict[str, Any]:
    return {
        "top_mm": seen.top_mm,
        "u_mm": seen.u_mm,
        "chi2": seen.chi2,
        "degrees_of_freedom": seen.degrees_of_freedom,
        "photos": [
            {"name": one.name, "lever_mm": one.lever_mm, "why_not": one.why_not}
            for one in seen.photos
        ],
    }


def _seen_from(document: Mapping[str, Any]) -> SeenHeight:
    return SeenHeight(
        float(document["top_mm"]),
        float(document["u_mm"]),
        tuple(
            SeenIn(str(one["name"]), one["lever_mm"], str(one["why_not"]))
            for one in document["photos"]
        ),
        document["chi2"],
        document["degrees_of_freedom"],
    )
