"""Burn-ins as the records give them back."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from needlewright.records.words import BurnInState


@dataclass(frozen=True, slots=True)
class BurnInView:
    """One burn-in of a job."""

    id: int
    tag: str
    family_version_id: int
    unit: str
    rehearsed: str | None
    """What stood on the bench in place of a cluster; None: a real one."""
    plan: Mapping[str, Any]
    known: Mapping[str, Any]
    """What was known beforehand."""
    at: datetime
    by: str
    state: BurnInState
    """`under_way` also where it was cut off: the bench knows whether it is on."""
    words: str
    hours: float
    sweeps: int
    key_ons: int
    lines: int
    """Of its journal, taken over so far."""
    said: Mapping[str, Any]
    """What came of it, as its report has it; empty: nothing yet."""
    ended_at: datetime | None
    set_aside_at: datetime | None
    set_aside_why: str

    @property
    def counts(self) -> bool:
        """Whether it stands; one that was set aside does not."""
        return self.set_aside_at is None


@dataclass(frozen=True, slots=True)
class BurnInJournal:
    """The whole journal of a burn-in, as far as the records have it."""

    view: BurnInView
    lines: tuple[str, ...]
    pictures: Mapping[str, str]
    """SHA-256 of each picture, by its name in the journal."""


@dataclass(frozen=True, slots=True)
class BurntIn:
    """What became of a cluster that was burnt in and went back, for whoever learns from it."""

    tag: str
    burn_ins: tuple[BurnInView, ...]
    """Real ones that count, in time."""
    closed_at: datetime | None
    """When it went back; None: it has not."""
    back_at: datetime | None
    """When it came back; None: it has not."""
    found: tuple[tuple[str | None, str | None], ...] = ()
    """Dial and system of every fault that somebody decided it had then."""
