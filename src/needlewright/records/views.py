"""What the records give back: plain, frozen, and free of the database."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, Literal

from needlewright.records.words import (
    DecisionKind,
    Law,
    PaperKind,
    PhotoKind,
    PhotoStage,
    RunSide,
    Stage,
    WaitsFor,
)

StageState = Literal["to_do", "in_hand", "finished"]


@dataclass(frozen=True, slots=True)
class Settings:
    """Who the shop is and what it works by; empty: not stated."""

    name: str
    place: str
    law: Law
    local_law: str
    """The local law on odometers, in words."""
    odometer_unit: str
    authorised_by: str
    supply: str
    battery_wait: str
    invented: bool
    """A demonstration; every paper says so."""
    version: int


@dataclass(frozen=True, slots=True)
class PersonView:
    """Somebody who works, or worked, in the shop."""

    name: str
    has_left: bool


@dataclass(frozen=True, slots=True)
class InstrumentView:
    """An instrument of the bench."""

    name: str
    number: str
    due: date | None
    traceable_to: str | None
    retired: bool


@dataclass(frozen=True, slots=True)
class FamilyView:
    """One version of a family folder."""

    version_id: int
    name: str
    content_hash: str
    stored_at: datetime
    files: tuple[tuple[str, str], ...]
    """`(path, sha256)`."""


@dataclass(frozen=True, slots=True)
class ShelfLine:
    """One job as the shelf shows it."""

    tag: str
    family: str
    variant: str | None
    serial: str | None
    owner: str
    complaint: str
    stage: Stage
    waits_for: WaitsFor
    promised: date | None
    opened_at: datetime
    closed_at: datetime | None


@dataclass(frozen=True, slots=True)
class Shelf:
    """A part of the shelf, and how many lines the whole has."""

    lines: tuple[ShelfLine, ...]
    count: int


@dataclass(frozen=True, slots=True)
class StageView:
    """A part of the work."""

    stage: Stage
    words: str
    state: StageState
    started_at: datetime | None
    started_by: str | None
    finished_at: datetime | None
    finished_by: str | None


@dataclass(frozen=True, slots=True)
class BoxItemView:
    """One thing that belongs in the box."""

    what: str
    ticked: bool
    note: str


@dataclass(frozen=True, slots=True)
class UnitCheckView:
    """One part of the wrong-unit check; None: not looked at yet."""

    what: str
    words: str
    ok: bool | None
    note: str


@dataclass(frozen=True, slots=True)
class ReceivedView:
    """How the cluster came in."""

    day: date | None
    sender: str
    contents: tuple[BoxItemView, ...]
    packing: str
    damage: str
    condition: str
    odometer_unreadable: str
    checks: tuple[UnitCheckView, ...]


@dataclass(frozen=True, slots=True)
class ReturnedView:
    """How the cluster went out."""

    day: date | None
    contents: tuple[BoxItemView, ...]
    packing: str
    carrier: str
    law: Law | None
    procedure: str
    notice_mileage_before: float | None
    notice_day: date | None
    notice_attached_to: str


@dataclass(frozen=True, slots=True)
class JobPhotoView:
    """A photo of a box, its packing, a damage, an odometer."""

    id: int
    stage: PhotoStage
    kind: PhotoKind
    sha256: str
    name: str
    note: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class DecisionView:
    """What was decided, and why."""

    id: int
    kind: DecisionKind
    text: str
    why: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class NoteView:
    """Anything worth writing down."""

    id: int
    text: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class PaperView:
    """One version of one paper."""

    id: int
    tag: str
    kind: PaperKind
    number: str
    version: int
    name: str
    replaces: str | None
    replaces_because: str | None
    replaced_by: str | None
    pdf_sha256: str
    json_sha256: str
    label_sha256: str | None
    issued: date
    issued_at: datetime
    by: str


@dataclass(frozen=True, slots=True)
class RunLine:
    """One run as the job sheet names it."""

    id: int
    name: str
    side: RunSide
    by: str
    started_at: datetime
    steps: int
    photos: int
    unread: int
    """Photos nobody has read yet."""
    typed: bool
    set_aside_at: datetime | None
    set_aside_why: str


@dataclass(frozen=True, slots=True)
class Visit:
    """An earlier or later job of the same cluster."""

    tag: str
    complaint: str
    opened_at: datetime
    closed_at: datetime | None
    papers: tuple[PaperView, ...]
    work_done: tuple[str, ...]
    runs: tuple[RunLine, ...]


@dataclass(frozen=True, slots=True)
class EditView:
    """Something that was saved."""

    what: str
    by: str
    at: datetime
    undoable: bool
    undone: bool
    changes: tuple[tuple[str, Any, Any], ...]
    """`(field, before, after)`."""


@dataclass(frozen=True, slots=True)
class Undone:
    """What was taken back, and whose it was."""

    what: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class JobSheet:
    """Everything of one job but its readings."""

    id: int
    version: int
    """To be handed back as `seen` with what is saved."""
    tag: str
    family: str
    family_version_id: int
    serial: str | None
    variant: str | None
    owner: str
    owner_contact: str
    vehicle: str
    max_speed: float | None
    complaint: str
    promised: date | None
    odometer_unit: str
    odometer_in: float | None
    odometer_out: float | None
    odometer_none: str | None
    work_done: tuple[str, ...]
    remarks: tuple[str, ...]
    deviations: str | None
    external_results: str | None
    temperature: str | None
    stage: Stage
    waits_for: WaitsFor
    opened_at: datetime
    closed_at: datetime | None
    return_of: str | None
    """Tag of the job this one is marked a return of."""
    stages: tuple[StageView, ...]
    received: ReceivedView
    returned: ReturnedView
    photos: tuple[JobPhotoView, ...]
    instruments: tuple[InstrumentView, ...]
    runs: tuple[RunLine, ...]
    decisions: tuple[DecisionView, ...]
    notes: tuple[NoteView, ...]
    papers: tuple[PaperView, ...]
    visits: tuple[Visit, ...]
    """Other jobs of the same cluster, newest first."""

    def stage_of(self, stage: Stage) -> StageView:
        """The part of the work of that name."""
        return next(one for one in self.stages if one.stage == stage)


@dataclass(frozen=True, slots=True)
class ReadingView:
    """One needle in one photo, as it was read, and what was said of it since."""

    id: int
    dial: str
    status: str
    unit: str
    reason: str | None
    angle_deg: float | None
    u_angle_deg: float | None
    value: float | None
    u_value: float | None
    offset_mm: float | None
    flags: tuple[str, ...]
    components_deg: tuple[tuple[str, float], ...]
    line_px: tuple[tuple[float, float], tuple[float, float]] | None
    read_at: datetime
    rejected_why: str | None
    rejected_by: str | None
    rejected_at: datetime | None


@dataclass(frozen=True, slots=True)
class RunPhotoView:
    """One photo of a run."""

    id: int
    run_id: int
    step: int
    sha256: str
    name: str
    by: str
    added_at: datetime
    read_at: datetime | None
    found: bool | None
    reason: str | None
    problem: str | None
    projection: Mapping[str, Any] | None
    overlay_sha256: str | None
    replaces_id: int | None
    readings: tuple[ReadingView, ...]


@dataclass(frozen=True, slots=True)
class ToldView:
    """What one dial was told at one step."""

    position: int
    step: int
    dial: str
    unit: str
    approach: str
    commanded: float | None
    temperature_c: float | None
    u_commanded: float | None


@dataclass(frozen=True, slots=True)
class RunSheet:
    """Photos and readings of one run."""

    id: int
    tag: str
    name: str
    side: RunSide
    family_version_id: int
    reader: Mapping[str, Any] | None
    by: str
    started_at: datetime
    set_aside_at: datetime | None
    set_aside_why: str
    told: tuple[ToldView, ...]
    photos: tuple[RunPhotoView, ...]
    """Those that count, in the order of their steps."""
    older_photos: tuple[RunPhotoView, ...]
    """Taken again or taken back."""

    @property
    def steps_without_photo(self) -> tuple[int, ...]:
        """Steps that still want one."""
        have = {photo.step for photo in self.photos}
        return tuple(dict.fromkeys(t.step for t in self.told if t.step not in have))


@dataclass(frozen=True, slots=True)
class PhotoToRead:
    """A photo nobody has read yet."""

    photo_id: int
    run_id: int
    tag: str
    family_version_id: int
    name: str
    path: Path


@dataclass(frozen=True, slots=True)
class OdometerState:
    """Whether the odometer's outcome lets the job be returned."""

    outcome: str
    lawful: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class ShopCheck:
    """What verifying the records found."""

    originals: int
    problems: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BackupSummary:
    """What a backup holds."""

    file: Path
    jobs: int
    originals: int
    size: int
    """Of all files in it, in bytes."""
    made_at: datetime
    left_out: tuple[str, ...]
    """Originals that are damaged or gone, where that was allowed."""
