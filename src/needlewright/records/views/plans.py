"""Plans of a job, what was accepted of them, and the shop's catalogue, as plain values."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any


@dataclass(frozen=True, slots=True)
class TakenBackView:
    """A customer accepts something no more."""

    by: str
    """Who wrote it down."""
    at: datetime
    why: str


@dataclass(frozen=True, slots=True)
class AcceptanceView:
    """What was accepted of a plan."""

    number: str
    """Of the plan."""
    option: str
    price: str
    """As it was shown, with its currency."""
    who: str
    when: date
    how: str
    by: str
    """Who wrote it down."""
    at: datetime
    taken_back: TakenBackView | None
    """None: it was not."""


@dataclass(frozen=True, slots=True)
class OlderPlanView:
    """A plan that was the job's before."""

    number: str
    made_at: datetime
    by: str
    acceptances: tuple[AcceptanceView, ...]
    """Entered while it was the job's; those that were taken back too."""


@dataclass(frozen=True, slots=True)
class PlanView:
    """A plan of a job."""

    tag: str
    version: int
    """Of the job."""
    number: str
    document: Mapping[str, Any]
    made_at: datetime
    by: str
    acceptance: AcceptanceView | None
    """The one that counts: the last of the job, where it is of this plan and was not taken back."""
    acceptances: tuple[AcceptanceView, ...]
    """All entered of this plan since it was last made, oldest first."""
    superseded: tuple[OlderPlanView, ...]
    """Those before it, newest first."""
    is_current: bool
    """Whether it is the one the job goes by."""
    needs_new_acceptance: bool
    """Another plan of the job was accepted, and this one is not."""


@dataclass(frozen=True, slots=True)
class CatalogueView:
    """Which catalogue the shop plans with."""

    sha256: str | None
    """Of its text; None: the one that comes with the program."""
    name: str
    by: str
    at: datetime
