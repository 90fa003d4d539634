"""A job, from shelf to paper, as plain values."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from needlewright.records.views.findings import AnalysisView, AnswerView, OpinionView
from needlewright.records.views.runs import RunLine
from needlewright.records.views.shop import InstrumentView
from needlewright.records.views.stock import UsedPartView
from needlewright.records.words import (
    DecisionKind,
    Law,
    PaperKind,
    PhotoKind,
    PhotoStage,
    Stage,
    WaitsFor,
)

StageState = Literal["to_do", "in_hand", "finished"]


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
    goes_on: bool = False
    """Whether it began what is on at the bench now, so that undo passes over it."""


@dataclass(frozen=True, slots=True)
class Undone:
    """What was taken back, and whose it was."""

    what: str
    by: str
    at: datetime
    goes_on: str | None = None
    """What was saved later and was passed over, because it is on at the bench; None: nothing."""


@dataclass(frozen=True, slots=True)
class JobSheet:
    """Everything of one job but its readings."""

    id: int
    version: int
    """To be handed back as `seen` with what is saved."""
    tag: str
    family: str
    family_version_id: int
    family_number: int
    """Which version of the family the job is worked by, counted from 1."""
    serial: str | None
    variant: str | None
    built: str | None
    """When the cluster was: a year, month or day, as exactly as it is known."""
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
    answers: tuple[AnswerView, ...]
    analyses: tuple[AnalysisView, ...]
    opinions: tuple[OpinionView, ...]
    """Oldest first; those that were replaced stay, and say so."""
    parts: tuple[UsedPartView, ...]
    """Parts out of stock that are in it, with their batches."""
    papers: tuple[PaperView, ...]
    visits: tuple[Visit, ...]
    """Other jobs of the same cluster, newest first."""

    def stage_of(self, stage: Stage) -> StageView:
        """The part of the work of that name."""
        return next(one for one in self.stages if one.stage == stage)


@dataclass(frozen=True, slots=True)
class OdometerState:
    """Whether the odometer's outcome lets the job be returned."""

    outcome: str
    lawful: bool
    sentence: str
