"""Runs, photos and readings, as plain values."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from needlewright.records.words import RunSide


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
    rehearsed: str | None
    """What stood on the bench in place of a cluster, in words; None: a real one."""


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
    rejected_why: str | None
    rejected_by: str | None
    rejected_at: datetime | None
    advice: str | None
    """Why nothing was read in it and what to do about that; None: it was read, or waits."""
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
    key_cycle: int | None
    """Key-ons since power; None: not known."""


@dataclass(frozen=True, slots=True)
class RunSheet:
    """Photos and readings of one run."""

    id: int
    tag: str
    name: str
    side: RunSide
    family_version_id: int
    family_number: int
    """Which version of the family it is read by, counted from 1."""
    reader: Mapping[str, Any] | None
    by: str
    started_at: datetime
    set_aside_at: datetime | None
    set_aside_why: str
    reading_stopped_at: datetime | None
    """Since when its photos are not read any more; None: they are."""
    rehearsed: str | None
    """What stood on the bench in place of a cluster, in words; None: a real one."""
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
    path: Path | None
    """None: the store does not have it."""
