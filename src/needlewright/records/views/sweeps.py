"""Sweep videos as the records give them back."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True)
class SweepView:
    """One sweep video of a job."""

    id: int
    tag: str
    name: str
    sha256: str
    family_version_id: int
    added_at: datetime
    by: str
    followed_at: datetime | None
    """None: it waits to be followed."""
    events: int | None
    """How many; None: its needles were not followed."""
    problem: str | None
    """Why no needle could be followed."""
    damaged: str | None
    """Where the file broke off; what came before was followed."""
    rehearsed: str | None = None
    """What stood on the bench in place of a cluster; None: nothing is said of that."""


@dataclass(frozen=True, slots=True)
class FollowedSweep:
    """A sweep video with what was followed in it."""

    view: SweepView
    document: Mapping[str, Any] | None
    """As `needlewright sweep --json` writes it; None while it waits, or where it failed."""


@dataclass(frozen=True, slots=True)
class SweepToFollow:
    """A sweep video nobody has followed yet."""

    sweep_id: int
    tag: str
    name: str
    family_version_id: int
    path: Path | None
    """None where the store does not have the file."""
