"""The shop itself, as plain values."""

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from needlewright.records.words import Law


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
    number: int
    """Counts the versions of one family, from 1."""
    content_hash: str
    stored_at: datetime
    chosen_at: datetime
    """When it was last put in."""
    kept_by: str | None
    """Who put it in; None: not said."""
    note: str
    is_current: bool
    """Whether new jobs are worked by it: of its family's versions it was put in last."""
    jobs: int
    """How many jobs are worked by it."""
    files: tuple[tuple[str, str], ...]
    """`(path, sha256)`."""


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
