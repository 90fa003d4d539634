"""The photos of a stored run read once more by another version of its family."""

from collections.abc import Callable
from dataclasses import dataclass

from needlewright.readings.batch import Outcome, PictureProblem, read_photos
from needlewright.readings.model import Reading
from needlewright.records.families import load_version
from needlewright.records.family_versions import family_version
from needlewright.records.opening import Shop
from needlewright.records.runs import run_sheet
from needlewright.records.sheet import job_sheet
from needlewright.records.views import FamilyView, ReadingView, RunPhotoView


@dataclass(frozen=True, slots=True)
class RereadNeedle:
    """One needle at one step: what is stored of it, and what the other version says."""

    step: int
    photo: str
    dial: str
    unit: str
    angle_deg: float | None
    """As stored; None: it was refused, or nobody has read it."""
    u_angle_deg: float | None
    value: float | None
    again_angle_deg: float | None
    """By the other version; None: refused."""
    again_u_angle_deg: float | None
    again_value: float | None
    again_reason: str | None
    """Why it was refused, a word of `readings.flags`, or a sentence on the picture."""

    @property
    def turn_deg(self) -> float | None:
        """How far the direction differs, positive clockwise; None where either has none."""
        if self.angle_deg is None or self.again_angle_deg is None:
            return None
        return self.again_angle_deg - self.angle_deg


@dataclass(frozen=True, slots=True)
class Rereading:
    """A run beside what another version of its family makes of its photos."""

    job: str
    run: str
    family: str
    number: int
    """The version the run is read by."""
    again_number: int
    """The version it was read by now."""
    needles: tuple[RereadNeedle, ...]


def reread(
    shop: Shop,
    run_id: int,
    number: int | None = None,
    on_progress: Callable[[int, int], None] | None = None,
    workers: int | None = None,
) -> Rereading:
    """Read the photos of a run by another version of its family.

    Parameters
    ----------
    shop
        The shop; nothing in it is changed.
    run_id
        Whose photos.
    number
        Of the version; None: the one new jobs are worked by.
    on_progress
        Called with the number of photos finished and of all.
    workers
        Processes; None: one for each core this process may use.

    Returns
    -------
    Rereading
        Stored and new readings, needle by needle.

    Raises
    ------
    RecordError
        If there is no such run or version, or an original is damaged.
    """
    run = run_sheet(shop, run_id)
    name = job_sheet(shop, run.tag).family
    version: FamilyView = family_version(shop, name, number)
    family = load_version(shop, version.version_id)
    outcomes = read_photos(
        family,
        [shop.originals.path(photo.sha256) for photo in run.photos],
        on_progress,
        workers,
    )
    needles = [
        _needle(photo, stored, outcome)
        for photo, outcome in zip(run.photos, outcomes, strict=True)
        for stored in photo.readings
    ]
    return Rereading(run.tag, run.name, name, run.family_number, version.number, tuple(needles))


def _needle(photo: RunPhotoView, stored: ReadingView, outcome: Outcome) -> RereadNeedle:
    reading, reason = _said(stored.dial, outcome)
    return RereadNeedle(
        step=photo.step,
        photo=photo.name,
        dial=stored.dial,
        unit=stored.unit,
        angle_deg=stored.angle_deg,
        u_angle_deg=stored.u_angle_deg,
        value=stored.value,
        again_angle_deg=reading.angle_deg if reading else None,
        again_u_angle_deg=reading.u_angle_deg if reading else None,
        again_value=reading.value if reading else None,
        again_reason=reason,
    )


def _said(dial: str, outcome: Outcome) -> tuple[Reading | None, str | None]:
    if isinstance(outcome, PictureProblem):
        return None, outcome.reason
    found = {reading.dial: reading for reading in outcome.readings}
    reading = found.get(dial)
    if reading is None:
        return None, outcome.reason or "not_in_family"
    return reading, reading.reason
